"""How the boards of a plan are cut, how many there are, with their proof, and what is left of them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from optimiser.cutting.problem import CuttingPattern, LeftOver
from optimiser.model.immutable import Immutable
from optimiser.model.sizes import Size
from optimiser.model.staging import DeliverySequence


class PlannedPattern(CuttingPattern):
    """How a board or a row of the stock is cut, `repeat` times over, as a plan shows it.

    Beside the solver's pattern two things differ: `stage` is the sequence number that the `levels` table gives the
    delivery with which the stock is there, not the solver's count of stages, and `code` is always the product's.
    `number` is its own, where plans before gave it one or their numbers are taken; None: its place in the plan, from 1.
    """

    stage: DeliverySequence
    number: int | None = None

    @property
    def sequence(self) -> DeliverySequence:
        """The delivery with which the stock is there: what the JSON calls `stage`."""
        return self.stage


def numbered(layouts: Iterable[PlannedPattern]) -> tuple[tuple[int, PlannedPattern], ...]:
    """Layouts with their own numbers, or their places from 1."""
    return tuple((layout.number or place, layout) for place, layout in enumerate(layouts, start=1))


class ThinRip(Immutable):
    """A rip thinner than the detail's `strip_min_mm`, which the widths could not absorb: what is ripped off the board's
    edge, a `strip` itself (counted from the datum edge, from 1), or what is trimmed beside a `piece`. `layout` is the
    number of its pattern."""

    layout: int
    kind: Literal["edge", "strip", "trim"]
    width_mm: int
    strip: int | None = None
    piece: str | None = None

    @property
    def words(self) -> str:
        """'pattern 12: 7 mm off the edge', 'pattern 3, strip 2: 18 mm wide', '..., piece L01-N-003: 4 mm trimmed'."""
        if self.kind == "edge":
            return f"pattern {self.layout}: {self.width_mm} mm off the edge"
        if self.kind == "strip":
            return f"pattern {self.layout}, strip {self.strip}: {self.width_mm} mm wide"
        return f"pattern {self.layout}, strip {self.strip}, piece {self.piece}: {self.width_mm} mm trimmed"


class PlannedLeftOver(LeftOver):
    """What a plan leaves of its boards and keeps; `stage` is the sequence number of the delivery that leaves it."""

    stage: DeliverySequence

    @property
    def sequence(self) -> DeliverySequence:
        """The delivery whose cutting leaves it: what the JSON calls `stage`."""
        return self.stage

    @property
    def size(self) -> Size:
        """Its length and width."""
        return Size(self.length_mm, self.width_mm)


class BoardCount(Immutable):
    """How many boards of a code are cut that are bought, and what no plan can go below.

    `packs` are paid for, allowance included, and no plan pays for fewer than `lower_bound_packs`. A board in a pack
    that is paid for anyway is free: it may be cut so that less waits, and then `count` is above its bound though the
    packs are proved the fewest.
    """

    count: int
    lower_bound: int
    optimal: bool
    packs: int = 0
    lower_bound_packs: int = 0


class Proof(Immutable):
    """The proof for boards that are planned together (codes that serve the same runs): bounds on cost too.

    `lower_bound` holds for every cutting of these pieces, `lower_bound_any_joints` for those of every joint layout of
    as few joints as well, so it is never more. None: not worked out, or, in boards, not for one code alone.
    """

    codes: tuple[str, ...]
    boards: int
    lower_bound: int
    cost_cents: int
    lower_bound_cents: int
    optimal: bool
    solve_seconds: float
    lower_bound_any_joints: int | None = None
    lower_bound_cents_any_joints: int | None = None


class Waste(Immutable):
    """Where the board area went: bought + stock = fitted + reusable offcut + scrap, to the mm2."""

    bought_mm2: int
    stock_mm2: int
    fitted_mm2: int
    reusable_offcut_mm2: int
    scrap_mm2: int
    scrap_fraction: float


class UsableLeftOver(Immutable):
    """A left-over of `level`'s boards that the later levels `serves` have a piece for."""

    level: str
    stage: DeliverySequence
    code: str
    length_mm: int
    width_mm: int
    quantity: int
    serves: tuple[str, ...]

    @property
    def size(self) -> Size:
        """Its length and width."""
        return Size(self.length_mm, self.width_mm)
