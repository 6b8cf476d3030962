"""From what each level needs to what the supplier is asked for: allowance, packs, dates and money.

Nothing is rounded level by level. The allowance, the rolls of tape and the packs are each rounded up once
over the whole project; a level takes the difference of two running totals, so what one delivery leaves over
serves the next.

Measured levels are firm: what they need is certain, and the allowance for breakage and loss is added to it.
Forecast levels take what the simulation of their tolerances puts on top instead. Where both come with one
delivery the firm ones are served first.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from itertools import accumulate, pairwise
from math import ceil

from optimiser.boards.forecast_levels import forecast_levels
from optimiser.model.money import believable, total_of
from optimiser.model.needs import ByLevel, LevelNeeds
from optimiser.model.order import Delivery, Firmness, Order, OrderLine
from optimiser.model.plan import LevelCounts
from optimiser.model.progress import Supplied
from optimiser.model.project import Level, Product, Project
from optimiser.ordering.working_days import WorkingDays
from optimiser.takeoff.quantities import unit_of


@dataclass(frozen=True)
class ToOrder:
    """What must be ordered, by level and code (tape in mm): what is `needed`, and what the simulation of nominal gaps
    puts `on_top` of it (None: no gap is nominal); beyond what was `supplied`."""

    needed: LevelNeeds
    on_top: LevelNeeds | None
    supplied: tuple[Supplied, ...] = ()


def needed_by_level(project: Project, boards: ByLevel, counts: Mapping[str, LevelCounts]) -> LevelNeeds:
    """Everything the plan uses, by level and product code.

    `boards` are the bought boards by the level that they are delivered for; `counts` the accessories by
    level. Of several anchors or tapes the first listed is used; without one they are left out, which a
    warning says. Tape stays in millimetres: rolls are rounded up when the allowance is on it (`order_for`).
    """
    anchor = project.building.anchor
    tape = project.building.tape
    needed: dict[str, dict[str, int]] = {}
    for level in project.levels_in_order():
        here = dict(boards.get(level.level, {}))
        count = counts.get(level.level)
        if count is not None:
            here.update(count.brackets)
            if anchor is not None:
                here[anchor.code] = count.anchors
            if tape is not None:
                here[tape.code] = count.tape_mm
        needed[level.level] = {code: number for code, number in here.items() if number > 0}
    return LevelNeeds(needed)


def order_for(
    project: Project,
    needed: ByLevel,
    fractions: Mapping[str, Fraction],
    calendar: WorkingDays,
    on_top: ByLevel | None = None,
) -> Order:
    """The order: a line for every product that a level needs, in delivery order, boards first.

    `fractions` is the allowance by product code (absent: none) of firm levels; `on_top` is what the simulation
    adds at the forecast levels (None: nothing is simulated, so that their allowance is that of firm ones). For
    every code and level the quantity so far is what is needed and on top of it so far, rounded up to whole ones
    (rolls), and packs so far = ceil(quantity so far / per_pack). One that is sold counts as allowance from the
    level on from which no later need uses it up.
    """
    needs, more = LevelNeeds(needed), None if on_top is None else LevelNeeds(on_top)
    forecast = forecast_levels(project)
    places = [
        _Place(level, rank, "forecast" if level.level in forecast else "firm")
        for rank, level in enumerate(project.levels_in_order())
    ]
    served = sorted(places, key=lambda place: (place.level.sequence, place.status == "forecast", place.rank))
    lines: list[tuple[int, OrderLine]] = []
    for product in project.building.in_trade_order:
        fraction = fractions.get(product.code, Fraction(0))
        steps = [
            _step(product, place, needs, fraction, None if place.status == "firm" else more)
            for place in served
        ]
        lines += [
            (place.rank, _line(product, place, *numbers, calendar))
            for place, numbers in zip(served, _running_totals(product, steps), strict=True)
            if numbers[0] + numbers[1] > 0
        ]
    lines.sort(key=lambda item: item[0])  # stable: boards stay first
    return Order(
        lines=tuple(line for _, line in lines),
        total=believable(total_of(line.amount for _, line in lines)),
        currency=project.project.currency,
    )


@dataclass(frozen=True)
class _Place:
    """A level of the order; `rank` is its place in the order of delivery."""

    level: Level
    rank: int
    status: Firmness


def _step(
    product: Product, place: _Place, needed: LevelNeeds, fraction: Fraction, on_top: LevelNeeds | None
) -> tuple[int, Fraction]:
    """What a level needs of a product, and what comes on top of it."""
    number = needed.of(place.level.level, product.code)
    if on_top is None:
        return number, number * fraction
    return number, Fraction(on_top.of(place.level.level, product.code))


def _running_totals(product: Product, steps: Sequence[tuple[int, Fraction]]) -> list[tuple[int, int, int]]:
    """Needed, allowance and packs of every level: differences of running totals, each rounded up once."""
    unit = unit_of(product)
    needed = [ceil(Fraction(total, unit)) for total in accumulate(number for number, _ in steps)]
    quantity = [ceil(total / unit) for total in accumulate(number + more for number, more in steps)]
    over = [q - n for q, n in zip(quantity, needed, strict=True)]
    allowance = list(accumulate(reversed(over), min))[::-1]
    packs = [-(-number // product.per_pack) for number in quantity]
    return [
        (q - q_before - (a - a_before), a - a_before, p - p_before)
        for (q_before, a_before, p_before), (q, a, p) in pairwise(
            [(0, 0, 0), *zip(quantity, allowance, packs, strict=True)]
        )
    ]


def _line(
    product: Product, place: _Place, needed: int, allowance: int, packs: int, calendar: WorkingDays
) -> OrderLine:
    level = place.level
    deliver_on, order_by = calendar.delivery_and_order(level.needed_on, product.lead_days)
    return OrderLine(
        code=product.code,
        kind=product.kind,
        level=level.level,
        deliver_on=deliver_on,
        order_by=order_by,
        needed=needed,
        allowance=allowance,
        quantity=needed + allowance,
        per_pack=product.per_pack,
        packs=packs,
        pack_name=product.pack_name,
        price=product.price,
        amount=believable(packs * product.price),
        status=place.status,
    )


def deliveries_of(project: Project, order: Order) -> tuple[Delivery, ...]:
    """What arrives for each level, in delivery order; a level whose needs earlier packs cover gets none.

    `order_by` is the earliest date on which something of the delivery must have been ordered.
    """
    by_level: dict[str, list[OrderLine]] = {}
    for line in order.lines:
        if line.packs > 0:
            by_level.setdefault(line.level, []).append(line)
    return tuple(
        Delivery(
            level=level.level,
            sequence=level.sequence,
            deliver_on=by_level[level.level][0].deliver_on,
            order_by=first_order_day(by_level[level.level]),
            packs={line.code: line.packs for line in by_level[level.level]},
            amount=believable(total_of(line.amount for line in by_level[level.level])),
        )
        for level in project.levels_in_order()
        if level.level in by_level
    )


def first_order_day(lines: Iterable[OrderLine]) -> date | None:
    """The earliest day on which one of the lines must be ordered; None when none has a day."""
    return min((line.order_by for line in lines if line.order_by is not None), default=None)
