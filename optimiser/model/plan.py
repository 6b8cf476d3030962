"""A plan: the pieces, how they are cut, what is counted, and the order. `plan.json` is this model as JSON.

Immutable; integer millimetres, exact money (decimal text in the JSON), dates as ISO 8601.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from itertools import groupby
from typing import TYPE_CHECKING, Literal

from pydantic import Field

from optimiser.cutting.problem import CuttingPattern, LeftOver, Waiting
from optimiser.cutting.status import Status, proof_in_short
from optimiser.model.detail import BracketChoice
from optimiser.model.immutable import Immutable
from optimiser.model.money import Money
from optimiser.model.progress import Job
from optimiser.model.project import Project, Rate
from optimiser.model.question import Question
from optimiser.model.record import Record
from optimiser.model.remainder import Remainder
from optimiser.model.sizes import Size
from optimiser.model.staging import DeliverySequence
from optimiser.tables.level_counts import CountedLevel
from optimiser.tables.text import counted

if TYPE_CHECKING:
    import pandas

Firmness = Literal["firm", "forecast"]
"""Firm: every gap is measured, and what is needed is certain. Forecast: a gap is still nominal."""
Staging = Literal["whole", "carry", "level"]
PieceStatus = Literal["planned", "cut", "fitted"]


class PlanModel(Immutable):
    """A part of a plan or of a refit: immutable; aliases are the contract's names."""


class Notch(PlanModel):
    """The recess of a piece around a mullion: its middle from the piece's own start, its width along the edge and its
    depth from the facade side into the gap, as the mullion was measured; None where it was not."""

    at_mm: int
    width_mm: int | None = None
    depth_mm: int | None = None

    @property
    def size(self) -> str:
        """'60 x 45' (width by depth), '60 wide', '45 deep', or nothing."""
        if self.width_mm is not None and self.depth_mm is not None:
            return f"{self.width_mm} x {self.depth_mm}"
        if self.width_mm is not None:
            return f"{self.width_mm} wide"
        return "" if self.depth_mm is None else f"{self.depth_mm} deep"

    @property
    def words(self) -> str:
        """'610 (60 x 45)': where its middle is, and how wide and deep it is."""
        return notches_in_words((self,))


def notches_in_words(notches: Sequence[Notch]) -> str:
    """'305, 905 (60 x 45)': the middles of notches and their width by depth, in mm; '' of none."""
    found = []
    for size, alike in groupby(notches, key=lambda notch: notch.size):
        middles = ", ".join(str(notch.at_mm) for notch in alike)
        found.append(f"{middles} ({size})" if size else middles)
    return "; ".join(found)


class PlannedPiece(PlanModel):
    """One piece of board in its place. `from_mm`, `to_mm` and `mullions_at_mm` are measured from the run's
    start; `brackets_at_mm`, `notches_at_mm` and `notches` from the piece's own start.

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
    status: PieceStatus = "planned"
    notches: tuple[Notch, ...] = ()

    @property
    def done(self) -> bool:
        """Whether it is cut, or fitted too: no pattern cuts it any more."""
        return self.status != "planned"

    @property
    def notch_words(self) -> str:
        """'305, 905 (60 x 45)': where its notches are and how wide and deep; '' without any."""
        return notches_in_words(self.notches or tuple(Notch(at_mm=at) for at in self.notches_at_mm))

    @property
    def notch_width_mm(self) -> int | None:
        """How wide its notches are along the edge, as the run's mullions; None without any, or where not measured."""
        return max((notch.width_mm for notch in self.notches if notch.width_mm is not None), default=None)

    @property
    def notch_depth_mm(self) -> int | None:
        """How deep its notches go from the facade into the gap; None without any, or where not measured."""
        return max((notch.depth_mm for notch in self.notches if notch.depth_mm is not None), default=None)

    @property
    def length_mm(self) -> int:
        """The piece's length along the slab edge."""
        return self.to_mm - self.from_mm

    @property
    def twice_area_mm2(self) -> int:
        """Twice the piece's area as it is cut: a tapered one's mean width may be half a millimetre."""
        return self.length_mm * (self.cut_width_start_mm + self.cut_width_end_mm)

    @property
    def tapered(self) -> bool:
        """Whether the two ends are cut to different widths."""
        return self.cut_width_start_mm != self.cut_width_end_mm


class NotPlanned(PlanModel):
    """A stretch of a run that cannot be built as it stands: where, why, and what would fix it."""

    run: str
    level: str
    from_mm: int
    to_mm: int
    what: Literal["piece", "bracket"]
    reason: str
    mend: str


class PlannedJunction(PlanModel):
    """The taped joint where `run` ends and the run that it `joins` begins, counted on the level of `run`.

    `gap_mm` is the wider of the two runs' gaps there, rounded up; `tape_mm` covers all taped faces.
    """

    run: str
    joins: str
    level: str
    gap_mm: int
    tape_mm: int


class MovedBracket(PlanModel):
    """A bracket that a mullion keeps from its place, so that it stands `by_mm` farther than the detail says: from the
    end of its piece (`beyond` 'end distance') or from the bracket before it ('spacing'). `at_mm` is measured from the
    run's start; `mend` says what would mend it."""

    piece: str
    run: str
    level: str
    at_mm: int
    beyond: Literal["end distance", "spacing"]
    distance_mm: int
    by_mm: int
    mend: str


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


class ThinRip(PlanModel):
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


class BoardCount(PlanModel):
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


class Proof(PlanModel):
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
    deliveries left over; the packs of a code sum to one rounding up over the whole project.

    On a firm line `allowance` is for breakage and loss. On a forecast line `needed` is what the nominal gaps
    take and `allowance` what the simulation of their tolerances puts on top; `measure_by` is the last day on
    which the level can be measured and its delivery still be ordered in time.
    """

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
    price: Money
    amount: Money
    status: Firmness = "firm"
    measure_by: date | None = None


class Order(PlanModel):
    """What goes to the supplier."""

    lines: tuple[OrderLine, ...]
    total: Money
    currency: str

    def __repr__(self) -> str:
        from optimiser.tables.amounts import grouped_money

        return f"{counted(len(self.lines), 'order line')}; {grouped_money(self.total, self.currency)}"

    __str__ = __repr__

    def _repr_html_(self) -> str:
        from optimiser.tables.order_lines import ORDER_LINES
        from optimiser.tables.text import html_of

        return html_of(ORDER_LINES, self.lines, repr(self), self.currency)

    def to_frame(self) -> pandas.DataFrame:
        """The order lines as a frame.

        Returns
        -------
        pandas.DataFrame
            Shape (order lines, 16), a row a line: level, deliver_on, order_by, kind, code, needed, allowance,
            quantity, per_pack, packs, pack_name, price, amount, status, measure_by, currency. Counts are in single
            boards, brackets, anchors and rolls, `packs` in packs; `price` is of one pack and `amount` of the line, both
            exact `decimal.Decimal` in `currency`; `deliver_on`, `order_by` and `measure_by` (of a forecast) are days,
            NaT where there is none; `status` is firm or forecast.
        """
        from optimiser.tables.columns import CURRENCY, constant
        from optimiser.tables.frames import frame_of
        from optimiser.tables.order_lines import ORDER_LINES

        return frame_of((*ORDER_LINES, constant(CURRENCY, self.currency)), self.lines)


class Delivery(PlanModel):
    """What arrives together: the lines with packs for a level, on its date.

    Where the project limits its deliveries one may serve several `levels` (`level` is the first of them), and
    `trucks` and `pallets` say what brings it, `weight_kg` what it weighs (None where the boards' weight is not
    known); otherwise these stay empty.
    """

    level: str
    sequence: DeliverySequence
    deliver_on: date | None
    order_by: date | None
    packs: dict[str, int]
    amount: Money
    levels: tuple[str, ...] = ()
    trucks: int | None = None
    pallets: int | None = None
    weight_kg: Rate | None = None


class DeliveryCosts(PlanModel):
    """What the order costs with what brings and stores it: one sum, and what no schedule of its lines can go below.

    `goods` are the order's lines at the prices of their deliveries, `delivery` the loads at the cost of one,
    `storage` the m2 taken for weeks (`storage_m2_weeks`) at its cost, rounded to the cent, `waiting` what
    remainders cost that wait. `lower_bound` holds for every schedule that keeps the limits as nearly as this one.
    """

    goods: Money
    loads: int
    delivery: Money
    storage_m2_weeks: Rate
    storage: Money
    waiting: Money
    total: Money
    lower_bound: Money
    optimal: bool


class Carrying(PlanModel):
    """What boards and their waiting cost in one sum, where keeping a remainder has a price.

    `price` is for one remainder and delivery, `remainder_stages` how many the plan keeps (remainders times
    deliveries), `carrying` what that costs. `boards` is what is paid for boards, whole packs with their allowance at
    the products' prices; where a level is nominal and its packs follow from simulation, the boards at the price of
    one. No cutting of the same pieces comes to less than `lower_bound` in all.
    """

    price: Money
    remainder_stages: int
    boards: Money
    carrying: Money
    total: Money
    lower_bound: Money
    optimal: bool


class OnSite(PlanModel):
    """What board stands on site once a day's delivery is there and nothing of it is cut yet.

    `face_mm2` is the boards' face area, `floor_mm2` (rounded up) the floor that their stacks take (None where no
    stack is given), `weight_kg` their weight (None where a board's is not known), `floor_load_kg_m2` that of the
    heaviest stack on its floor, `floor_load_kept` whether the floor carries it (None: not known, or no limit).
    """

    day: date
    levels: tuple[str, ...]
    face_mm2: int
    floor_mm2: int | None
    weight_kg: Rate | None
    floor_load_kg_m2: Rate | None
    floor_load_kept: bool | None


class LevelStatus(PlanModel):
    """Whether a level is ordered firmly or as a forecast.

    `deliver_on` is the day of its first delivery. A forecast level must be measured by `measure_by`, so that
    what it needs with the longest lead time can still be ordered for its delivery; None: it is firm, or has no
    date.
    """

    level: str
    sequence: DeliverySequence
    status: Firmness
    deliver_on: date | None
    measure_by: date | None


class ForecastCover(PlanModel):
    """How far the order covers the possible surveys of the forecast levels, in every product at once.

    `covered` of `draws` surveys, drawn with `seed`, need no more of any product than the order brings;
    `covered_alone` is how many the quantities would cover that reach the service level product by product.
    `cost` is that of all packs of the products simulated, `least_cost` the proved bound on it.
    """

    service_level: Rate
    draws: int
    seed: int
    covered: int
    covered_alone: int
    cost: Money
    least_cost: Money
    proved: bool


class UsableLeftOver(PlanModel):
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
    layouts: tuple[PlannedPattern, ...]
    left_over: tuple[PlannedLeftOver, ...]
    counts: dict[str, LevelCounts]
    order: Order
    deliveries: tuple[Delivery, ...]
    questions: tuple[Question, ...] = ()
    warnings: tuple[str, ...]
    cautions: tuple[str, ...] = Field(min_length=1)
    usable_left_over: tuple[UsableLeftOver, ...] | None = None  # None: not looked for
    levels: tuple[LevelStatus, ...] = ()
    forecast: ForecastCover | None = None  # None: no gap is nominal with a tolerance
    delivery_costs: DeliveryCosts | None = None  # None: no price on loads, storage or small deliveries
    on_site: tuple[OnSite, ...] = ()
    remainders: tuple[Remainder, ...] = ()
    waiting: Waiting = Waiting()
    junctions: tuple[PlannedJunction, ...] = ()
    brackets_moved: tuple[MovedBracket, ...] = ()
    # what the brackets of the measured levels cost by each choice of sizes, whole packs before price breaks, and what
    # no choice within the details' bands can cost less than; empty and None where no size is on offer
    bracket_choices: dict[BracketChoice, Money] = Field(default_factory=dict)
    bracket_lower_bound: Money | None = None
    carrying: Carrying | None = None  # None: keeping a remainder has no price
    # the plan's number on the frontier of boards against waiting, if it was chosen
    waiting_choice: int | None = None
    record: Record = Record()
    job: Job = Job()
    thin_rips: tuple[
        ThinRip, ...
    ] = ()  # thinner than strip_min_mm, where a detail gives it, and not absorbed

    @property
    def numbered_layouts(self) -> tuple[tuple[int, PlannedPattern], ...]:
        """The layouts with their numbers, which are written on the boards and stay from plan to plan."""
        return numbered(self.layouts)

    @property
    def status(self) -> Status:
        """Whether everything is planned, and whether no cutting of its pieces can do with less."""
        return Status.of(proved=self.paid_least, left_out=bool(self.not_planned))

    @property
    def paid_least(self) -> bool:
        """Whether no cutting of its pieces can be paid for with less: fewer boards, or fewer packs of them."""
        return all(
            proof.optimal
            or (
                len(proof.codes) == 1
                and all(
                    self.boards[code].packs == self.boards[code].lower_bound_packs > 0 for code in proof.codes
                )
            )
            for proof in self.proofs
        )

    def __repr__(self) -> str:
        """'146 boards, proved; AUD 17,737.90'."""
        from optimiser.tables.amounts import grouped_money

        boards = sum(proof.boards for proof in self.proofs)
        bound = sum(proof.lower_bound for proof in self.proofs)
        cheapest = self.paid_least
        proof = "proved" if cheapest else proof_in_short(boards, bound)
        missing = f"; {counted(len(self.not_planned), 'place')} not planned" if self.not_planned else ""
        total = grouped_money(self.order.total, self.order.currency)
        return f"{counted(boards, 'board')}, {proof}; {total}{missing}"

    __str__ = __repr__

    def _repr_html_(self) -> str:
        from optimiser.tables.deliveries import AMOUNT, DELIVER_ON, LEVELS, ORDER_BY, PACKS
        from optimiser.tables.text import html_of

        columns = (LEVELS, DELIVER_ON, ORDER_BY, PACKS, AMOUNT)
        name = self.project.project.name
        title = f"{name}: {self!r}" if name else repr(self)
        notes = (f"{self.status}; staging '{self.staging}'", *self.warnings, *self.cautions)
        return html_of(columns, self.deliveries, title, self.order.currency, notes)

    def pieces_frame(self) -> pandas.DataFrame:
        """The pieces as a frame.

        Returns
        -------
        pandas.DataFrame
            Shape (pieces, 23), a row a piece: id, level, run, from_mm, to_mm, length_mm, gap_min_mm, gap_max_mm,
            cut_width_start_mm, cut_width_end_mm, basis, bracket, brackets_at_mm, notches_at_mm, notch_width_mm,
            notch_depth_mm, width_min_mm, width_max_mm, boards, mullions_at_mm, tapered, notch_words (middles, and
            width x depth), status ('planned', 'cut' or 'fitted'). All lengths are whole millimetres; `from_mm`, `to_mm`
            and `mullions_at_mm` count from the run's start, `brackets_at_mm`, `notches_at_mm` and `notch_words` from
            the piece's own.
            `basis` 'nominal' is a forecast, never ready to cut; `bracket` is missing where no size on offer fits.
        """
        from optimiser.tables.frames import frame_of
        from optimiser.tables.pieces import PIECES

        return frame_of(PIECES, self.pieces)

    def patterns_frame(self) -> pandas.DataFrame:
        """The cutting patterns as a frame, strip by strip.

        Returns
        -------
        pandas.DataFrame
            Shape (strips, 11), a row a strip: layout (the pattern, counted from 1), code, stock (the board's code, or
            the offcut), stage (sequence of the delivery that brings it), repeat (boards cut so), strip (from the
            datum edge, counted from 1), width_mm, cut_ready (False: of a level with nominal gaps), pieces (in the
            strip), piece_ids and piece_lengths_mm (tuples, from the datum end). Lengths are whole millimetres.
            `frame.explode(['piece_ids', 'piece_lengths_mm'])` has a row a piece.
        """
        from optimiser.tables.frames import frame_of
        from optimiser.tables.patterns import PATTERNS, strips_of

        return frame_of(PATTERNS, strips_of(self.layouts))

    def deliveries_frame(self) -> pandas.DataFrame:
        """The deliveries as a frame.

        Returns
        -------
        pandas.DataFrame
            Shape (deliveries, 9 + products), a row a delivery: levels (a tuple), sequence, deliver_on, order_by,
            trucks (loads), pallets, weight_kg (missing where the project names none), `packs CODE` for each product
            that is delivered (missing where a delivery brings none), amount (exact `decimal.Decimal`) and currency.
        """
        from optimiser.tables.columns import CURRENCY, constant
        from optimiser.tables.deliveries import delivery_columns
        from optimiser.tables.frames import frame_of

        columns = (*delivery_columns(self.delivered_codes), constant(CURRENCY, self.order.currency))
        return frame_of(columns, self.deliveries)

    def counts_frame(self) -> pandas.DataFrame:
        """What each level takes beside its boards, as a frame.

        Returns
        -------
        pandas.DataFrame
            Shape (levels, 5 + bracket sizes), a row a level in delivery order: level, `brackets CODE` for each size in
            use, brackets (of all sizes), anchors, joints (taped), tape_mm.
        """
        from optimiser.tables.frames import frame_of
        from optimiser.tables.level_counts import level_count_columns

        return frame_of(level_count_columns(self.bracket_codes), self.counted_levels)

    @property
    def delivered_codes(self) -> tuple[str, ...]:
        """The products that any delivery brings, boards first."""
        brought = {code for delivery in self.deliveries for code in delivery.packs}
        return tuple(
            product.code for product in self.project.building.in_trade_order if product.code in brought
        )

    @property
    def bracket_codes(self) -> tuple[str, ...]:
        """The bracket sizes in use, the shortest first."""
        reach = {bracket.code: bracket.reach_mm for bracket in self.project.brackets}
        used = {code for counts in self.counts.values() for code in counts.brackets}
        return tuple(sorted(used, key=lambda code: (reach.get(code, 0), code)))

    @property
    def counted_levels(self) -> tuple[CountedLevel, ...]:
        """The levels that have counts, in delivery order."""
        return tuple(
            CountedLevel(level.level, self.counts[level.level])
            for level in self.project.levels_in_order()
            if level.level in self.counts
        )
