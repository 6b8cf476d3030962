"""The order: what each level needs, allowances and packs over the project, dates, money, deliveries."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from datetime import date
from fractions import Fraction
from math import ceil

from optimiser.checking.batches import broken_rules_of_batches, is_batched
from optimiser.checking.building import Building
from optimiser.checking.dates import dates_of, working_days_of
from optimiser.checking.figures import figure
from optimiser.checking.material import is_bought, level_delivered_for
from optimiser.checking.site_floor import broken_rules_of_site_floor
from optimiser.checking.supply import Line, beyond_supply
from optimiser.model.money import money_text, total_of
from optimiser.model.order import OrderLine
from optimiser.model.project import Product


def broken_rules_of_order(building: Building) -> Iterator[str]:
    """The order's lines, total and deliveries against the plan's layouts and counts and the catalogue."""
    lines = building.plan.order.lines
    needed = needed_by_line(building)
    stated = {(line.level, line.code): line for line in lines}
    for (level, code), count in Counter((line.level, line.code) for line in lines).items():
        if count > 1:
            yield f"order, {code} for {level}: it has {count} lines instead of one"
    for (level, code), number in needed.items():
        by_the_piece = code in building.products and building.products[code].kind != "tape"
        if number and by_the_piece and (level, code) not in stated:
            yield f"order, {code} for {level}: {number} are needed, but no line orders them"
    ranks = {level.level: rank for rank, level in enumerate(building.levels_in_order)}
    known = [ranks[line.level] for line in lines if line.level in ranks]
    if known != sorted(known):
        yield "order: its lines must stand in the order of delivery"
    is_working_day = working_days_of(building.project.project.country)
    for line in lines:
        yield from _broken_line(building, line, needed.get((line.level, line.code), 0), is_working_day)
    for product in building.project.products:
        yield from _broken_running_totals(building, product, needed, stated)
    total = total_of(line.amount for line in lines)
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
    yield from broken_rules_of_site_floor(building)
    if is_batched(building):
        yield from broken_rules_of_batches(building, is_working_day)
    else:
        yield from _broken_deliveries(building)


def needed_by_line(building: Building) -> dict[Line, int]:
    """What every level needs of every product, counted from the layouts and the plan's counts; tape in mm.

    A bought board is delivered for the first level, in the table's order, of its stage's sequence that one of
    its pieces belongs to; when none does, for the first level of that sequence.
    """
    needed: dict[Line, int] = defaultdict(int)
    for layout in building.plan.layouts:
        if is_bought(building, layout):
            level = level_delivered_for(building, layout)
            if level is not None:
                needed[level, layout.stock] += layout.repeat
    anchor, tape = building.first_anchor, building.first_tape
    for storey in building.levels_in_order:
        counts = building.plan.counts.get(storey.level)
        if counts is None:
            continue
        for code, number in counts.brackets.items():
            needed[storey.level, code] += number
        if anchor is not None:
            needed[storey.level, anchor.code] += counts.anchors
        if tape is not None:
            needed[storey.level, tape.code] += counts.tape_mm
    return beyond_supply(building, dict(needed))


def _broken_line(
    building: Building, line: OrderLine, needed: int, is_working_day: Callable[[date], bool]
) -> Iterator[str]:
    place = f"order, {line.code} for {line.level}"
    product, level = building.products.get(line.code), building.levels.get(line.level)
    if product is None or level is None:
        yield f"{place}: the project has no such {'product' if product is None else 'level'}"
        return
    deliver_on, order_by = dates_of(level, product.lead_days, is_working_day)
    price = product.price
    if line.packs and is_batched(building):  # judged with its delivery
        deliver_on, order_by, price = line.deliver_on, line.order_by, line.price
    for field, due in (
        ("needed", needed if product.kind != "tape" else line.needed),
        ("kind", product.kind),
        ("per_pack", product.per_pack),
        ("pack_name", product.pack_name),
        ("quantity", line.needed + line.allowance),
        ("deliver_on", deliver_on),
        ("order_by", order_by),
    ):
        if getattr(line, field) != due:
            yield f"{place}: {field} must be {due}, but is {getattr(line, field)}"
    for field, money in (("price", price), ("amount", line.packs * price)):
        if getattr(line, field) != money:
            yield f"{place}: {field} must be {money_text(money)}, but is {money_text(getattr(line, field))}"
    may_only_be_on_top = product.kind == "tape" or line.level in building.forecast
    if (line.quantity if may_only_be_on_top else line.needed) < 1:
        yield f"{place}: a line is for what is needed, but needed is {line.needed}"
    if line.needed < 0 or line.allowance < 0 or line.packs < 0:
        yield (
            f"{place}: needed {line.needed}, allowance {line.allowance} and packs {line.packs} must not be"
            " negative"
        )


def _broken_running_totals(
    building: Building, product: Product, needed: dict[Line, int], stated: dict[Line, OrderLine]
) -> Iterator[str]:
    """Allowance, rolls and packs are rounded up once over the project; a level takes the difference.

    The allowance for breakage and loss is on measured levels, or on all where nothing is drawn; what a forecast
    level has on top besides is the plan's own figure and only must not be less than nothing.
    """
    fraction = building.allowance_of(product.kind)
    unit = product.roll_mm if product.kind == "tape" else 1
    base = certain = allowance = quantity = packs = whole = 0
    drawn = False  # whether a level so far has what the draws put on top
    for level in building.levels_as_served:
        base += needed.get((level.level, product.code), 0)
        forecast = building.simulated and level.level in building.forecast
        drawn = drawn or forecast
        if not forecast:
            certain += needed.get((level.level, product.code), 0)
        line = stated.get((level.level, product.code))
        place = f"order, {product.code} for {level.level}"
        allowed = ceil(certain * fraction)
        if line is not None and unit == 1:
            if not forecast and line.allowance != allowed - allowance:
                yield (
                    f"{place}: allowance must be {allowed - allowance}, {figure(fraction)} of the {certain} needed"
                    f" so far rounded up less the {allowance} before, but is {line.allowance}"
                )
            allowance = allowed
        if line is not None:
            whole += line.needed
            quantity += line.quantity
        if unit > 1:
            due = ceil((base + certain * fraction) / unit)
            if quantity < due or (quantity > due and not drawn):
                yield (
                    f"{place}: {base} mm of tape so far, with an allowance of {figure(fraction)} on {certain} mm of"
                    f" it, are {due} of {unit} mm, but the lines so far add up to {quantity}"
                )
            if whole < ceil(Fraction(base, unit)):
                yield (
                    f"{place}: {base} mm of tape so far need {ceil(Fraction(base, unit))} of {unit} mm, but needed so"
                    f" far is {whole}"
                )
        if line is not None:
            due = ceil(Fraction(quantity, product.per_pack)) - packs
            if line.packs != due:
                yield (
                    f"{place}: packs must be {due}, for the {quantity} so far in packs of {product.per_pack}"
                    f" less the {packs} before, but is {line.packs}"
                )
            packs += line.packs
    if unit > 1 and whole > ceil(Fraction(base, unit)):
        yield f"order, {product.code}: {base} mm of tape need {ceil(Fraction(base, unit))}, but needed is {whole}"


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
        amount = total_of(line.amount for line in lines)
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
