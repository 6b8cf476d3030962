"""Measured readings further from the nominal gap of their run than its tolerance."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from fractions import Fraction

from optimiser.model.project import Project
from optimiser.model.question import Question
from optimiser.model.tables import Gap
from optimiser.survey.gap_line import GapAlongRun
from optimiser.survey.questions.measured import ask
from optimiser.survey.shown_lengths import shown_mm


def questions_of_nominal(project: Project) -> Iterator[Question]:
    """A question for each measured reading of a run that has nominal gaps too, where the two differ by more than the
    tolerance of the nearest nominal gap. One without a tolerance, as an approximate reading is, speaks for the readings
    beside it alone (within `reading_spacing_max_mm`), and to the limit."""
    limits = project.survey_limits
    for name, gaps in project.building.gaps.items():
        nominal = [gap for gap in gaps if gap.basis == "nominal"]
        if not nominal:
            continue
        line = GapAlongRun.of(nominal)
        for gap in gaps:
            if gap.basis != "measured":
                continue
            drawn = line.at(gap.at_mm)
            nearest = _nearest(nominal, line.at_mm, gap.at_mm)
            tolerance = nearest.tolerance_mm
            if tolerance is None:
                if abs(nearest.at_mm - gap.at_mm) > limits.reading_spacing_max_mm:
                    continue
                tolerance = limits.nominal_tolerance_mm
            by = abs(Fraction(gap.gap_mm) - drawn)
            if by > tolerance:
                yield ask(
                    "nominal", project.building.runs[name], gap.at_mm, f"{gap.gap_mm} mm",
                    f"Is the gap at {gap.at_mm} mm really {gap.gap_mm} mm? Nominal there is {shown_mm(drawn)}.",
                    f"It lies {shown_mm(by)} from the nominal gap, whose tolerance is {tolerance} mm"
                    f"{' (it has none of its own)' if nearest.tolerance_mm is None else ''}.",
                    f"the gap at {gap.at_mm} mm; if it is right, the nominal gap and its tolerance",
                    (gap.at_mm,),
                )  # fmt: skip


def _nearest(gaps: Sequence[Gap], positions: Sequence[int], at_mm: int) -> Gap:
    """The gap nearest to a position; `positions` are the gaps' own, ascending. Of two equally near the first."""
    after = bisect_left(positions, at_mm)
    around = gaps[max(0, after - 1) : after + 1]
    return min(around, key=lambda gap: abs(gap.at_mm - at_mm))
