"""Slips of the pen: two digits swapped, or a digit too many or too few, in a gap or in its position."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from optimiser.model.question import Question
from optimiser.survey.questions.measured import MeasuredRun, MeasuredSurvey, Reading, ask
from optimiser.survey.questions.robust import median

_POWERS = (10, 100, 1000)


@dataclass(frozen=True)
class Slip:
    """What a number was probably meant to be, and how it came to be written otherwise."""

    meant: int
    how: str


def slips(written: int, powers: tuple[int, ...] = (10,)) -> Iterator[Slip]:
    """What a whole number would be with the slip undone: neighbouring digits swapped, or a factor of ten."""
    digits = str(written)
    seen = {written}
    for place in range(len(digits) - 1):
        swapped = digits[:place] + digits[place + 1] + digits[place] + digits[place + 2 :]
        if swapped[0] != "0" and int(swapped) not in seen:
            seen.add(int(swapped))
            yield Slip(int(swapped), "two digits swapped")
    for power in powers:
        if written and written * power not in seen:
            yield Slip(written * power, f"{power} times too small")
        if written and written % power == 0:
            yield Slip(written // power, f"{power} times too large")


def slip_that_fits(written: int, expected: Fraction, within_mm: Fraction) -> Slip | None:
    """The slip that, undone, brings a gap closest to what is expected, at most `within_mm` from it; None: none does."""
    best = min(slips(written), key=lambda slip: abs(slip.meant - expected), default=None)
    return best if best is not None and abs(best.meant - expected) <= within_mm else None


@dataclass(frozen=True)
class Misplaced:
    """A reading whose position is probably a slip, and where it belongs."""

    reading: Reading
    slip: Slip
    hole: tuple[int, int]


def misplaced_readings(survey: MeasuredSurvey) -> dict[str, tuple[Misplaced, ...]]:
    """Readings whose position leaves a hole where it belongs: 15 typed for 15000. By run; only runs that have one."""
    to_end = survey.project.survey_limits.reading_to_end_max_mm
    order: dict[str, list[int]] = {}
    for gap in survey.project.gaps:
        if gap.basis == "measured":
            order.setdefault(gap.run, []).append(gap.at_mm)
    found = {}
    for name, run in survey.runs.items():
        if len(run.readings) >= 3:
            here = tuple(_misplaced(run, order[name], survey.usual_spacing_mm, to_end))
            if here:
                found[name] = here
    return found


def with_positions_mended(
    survey: MeasuredSurvey, misplaced: dict[str, tuple[Misplaced, ...]]
) -> MeasuredSurvey:
    """The survey with misplaced readings where they belong, so that nothing else is asked about them."""
    changed = {}
    for name, slipped in misplaced.items():
        moved = {
            item.reading: Reading(item.slip.meant, item.reading.gap_mm, item.reading.at_mm)
            for item in slipped
        }
        changed[name] = [moved.get(reading, reading) for reading in survey.runs[name].readings]
    return survey.having(changed)


def questions_of_positions(
    survey: MeasuredSurvey, misplaced: dict[str, tuple[Misplaced, ...]]
) -> Iterator[Question]:
    """A question for each reading whose position is probably a slip."""
    for name, slipped in misplaced.items():
        run = survey.runs[name].run
        for item in slipped:
            at, meant = item.reading.at_mm, item.slip.meant
            yield ask(
                "digits", run, at, f"{item.reading.gap_mm} mm",
                f"Was the reading at {at} mm ({item.reading.gap_mm} mm) taken at {meant} mm?",
                f"The position would be {item.slip.how}; nothing is read from {item.hole[0]} to {item.hole[1]} mm, and"
                f" {meant} mm lies where a reading is missing.",
                f"the gaps at {at} mm and at {meant} mm",
                (at, meant),
            )  # fmt: skip


def _misplaced(run: MeasuredRun, order: list[int], usual: Fraction, to_end: int) -> Iterator[Misplaced]:
    length = run.run.length_mm
    positions = [reading.at_mm for reading in run.readings]
    if len(positions) >= 6:
        usual = median([Fraction(b - a) for a, b in pairwise(positions)])
    row_of = {at: row for row, at in enumerate(order)}
    taken: set[int] = set()
    for place, reading in enumerate(run.readings):
        crowded = _crowded(positions, place, usual)
        between = _out_of_order(order, row_of[reading.at_mm])
        if not (crowded or between):
            continue
        best: tuple[int, Misplaced] | None = None
        for slip in slips(reading.at_mm, _POWERS):
            hole = _hole_at(slip.meant, positions, place, length, usual, to_end)
            if hole is None or slip.meant in taken:
                continue
            if not crowded and between and not between[0] < slip.meant < between[1]:
                continue
            widest = max(slip.meant - hole[0], hole[1] - slip.meant)
            if best is None or widest < best[0]:
                best = (widest, Misplaced(reading, slip, hole))
        if best is not None:
            taken.add(best[1].slip.meant)
            yield best[1]


def _crowded(positions: list[int], place: int, usual: Fraction) -> bool:
    """Whether a reading stands close to another and is not missed between its neighbours: without it they would lie no
    further apart than readings usually do."""
    at = positions[place]
    before = positions[place - 1] if place else None
    after = positions[place + 1] if place + 1 < len(positions) else None
    near = min(abs(other - at) for other in (before, after) if other is not None)
    superfluous = before is None or after is None or after - before <= usual * Fraction(13, 10)
    return near * 2 <= usual and superfluous


def _hole_at(
    meant: int, positions: list[int], place: int, length: int, usual: Fraction, to_end: int
) -> tuple[int, int] | None:
    """The stretch without a reading around a position, where a reading is missing there; None where none is. The
    reading at `place` does not count: it is the one that may belong there."""
    if not 0 <= meant <= length:
        return None
    following = bisect_left(positions, meant)
    if following < len(positions) and positions[following] == meant:
        return None
    left = following - 1 - (following - 1 == place)
    right = following + (following == place)
    before = positions[left] if left >= 0 else None
    after = positions[right] if right < len(positions) else None
    near = usual / 2
    if before is not None and after is not None:
        wide = after - before >= usual * Fraction(8, 5)
        return (before, after) if wide and meant - before >= near and after - meant >= near else None
    if before is not None and length - meant <= to_end and (meant == length or meant - before >= near):
        return (before, length)
    if after is not None and meant <= to_end and after - meant >= near:
        return (0, after)
    return None


def _out_of_order(order: list[int], row: int) -> tuple[int, int] | None:
    """Between which positions a reading stands in the table, where it breaks their order and they keep it without."""
    if 0 < row < len(order) - 1:
        before, after = order[row - 1], order[row + 1]
        if before < after and not before < order[row] < after:
            return before, after
    return None
