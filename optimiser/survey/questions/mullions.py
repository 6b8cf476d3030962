"""Mullions that are missing, one too many, or off their pitch: against the runs above and below first, then against
the run's own usual pitch."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import pairwise

from optimiser.model.project import Project
from optimiser.model.question import Question
from optimiser.model.tables import Run
from optimiser.survey.questions.corresponding import RunsAboveAndBelow
from optimiser.survey.questions.measured import ask
from optimiser.survey.questions.robust import median
from optimiser.survey.shown_lengths import shown_mm

_MOSTLY = Fraction(2, 3)
"""This share of the bays keeps the pitch, or there is no usual pitch to hold against it."""
_MOST = 4  # places told by one question
_END_BAY = Fraction(8, 5)  # an end bay is at most this many pitches wide


def questions_of_mullions(project: Project, above_and_below: RunsAboveAndBelow) -> Iterator[Question]:
    """A question for each run whose mullions do not agree with the runs above and below, or with their own pitch."""
    limits = project.survey_limits
    runs = project.building.runs
    for run in project.runs:
        own = _mullions(run)
        near = [
            runs[name]
            for name in above_and_below.nearest[run.run]
            if abs(runs[name].length_mm - run.length_mm) <= limits.run_length_tolerance_mm
        ]
        tolerance = limits.mullion_tolerance_mm
        if any(_alike(own, _mullions(other), tolerance) for other in near):
            continue
        if len(near) == 2 and _alike(_mullions(near[0]), _mullions(near[1]), tolerance):
            yield _against(run, own, near, tolerance)
        else:
            yield from _off_the_pitch(run, own, tolerance)


def _mullions(run: Run) -> list[int]:
    """Where a run's mullions stand, ascending; a position that is written twice is one."""
    return sorted(set(run.mullions_mm))


def _alike(one: Sequence[int], other: Sequence[int], tolerance: int) -> bool:
    return len(one) == len(other) and all(abs(a - b) <= tolerance for a, b in zip(one, other, strict=True))


def _against(run: Run, own: Sequence[int], near: Sequence[Run], tolerance: int) -> Question:
    usual = _mullions(near[0])
    missing, more = _unpaired(usual, own, tolerance)
    parts = [
        f"{what} {_listed(places)}" for what, places in (("none at", missing), ("one at", more)) if places
    ]
    names = " and ".join(other.run for other in near)
    return ask(
        "mullions", run, min(*missing, *more, run.length_mm), f"{len(own)} mullions",
        f"Where do the mullions stand? Unlike {names} this run has {' and '.join(parts)}.",
        f"{names} have {len(usual)} mullions in the same places, to {tolerance} mm; this run has {len(own)}.",
        f"the mullions' positions {_from_to(sorted(missing + more))}",
    )  # fmt: skip


def _unpaired(usual: Sequence[int], own: Sequence[int], tolerance: int) -> tuple[list[int], list[int]]:
    """What is left of both, ascending, when their positions are paired one to one from the start, to a tolerance:
    where they are not alike, something is."""
    missing: list[int] = []
    more: list[int] = []
    left = list(own)
    for at in usual:
        while left and left[0] < at - tolerance:
            more.append(left.pop(0))
        if left and left[0] <= at + tolerance:
            left.pop(0)
        else:
            missing.append(at)
    return missing, more + left


def _off_the_pitch(run: Run, own: Sequence[int], tolerance: int) -> Iterator[Question]:
    """Bays that are no pitch wide, in a run most of whose bays are; and end bays wider than a pitch and a half."""
    bays = [b - a for a, b in pairwise(own)]
    if len(bays) < 2:
        return
    pitch = median([Fraction(bay) for bay in bays])
    if sum(abs(bay - pitch) <= tolerance for bay in bays) < len(bays) * _MOSTLY:
        return
    broken = [(a, b) for a, b in pairwise(own) if abs(b - a - pitch) > tolerance]
    if own[0] > pitch * _END_BAY:
        broken.insert(0, (0, own[0]))
    if run.length_mm - own[-1] > pitch * _END_BAY:
        broken.append((own[-1], run.length_mm))
    if broken:
        a, b = broken[0]
        others = f", and in {len(broken) - 1} more" if len(broken) > 1 else ""
        missing = round(Fraction(b - a) / pitch) - 1
        maybe = f"; {missing} may be missing there" if missing > 0 else ""
        yield ask(
            "mullions", run, a, f"{len(own)} mullions",
            f"Where do the mullions stand between {a} and {b} mm{others}? The others are {shown_mm(pitch)} apart.",
            f"The usual pitch of this run is {shown_mm(pitch)}, and {b - a} mm is no such bay (to {tolerance} mm)"
            f"{maybe}.",
            f"the mullions' positions from {a} to {b} mm",
        )  # fmt: skip


def _from_to(places: Sequence[int]) -> str:
    return f"at {places[0]} mm" if len(places) == 1 else f"from {places[0]} to {places[-1]} mm"


def _listed(places: Sequence[int]) -> str:
    shown = ", ".join(map(str, places[:_MOST]))
    more = len(places) - _MOST
    return f"{shown} mm" + (f" and {more} more place{'' if more == 1 else 's'}" if more > 0 else "")
