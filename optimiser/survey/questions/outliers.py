"""Readings that their neighbours contradict: along the run, and on the runs above and below.

Greedy removal: of all readings of a run the one that stands out most is taken out and asked about, then the rest is
looked at again without it, until none stands out. A reading stands out by the part in which it deviates from *both*
sides (a step in the edge deviates from one only), counted in the usual difference between readings, which is taken
over the whole survey and which a few wrong readings cannot move. Limits are placeholders (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from heapq import heappop, heappush

from optimiser.model.question import Question
from optimiser.survey.questions.digits import slip_that_fits
from optimiser.survey.questions.measured import MeasuredRun, MeasuredSurvey, Reading, ask
from optimiser.survey.questions.robust import agreed_part, median, usual_size
from optimiser.survey.shown_lengths import shown_mm

_BESIDE_MM = 500
_ENOUGH = 4  # readings of a run from which its own usual distance to the run above is known
_MOST_OF_A_RUN = 3  # no more than a third of a run's readings are taken out: the rest must judge them


@dataclass(frozen=True)
class Outlier:
    """A reading that stands out: what was expected there, and the figures behind it in words."""

    run: str
    reading: Reading
    expected_mm: Fraction
    why: str


def outliers(survey: MeasuredSurvey) -> tuple[tuple[Outlier, ...], MeasuredSurvey]:
    """The readings that stand out, and the survey without them."""
    along = [found for run in survey.runs.values() for found in _along(survey, run)]
    without = survey.having(_without(survey, along))
    across = list(_across(without))
    return (*along, *across), without.having(_without(without, across))


def questions_of_outliers(survey: MeasuredSurvey, found: Sequence[Outlier]) -> Iterator[Question]:
    """A question for each reading that stands out; where a slip of the pen explains it, it is named."""
    limits = survey.project.survey_limits
    within = max(Fraction(limits.outlier_least_mm), 2 * survey.usual_difference_mm)
    for item in found:
        run, gap = survey.runs[item.run].run, item.reading.gap_mm
        at = item.reading.written_at_mm
        deviation = abs(gap - item.expected_mm)
        slip = slip_that_fits(gap, item.expected_mm, min(within, deviation / 2))
        if slip is not None:
            yield ask(
                "digits", run, at, f"{gap} mm",
                f"Is the gap at {at} mm {slip.meant} mm, not {gap} mm?",
                f"{_slip_in_words(gap, slip.meant, slip.how)} {item.why}",
                f"the gap at {at} mm",
                (at,),
            )  # fmt: skip
        else:
            yield ask(
                "outlier", run, at, f"{gap} mm",
                f"Is the gap at {at} mm really {gap} mm, and not near {shown_mm(item.expected_mm)}?",
                item.why,
                f"the gap at {at} mm, and half a metre to either side of it",
                [place for place in (at - _BESIDE_MM, at, at + _BESIDE_MM) if 0 <= place <= run.length_mm],
            )  # fmt: skip


def _slip_in_words(gap: int, meant: int, how: str) -> str:
    return f"{meant} with {how} is {gap}." if "swapped" in how else f"{gap} is {how} for {meant}."


def _without(survey: MeasuredSurvey, found: Sequence[Outlier]) -> dict[str, list[Reading]]:
    taken: dict[str, set[Reading]] = {}
    for item in found:
        taken.setdefault(item.run, set()).add(item.reading)
    return {
        name: [reading for reading in survey.runs[name].readings if reading not in out]
        for name, out in taken.items()
    }


def _along(survey: MeasuredSurvey, run: MeasuredRun) -> Iterator[Outlier]:
    """The readings of a run that stand out along it, the one that stands out most first."""
    limits = survey.project.survey_limits
    usual = survey.usual_difference_mm
    limit = max(Fraction(limits.outlier_least_mm), Fraction(limits.outlier_scales) * usual)
    left = _ReadingsLeft(run.readings)
    for _ in range(len(run.readings) // _MOST_OF_A_RUN):
        worst = left.that_stands_out_most()
        if worst is None or worst.by_mm <= limit:
            return
        words = " and ".join(f"{other.gap_mm} mm at {other.at_mm} mm" for other in worst.beside)
        yield Outlier(
            run.run.run, worst.reading, Fraction(sum(other.gap_mm for other in worst.beside), 2),
            f"Beside it stand {words}: it differs from both by {shown_mm(worst.by_mm)} or more, and readings"
            f" of this survey usually differ by {shown_mm(usual)} from the next (asked from {shown_mm(limit)}).",
        )  # fmt: skip
        left.take_out(worst)


@dataclass(frozen=True)
class _Standing:
    """A reading among those left: by how much it stands out from the two beside it."""

    place: int
    reading: Reading
    beside: tuple[Reading, Reading]
    by_mm: Fraction


class _ReadingsLeft:
    """A run's readings while those that stand out are taken out one by one: a linked list, and a heap of by how much
    each stands out, so that thousands of readings take no longer than sorting them."""

    def __init__(self, readings: Sequence[Reading]) -> None:
        self._readings = readings
        self._before = list(range(-1, len(readings) - 1))
        self._after = [*range(1, len(readings)), -1] if readings else []
        self._standing: dict[int, _Standing] = {}
        self._heap: list[tuple[Fraction, int]] = []
        for place in range(len(readings)):
            self._look_at(place)

    def that_stands_out_most(self) -> _Standing | None:
        """The reading that stands out most, of equal ones the first; None where fewer than three are left."""
        while self._heap:
            minus, place = self._heap[0]
            standing = self._standing.get(place)
            if standing is not None and standing.by_mm == -minus:
                return standing
            heappop(self._heap)  # taken out, or looked at again since
        return None

    def take_out(self, standing: _Standing) -> None:
        """Takes a reading out and looks at those again that it stood beside."""
        before, after = self._before[standing.place], self._after[standing.place]
        del self._standing[standing.place]
        if before >= 0:
            self._after[before] = after
        if after >= 0:
            self._before[after] = before
        for place in (before, after):
            if place >= 0:
                self._look_at(place)
        if before >= 0 and self._before[before] >= 0:
            self._look_at(self._before[before])
        if after >= 0 and self._after[after] >= 0:
            self._look_at(self._after[after])

    def _look_at(self, place: int) -> None:
        beside = self._beside(place)
        self._standing.pop(place, None)
        if beside is None:
            return
        gap = self._readings[place].gap_mm
        one, other = (self._readings[number] for number in beside)
        by = abs(agreed_part(Fraction(gap - one.gap_mm), Fraction(gap - other.gap_mm)))
        self._standing[place] = _Standing(place, self._readings[place], (one, other), by)
        heappush(self._heap, (-by, place))

    def _beside(self, place: int) -> tuple[int, int] | None:
        """The readings on either side; at an end the next two; None where there are not so many."""
        before, after = self._before[place], self._after[place]
        if before < 0 and after >= 0:
            before, after = after, self._after[after]
        elif after < 0 and before >= 0:
            before, after = self._before[before], before
        return (before, after) if before >= 0 and after >= 0 else None


def _across(survey: MeasuredSurvey) -> Iterator[Outlier]:
    """The readings that both the run above and the run below contradict, each less its usual distance from them."""
    limits = survey.project.survey_limits
    differences: dict[str, list[tuple[Fraction, Fraction]]] = {}
    for name, run in survey.runs.items():
        beside = tuple(survey.neighbours_with_readings(name))
        if len(beside) == 2 and run.readings:
            one, other = (_differences(run, neighbour) for neighbour in beside)
            differences[name] = list(zip(one, other, strict=True))
    usual = usual_size([each for pairs in differences.values() for pair in pairs for each in pair])
    limit = max(Fraction(limits.level_least_mm), Fraction(limits.level_scales) * usual)
    for name, pairs in differences.items():
        run = survey.runs[name]
        beside = tuple(survey.neighbours_with_readings(name))
        for reading, pair in zip(run.readings, pairs, strict=True):
            by = agreed_part(*pair)
            if abs(by) <= limit:
                continue
            words = " and ".join(
                f"{neighbour.run.run} {shown_mm(neighbour.line.at(_within(neighbour, reading.at_mm)))}"
                for neighbour in beside
            )
            yield Outlier(
                name, reading, reading.gap_mm - by,
                f"Above and below stand {words}: after the usual distance between these runs it differs from both by"
                f" {shown_mm(abs(by))} or more, and readings of this survey usually by {shown_mm(usual)} (asked from"
                f" {shown_mm(limit)}).",
            )  # fmt: skip


def _differences(run: MeasuredRun, neighbour: MeasuredRun) -> list[Fraction]:
    """Each reading less the gap at the same place of a neighbouring run, less the run's own usual difference."""
    found = [
        reading.gap_mm - neighbour.line.at(_within(neighbour, reading.at_mm)) for reading in run.readings
    ]
    usually = median(found) if len(found) >= _ENOUGH else Fraction(0)
    return [difference - usually for difference in found]


def _within(run: MeasuredRun, at_mm: int) -> int:
    return min(at_mm, run.run.length_mm)
