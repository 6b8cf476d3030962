"""What the scheduler sees first: what arrives when, which order date is next, and what stands on site."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date, timedelta

from optimiser.plan import Plan

WIDTH = 1100
ROW = 20
_LEFT, _RIGHT, _HEAD = 78, 14, 30


@dataclass(frozen=True)
class Tick:
    """A month's begin on the time line."""

    x: float
    label: str
    anchor: str


@dataclass(frozen=True)
class Bar:
    """A delivery on the time line: from its order-by date to its arrival."""

    place: int
    level: str
    order_by: date
    deliver_on: date
    from_x: float
    to_x: float
    y: float
    late: bool


@dataclass(frozen=True)
class TimeLine:
    """The dated deliveries on one axis; `today_x` is None when today lies outside it."""

    bars: tuple[Bar, ...]
    ticks: tuple[Tick, ...]
    today_x: float | None
    width: int
    height: int
    row: int


@dataclass(frozen=True)
class OnSite:
    """What stands on site once a delivery has arrived and its boards are cut."""

    place: int
    level: str
    deliver_on: date | None
    packs_in: int
    boards_in: int
    boards_cut: int
    spare_boards: int
    pieces_waiting: int
    left_over_mm2: int


def time_line(plan: Plan, today: date) -> TimeLine | None:
    """The time line, or None when no delivery has both its dates."""
    place_of = {level.level: place for place, level in enumerate(plan.project.levels_in_order(), 1)}
    dated = [(d, d.order_by, d.deliver_on) for d in plan.deliveries if d.order_by and d.deliver_on]
    if not dated:
        return None
    first = min(order_by for _, order_by, _ in dated) - timedelta(days=3)
    last = max(deliver_on for _, _, deliver_on in dated) + timedelta(days=3)
    scale = (WIDTH - _LEFT - _RIGHT) / max(1, (last - first).days)

    def x_of(day: date) -> float:
        return round(_LEFT + (day - first).days * scale, 1)

    bars = tuple(
        Bar(
            place_of[delivery.level],
            delivery.level,
            order_by,
            deliver_on,
            x_of(order_by),
            x_of(deliver_on),
            _HEAD + number * ROW,
            order_by < today,
        )
        for number, (delivery, order_by, deliver_on) in enumerate(dated)
    )
    return TimeLine(
        bars,
        tuple(
            Tick(x_of(day), f"{day:%b %Y}", "end" if x_of(day) > WIDTH - 70 else "start")
            for day in _months(first, last)
        ),
        x_of(today) if first <= today <= last else None,
        WIDTH,
        _HEAD + len(bars) * ROW + 6,
        ROW,
    )


def _months(first: date, last: date) -> list[date]:
    """The first days of the months between two days; every third of very many."""
    found = []
    day = date(first.year + first.month // 12, first.month % 12 + 1, 1)
    while day <= last:
        found.append(day)
        day = date(day.year + day.month // 12, day.month % 12 + 1, 1)
    return found[:: max(1, -(-len(found) // 8))]


def on_site(plan: Plan) -> tuple[OnSite, ...]:
    """What stands on site after each delivery: spare whole boards, pieces cut ahead, left-overs kept.

    Boards arrive in whole packs. A layout's board is cut when its delivery is there, so pieces of later levels
    that it yields wait on site until then.
    """
    levels = plan.project.levels_in_order()
    sequence_of = {level.level: level.sequence for level in levels}
    stage_of_piece = {piece.id: sequence_of[piece.level] for piece in plan.pieces}
    bought = {product.code for product in plan.project.products}
    boards_in: Counter[int] = Counter()
    packs_in: Counter[int] = Counter()
    for line in plan.order.lines:
        packs_in[sequence_of[line.level]] += line.packs
        if line.kind == "board":
            boards_in[sequence_of[line.level]] += line.packs * line.per_pack
    cut: Counter[int] = Counter()
    waiting: Counter[int] = Counter()  # by sequence, how many more (or fewer) pieces wait from then on
    for layout in plan.layouts:
        cut[layout.stage] += layout.repeat if layout.stock in bought else 0
        for strip in layout.strips:
            for piece in strip.pieces:
                waiting[layout.stage] += 1
                waiting[stage_of_piece[piece.id]] -= 1
    kept: Counter[int] = Counter()
    for rest in plan.left_over:
        kept[rest.stage] += rest.length_mm * rest.width_mm * rest.quantity
    rows = []
    spare = ahead = area = 0
    for sequence in sorted({level.sequence for level in levels}):
        spare += boards_in[sequence] - cut[sequence]
        ahead += waiting[sequence]
        area += kept[sequence]
        here = [place for place, level in enumerate(levels) if level.sequence == sequence]
        rows.append(
            OnSite(
                here[0] + 1,
                ", ".join(levels[place].level for place in here),
                next((d.deliver_on for d in plan.deliveries if sequence_of[d.level] == sequence), None),
                packs_in[sequence],
                boards_in[sequence],
                cut[sequence],
                spare,
                ahead,
                area,
            )
        )
    return tuple(rows)
