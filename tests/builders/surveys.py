"""A quiet survey to plant one mistake in: four sides a level, gaps that wander by a few millimetres."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from itertools import pairwise
from typing import Any

from optimiser.model.project import Board, Gap, Level, Project, Run, SurveyLimits

EVERY_MM = 1500
SIDES = {"N": 37_800, "E": 18_900, "S": 37_800, "W": 18_900}
NOMINAL = {"N": 162, "E": 120, "S": 162, "W": 120}
NEEDED_ON = date(2027, 3, 1)
_WANDERS = (0, 1, 2, 2, 1, 0, -1, -2, -1, 1, 2, 1, -1)


def quiet_survey(storeys: int = 3, **limits: Any) -> Project:
    """A survey that nothing is wrong with; `limits` are those of the `survey_limits` table."""
    levels, runs, gaps = [], [], []
    for number in range(1, storeys + 1):
        level = f"L{number:02d}"
        levels.append(Level(level=level, sequence=number, needed_on=NEEDED_ON + timedelta(weeks=number)))
        for side, following in pairwise("NESWN"):
            length = SIDES[side]
            runs.append(
                Run(
                    run=f"{level}-{side}",
                    level=level,
                    length_mm=length,
                    board=("B-120",),
                    joins=f"{level}-{following}",
                    mullions_mm=tuple(range(750, length - 500, 1500)),
                )
            )
            for place, at_mm in enumerate([*range(0, length, EVERY_MM), length]):
                wander = _WANDERS[(place + 3 * number + ord(side)) % len(_WANDERS)]
                gaps.append(Gap(run=f"{level}-{side}", at_mm=at_mm, gap_mm=NOMINAL[side] + wander))
    return Project(
        products=(Board(code="B-120", length_mm=1200, width_mm=1000, thickness_mm=120),),
        levels=tuple(levels),
        runs=tuple(runs),
        gaps=tuple(gaps),
        survey_limits=SurveyLimits(**limits),
    )


def with_gaps(project: Project, run: str, change: Callable[[Gap], Gap | None]) -> Project:
    """The project with each gap of a run changed, or left out where the change gives None."""
    gaps = (change(gap) if gap.run == run else gap for gap in project.gaps)
    return project.model_copy(update={"gaps": tuple(gap for gap in gaps if gap is not None)})


def with_gap(project: Project, run: str, place_mm: int, **changes: Any) -> Project:
    """The project with the reading at one position changed."""
    return with_gaps(
        project, run, lambda gap: gap.model_copy(update=changes) if gap.at_mm == place_mm else gap
    )


def with_run(project: Project, name: str, **changes: Any) -> Project:
    """The project with one run changed."""
    runs = tuple(run.model_copy(update=changes) if run.run == name else run for run in project.runs)
    return project.model_copy(update={"runs": runs})
