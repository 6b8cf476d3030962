"""What a plan's boards leave on site, delivery by delivery: reckoned from all its pieces when it is kept."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from api.pages.figures import figure
from optimiser.model.staging import DeliverySequence
from optimiser.ordering.site_storage import CutOnSite
from optimiser.writing.drawing.plan_index import PlanIndex


@dataclass(frozen=True)
class CutOfBoard:
    """What is cut of the boards of a code, as `CutOnSite` counts it, each counter as its items."""

    code: str
    boards: tuple[tuple[DeliverySequence, str, int], ...]
    remainders_mm2: tuple[tuple[DeliverySequence, DeliverySequence, int], ...]
    kept_mm2: tuple[tuple[DeliverySequence, DeliverySequence, int], ...]
    stock_mm2: tuple[tuple[DeliverySequence | None, int], ...]
    stock_cut_mm2: tuple[tuple[DeliverySequence, int], ...]

    @classmethod
    def of(cls, code: str, cut: CutOnSite) -> CutOfBoard:
        """The counters as their items."""
        return cls(
            code,
            tuple((*moved, number) for moved, number in cut.boards.items()),
            tuple((*moved, area) for moved, area in cut.remainders_mm2.items()),
            tuple((*moved, area) for moved, area in cut.kept_mm2.items()),
            tuple(cut.stock_mm2.items()),
            tuple(cut.stock_cut_mm2.items()),
        )

    @property
    def counted(self) -> CutOnSite:
        """As it was counted."""
        return CutOnSite(
            Counter({(sequence, code): number for sequence, code, number in self.boards}),
            Counter({(kept, cut): area for kept, cut, area in self.remainders_mm2}),
            Counter({(kept, cut): area for kept, cut, area in self.kept_mm2}),
            Counter(dict(self.stock_mm2)),
            Counter(dict(self.stock_cut_mm2)),
        )


@figure
def cut_on_site(index: PlanIndex) -> tuple[CutOfBoard, ...]:
    """What the boards of each code leave on site, delivery by delivery."""
    plan = index.plan
    return tuple(
        CutOfBoard.of(
            code, CutOnSite.of(plan.project, plan.pieces, plan.layouts, plan.usable_left_over or (), code)
        )
        for code in plan.project.building.boards
    )
