"""The questions that a plan asks of its survey: only that their places exist. Nothing is asked again here."""

from __future__ import annotations

from collections.abc import Iterator

from optimiser.checking.building import Building


def broken_rules_of_questions(building: Building) -> Iterator[str]:
    """Each question names a run of its level, and positions on it."""
    for number, question in enumerate(building.plan.questions, 1):
        place = f"question {number}, run {question.run}"
        run = building.runs.get(question.run)
        if run is None:
            yield f"{place}: the project has no such run"
            continue
        if run.level != question.level:
            yield f"{place}: it lies on level {run.level}, but the question says {question.level}"
        for at_mm in (question.at_mm, *question.measure_at_mm):
            if not 0 <= at_mm <= run.length_mm:
                yield f"{place}: it asks about {at_mm} mm, but the run is {run.length_mm} mm long"
