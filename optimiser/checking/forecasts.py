"""Nominal levels are a forecast: nothing of them is cut ahead, no measured level relies on their boards, none of
their boards is said to be ready to cut, and each says by when it must be measured.

What the draws of the tolerances need cannot be told from a plan: that the quantities cover so many of them is the
plan's own word. Checked are that it says so, that it is enough, and that the cost it names is that of its packs.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date
from fractions import Fraction
from math import ceil

from optimiser.checking.building import Building
from optimiser.checking.dates import delivery_day, working_day_before, working_days_of
from optimiser.model.money import money_text, total_of
from optimiser.model.order import OrderLine
from optimiser.model.project import Level


def broken_rules_of_forecasts(building: Building) -> Iterator[str]:
    """Layouts, levels, order lines and the cover of the draws against what the survey leaves nominal.

    A level is a forecast as long as any gap of its runs is nominal.
    """
    yield from _broken_layouts(building)
    yield from _broken_levels(building)
    for line in building.plan.order.lines:
        yield from _broken_line(building, line)
    yield from _broken_cover(building)


def _broken_layouts(building: Building) -> Iterator[str]:
    """Every layout that cuts a piece of a forecast level before its own delivery, shares its board, or is said to be
    ready to cut."""
    nominal = building.forecast
    for number, layout in building.plan.numbered_layouts:
        cut = [
            building.pieces[piece.id]
            for strip in layout.strips
            for piece in strip.pieces
            if piece.id in building.pieces
        ]
        forecast = [piece for piece in cut if piece.level in nominal]
        if layout.cut_ready != (not forecast):
            why = f"level {forecast[0].level} is nominal" if forecast else "all of its pieces are measured"
            yield f"layout {number}: cut_ready must be {not forecast}, since {why}, but is {layout.cut_ready}"
        for piece in forecast:
            sequence = building.sequence_of(piece)
            if sequence is not None and sequence > layout.stage:
                yield (
                    f"layout {number}, piece {piece.id}: level {piece.level} is nominal, so nothing of it is"
                    f" cut before its own delivery, sequence {sequence}, but its {layout.stock} is cut in stage"
                    f" {layout.stage}"
                )
        if forecast and len(forecast) < len(cut):
            measured = next(piece for piece in cut if piece.level not in nominal)
            yield (
                f"layout {number}, piece {measured.id}: level {measured.level} is measured, but relies on a"
                f" board of the nominal level {forecast[0].level}, which its survey will change"
            )


def _broken_levels(building: Building) -> Iterator[str]:
    """The plan lists every level once, in the order of delivery, with its status and its days."""
    listed = [level.level for level in building.plan.levels]
    due = [level.level for level in building.levels_in_order]
    if listed != due:
        yield f"levels: they must be {', '.join(due)}, in this order, but are {', '.join(listed) or 'not listed'}"
        return
    is_working_day = working_days_of(building.project.project.country)
    for stated, level in zip(building.plan.levels, building.levels_in_order, strict=True):
        lines = [line for line in building.plan.order.lines if line.level == level.level]
        own_day = delivery_day(level, is_working_day)
        arrives = min((line.deliver_on for line in lines if line.deliver_on), default=own_day)
        days = [line.order_by for line in lines if line.order_by]
        if arrives is not None:
            days.append(_ordered_for(building, level, arrives, is_working_day))
        order_by = min(days, default=None)
        forecast = level.level in building.forecast
        for field, value in (
            ("sequence", level.sequence),
            ("status", "forecast" if forecast else "firm"),
            ("deliver_on", arrives),
            ("measure_by", order_by if forecast else None),
        ):
            if getattr(stated, field) != value:
                yield f"level {level.level}: {field} must be {value}, but is {getattr(stated, field)}"


def _ordered_for(
    building: Building, level: Level, arrives: date, is_working_day: Callable[[date], bool]
) -> date:
    """The day by which the slowest board of a level's runs must be ordered to arrive with its delivery."""
    used = {code for run in building.project.runs if run.level == level.level for code in run.board}
    day = arrives
    slowest = max((p.lead_days for p in building.project.products if p.code in used), default=0)
    for _ in range(slowest):
        day = working_day_before(day, is_working_day)
    return day


def _broken_line(building: Building, line: OrderLine) -> Iterator[str]:
    """A line has its level's status, and a forecast one its level's day to measure."""
    forecast = line.level in building.forecast
    days = {level.level: level.measure_by for level in building.plan.levels}
    for field, value in (
        ("status", "forecast" if forecast else "firm"),
        ("measure_by", days.get(line.level) if forecast else None),
    ):
        if getattr(line, field) != value:
            yield (
                f"order, {line.code} for {line.level}: {field} must be {value}, but is {getattr(line, field)}"
            )


def _broken_cover(building: Building) -> Iterator[str]:
    """What a plan must say of its draws where it has any."""
    cover = building.plan.forecast
    if cover is None:
        if building.simulated:
            yield "forecast: nominal gaps have a tolerance, but the plan does not say how many draws it covers"
        return
    if not building.simulated:
        yield "forecast: no nominal gap has a tolerance, so nothing is drawn, but the plan tells of draws"
        return
    level = building.project.project.service_level
    if cover.service_level != level:
        yield f"forecast: service_level must be {level}, but is {cover.service_level}"
    least = ceil(Fraction(level) * cover.draws)
    if cover.draws < 1 or not least <= cover.covered <= cover.draws:
        yield f"forecast: {cover.covered} of {cover.draws} draws are covered, but {least} must be at least"
    if not 0 <= cover.covered_alone <= cover.draws:
        yield f"forecast: covered_alone must be 0 to {cover.draws}, but is {cover.covered_alone}"
    cost = total_of(
        line.packs * building.products[line.code].price
        for line in building.plan.order.lines
        if line.code in building.products
    )
    if building.plan.record.events:
        return  # part of the cover is on site or on order already: the order does not cost it again
    if cover.cost != cost:
        yield (
            f"forecast: its packs cost {money_text(cost)} at list prices, but it says {money_text(cover.cost)}"
        )
    if not 0 <= cover.least_cost <= cover.cost:
        yield (
            f"forecast: least_cost must be 0 to cost ({money_text(cover.cost)}), but is"
            f" {money_text(cover.least_cost)}"
        )
    if cover.proved != (cover.least_cost == cover.cost):
        yield (
            f"forecast: proved is {cover.proved}, but least_cost is {money_text(cover.least_cost)} and cost"
            f" {money_text(cover.cost)}"
        )
