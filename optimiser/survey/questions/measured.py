"""The measured readings of a survey, run by run, and what all questions compare them with."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from itertools import pairwise

from optimiser.model.project import Project
from optimiser.model.question import Question, QuestionRule
from optimiser.model.tables import Run
from optimiser.survey.gap_line import GapAlongRun
from optimiser.survey.questions.corresponding import RunsAboveAndBelow, runs_above_and_below
from optimiser.survey.questions.robust import median, usual_size


@dataclass(frozen=True)
class Reading:
    """A measured reading: where it was taken, the gap, and where the table says that it was taken."""

    at_mm: int
    gap_mm: int
    written_at_mm: int


@dataclass(frozen=True)
class MeasuredRun:
    """A run with its measured readings, by position. `mixed`: it has nominal ones too."""

    run: Run
    readings: tuple[Reading, ...]
    mixed: bool

    @cached_property
    def line(self) -> GapAlongRun:
        """The gap along the run by these readings. Raises ValueError where there are none."""
        if not self.readings:
            raise ValueError(f"run {self.run.run} has no measured reading")
        return GapAlongRun(
            tuple(reading.at_mm for reading in self.readings),
            tuple(reading.gap_mm for reading in self.readings),
        )

    def having(self, readings: Sequence[Reading]) -> MeasuredRun:
        """The run with these readings, which are put in order of position."""
        return replace(self, readings=tuple(sorted(readings, key=lambda reading: reading.at_mm)))


@dataclass(frozen=True)
class MeasuredSurvey:
    """A project's measured readings. `runs` hold every run, in the order of the table; one may have no reading."""

    project: Project
    runs: Mapping[str, MeasuredRun]

    @classmethod
    def of(cls, project: Project) -> MeasuredSurvey:
        """The readings of a project as they are written."""
        runs = {}
        for name, gaps in project.building.gaps.items():
            readings = tuple(
                Reading(gap.at_mm, gap.gap_mm, gap.at_mm) for gap in gaps if gap.basis == "measured"
            )
            runs[name] = MeasuredRun(project.building.runs[name], readings, len(readings) < len(gaps))
        return cls(project, runs)

    def having(self, changed: Mapping[str, Sequence[Reading]]) -> MeasuredSurvey:
        """The survey with other readings on some of its runs."""
        runs = {
            name: run.having(changed[name]) if name in changed else run for name, run in self.runs.items()
        }
        return MeasuredSurvey(self.project, runs)

    @cached_property
    def above_and_below(self) -> RunsAboveAndBelow:
        """Which runs correspond from level to level."""
        return runs_above_and_below(self.project.building)

    @cached_property
    def usual_spacing_mm(self) -> Fraction:
        """The middle distance from one reading to the next, over the whole survey; 0 without any."""
        spacings = self._spacings
        return median(spacings) if spacings else Fraction(0)

    @cached_property
    def evenly_spaced(self) -> bool:
        """Whether nearly all readings (nine in ten) lie no further apart than 1.3 times the usual spacing."""
        spacings = sorted(self._spacings)
        return len(spacings) > 9 and spacings[len(spacings) * 9 // 10] <= self.usual_spacing_mm * Fraction(
            13, 10
        )

    @cached_property
    def _spacings(self) -> tuple[Fraction, ...]:
        return tuple(
            Fraction(b.at_mm - a.at_mm) for run in self.runs.values() for a, b in pairwise(run.readings)
        )

    @cached_property
    def usual_difference_mm(self) -> Fraction:
        """The usual difference from one reading to the next along a run, over the whole survey."""
        return usual_size(
            [Fraction(b.gap_mm - a.gap_mm) for run in self.runs.values() for a, b in pairwise(run.readings)]
        )

    def neighbours_with_readings(self, run: str) -> Iterator[MeasuredRun]:
        """The runs above and below that are measured too."""
        for name in self.above_and_below.nearest[run]:
            if self.runs[name].readings:
                yield self.runs[name]


def ask(
    rule: QuestionRule,
    run: Run,
    at_mm: int,
    value: str,
    says: str,
    why: str,
    measure: str,
    measure_at_mm: Sequence[int] = (),
) -> Question:
    """A question at a place of a run; `measure_at_mm` are the places where a gap is to be read again."""
    return Question(
        rule=rule, level=run.level, run=run.run, at_mm=at_mm, value=value, says=says, why=why, measure=measure,
        measure_at_mm=tuple(measure_at_mm),
    )  # fmt: skip
