"""A building that is measured as it rises: nominal gaps at first, and what a crew finds level by level."""

from __future__ import annotations

import random
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from optimiser.model.project import Allowance, Anchor, Board, Bracket, Gap, Level, Project, Run, Tape

FIRST_WEEK = date(2027, 3, 1)  # a Monday
TOLERANCE_MM = 8
SURVEYED_EVERY_MM = 1500
EDGES = (
    (110, 15_600),
    (150, 11_400),
    (150, 15_600),
    (180, 10_800),
)  # nominal gap and length in mm, all invented


@dataclass(frozen=True)
class RisingBuilding:
    """`drawn` has every gap nominal; `found` are the gaps as they are measured, by run and position."""

    drawn: Project
    found: dict[tuple[str, int], int]

    def survey(self, measured: Collection[str]) -> Project:
        """The survey when these levels are measured and the others are as drawn."""
        runs = self.drawn.building.runs
        gaps = tuple(
            Gap(run=gap.run, at_mm=gap.at_mm, gap_mm=self.found[gap.run, gap.at_mm])
            if runs[gap.run].level in measured
            else gap
            for gap in self.drawn.gaps
        )
        return self.drawn.model_copy(update={"gaps": gaps})

    def measured_again(self, level: str, draw: random.Random, most_mm: int) -> RisingBuilding:
        """The same where a level's gaps are found to be up to so many mm other than they were."""
        runs = self.drawn.building.runs
        found = {
            (run, at): gap + (draw.randint(-most_mm, most_mm) if runs[run].level == level else 0)
            for (run, at), gap in self.found.items()
        }
        return RisingBuilding(self.drawn, found)

    def moved(self, level: str, days: int) -> RisingBuilding:
        """The same where a level is needed so many days later."""
        levels = tuple(
            one.model_copy(update={"needed_on": one.needed_on + timedelta(days=days)})
            if one.level == level and one.needed_on
            else one
            for one in self.drawn.levels
        )
        return RisingBuilding(self.drawn.model_copy(update={"levels": levels}), self.found)


def rising_building(seed: int, weeks: tuple[int, ...]) -> RisingBuilding:
    """A level for each of the `weeks`, needed in that week (from 1), drawn from `seed`.

    The edges wander slowly about their nominal gap, and most readings lie within the tolerance.
    """
    draw = random.Random(seed)
    runs: list[Run] = []
    gaps: list[Gap] = []
    found: dict[tuple[str, int], int] = {}
    for number in range(1, len(weeks) + 1):
        for edge, (nominal, length) in enumerate(EDGES, start=1):
            name = f"L{number:02d}-{edge}"
            mullions = tuple(range(750, length - 150, 1500))
            runs.append(
                Run(
                    run=name, level=f"L{number:02d}", length_mm=length, board=("B-120",), mullions_mm=mullions
                )
            )
            error = draw.gauss(0, TOLERANCE_MM / 2)
            for at in [*range(0, length, SURVEYED_EVERY_MM), length]:
                error = 0.9 * error + draw.gauss(0, TOLERANCE_MM / 5)
                found[name, at] = nominal + round(max(-TOLERANCE_MM, min(TOLERANCE_MM, error)))
                gaps.append(
                    Gap(run=name, at_mm=at, gap_mm=nominal, basis="nominal", tolerance_mm=TOLERANCE_MM)
                )
    drawn = Project(
        products=(
            Board(code="B-120", length_mm=1200, width_mm=1000, per_pack=4, price="212.00", lead_days=8),
            *(
                Bracket(code=f"K-{reach}", length_mm=reach, per_pack=50, price="60.00", lead_days=5)
                for reach in range(60, 181, 10)
            ),
            Anchor(code="A-8", per_pack=100, price="41.50", lead_days=5),
            Tape(code="T-75", length_mm=45_000, price="23.10", lead_days=5),
        ),
        levels=tuple(
            Level(level=f"L{number:02d}", sequence=number, needed_on=FIRST_WEEK + timedelta(weeks=week - 1))
            for number, week in enumerate(weeks, start=1)
        ),
        runs=tuple(runs),
        gaps=tuple(gaps),
        allowance=(Allowance(kind="board", fraction=Decimal("0.02")),),
    )
    return RisingBuilding(drawn, found)
