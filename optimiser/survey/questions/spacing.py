"""Readings too far apart, or none near an end: between readings the gap is only assumed to run straight."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import pairwise

from optimiser.model.question import Question
from optimiser.survey.questions.measured import MeasuredRun, MeasuredSurvey, ask
from optimiser.survey.shown_lengths import shown_mm

AT_THE_END_MM = 100  # a reading this near counts as taken at the end
_TWICE = Fraction(19, 10)  # a hole of this many usual spacings: a reading was left out
_STEP_MM = 1500  # common practice, no source
_END_SPACINGS = Fraction(7, 5)
_NEARLY_ALL = Fraction(9, 10)
_FAR_FROM_THE_END_MM = 200  # asked about where nearly all other ends have a reading at them


def questions_of_spacing(survey: MeasuredSurvey) -> Iterator[Question]:
    """A question for each stretch without a reading: wider than the limit or, in a survey that is evenly spaced, than
    its own usual spacing by nearly twice; and for each end without one."""
    limits = survey.project.survey_limits
    widest = Fraction(limits.reading_spacing_max_mm)
    if survey.evenly_spaced:
        widest = min(widest, survey.usual_spacing_mm * _TWICE)
    to_end = limits.reading_to_end_max_mm
    if "reading_to_end_max_mm" not in limits.model_fields_set:
        # a placeholder gives way to how this survey was taken
        to_end = max(to_end, int(survey.usual_spacing_mm * _END_SPACINGS))
    if _ends_are_read(survey):
        to_end = min(to_end, _FAR_FROM_THE_END_MM)
    for run in survey.runs.values():
        if run.readings:
            yield from _holes(run, survey, widest)
            yield from _ends(run, survey, to_end)


def _ends_are_read(survey: MeasuredSurvey) -> bool:
    """Whether nearly all ends of measured runs have a reading."""
    far = [
        distance
        for run in survey.runs.values()
        if run.readings and not run.mixed
        for distance in _to_ends(run)
    ]
    return len(far) >= 8 and sum(distance <= AT_THE_END_MM for distance in far) >= len(far) * _NEARLY_ALL


def _to_ends(run: MeasuredRun) -> tuple[int, int]:
    return run.readings[0].at_mm, run.run.length_mm - run.readings[-1].at_mm


def _holes(run: MeasuredRun, survey: MeasuredSurvey, widest: Fraction) -> Iterator[Question]:
    """Holes that follow one another are one question."""
    positions = [reading.at_mm for reading in run.readings]
    nominal = [gap.at_mm for gap in survey.project.building.gaps[run.run.run] if gap.basis == "nominal"]
    holes: list[tuple[int, int, int]] = []
    for a, b in pairwise(positions):
        if b - a <= widest or bisect_left(nominal, b) > bisect_left(nominal, a):
            continue
        if holes and holes[-1][1] == a:
            holes[-1] = (holes[-1][0], b, max(holes[-1][2], b - a))
        else:
            holes.append((a, b, b - a))
    usual = (
        f" (this survey's usual spacing is {shown_mm(survey.usual_spacing_mm)})"
        if survey.evenly_spaced
        else ""
    )
    step = _step(survey)
    for a, b, apart in holes:
        places = [*range(a + step, b - step // 3, step)] or [(a + b) // 2]
        yield ask(
            "spacing", run.run, a, "no reading",
            f"What is the gap between {a} and {b} mm? The readings there are {apart} mm apart.",
            f"Between readings the gap is taken to run straight; asked where they are more than {shown_mm(widest)}"
            f" apart{usual}.",
            f"the gap {_in_words(places)}", places,
        )  # fmt: skip


def _ends(run: MeasuredRun, survey: MeasuredSurvey, to_end: int) -> Iterator[Question]:
    """A run with a nominal reading is not measured whole, and its ends are not asked about."""
    if run.mixed:
        return
    first, last = _to_ends(run)
    length, step = run.run.length_mm, _step(survey)
    if first > to_end:
        places = [*range(0, max(1, first - step // 3), step)]
        yield ask(
            "spacing", run.run, 0, "no reading",
            f"What is the gap at the run's start? The first reading stands at {first} mm.",
            f"Before the first reading the gap is taken to stay as it is there; asked from {to_end} mm.",
            f"the gap {_in_words(places)}", places,
        )  # fmt: skip
    if last > to_end:
        at = run.readings[-1].at_mm
        places = [*range(at + step, length - step // 3, step), length]
        yield ask(
            "spacing", run.run, at, "no reading",
            f"What is the gap from {at} mm to the run's end at {length} mm? The last {last} mm have no reading.",
            f"After the last reading the gap is taken to stay as it is there; asked from {to_end} mm.",
            f"the gap {_in_words(places)}", places,
        )  # fmt: skip


def _step(survey: MeasuredSurvey) -> int:
    """How far apart new readings are asked for: as this survey's usually are, 1.5 m where it has no usual spacing."""
    return int(survey.usual_spacing_mm) if survey.evenly_spaced else _STEP_MM


def _in_words(places: Sequence[int]) -> str:
    """'at 10500 mm', or 'at 20 places from 10500 to 37800 mm'."""
    if len(places) == 1:
        return f"at {places[0]} mm"
    return f"at {len(places)} places from {places[0]} to {places[-1]} mm"
