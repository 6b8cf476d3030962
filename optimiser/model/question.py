"""A question to the survey: what looks wrong, why, and what to measure again before anybody believes it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

from pydantic import Field

from optimiser.model.immutable import Immutable
from optimiser.tables.text import counted

if TYPE_CHECKING:
    import pandas

QuestionRule = Literal["spacing", "outlier", "digits", "mullions", "length", "step", "nominal", "age"]
"""Which look at the survey asks: readings too far apart or missing at an end; a gap that its neighbours or the levels
above and below contradict; digits swapped or ten times too much or too little; mullions missing or off their pitch; a
run's length; a step from one run to the next; beyond the nominal gap's tolerance; a reading too old."""


class Question(Immutable):
    """One question. `at_mm` is measured from the run's start, `value` what stands in the survey, with its unit.

    `says` is the question in a sentence, `why` the figures and the rule behind it, `measure` what to measure again and
    `measure_at_mm` where, as far as it is a gap. A question is no fault: the reading may be right, and whoever stands
    at the slab edge decides.
    """

    rule: QuestionRule
    level: str
    run: str
    at_mm: int = Field(ge=0)
    value: str
    says: str
    why: str
    measure: str
    measure_at_mm: tuple[int, ...] = ()


class SurveyQuestions(Immutable):
    """All questions to a survey, by level and in walking order, and what reading it already had to assume.

    `readings` counts the rows of the `gaps` table, `notes` are those of the reading (`Project.reading_notes`).
    """

    name: str = ""
    readings: int
    questions: tuple[Question, ...]
    notes: tuple[str, ...] = ()

    def __repr__(self) -> str:
        """'3 questions to 1,304 readings'."""
        return f"{counted(len(self.questions), 'question')} to {counted(self.readings, 'reading')}"

    __str__ = __repr__

    def as_json(self) -> dict[str, Any]:
        """Plain JSON values: `questions`, a dictionary each, `readings` and `notes`."""
        return {
            "readings": self.readings,
            "questions": [question.model_dump(mode="json") for question in self.questions],
            "notes": list(self.notes),
        }

    def to_frame(self) -> pandas.DataFrame:
        """The questions as a frame.

        Returns
        -------
        pandas.DataFrame
            Shape (questions, 9), a row a question, by level and in walking order: rule, level, run, at_mm (from the
            run's start, whole millimetres), value (with its unit), says, why, measure, measure_at_mm (a tuple).
        """
        from optimiser.tables.frames import frame_of
        from optimiser.tables.questions import QUESTIONS

        return frame_of(QUESTIONS, self.questions)
