"""A plan as an account: from pieces to boards to allowance to packs to money, each figure from the one before.

Exact: counts are integers, areas mm2, money and weights decimals. What a product does not state (price, weight,
carbon) is None, never 0.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from optimiser.model.money import NOTHING
from optimiser.model.plan import Plan
from optimiser.writing.drawing.plan_index import PlanIndex
from optimiser.writing.drawing.step_cuts import step_cuts
from optimiser.writing.words import product_size

_CENT = Decimal("0.01")


@dataclass(frozen=True)
class ProductAccount:
    """One product from what the plan needs to what is paid: needed + allowance = quantity, rounded up to packs; what
    the packs hold is ordered, and what of it is not asked for is over. `list_amount` is packs at the price of one,
    `amount` what the lines come to, price breaks taken off."""

    code: str
    kind: str
    size: str
    needed: int
    allowance: int
    quantity: int
    per_pack: int
    packs: int
    price: Decimal
    list_amount: Decimal
    amount: Decimal
    weight_kg: Decimal | None
    carbon_kg: Decimal | None

    @property
    def ordered(self) -> int:
        """Single boards, brackets, anchors or rolls in the packs."""
        return self.packs * self.per_pack

    @property
    def over(self) -> int:
        """What the last packs hold beyond the quantity."""
        return self.ordered - self.quantity

    @property
    def price_breaks(self) -> Decimal:
        """What price breaks take off, negative."""
        return self.amount - self.list_amount


def product_accounts(plan: Plan) -> tuple[ProductAccount, ...]:
    """Every product of the order, boards first."""
    found = []
    for product in plan.project.building.in_trade_order:
        lines = [line for line in plan.order.lines if line.code == product.code]
        if not lines:
            continue
        packs = sum(line.packs for line in lines)
        ordered = packs * product.per_pack
        found.append(
            ProductAccount(
                code=product.code,
                kind=product.kind,
                size=product_size(product),
                needed=sum(line.needed for line in lines),
                allowance=sum(line.allowance for line in lines),
                quantity=sum(line.quantity for line in lines),
                per_pack=product.per_pack,
                packs=packs,
                price=product.price,
                list_amount=packs * product.price,
                amount=sum((line.amount for line in lines), NOTHING),
                weight_kg=None if product.weight_kg is None else ordered * product.weight_kg,
                carbon_kg=None if product.carbon_kg is None else ordered * product.carbon_kg,
            )
        )
    return tuple(found)


@dataclass(frozen=True)
class BoardAccount:
    """One board from its pieces to its area: `opened` are bought and cut, `on_site` cut from stock. `scrap_mm2` is
    what neither is fitted nor kept; its money is its share of what a bought board costs at the price of its pack."""

    code: str
    size: str
    pieces: int
    strips: int
    opened: int
    on_site: int
    lower_bound: int
    packs: int
    lower_bound_packs: int
    bought_mm2: int
    stock_mm2: int
    fitted_mm2: int
    left_over_mm2: int
    price_m2: Decimal | None

    @property
    def scrap_mm2(self) -> int:
        """Bought and from stock, less fitted and left over."""
        return self.bought_mm2 + self.stock_mm2 - self.fitted_mm2 - self.left_over_mm2

    @property
    def scrap_money(self) -> Decimal | None:
        """The scrap at the price of a m2; None where the board has no price."""
        return None if self.price_m2 is None else money_of_area(self.scrap_mm2, self.price_m2)

    @property
    def left_over_money(self) -> Decimal | None:
        """The left-overs at the price of a m2."""
        return None if self.price_m2 is None else money_of_area(self.left_over_mm2, self.price_m2)


def money_of_area(area_mm2: int, price_m2: Decimal) -> Decimal:
    """What an area is worth at the price of a m2, to the cent."""
    return (Decimal(area_mm2) / 1_000_000 * price_m2).quantize(_CENT, ROUND_HALF_UP)


def board_accounts(plan: Plan) -> tuple[BoardAccount, ...]:
    """Every board that anything is cut from. The areas of all add up to the plan's waste account, to half a mm2 a
    board code, since a tapered piece's area may end in a half."""
    building = plan.project.building
    pieces = {piece.id: piece for piece in plan.pieces}
    counts: dict[str, Counter[str]] = defaultdict(Counter)
    twice_fitted: Counter[str] = Counter()
    for layout in plan.layouts:
        here = counts[layout.code]
        on_site = layout.stock in building.stock
        size = building.size_of_stock[layout.stock]
        here["on_site" if on_site else "opened"] += layout.repeat
        here["stock_mm2" if on_site else "bought_mm2"] += layout.repeat * size.area_mm2
        here["strips"] += layout.repeat * len(layout.strips)
        for piece in (piece for strip in layout.strips for piece in strip.pieces):
            here["pieces"] += layout.repeat
            if piece.id in pieces:
                twice_fitted[layout.code] += pieces[piece.id].twice_area_mm2
    for rest in plan.left_over:
        counts[rest.code]["left_over_mm2"] += rest.length_mm * rest.width_mm * rest.quantity
    found = []
    for code, board in building.boards.items():
        if code not in counts:
            continue
        here, bound = counts[code], plan.boards.get(code)
        price = None
        if board.price:
            exact = Fraction(board.price) / board.per_pack / board.size.area_mm2 * 1_000_000
            price = (Decimal(exact.numerator) / exact.denominator).quantize(_CENT, ROUND_HALF_UP)
        found.append(
            BoardAccount(
                code=code,
                size=product_size(board),
                pieces=here["pieces"],
                strips=here["strips"],
                opened=here["opened"],
                on_site=here["on_site"],
                lower_bound=bound.lower_bound if bound else 0,
                packs=bound.packs if bound else 0,
                lower_bound_packs=bound.lower_bound_packs if bound else 0,
                bought_mm2=here["bought_mm2"],
                stock_mm2=here["stock_mm2"],
                fitted_mm2=twice_fitted[code] // 2,
                left_over_mm2=here["left_over_mm2"],
                price_m2=price,
            )
        )
    return tuple(found)


@dataclass(frozen=True)
class Work:
    """A part of the crew's work: how often, minutes each, and whether the rate is a placeholder."""

    name: str
    number: int
    minutes_each: Decimal
    rate: str
    placeholder: bool

    @property
    def hours(self) -> Decimal:
        """Of one person, to the hundredth."""
        return (self.number * self.minutes_each / 60).quantize(_CENT, ROUND_HALF_UP)

    def cost(self, hour_cost: Decimal) -> Decimal:
        """At the cost of an hour, to the cent."""
        return (self.hours * hour_cost).quantize(_CENT, ROUND_HALF_UP)


def crew_work(plan: Plan) -> tuple[Work, ...]:
    """What the crew does for the pieces that are open, counted from its own sheets, at the project's rates."""
    index = PlanIndex(plan)
    cuts: Counter[str] = Counter()
    for step in index.sequence.steps:
        cuts["taken"] += 1
        cuts.update(cut.kind for cut in step_cuts(index, step).cuts)
    open_pieces = [piece for piece in plan.pieces if not piece.done]
    unfitted = [piece for piece in plan.pieces if piece.status != "fitted"]
    rates = plan.project.crew_rates
    given = set(rates.model_fields_set)
    parts = (
        ("Measure gaps again, a piece", len(open_pieces), "measure_minutes"),
        ("Open boards, take remainders", cuts["taken"], "board_minutes"),
        ("Rips, trims and slants", cuts["rip"] + cuts["trim"] + cuts["slant"], "rip_minutes"),
        ("Cross-cuts", cuts["cross-cut"], "cross_cut_minutes"),
        ("Notches", sum(len(piece.notches_at_mm) for piece in open_pieces), "notch_minutes"),
        ("Brackets with anchors", sum(len(piece.brackets_at_mm) for piece in unfitted), "bracket_minutes"),
        ("Pieces fitted", len(unfitted), "piece_minutes"),
        ("Joints taped", sum(counts.joints for counts in plan.counts.values()), "joint_minutes"),
    )
    return tuple(
        Work(name, number, getattr(rates, rate), rate, rate not in given) for name, number, rate in parts
    )


@dataclass(frozen=True)
class RunAccount:
    """A run: how much of its edge is planned, and what it takes."""

    level: str
    run: str
    length_mm: int
    planned_mm: int
    boards: str
    pieces: int
    brackets: int
    notches: int


def run_accounts(plan: Plan) -> tuple[RunAccount, ...]:
    """The runs in their table's order."""
    index = PlanIndex(plan)
    found = []
    for run in plan.project.runs:
        pieces = index.pieces_of_run.get(run.run, ())
        found.append(
            RunAccount(
                level=run.level,
                run=run.run,
                length_mm=run.length_mm,
                planned_mm=sum(piece.length_mm for piece in pieces),
                boards=" ".join(run.board),
                pieces=len(pieces),
                brackets=sum(len(piece.brackets_at_mm) for piece in pieces),
                notches=sum(len(piece.notches_at_mm) for piece in pieces),
            )
        )
    return tuple(found)


def a_metre(amount: Decimal, edge_mm: int) -> Decimal | None:
    """What an amount comes to for a metre of planned edge, to the cent; None without an edge."""
    return (amount * 1000 / edge_mm).quantize(_CENT, ROUND_HALF_UP) if edge_mm else None


@dataclass(frozen=True)
class LevelAccount:
    """A level: its day, what is opened for its cutting by board code, what is taken from the rack and kept on it, and
    what it takes. What is cut for levels that come together stands with the first of them."""

    level: str
    needed_on: date | None
    firmness: str
    opened: Mapping[str, int]
    on_site: int
    taken: int
    kept: int
    pieces: int
    joints: int
    anchors: int
    tape_mm: int


def level_accounts(plan: Plan) -> tuple[LevelAccount, ...]:
    """The levels in delivery order."""
    index = PlanIndex(plan)
    status = {level.level: level.status for level in plan.levels}
    found, done = [], set()
    for level in index.levels:
        steps = () if level.sequence in done else index.sequence.with_delivery(level.sequence)
        done.add(level.sequence)
        counts = plan.counts.get(level.level)
        found.append(
            LevelAccount(
                level=level.level,
                needed_on=level.needed_on,
                firmness=status.get(level.level, ""),
                opened=Counter(step.code for step in steps if step.taken is None and not step.on_site),
                on_site=sum(step.taken is None and step.on_site for step in steps),
                taken=sum(step.taken is not None for step in steps),
                kept=sum(len(step.kept) for step in steps),
                pieces=sum(piece.level == level.level for piece in plan.pieces),
                joints=counts.joints if counts else 0,
                anchors=counts.anchors if counts else 0,
                tape_mm=counts.tape_mm if counts else 0,
            )
        )
    return tuple(found)
