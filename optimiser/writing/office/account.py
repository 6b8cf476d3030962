"""A plan as an account: from pieces to boards to allowance to packs to money, each figure from the one before.

Exact: counts are integers, areas mm2, money and weights decimals. What a product does not state (price, weight,
carbon) is None, never 0.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from optimiser.model.money import NOTHING
from optimiser.model.plan import Plan
from optimiser.writing.words import product_size

CENT = Decimal("0.01")


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
    return (Decimal(area_mm2) / 1_000_000 * price_m2).quantize(CENT, ROUND_HALF_UP)


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
            price = (Decimal(exact.numerator) / exact.denominator).quantize(CENT, ROUND_HALF_UP)
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


def a_metre(amount: Decimal, edge_mm: int) -> Decimal | None:
    """What an amount comes to for a metre of planned edge, to the cent; None without an edge."""
    return (amount * 1000 / edge_mm).quantize(CENT, ROUND_HALF_UP) if edge_mm else None
