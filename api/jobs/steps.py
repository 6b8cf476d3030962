"""What a job's step works from and what it makes, and why one cannot: plain values that cross processes."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

Progress = Callable[[dict[str, Any]], None]
SHARE_OUT, JOIN = "share out", "join"


class CannotBePlanned(Exception):  # noqa: N818
    """The project is well formed but cannot be planned; the message says why."""


class BreaksTheRules(Exception):  # noqa: N818
    """The judge finds that a plan breaks rules of its project: it is not shown. The planner is at fault."""

    def __init__(self, rules: tuple[str, ...]) -> None:
        super().__init__(rules)
        self.rules = rules


@dataclass(frozen=True)
class Made:
    """What a job or one of its steps made: a document as JSON text, the figures a list shows, and excerpts of the
    document by their names, as JSON text."""

    document: str
    summary: dict[str, Any] = field(default_factory=dict)
    excerpts: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class StepInput:
    """What a job's step works from: the project, what was asked for, and what the steps before it made.

    After `stop_after` seconds every search in it ends with the best that it has; None: when it is done.
    """

    kind: str
    step: str
    project: str
    parameters: dict[str, Any]
    made: dict[str, Made]
    stop_after: float | None = None


def part_name(number: int) -> str:
    """The step that makes a part; parts count from 0."""
    return f"part {number}"


def part_number(step: str) -> int | None:
    """Which part a step makes; None when it makes none."""
    return int(step.removeprefix("part ")) if step.startswith("part ") else None


@contextmanager
def translate_errors() -> Iterator[None]:
    """The optimiser's refusals as these errors, which a process without the optimiser can read."""
    from optimiser.errors.broken_rules import BreaksRules
    from optimiser.errors.problems import CannotBeDone

    try:
        yield
    except BreaksRules as error:
        raise BreaksTheRules(error.rules) from None
    except CannotBeDone as error:
        raise CannotBePlanned(str(error)) from None
