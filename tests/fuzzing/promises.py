"""What every reader promises of a refusal, and the small job that what was read is tried on."""

from __future__ import annotations

import json
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

SAMPLES = Path(__file__).resolve().parents[2] / "sample_orders"
LONGEST_LINE = 2000  # a message that nobody would read to its end is a fault too


class NotHeld(Exception):  # noqa: N818 (what a reader promises and did not hold)
    """A reader broke what it promises."""


def refused_well(read: Callable[[], Any], mends_apart: bool = True) -> Any:
    """What `read` gives, or None when it refuses. Raises NotHeld when a refusal is not fit to be shown.

    Not `mends_apart`: what to do about a fault is said in its message.
    """
    from optimiser.errors.broken_rules import BreaksRules
    from optimiser.reading import CannotBeDone, UnusableInput

    try:
        return read()
    except UnusableInput as unusable:
        lines = unusable.lines()
        if not unusable.problems:
            raise NotHeld("refused without a problem") from unusable
        for problem in unusable.problems:
            if not problem.message.strip() or (mends_apart and not problem.mend.strip()):
                raise NotHeld(f"a problem without message or mend: {problem!r}") from unusable
    except BreaksRules as broken:
        raise NotHeld(f"the judge refused what was made: {broken}") from broken
    except CannotBeDone as impossible:
        lines = impossible.reasons
        if not lines:
            raise NotHeld("cannot be done, without a reason") from impossible
    for line in lines:
        if len(line) > LONGEST_LINE or "\n" in line or not line.isprintable():
            raise NotHeld(f"a line that is not fit to be shown ({len(line)} letters): {line[:300]!r}")
    return None


def same_again(project: Any) -> None:
    """A project that was accepted is written as JSON and read to be the same."""
    from optimiser.reading import project_from_json

    written = json.loads(json.dumps(project.model_dump(mode="json", by_alias=True)))
    again = project_from_json(written)
    if again != project:
        raise NotHeld("a project read from its own JSON is another")


@cache
def small_project() -> Any:
    """The small sample."""
    from optimiser.reading import read_project

    return read_project(SAMPLES / "small" / "small.json")


@cache
def small_plan() -> Any:
    """The small sample, planned."""
    from optimiser.planning.plan import plan

    return plan(small_project())


@cache
def plan_by_hand() -> Any:
    """Four pieces of two levels out of one board: planned again in a moment."""
    from tests.builders.small_plan import small_plan as made

    return made()


@cache
def begun_plan() -> Any:
    """The same in the middle of its job: ordered, the first piece cut and fitted, planned again."""
    from optimiser.model.record import Record
    from optimiser.replanning.replan import replan
    from tests.builders.job import JobOnSite

    job = JobOnSite()
    job.order_all(plan_by_hand())
    job.cut_and_fit(plan_by_hand().pieces[:1])
    told = tuple(event.model_copy(update={"id": f"begun-{event.id}"}) for event in job.events)
    return replan(plan_by_hand(), Record(events=told))
