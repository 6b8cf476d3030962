"""Whose job is next: fair between companies, and short jobs before long ones.

Each job gets a turn when it is queued: the present, or the turn of its company's last open job where that is later,
plus the seconds that it is expected to take. Jobs are taken in the order of their turns. So a company that asks for
much queues behind itself and not in front of others, a short job comes before a long one that was asked for at the same
time, and a job that waits is overtaken less and less: the turns of later ones grow with the clock (the virtual clock of
Zhang, SIGCOMM 1990, named from memory). A job under way is not interrupted, so short ones have workers' places of their
own that no long one takes.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from api.jobs.model import Kind

SHORT_SECONDS = 5.0
# Of a project as it is kept; our own measure of the samples: 1.7 KB in 1 s, 10.7 KB in 10.
_SECONDS_A_BYTE = 0.001
_LONGEST_SECONDS = 3600.0
_BEGINNING = datetime(2026, 1, 1, tzinfo=UTC)
_LAST = 2**31 - 1  # what the queue can hold: in the year 2094
SHARED_OUT = ("comparison", "allowance", "frontier", "scenario")


def expected_seconds(kind: Kind, parameters: Mapping[str, Any], project_bytes: int) -> float:
    """About how long a job takes, from the size of its project as it is kept and from what was asked for."""
    plan = project_bytes * _SECONDS_A_BYTE
    limit = parameters.get("time_limit")
    if limit is not None:
        plan = min(plan, float(limit) + 1.0)
    times = 1.0
    if kind == "comparison":
        times = (parameters["to_mm"] - parameters["from_mm"]) // parameters.get("step_mm", 1) + 1
        for choices in ("boards", "oversize", "insertion", "brackets"):
            times *= max(1, len(parameters.get(choices) or ()))
    elif kind == "allowance":
        times = 2 + parameters.get("draws", 500) / 50
    elif kind == "frontier":
        times = 5.0
    elif kind == "scenario":
        times = max(1, len(parameters["scenarios"]))
    return min(max(1.0, plan * times), _LONGEST_SECONDS)


def is_short(kind: Kind, seconds: float) -> bool:
    """Whether a job is done in one go within a few seconds."""
    return kind not in SHARED_OUT and seconds <= SHORT_SECONDS


def next_turn(last_of_company: int | None, seconds: float, moment: datetime | None = None) -> int:
    """The turn of a job that takes so many seconds, after the last one of its company's open jobs."""
    now = int(((moment or datetime.now(UTC)) - _BEGINNING).total_seconds())
    return min(max(1, now, last_of_company or 0) + max(1, round(seconds)), _LAST)
