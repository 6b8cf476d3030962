"""What the purchasing officer sees first: what to order next, by when, what it costs, and what is proved."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from api.pages import words
from optimiser.model.money import total_of
from optimiser.model.order import Delivery
from optimiser.model.plan import Plan
from optimiser.model.project import KINDS
from optimiser.tables.deliveries import firmness
from optimiser.tables.delivery_costs import CostPart, cost_parts
from optimiser.writing.words import (
    delivery_costs_in_words,
    forecast_in_words,
    grouped_money,
    limits_not_kept,
    on_site_in_words,
    parts_in_words,
    product_size,
    proofs_in_words,
    waste_in_words,
)


@dataclass(frozen=True)
class Packs:
    """Packs of one product in a delivery."""

    code: str
    packs: int


@dataclass(frozen=True)
class DeliveryRow:
    """One delivery. `place` counts the levels in delivery order from 1; `state` is 'ordered' where the order is issued,
    else 'late' when its order-by date has passed, 'next' for the first one that has not, '' otherwise."""

    place: int
    level: str
    order_by: date | None
    deliver_on: date | None
    state: str
    days: str
    packs: dict[str, tuple[Packs, ...]]
    amount: str
    levels: str  # every level that it serves
    carried_by: str  # '2 loads, 5 pallets, 812 kg' where the project says
    status: str  # firm, forecast, or both
    measure_by: date | None


@dataclass(frozen=True)
class NextOrder:
    """Everything that must be ordered by the nearest date."""

    order_by: date
    days: str
    rows: tuple[DeliveryRow, ...]
    amount: str


@dataclass(frozen=True)
class ProductRow:
    """One product over the whole order."""

    code: str
    kind: str
    size: str
    needed: int
    allowance: int
    quantity: int
    packs: int
    forecast_packs: int  # of them for levels that are a forecast
    per_pack: int
    pack_name: str
    price: str  # what is paid for a pack; from the least to the most where deliveries pay differently
    list_price: str  # without price breaks; '' where that is what is paid
    amount: str


@dataclass(frozen=True)
class OrderView:
    """The order and its proof in the words and order of the page."""

    total: str
    kinds: tuple[str, ...]
    deliveries: tuple[DeliveryRow, ...]
    next: NextOrder | None
    late: int
    packs: int
    boards: int
    board_sizes: tuple[str, ...]  # '147 of B-120, 1200 x 1000 x 120 mm': each board needed, with its size
    lower_bound: int
    proved: bool
    proofs: tuple[str, ...]
    waste: str
    products: tuple[ProductRow, ...]
    parts: str  # 'firm AUD 1.00, forecast AUD 2.00'; empty where all is firm
    forecast: tuple[str, ...]  # what a forecast means here, in words
    costs: tuple[CostPart, ...]  # with loads and storage; empty where they have no price
    cost_words: tuple[str, ...]
    on_site: tuple[str, ...]
    limits_not_kept: tuple[str, ...]
    year: str  # ', 2027' when every date is of one year, else ''


def order_view(plan: Plan, today: date, *, issued: bool = False) -> OrderView:
    """The order page of a plan as on a day; of what is `issued` no order date is to come, nor missed."""
    kind_of = {product.code: product.kind for product in plan.project.products}
    place_of = {level.level: place for place, level in enumerate(plan.project.levels_in_order(), 1)}
    levels = {level.level: level for level in plan.levels}
    to_come = [d.order_by for d in plan.deliveries if d.order_by is not None and d.order_by >= today]
    nearest = min(to_come, default=None) if not issued else None
    rows = tuple(
        DeliveryRow(
            place_of.get(delivery.level, 0),
            delivery.level,
            delivery.order_by,
            delivery.deliver_on,
            "ordered" if issued else _state(delivery, today, nearest),
            words.days_from(today, delivery.order_by) if delivery.order_by else "",
            {
                kind: tuple(
                    Packs(code, packs) for code, packs in delivery.packs.items() if kind_of.get(code) == kind
                )
                for kind in KINDS
            },
            words.amount(delivery.amount),
            ", ".join(delivery.levels or (delivery.level,)),
            _carried_by(delivery),
            *firmness(delivery, levels),
        )
        for delivery in plan.deliveries
    )
    boards = sum(count.count for count in plan.boards.values())
    bound = sum(count.lower_bound for count in plan.boards.values())
    used = {code for delivery in plan.deliveries for code in delivery.packs}
    return OrderView(
        grouped_money(plan.order.total, plan.order.currency),
        tuple(kind for kind in KINDS if any(kind_of.get(code) == kind for code in used)),
        rows,
        _next(plan, rows, nearest, today),
        sum(row.state == "late" for row in rows),
        sum(line.packs for line in plan.order.lines),
        boards,
        tuple(
            f"{count.count:,} of {code}, {product_size(plan.project.building.products[code])}"
            for code, count in plan.boards.items()
            if count.count
        ),
        bound,
        all(proof.optimal for proof in plan.proofs),
        proofs_in_words(plan),
        waste_in_words(plan),
        _products(plan),
        parts_in_words(plan),
        forecast_in_words(plan),
        cost_parts(plan.delivery_costs) if plan.delivery_costs else (),
        delivery_costs_in_words(plan),
        on_site_in_words(plan),
        limits_not_kept(plan),
        _year(plan),
    )


def _next(plan: Plan, rows: tuple[DeliveryRow, ...], nearest: date | None, today: date) -> NextOrder | None:
    if nearest is None:
        return None
    amount = total_of(delivery.amount for delivery in plan.deliveries if delivery.order_by == nearest)
    due = tuple(row for row in rows if row.order_by == nearest)
    return NextOrder(nearest, words.days_from(today, nearest), due, words.amount(amount))


def _year(plan: Plan) -> str:
    years = {day.year for d in plan.deliveries for day in (d.order_by, d.deliver_on) if day is not None}
    return f", {years.pop()}" if len(years) == 1 else ""


def _carried_by(delivery: Delivery) -> str:
    parts = [words.count(delivery.trucks, "load")] if delivery.trucks is not None else []
    parts += [words.count(delivery.pallets, "pallet")] if delivery.pallets is not None else []
    parts += [f"{words.kilograms(delivery.weight_kg)} kg"] if delivery.weight_kg is not None else []
    return ", ".join(parts)


def _state(delivery: Delivery, today: date, nearest: date | None) -> str:
    if delivery.order_by is None:
        return ""
    if delivery.order_by < today:
        return "late"
    return "next" if delivery.order_by == nearest else ""


def _products(plan: Plan) -> tuple[ProductRow, ...]:
    found = []
    for product in plan.project.products:
        lines = [line for line in plan.order.lines if line.code == product.code]
        if lines:
            paid = sorted({line.price for line in lines if line.packs}) or [product.price]
            found.append(
                ProductRow(
                    product.code,
                    product.kind,
                    product_size(product),
                    sum(line.needed for line in lines),
                    sum(line.allowance for line in lines),
                    sum(line.quantity for line in lines),
                    sum(line.packs for line in lines),
                    sum(line.packs for line in lines if line.status == "forecast"),
                    product.per_pack,
                    product.pack_name or "pack",
                    " to ".join(dict.fromkeys(words.amount(price) for price in (paid[0], paid[-1]))),
                    "" if paid == [product.price] else words.amount(product.price),
                    words.amount(total_of(line.amount for line in lines)),
                )
            )
    return tuple(found)
