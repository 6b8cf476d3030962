"""The building as a section: a slab a level, as wide as its edges are long, the first delivered at the bottom."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date

from api.pages.figures import figure
from optimiser.model.plan import Plan
from optimiser.writing.drawing.plan_index import PlanIndex

WIDTH = 360
ROW = 30
_NARROWEST, _WIDEST = 236, 312
_SEAL = 9  # how wide the gap with its barrier is drawn
_TOP, _GROUND = 12, 20


@dataclass(frozen=True)
class SectionRow:
    """A level: where its slab, its two seals and its facade stand in the picture, and what is said of it."""

    place: int
    level: str
    boards: int
    pieces: int
    needed_on: date | None
    not_planned: int
    nominal: bool
    left: float
    right: float
    y: float

    @property
    def width(self) -> float:
        """How wide the slab is drawn."""
        return self.right - self.left


@dataclass(frozen=True)
class SectionView:
    """The picture's rows from the top, and its size."""

    rows: tuple[SectionRow, ...]
    width: int
    height: int
    seal: int
    row: int


@figure
def section_view(index: PlanIndex) -> SectionView:
    """The section of a plan's building. Levels without runs are drawn at the narrowest width."""
    plan = index.plan
    levels = plan.project.levels_in_order()
    edges: Counter[str] = Counter()
    for run in plan.project.runs:
        edges[run.level] += run.length_mm
    longest = max(edges.values(), default=1)
    pieces = Counter(piece.level for piece in plan.pieces)
    forecast = index.forecast_levels
    missing = Counter(place.level for place in plan.not_planned)
    boards = boards_by_level(plan)
    rows = []
    for place, level in enumerate(levels, 1):
        wide = max(_NARROWEST, _WIDEST * edges[level.level] / longest)
        rows.append(
            SectionRow(
                place,
                level.level,
                boards[level.level],
                pieces[level.level],
                level.needed_on,
                missing[level.level],
                level.level in forecast,
                (WIDTH - wide) / 2,
                (WIDTH + wide) / 2,
                _TOP + (len(levels) - place) * ROW,
            )
        )
    return SectionView(tuple(reversed(rows)), WIDTH, _TOP + len(levels) * ROW + _GROUND, _SEAL, ROW)


def boards_by_level(plan: Plan) -> Counter[str]:
    """How many boards each level needs, without allowance: together they are the boards needed of the order summary."""
    found: Counter[str] = Counter()
    for line in plan.order.lines:
        if line.kind == "board":
            found[line.level] += line.needed
    return found
