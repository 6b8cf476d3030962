"""The order: what each level needs, allowances and packs over the project, dates, money, deliveries."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from datetime import date, timedelta
from fractions import Fraction
from math import ceil
from typing import Literal

from optimiser.checking.batches import broken_rules_of_batches, is_batched
from optimiser.checking.building import Building
from optimiser.checking.figures import figure
from optimiser.checking.material import is_bought
from optimiser.plan import OrderLine
from optimiser.project import Level, money_text

Line = tuple[str, str]
"""(level, code)."""


def broken_rules_of_order(building: Building) -> Iterator[str]:
    """The order's lines, total and deliveries against the plan's layouts and counts and the catalogue."""
    lines = building.plan.order.lines
    needed = needed_by_line(building)
    stated = {(line.level, line.code): line for line in lines}
    for (level, code), count in Counter((line.level, line.code) for line in lines).items():
        if count > 1:
            yield f"order, {code} for {level}: it has {count} lines instead of one"
    for (level, code), number in needed.items():
        if number and (level, code) not in stated:
            yield f"order, {code} for {level}: {number} are needed, but no line orders them"
    ranks = {level.level: rank for rank, level in enumerate(building.levels_in_order)}
    known = [ranks[line.level] for line in lines if line.level in ranks]
    if known != sorted(known):
        yield "order: its lines must stand in the order of delivery"
    is_working_day = working_days_of(building.project.project.country)
    for line in lines:
        yield from _broken_line(building, line, needed.get((line.level, line.code), 0), is_working_day)
    yield from _broken_running_totals(building, stated)
    total = sum(line.amount for line in lines)
    if building.plan.order.total != total:
        yield (
            f"order: its lines add up to {money_text(total)}, but the total is"
            f" {money_text(building.plan.order.total)}"
        )
    if building.plan.order.currency != building.project.project.currency:
        yield (
            f"order: the project's currency is {building.project.project.currency}, but the order's"
            f" {building.plan.order.currency}"
        )
    if is_batched(building):
        yield from broken_rules_of_batches(building, is_working_day)
    else:
        yield from _broken_deliveries(building)


def needed_by_line(building: Building) -> dict[Line, int]:
    """What every level needs of every product, counted from the layouts and the plan's counts.

    A bought board is delivered for the first level, in the table's order, of its stage's sequence that one of
    its pieces belongs to; when none does, for the first level of that sequence. Tape is counted in rolls:
    the running total over the levels in delivery order, rounded up.
    """
    needed: dict[Line, int] = defaultdict(int)
    for layout in building.plan.layouts:
        if is_bought(building, layout):
            served = {
                building.pieces[piece.id].level
                for strip in layout.strips
                for piece in strip.pieces
                if piece.id in building.pieces
            }
            together = [level.level for level in building.project.levels if level.sequence == layout.stage]
            if together:
                level = next((name for name in together if name in served), together[0])
                needed[level, layout.stock] += layout.repeat
    anchor, tape = building.first_product("anchor"), building.first_product("tape")
    tape_mm = rolls = 0
    for storey in building.levels_in_order:
        counts = building.plan.counts.get(storey.level)
        if counts is None:
            continue
        for code, number in counts.brackets.items():
            needed[storey.level, code] += number
        if anchor is not None:
            needed[storey.level, anchor.code] += counts.anchors
        if tape is not None and tape.length_mm:
            tape_mm += counts.tape_mm
            needed[storey.level, tape.code] += ceil(Fraction(tape_mm, tape.length_mm)) - rolls
            rolls = ceil(Fraction(tape_mm, tape.length_mm))
    return dict(needed)


def working_days_of(country: str) -> Callable[[date], bool]:
    """Whether a day is worked in a country ('AU') or its part ('AU-NSW'), by the `holidays` package.

    An unknown part falls back to its country, an unknown country to Mondays to Fridays.
    """
    import holidays

    code, _, part = country.partition("-")
    for subdivision in (part, None) if part else (None,):
        try:
            calendar = holidays.country_holidays(code, subdiv=subdivision)
        except (NotImplementedError, KeyError):
            continue
        return lambda day: bool(calendar.is_working_day(day))
    return lambda day: day.weekday() < 5


def _working_day_before(day: date, is_working_day: Callable[[date], bool]) -> date:
    """The last working day before a day; the calendar's first day when there is none."""
    while day > date.min:
        day -= timedelta(days=1)
        if is_working_day(day):
            break
    return day


def _dates(
    level: Level, lead_days: int, is_working_day: Callable[[date], bool]
) -> tuple[date | None, date | None]:
    """When a level's delivery arrives, and when it must be ordered at the latest."""
    if level.needed_on is None:
        return None, None
    arrives = level.needed_on
    if not is_working_day(arrives):
        arrives = _working_day_before(arrives, is_working_day)
    order_by = arrives
    for _ in range(lead_days):
        order_by = _working_day_before(order_by, is_working_day)
    return arrives, order_by


def _broken_line(
    building: Building, line: OrderLine, needed: int, is_working_day: Callable[[date], bool]
) -> Iterator[str]:
    place = f"order, {line.code} for {line.level}"
    product, level = building.products.get(line.code), building.levels.get(line.level)
    if product is None or level is None:
        yield f"{place}: the project has no such {'product' if product is None else 'level'}"
        return
    deliver_on, order_by = _dates(level, product.lead_days, is_working_day)
    price = product.price_cents
    if line.packs and is_batched(building):  # judged with its delivery
        deliver_on, order_by, price = line.deliver_on, line.order_by, line.price
    for field, due in (
        ("needed", needed),
        ("kind", product.kind),
        ("per_pack", product.per_pack),
        ("pack_name", product.pack_name),
        ("quantity", line.needed + line.allowance),
        ("deliver_on", deliver_on),
        ("order_by", order_by),
    ):
        if getattr(line, field) != due:
            yield f"{place}: {field} must be {due}, but is {getattr(line, field)}"
    for field, cents in (("price", price), ("amount", line.packs * price)):
        if getattr(line, field) != cents:
            yield f"{place}: {field} must be {money_text(cents)}, but is {money_text(getattr(line, field))}"
    if line.needed < 1:
        yield f"{place}: a line is for what is needed, but needed is {line.needed}"
    if line.allowance < 0 or line.packs < 0:
        yield f"{place}: allowance {line.allowance} and packs {line.packs} must not be negative"


def _broken_running_totals(building: Building, stated: dict[Line, OrderLine]) -> Iterator[str]:
    """Allowance and packs are rounded up once over the project; a level takes the difference."""
    fractions: dict[str, Fraction | Literal["simulated"]] = {
        row.kind: row.fraction if isinstance(row.fraction, str) else Fraction(row.fraction)
        for row in building.project.allowance
    }
    for product in building.project.products:
        fraction = fractions.get(product.kind, Fraction(0))
        needed = allowance = quantity = packs = 0
        for level in building.levels_in_order:
            line = stated.get((level.level, product.code))
            if line is None:
                continue
            place = f"order, {product.code} for {level.level}"
            needed += line.needed
            if not isinstance(fraction, str):  # a simulated allowance is the plan's own figure
                due = ceil(needed * fraction) - allowance
                if line.allowance != due:
                    yield (
                        f"{place}: allowance must be {due}, {figure(fraction)} of the {needed} needed so far"
                        f" rounded up less the {allowance} before, but is {line.allowance}"
                    )
            allowance += line.allowance
            quantity += line.quantity
            due = ceil(Fraction(quantity, product.per_pack)) - packs
            if line.packs != due:
                yield (
                    f"{place}: packs must be {due}, for the {quantity} so far in packs of {product.per_pack}"
                    f" less the {packs} before, but is {line.packs}"
                )
            packs += line.packs


def _broken_deliveries(building: Building) -> Iterator[str]:
    by_level: dict[str, list[OrderLine]] = defaultdict(list)
    for line in building.plan.order.lines:
        if line.packs:
            by_level[line.level].append(line)
    deliveries = building.plan.deliveries
    for name, count in Counter(delivery.level for delivery in deliveries).items():
        if count > 1:
            yield f"delivery for {name}: it is listed {count} times"
    for name in by_level:
        if name not in {delivery.level for delivery in deliveries}:
            yield f"delivery for {name}: the order has packs for it, but no delivery brings them"
    ranks = {level.level: rank for rank, level in enumerate(building.levels_in_order)}
    known = [ranks[delivery.level] for delivery in deliveries if delivery.level in ranks]
    if known != sorted(known):
        yield "deliveries: they must stand in the order of delivery"
    for delivery in deliveries:
        place, lines = f"delivery for {delivery.level}", by_level.get(delivery.level, [])
        level = building.levels.get(delivery.level)
        if level is None:
            yield f"{place}: the project has no such level"
            continue
        packs = {line.code: line.packs for line in lines}
        said = {code: number for code, number in delivery.packs.items() if number}
        for code in sorted({*packs, *said}):
            if packs.get(code, 0) != said.get(code, 0):
                yield (
                    f"{place}: the order has {packs.get(code, 0)} packs of {code}, but the delivery"
                    f" {said.get(code, 0)}"
                )
        amount = sum(line.amount for line in lines)
        if delivery.amount != amount:
            yield (
                f"{place}: its lines add up to {money_text(amount)}, but it says"
                f" {money_text(delivery.amount)}"
            )
        arrives = next((line.deliver_on for line in lines), delivery.deliver_on)
        order_by = min((line.order_by for line in lines if line.order_by), default=None)
        for field, due in (("sequence", level.sequence), ("deliver_on", arrives), ("order_by", order_by)):
            if getattr(delivery, field) != due and (lines or field == "sequence"):
                yield f"{place}: {field} must be {due}, but is {getattr(delivery, field)}"
