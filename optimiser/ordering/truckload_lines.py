"""A plan's order lines on truckloads: what comes on a day, at the prices that are paid, in as many loads as it needs.

A line is a product on a truckload, firm and forecast apart; packs times price is its amount.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from optimiser.model.money import CENT, cents_of, from_cents
from optimiser.model.order import Order, OrderLine
from optimiser.model.products import KINDS, Kind, Product, Tape, length_column_mm
from optimiser.model.project import Project
from optimiser.model.purchase_order import OrderedLine, Truckload
from optimiser.ordering.delivery_days import loads_of, pallets_of
from optimiser.ordering.truckloads import dealt_out


def item_in_words(line: OrderLine, product: Product | None, supplier: str = "") -> str:
    """What a line orders: 'board 1200 x 1000 x 120 mm, 4 in a pallet' or 'tape, 45 m roll'; and who sells it where that
    is not the order's `supplier`."""
    size = "" if product is None else _size_in_words(product)
    words = [f"{line.kind}{size}"]
    if product is not None and product.material:
        words.append(product.material)
    if f"{line.per_pack}" in line.pack_name.split():
        words.append(line.pack_name)  # 'box of 50' says it already
    elif line.per_pack != 1:
        words.append(f"{line.per_pack} in a {line.pack_name or 'pack'}")
    elif line.kind != "tape":
        words.append(f"by the {line.pack_name or 'piece'}")
    if product is not None and product.supplier not in ("", supplier):
        words.append(f"from {product.supplier}")
    return ", ".join(words)


def _size_in_words(product: Product) -> str:
    """' 1200 x 1000 x 120 mm', or of tape ' 75 mm wide, 45 m roll'; nothing of what has no size."""
    if isinstance(product, Tape):
        metres = format((Decimal(product.roll_mm) / 1000).normalize(), "f")
        wide = f" {product.width_mm} mm wide" if product.width_mm is not None else ""
        return f"{wide}, {metres} m roll"
    given = (length_column_mm(product), product.width_mm, product.thickness_mm)
    sizes = [f"{size}" for size in given if size is not None]
    return f" {' x '.join(sizes)} mm" if sizes else ""


def truckloads_of(project: Project, order: Order, supplier: str) -> Iterable[Truckload]:
    """What comes on one day in as many loads as it needs trucks; what has no day yet, level by level. The lines have no
    numbers of their own yet."""
    together: dict[date | str, list[OrderLine]] = defaultdict(list)
    for line in order.lines:
        if line.packs:
            together[line.deliver_on or line.level] += with_true_prices(project, line)
    days: list[date | str] = [*sorted(day for day in together if isinstance(day, date))]
    days += [level for level in together if not isinstance(level, date)]
    number = 0
    for delivery, day in enumerate(days, start=1):
        lines = together[day]
        packs: dict[str, int] = {}
        for line in lines:
            packs[line.code] = packs.get(line.code, 0) + line.packs
        limits = project.delivery_limits
        trucks = loads_of(project, limits, packs) if limits else 1
        parted = dealt_out(project, limits, packs, trucks) if limits and trucks > 1 else None
        sold = _sold(project, lines)
        for load, on_it in enumerate(parted or (packs,), start=1):
            number += 1
            sized = limits is not None and limits.truck_pallets is not None
            yield Truckload(
                number=number,
                delivery=delivery,
                load=load,
                loads=len(parted or (packs,)),
                trucks=1 if parted else trucks,
                deliver_on=day if isinstance(day, date) else None,
                pallets=pallets_of(project, on_it) if sized else None,
                lines=tuple(_lines_of_load(project, sold, on_it, supplier)),
            )


def with_true_prices(project: Project, line: OrderLine) -> list[OrderLine]:
    """The line, or two where its packs were bought at two prices (an order on top of another): packs times price is the
    amount of each. Prices that the project knows are tried first; else two that lie a cent apart."""
    if line.packs * line.price == line.amount:
        return [line]
    product = project.building.products.get(line.code)
    prices = {line.price, *(row.price for row in project.price_breaks if row.code == line.code)}
    if product is not None:
        prices.add(product.price)
    for one in sorted(prices):
        for other in sorted(prices):
            if one == other:
                continue
            packs = (line.amount - line.packs * other) / (one - other)
            if packs == int(packs) and 0 <= packs <= line.packs:
                return _parted(line, int(packs), one, other)
    lower = from_cents(cents_of(line.amount) // line.packs)
    return _parted(line, line.packs - cents_of(line.amount) % line.packs, lower, lower + CENT)


def _parted(line: OrderLine, packs: int, price: Decimal, other_price: Decimal) -> list[OrderLine]:
    parts = ((packs, price), (line.packs - packs, other_price))
    return [
        line.model_copy(update={"packs": number, "price": each, "amount": number * each})
        for number, each in parts
        if number
    ]


@dataclass
class _Sold:
    """Packs of a product in one delivery at one price and status, and what of them no truck has taken yet."""

    line: OrderLine
    confirm_by: date | None
    left: dict[str, int]  # packs by level

    def take(self, most: int) -> dict[str, int]:
        """At most so many of the packs, by the level that they are for, the first levels first."""
        taken: dict[str, int] = {}
        for level, packs in self.left.items():
            if number := min(packs, most - sum(taken.values())):
                taken[level] = number
                self.left[level] -= number
        return taken


def _sold(project: Project, lines: Sequence[OrderLine]) -> list[_Sold]:
    """The lines of a delivery by product, status and price, boards first, firm before forecast."""
    groups: dict[tuple[str, str, Decimal], list[OrderLine]] = defaultdict(list)
    for line in lines:
        groups[line.code, line.status, line.price].append(line)
    rank = {product.code: place for place, product in enumerate(project.building.in_trade_order)}
    order = sorted(groups.items(), key=lambda item: (item[0][1] == "forecast", rank.get(item[0][0], 0)))
    return [
        _Sold(
            line=here[0],
            confirm_by=min((line.measure_by for line in here if line.measure_by is not None), default=None),
            left=_packs_by_level(here),
        )
        for _, here in order
    ]


def _packs_by_level(lines: Iterable[OrderLine]) -> dict[str, int]:
    found: dict[str, int] = {}
    for line in lines:
        found[line.level] = found.get(line.level, 0) + line.packs
    return found


def _lines_of_load(
    project: Project, sold: Sequence[_Sold], packs: Mapping[str, int], supplier: str
) -> Iterable[OrderedLine]:
    left = dict(packs)
    for group in sold:
        line = group.line
        packs_for = group.take(left.get(line.code, 0))
        taken = sum(packs_for.values())
        if not taken:
            continue
        left[line.code] -= taken
        product = project.building.products.get(line.code)
        list_price = product.price if product is not None else line.price
        weight = product.weight_kg if product is not None else None
        rate = product.tax_rate if product is not None else None
        yield OrderedLine(
            number=1,
            code=line.code,
            kind=_kind(line),
            description=item_in_words(line, product, supplier),
            status=line.status,
            packs_for=packs_for,
            confirm_by=group.confirm_by,
            packs=taken,
            per_pack=line.per_pack,
            pack_name=line.pack_name,
            list_price=list_price,
            price=line.price,
            from_packs=_break_of(project, line.code, line.price, list_price),
            amount=taken * line.price,
            tax_rate=project.project.tax_rate if rate is None else rate,
            weight_kg=None if weight is None else weight * line.per_pack * taken,
        )


def _kind(line: OrderLine) -> Kind:
    return next(kind for kind in KINDS if kind == line.kind)


def _break_of(project: Project, code: str, price: Decimal, list_price: Decimal) -> int | None:
    """From how many packs on a price holds; None for the list price or one that no break gives."""
    if price == list_price:
        return None
    rows = [row.from_packs for row in project.price_breaks if row.code == code and row.price == price]
    return min(rows, default=None)
