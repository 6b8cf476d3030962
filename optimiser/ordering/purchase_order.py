"""From a plan's order to the one that is sent: truckloads, line numbers that stay, true prices, taxes, the revision.

A line is a product on a truckload, firm and forecast apart. Its price is the one that the delivery's packs are bought
at, so that packs times price is its amount; the sum of all amounts is the plan's total, to the cent.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from optimiser.model.money import CENT, NOTHING, cents_of, from_cents, total_of
from optimiser.model.plan import Order, OrderLine, Plan
from optimiser.model.products import KINDS, Kind, Product, length_column_mm
from optimiser.model.project import Project
from optimiser.model.purchase_order import LineBefore, OrderedLine, PurchaseOrder, TaxAtRate, Truckload
from optimiser.ordering.delivery_days import loads_of, pallets_of
from optimiser.ordering.truckloads import dealt_out
from optimiser.tables.amounts import WITHOUT_DECIMALS


@dataclass(frozen=True)
class Issue:
    """What an order is issued as: `revision` (None: a draft) on a day, and the revision that it `replaces`. One that
    replaces none, yet comes on top of others, says what is on record as ordered `besides` it, by code and level."""

    revision: int | None = None
    issued_on: date | None = None
    replaces: PurchaseOrder | None = None
    besides: dict[str, dict[str, int]] = field(default_factory=dict)


DRAFT = Issue()
NO_REFERENCE = "no order reference"


def purchase_order(plan: Plan, issue: Issue = DRAFT) -> PurchaseOrder:
    """The order of a plan as it is sent to the supplier."""
    return purchase_order_of(plan.project, plan.order, issue)


def purchase_order_of(project: Project, order: Order, issue: Issue = DRAFT) -> PurchaseOrder:
    """An order of a project's products as it is sent.

    Raises ValueError where it replaces an order in another currency.
    """
    before = issue.replaces
    if before is not None and before.currency != order.currency:
        raise ValueError(f"the order that is replaced is in {before.currency}, this one in {order.currency}")
    heading = project.project
    reference = heading.order_reference
    revision = issue.revision
    if before is not None and revision is None:
        revision = (before.revision or 1) + 1
    truckloads = tuple(_truckloads(project, order))
    truckloads, cancelled, highest = _numbered(truckloads, before)
    lines = [line for truckload in truckloads for line in truckload.lines]
    subtotal = total_of(line.amount for line in lines)
    taxes = _taxes(lines, order.currency)
    tax = total_of(rate.tax for rate in taxes)
    order_by = [line.order_by for line in order.lines if line.packs and line.order_by is not None]
    return PurchaseOrder(
        reference=reference,
        document=(reference or NO_REFERENCE) if before is None else f"{_first_document(before)}-R{revision}",
        revision=revision,
        issued_on=issue.issued_on,
        original=None if before is None else before.original or before.as_replaced,
        replaces=None if before is None else before.as_replaced,
        project=heading.name,
        currency=order.currency,
        buyer=project.party("buyer"),
        supplier=project.party("supplier"),
        deliver_to=project.party("deliver_to"),
        payment_terms=heading.payment_terms,
        contract_reference=heading.contract_reference,
        supplier_reference=heading.supplier_reference,
        delivery_from=heading.delivery_from,
        delivery_until=heading.delivery_until,
        unloading=heading.unloading,
        tax_name=heading.tax_name,
        truckloads=truckloads,
        cancelled=cancelled,
        taxes=taxes,
        subtotal=subtotal,
        tax=tax,
        total=subtotal + tax,
        highest_line=highest,
        ordered_besides=issue.besides,
        order_by=min(order_by, default=None),
    )


def _first_document(order: PurchaseOrder) -> str:
    """The name of the first document of an order."""
    return order.original.document if order.original else order.document


def item_in_words(line: OrderLine, product: Product | None) -> str:
    """What a line orders: 'board 1200 x 1000 x 120 mm, 4 in a pallet'."""
    sizes: list[str] = []
    if product is not None:
        given = (length_column_mm(product), product.width_mm, product.thickness_mm)
        sizes = [f"{size}" for size in given if size is not None]
    size = f" {' x '.join(sizes)} mm" if sizes else ""
    material = f", {product.material}" if product is not None and product.material else ""
    if f"{line.per_pack}" in line.pack_name.split():
        pack = line.pack_name  # 'box of 50' says it already
    elif line.per_pack == 1:
        pack = f"by the {line.pack_name or 'piece'}"
    else:
        pack = f"{line.per_pack} in a {line.pack_name or 'pack'}"
    return f"{line.kind}{size}{material}, {pack}"


def _truckloads(project: Project, order: Order) -> Iterable[Truckload]:
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
                lines=tuple(_lines_of_load(project, sold, on_it)),
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
    project: Project, sold: Sequence[_Sold], packs: Mapping[str, int]
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
            description=item_in_words(line, product),
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


def _taxes(lines: Sequence[OrderedLine], currency: str) -> tuple[TaxAtRate, ...]:
    """The tax by rate, each rounded once, halves up, on the sum of its lines (as EN 16931 does by category)."""
    unit = Decimal(1) if currency in WITHOUT_DECIMALS else CENT
    rates = sorted({line.tax_rate for line in lines if line.tax_rate is not None})
    found = []
    for rate in rates:
        taxable = total_of(line.amount for line in lines if line.tax_rate == rate)
        tax = (taxable * rate).quantize(unit, ROUND_HALF_UP)
        found.append(TaxAtRate(rate=rate, taxable=taxable, tax=tax))
    return tuple(found)


def _numbered(
    truckloads: Sequence[Truckload], before: PurchaseOrder | None
) -> tuple[tuple[Truckload, ...], tuple[OrderedLine, ...], int]:
    """The truckloads with their lines' own numbers, the lines that are cancelled, and the highest number ever given.

    A line keeps the number of the one that it stands for in the replaced order: of the same product, status, day and
    load; else of the same product and day; else of the same product and status; else of the same product.
    """
    places = [(load, line) for load in truckloads for line in load.lines]
    if before is None:
        numbered: list[OrderedLine] = [
            line.model_copy(update={"number": number}) for number, (_, line) in enumerate(places, start=1)
        ]
        return _with_lines(truckloads, numbered), (), len(numbered)
    old = [(load, line) for load in before.truckloads for line in load.lines]
    keys = (
        lambda load, line: (line.code, line.status, load.deliver_on, load.load),
        lambda load, line: (line.code, load.deliver_on),
        lambda load, line: (line.code, line.status),
        lambda load, line: (line.code,),
    )
    stands_for: dict[int, int] = {}
    for key in keys:
        free = defaultdict(list)
        for place, (load, line) in enumerate(old):
            if place not in stands_for.values():
                free[key(load, line)].append(place)
        for place, (load, line) in enumerate(places):
            if place not in stands_for and free[key(load, line)]:
                stands_for[place] = free[key(load, line)].pop(0)
    highest = before.highest_line
    numbered = []
    for place, (load, line) in enumerate(places):
        if place not in stands_for:
            highest += 1
            numbered.append(line.model_copy(update={"number": highest, "change": "added"}))
            continue
        old_load, was = old[stands_for[place]]
        told = _before(old_load, was)
        now = _before(load, line)
        same = told == now.model_copy(update={"packs_for": told.packs_for})
        numbered.append(
            line.model_copy(
                update={
                    "number": was.number,
                    "change": "unchanged" if same else "revised",
                    "before": told,
                }
            )
        )
    cancelled = tuple(
        was.model_copy(
            update={
                "packs": 0,
                "packs_for": {},
                "amount": NOTHING,
                "weight_kg": None,
                "change": "cancelled",
                "before": _before(load, was),
            }
        )
        for place, (load, was) in enumerate(old)
        if place not in stands_for.values()
    )
    return _with_lines(truckloads, numbered), cancelled, highest


def _before(load: Truckload, line: OrderedLine) -> LineBefore:
    """What a revision says of a line, as the next one tells it."""
    return LineBefore(
        packs=line.packs,
        packs_for=line.packs_for,
        price=line.price,
        deliver_on=load.deliver_on,
        status=line.status,
    )


def _with_lines(truckloads: Sequence[Truckload], lines: Sequence[OrderedLine]) -> tuple[Truckload, ...]:
    """The truckloads with these lines in the place of theirs, one for one."""
    rest = iter(lines)
    return tuple(
        load.model_copy(update={"lines": tuple(next(rest) for _ in load.lines)}) for load in truckloads
    )
