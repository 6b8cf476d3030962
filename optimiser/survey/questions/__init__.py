"""The survey is questioned before it is believed: `survey(project)` asks, rule by rule, and changes nothing.

Pure: no file, no clock. A question is no fault, and a survey without questions is not thereby right: whoever stands
at the slab edge decides. Every limit is data of the project (`survey_limits`), a placeholder until it is given.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from optimiser.model.project import Project
from optimiser.model.question import Question, SurveyQuestions
from optimiser.survey.questions.ages import questions_of_ages
from optimiser.survey.questions.digits import (
    misplaced_readings,
    questions_of_positions,
    with_positions_mended,
)
from optimiser.survey.questions.lengths import questions_of_lengths
from optimiser.survey.questions.measured import MeasuredSurvey
from optimiser.survey.questions.mullions import questions_of_mullions
from optimiser.survey.questions.nominal import questions_of_nominal
from optimiser.survey.questions.outliers import outliers, questions_of_outliers
from optimiser.survey.questions.spacing import questions_of_spacing
from optimiser.survey.questions.steps import questions_of_steps

__all__ = ["questions_of", "survey"]


def survey(project: Project) -> SurveyQuestions:
    """The questions to ask of a project's survey.

    Parameters
    ----------
    project
        The building, as it was read. Lengths are in whole millimetres.

    Returns
    -------
    SurveyQuestions
        Every question with its level, run, position, value, why it is asked and what to measure again, by level and in
        walking order (the order of the `runs` table, then the position).
    """
    return SurveyQuestions(
        name=project.project.name,
        readings=len(project.gaps),
        questions=questions_of(project),
        notes=project.reading_notes,
    )


def questions_of(project: Project) -> tuple[Question, ...]:
    """The questions to a project's survey, by level and in walking order."""
    return tuple(_in_walking_order(project, _each_reading_once(_asked(project))))


def _asked(project: Project) -> Iterator[Question]:
    """What each rule asks. Positions come first: a reading in the wrong place would be asked about twice more."""
    written = MeasuredSurvey.of(project)
    misplaced = misplaced_readings(written)
    yield from questions_of_positions(written, misplaced)
    placed = with_positions_mended(written, misplaced)
    yield from questions_of_spacing(placed)
    stand_out, believed = outliers(placed)
    yield from questions_of_outliers(placed, stand_out)
    yield from questions_of_steps(believed)
    yield from questions_of_nominal(project)
    yield from questions_of_mullions(project, placed.above_and_below)
    yield from questions_of_lengths(project, placed.above_and_below)
    yield from questions_of_ages(project)


def _each_reading_once(questions: Iterable[Question]) -> Iterator[Question]:
    """A reading that stands out is asked about once, by the first rule that does."""
    asked: set[tuple[str, int, str]] = set()
    for question in questions:
        if question.rule in ("digits", "outlier", "nominal"):
            key = (question.run, question.at_mm, question.value)
            if key in asked:
                continue
            asked.add(key)
        yield question


def _in_walking_order(project: Project, questions: Iterable[Question]) -> list[Question]:
    level = project.building.place_of_level
    run = {run.run: place for place, run in enumerate(project.runs)}
    return sorted(questions, key=lambda asked: (level[asked.level], run[asked.run], asked.at_mm, asked.rule))
