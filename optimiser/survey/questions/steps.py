"""A step in the gap where two runs meet: the end of one was read with another gap than the start of the next."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from optimiser.model.question import Question
from optimiser.survey.questions.measured import MeasuredSurvey, ask
from optimiser.survey.questions.robust import agreed_part, median, usual_size
from optimiser.survey.shown_lengths import shown_mm

_BOTH_ENDS = Fraction(2, 3)  # of the limit, where a run steps away from both runs that it meets


def questions_of_steps(survey: MeasuredSurvey) -> Iterator[Question]:
    """A question for each meeting of two runs (`joins`) where the gap steps by more than such meetings usually do.

    Elevations of different gap meet in a step by design: the usual step of the same meeting on the other levels is
    taken off first. On a single level nothing is known of the design, and the steps are held against each other. A run
    whose both ends step away to the same side, as one does that was measured from another face, is asked about from
    two thirds of the limit on.
    """
    limits = survey.project.survey_limits
    steps = dict(_steps(survey))
    beyond: dict[str, Fraction] = {}
    for name, step in steps.items():
        others = [
            steps[other] for other in survey.above_and_below.column[name] if other != name and other in steps
        ]
        if others:
            beyond[name] = step - median(others)
    if not beyond:
        beyond = steps
    usual = usual_size(list(beyond.values()))
    limit = max(Fraction(limits.step_least_mm), Fraction(limits.step_scales) * usual)
    before = {survey.runs[name].run.joins: name for name in beyond}
    shifted = set()
    for name, by in beyond.items():
        if name in before and abs(agreed_part(beyond[before[name]], -by)) > limit * _BOTH_ENDS:
            shifted |= {name, before[name]}
            run = survey.runs[name]
            yield ask(
                "step", run.run, run.readings[0].written_at_mm, f"{run.readings[0].gap_mm} mm",
                f"Was this run measured from the same face as {before[name]} and {run.run.joins}, which it meets?",
                f"At its start the gap steps by {shown_mm(beyond[before[name]])} more than usual and at its end back by"
                f" {shown_mm(by)}; steps of this survey usually differ by {shown_mm(usual)} (asked from"
                f" {shown_mm(limit * _BOTH_ENDS)} at both ends).",
                f"the gap at both ends of {name}, from the same face of the slab as before and after it",
                (run.readings[0].written_at_mm, run.readings[-1].written_at_mm),
            )  # fmt: skip
    for name, by in beyond.items():
        if abs(by) > limit and name not in shifted:
            run = survey.runs[name]
            following = survey.runs[run.run.joins]
            last, first = run.readings[-1], following.readings[0]
            usually = shown_mm(steps[name] - by)
            yield ask(
                "step", run.run, last.written_at_mm, f"{last.gap_mm} mm",
                f"Does the gap step from {last.gap_mm} mm to {first.gap_mm} mm where {following.run.run} begins?",
                f"Here the step is {shown_mm(steps[name])}, and {usually} would be usual; steps of this survey usually"
                f" differ by {shown_mm(usual)} (asked from {shown_mm(limit)}).",
                f"the gap at the end of {name} and at the start of {following.run.run}, from the same face of the slab",
            )  # fmt: skip


def _steps(survey: MeasuredSurvey) -> Iterator[tuple[str, Fraction]]:
    """For each run that joins another, by how much the gap grows there; only where both are read near the meeting."""
    near = survey.project.survey_limits.reading_to_end_max_mm
    for name, run in survey.runs.items():
        following = survey.runs.get(run.run.joins)
        if following is None or not run.readings or not following.readings:
            continue
        last, first = run.readings[-1], following.readings[0]
        if run.run.length_mm - last.at_mm <= near and first.at_mm <= near:
            yield name, Fraction(first.gap_mm - last.gap_mm)
