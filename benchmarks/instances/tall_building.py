"""An invented tall building, measured: every level four edges of some 45 m, a gap surveyed every 3 m.

All numbers are invented; nominal gaps, pitches and the 1200 mm board are common practice, no source.
"""

from __future__ import annotations

from datetime import date, timedelta
from random import Random

from optimiser.model.project import Anchor, Board, Bracket, Gap, Level, Project, Run, Tape

LEVELS = 60
EDGES = 4
EDGE_MM = (44_000, 46_000)
NOMINAL_GAPS_MM = (100, 120, 150, 180)
PITCHES_MM = (1200, 1350, 1500)
SURVEYED_EVERY_MM = 3000
DEVIATION_MM = 6
FIRST = date(2027, 3, 1)
BOARD = "B-120"


def tall_building(seed: int, levels: int = LEVELS) -> Project:
    """The project drawn from `seed`: 60 `levels`, a week each, and some 9,400 pieces; of 140 some 22,000."""
    random = Random(f"tall building {seed}")
    runs: list[Run] = []
    gaps: list[Gap] = []
    for level in range(1, levels + 1):
        for edge in range(EDGES):
            name, length = f"L{level:02d}-{edge + 1}", random.randint(*EDGE_MM)
            pitch, nominal = random.choice(PITCHES_MM), random.choice(NOMINAL_GAPS_MM)
            mullions = tuple(range(pitch, length - 150, pitch))
            runs.append(
                Run(run=name, level=f"L{level:02d}", length_mm=length, board=(BOARD,), mullions_mm=mullions)
            )
            for at in range(0, length, SURVEYED_EVERY_MM):
                gap = max(60, round(random.gauss(nominal, DEVIATION_MM)))
                gaps.append(Gap(run=name, at_mm=at, gap_mm=gap, basis="measured"))
    return Project(
        products=(
            Board(code=BOARD, length_mm=1200, width_mm=1000, per_pack=4, price="53.00"),
            *(Bracket(code=f"K-{reach}", length_mm=reach) for reach in range(40, 181, 10)),
            Anchor(code="A-1", per_pack=100, price="31.20"),
            Tape(code="T-1", length_mm=25_000, price="9.90"),
        ),
        levels=tuple(
            Level(level=f"L{n:02d}", sequence=n, needed_on=FIRST + timedelta(weeks=n - 1))
            for n in range(1, levels + 1)
        ),
        runs=tuple(runs),
        gaps=tuple(gaps),
    )
