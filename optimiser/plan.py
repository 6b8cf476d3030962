"""A plan: the pieces, how they are cut, what is counted, and the order. `plan.json` is this model as JSON.

Immutable; integer millimetres and cents. Money appears in the JSON as decimal text, dates as ISO 8601.
"""

from __future__ import annotations

from datetime import date
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from optimiser.cutting.problem import Layout, LeftOver
from optimiser.project import Cents, Project

Staging = Literal["whole", "carry", "level"]


class PlanModel(BaseModel):
    """Immutable; aliases are the contract's names."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)


class PlannedPiece(PlanModel):
    """One piece of board in its place. `from_mm`, `to_mm` and `mullions_at_mm` are measured from the run's
    start; `brackets_at_mm` and `notches_at_mm` from the piece's own start.

    `cut_width_start_mm` differs from `cut_width_end_mm` only for a tapered piece. [`width_min_mm`,
    `width_max_mm`] is the compression window from which the cut width was chosen (for a tapered piece, both
    are its wider end).
    """

    id: str
    level: str
    run: str
    from_mm: int
    to_mm: int
    gap_min_mm: int
    gap_max_mm: int
    width_min_mm: int
    width_max_mm: int
    cut_width_start_mm: int
    cut_width_end_mm: int
    boards: tuple[str, ...]
    bracket: str | None
    brackets_at_mm: tuple[int, ...]
    notches_at_mm: tuple[int, ...]
    mullions_at_mm: tuple[int, ...]
    basis: Literal["measured", "nominal"] = "measured"

    @property
    def length_mm(self) -> int:
        """The piece's length along the slab edge."""
        return self.to_mm - self.from_mm

    @property
    def tapered(self) -> bool:
        """Whether the two ends are cut to different widths."""
        return self.cut_width_start_mm != self.cut_width_end_mm


class NotPlanned(PlanModel):
    """A stretch of a run that cannot be built as it stands: where, why, and what would mend it."""

    run: str
    level: str
    from_mm: int
    to_mm: int
    what: Literal["piece", "bracket"]
    reason: str
    mend: str


class BoardCount(PlanModel):
    """How many boards of a code are bought, and what no plan can go below."""

    count: int
    lower_bound: int
    optimal: bool


class Proof(PlanModel):
    """The proof for boards that are planned together (codes that serve the same runs): bounds on cost too."""

    codes: tuple[str, ...]
    boards: int
    lower_bound: int
    cost_cents: int
    lower_bound_cents: int
    optimal: bool
    solve_seconds: float


class Waste(PlanModel):
    """Where the board area went: bought + stock = fitted + reusable offcut + scrap, to the mm2."""

    bought_mm2: int
    stock_mm2: int
    fitted_mm2: int
    reusable_offcut_mm2: int
    scrap_mm2: int
    scrap_fraction: float


class LevelCounts(PlanModel):
    """Accessories of a level."""

    joints: int
    brackets: dict[str, int]
    anchors: int
    tape_mm: int


class OrderLine(PlanModel):
    """One product for one level's delivery. `packs` are what is bought for this delivery after what earlier
    deliveries left over; the packs of a code sum to one rounding up over the whole project."""

    code: str
    kind: str
    level: str
    deliver_on: date | None
    order_by: date | None
    needed: int
    allowance: int
    quantity: int
    per_pack: int
    packs: int
    pack_name: str
    price: Cents
    amount: Cents


class Order(PlanModel):
    """What goes to the supplier."""

    lines: tuple[OrderLine, ...]
    total: Cents
    currency: str


class Delivery(PlanModel):
    """What arrives together: the lines with packs for a level, on its date.

    Where the project limits its deliveries one may serve several `levels` (`level` is the first of them), and
    `trucks` and `pallets` say what brings it; otherwise these stay empty.
    """

    level: str
    sequence: int
    deliver_on: date | None
    order_by: date | None
    packs: dict[str, int]
    amount: Cents
    levels: tuple[str, ...] = ()
    trucks: int | None = None
    pallets: int | None = None


class UsableLeftOver(PlanModel):
    """A left-over of `level`'s boards that the later levels `serves` have a piece for."""

    level: str
    stage: int
    code: str
    length_mm: int
    width_mm: int
    quantity: int
    serves: tuple[str, ...]


class Plan(PlanModel):
    """The whole plan of a project."""

    project: Project
    staging: Staging
    max_carry_stages: int | None
    boards: dict[str, BoardCount]
    proofs: tuple[Proof, ...]
    waste: Waste
    pieces: tuple[PlannedPiece, ...]
    not_planned: tuple[NotPlanned, ...]
    layouts: tuple[Layout, ...]
    left_over: tuple[LeftOver, ...]
    counts: dict[str, LevelCounts]
    order: Order
    deliveries: tuple[Delivery, ...]
    warnings: tuple[str, ...]
    cautions: tuple[str, ...] = Field(min_length=1)
    usable_left_over: tuple[UsableLeftOver, ...] | None = None  # None: not looked for
