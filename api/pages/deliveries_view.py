"""What the scheduler sees first: what arrives when, which order date is next, and what stands on site."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil

from api.pages.figures import figure
from optimiser.model.order import Firmness, OrderLine
from optimiser.model.plan import Plan
from optimiser.model.staging import DeliverySequence
from optimiser.ordering.site_storage import UseDays
from optimiser.tables.deliveries import firmness, served
from optimiser.writing.drawing.plan_index import PlanIndex

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
    measure_x: float | None  # the day by which a forecast level must be measured
    measure_by: date | None
    status: str


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
    status: str
    deliver_on: date | None
    packs_in: int
    boards_in: int
    boards_cut: int
    spare_boards: int
    remainders: int
    remainders_mm2: int
    left_over_mm2: int


def time_line(plan: Plan, today: date, *, issued: bool = False) -> TimeLine | None:
    """The time line, or None when no delivery has both its dates; of what is `issued` no order date is missed."""
    place_of = {level.level: place for place, level in enumerate(plan.project.levels_in_order(), 1)}
    dated = [(d, d.order_by, d.deliver_on) for d in plan.deliveries if d.order_by and d.deliver_on]
    if not dated:
        return None
    levels = {level.level: level for level in plan.levels}
    to_measure: list[date] = [day for delivery, _, _ in dated if (day := firmness(delivery, levels)[1])]
    first = min([order_by for _, order_by, _ in dated] + to_measure) - timedelta(days=3)
    last = max(deliver_on for _, _, deliver_on in dated) + timedelta(days=3)
    scale = (WIDTH - _LEFT - _RIGHT) / max(1, (last - first).days)

    def x_of(day: date) -> float:
        return round(_LEFT + (day - first).days * scale, 1)

    bars = tuple(
        Bar(
            place_of[delivery.level],
            _first_to_last(served(delivery)),
            order_by,
            deliver_on,
            x_of(order_by),
            x_of(deliver_on),
            _HEAD + number * ROW,
            order_by < today and not issued,
            x_of(day) if (day := firmness(delivery, levels)[1]) else None,
            day,
            firmness(delivery, levels)[0],
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


def _first_to_last(levels: tuple[str, ...]) -> str:
    return levels[0] if len(levels) == 1 else f"{levels[0]}\N{EN DASH}{levels[-1]}"


def _months(first: date, last: date) -> list[date]:
    """The first days of the months between two days; every third of very many."""
    found = []
    day = date(first.year + first.month // 12, first.month % 12 + 1, 1)
    while day <= last:
        found.append(day)
        day = date(day.year + day.month // 12, day.month % 12 + 1, 1)
    return found[:: max(1, -(-len(found) // 8))]


def _status(statuses: list[Firmness]) -> str:
    """'firm', 'forecast', or 'firm and forecast'."""
    return " and ".join(status for status in ("firm", "forecast") if status in statuses)


def _first_day(plan: Plan, levels: set[str]) -> date | None:
    """The first day on which something arrives for any of these levels; a delivery may serve several."""
    days = (delivery.deliver_on for delivery in plan.deliveries if levels.intersection(served(delivery)))
    return min((day for day in days if day is not None), default=None)


def _arrivals(plan: Plan) -> Callable[[OrderLine], DeliverySequence]:
    """With which delivery's levels a line is counted as arriving: the first that use boards on its day or later."""
    days = UseDays.of(plan.project, plan.order)
    in_time = sorted((day, sequence) for sequence, day in days.of_sequence.items())

    def arrives_for(line: OrderLine) -> DeliverySequence:
        day = days.of_level[line.level]
        if days.dated and line.deliver_on is not None:
            day = line.deliver_on.toordinal()
        return next(sequence for used, sequence in in_time if used >= min(day, in_time[-1][0]))

    return arrives_for


@figure
def on_site(index: PlanIndex) -> tuple[OnSite, ...]:
    """What stands on site after each delivery: spare whole boards, remainders on the rack, left-overs kept.

    What arrives stands with the first level that uses its boards then or later, as in the chart, and on its day: a
    delivery may bring what several levels need. Where nothing is counted, the day is the first on which a delivery
    serves the level. Boards arrive in whole packs. A board is opened with the first level that is
    cut from it; what later levels need of it waits in its remainders.
    """
    plan, done = index.plan, index.sequence
    levels = plan.project.levels_in_order()
    statuses = {level.level: level.status for level in plan.levels}
    arrives_for = _arrivals(plan)
    boards_in: Counter[int] = Counter()
    packs_in: Counter[int] = Counter()
    came: dict[DeliverySequence, date] = {}
    for line in plan.order.lines:
        sequence = arrives_for(line)
        packs_in[sequence] += line.packs
        if line.kind == "board":
            boards_in[sequence] += line.packs * line.per_pack
        if line.packs and line.deliver_on is not None:
            came[sequence] = min(line.deliver_on, came.get(sequence, line.deliver_on))
    cut: Counter[int] = Counter()
    kept: Counter[int] = Counter()
    for step in done.steps:
        cut[step.stage] += step.taken is None and not step.on_site
        kept[step.stage] += sum(rest.length_mm * rest.width_mm for rest in step.left_overs)
    rows = []
    spare = area = 0
    for sequence in sorted({level.sequence for level in levels}):
        spare += boards_in[sequence] - cut[sequence]
        rack = done.on_rack_after(sequence)
        area += kept[sequence]
        here = [place for place, level in enumerate(levels) if level.sequence == sequence]
        rows.append(
            OnSite(
                here[0] + 1,
                ", ".join(levels[place].level for place in here),
                _status([statuses[levels[place].level] for place in here if levels[place].level in statuses]),
                came.get(sequence) or _first_day(plan, {levels[place].level for place in here}),
                packs_in[sequence],
                boards_in[sequence],
                cut[sequence],
                spare,
                len(rack),
                ceil(sum(part.area_mm2 for part in rack)),
                area,
            )
        )
    return tuple(rows)
