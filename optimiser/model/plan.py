"""A plan: the pieces, how they are cut, what is counted, and the order. `plan.json` is this model as JSON.

Immutable; integer millimetres, exact money (decimal text in the JSON), dates as ISO 8601.
"""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Literal

from pydantic import Field

from optimiser.cutting.problem import Waiting
from optimiser.cutting.status import Status, proof_in_short
from optimiser.model.detail import BracketChoice
from optimiser.model.immutable import Immutable
from optimiser.model.money import Money
from optimiser.model.order import Carrying, Delivery, DeliveryCosts, Firmness, OnSite, Order
from optimiser.model.planned_boards import (
    BoardCount,
    PlannedLeftOver,
    PlannedPattern,
    Proof,
    ThinRip,
    UsableLeftOver,
    Waste,
    numbered,
)
from optimiser.model.planned_pieces import MovedBracket, NotPlanned, PlannedJunction, PlannedPiece
from optimiser.model.progress import Job
from optimiser.model.project import Project, Rate
from optimiser.model.question import Question
from optimiser.model.record import Record
from optimiser.model.remainder import Remainder
from optimiser.model.staging import DeliverySequence
from optimiser.tables.level_counts import CountedLevel
from optimiser.tables.text import counted

if TYPE_CHECKING:
    import pandas

Staging = Literal["whole", "carry", "level"]


class LevelCounts(Immutable):
    """Accessories of a level."""

    joints: int
    brackets: dict[str, int]
    anchors: int
    tape_mm: int


class LevelStatus(Immutable):
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


class ForecastCover(Immutable):
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


class Plan(Immutable):
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
            Shape (strips, 11), a row a strip: layout (the pattern's number, as written on its boards), code, stock (the
            board's code, or the offcut), stage (sequence of the delivery that brings it), repeat (boards cut so), strip
            (from the datum edge, counted from 1), width_mm, cut_ready (False: of a level with nominal gaps), pieces (in
            the strip), piece_ids and piece_lengths_mm (tuples, from the datum end). Lengths are whole millimetres.
            `frame.explode(['piece_ids', 'piece_lengths_mm'])` has a row a piece.
        """
        from optimiser.tables.frames import frame_of
        from optimiser.tables.patterns import PATTERNS, strips_of

        return frame_of(PATTERNS, strips_of(self.numbered_layouts))

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
