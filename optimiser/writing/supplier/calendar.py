"""A plan's measuring, order-by and delivery days as a calendar (.ics, RFC 5545).

Every entry's identity follows from the order, the day and what happens, so that a plan made again updates a
calendar instead of doubling it, and its sequence (RFC 5545, 3.8.7.4) from the revision, so that an older revision does
not overwrite a newer one; the time stamp that the format asks for is given by the caller, or stands at the first day
of the plan, so that equal plans give equal files.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from datetime import UTC, date, datetime, time, timedelta
from hashlib import sha256
from typing import Any

from optimiser.model.order import Delivery, OrderLine
from optimiser.model.plan import Plan
from optimiser.model.products import KINDS
from optimiser.tables.deliveries import firmness
from optimiser.writing.drawing.shapes import without_control_characters
from optimiser.writing.words import counted, grouped_money

_DECIDES = "The tested detail, local code and a licensed practitioner decide what may be built."


def delivery_calendar(
    plan: Plan,
    stamp: datetime | None = None,
    *,
    revision: int | None = None,
    superseded_by: int | None = None,
    draft: bool = False,
) -> bytes:
    """The calendar: an all-day entry for each delivery and for each day on which something must be ordered or, of
    levels that are a forecast, measured.

    A delivery without a day becomes a task to give it one. `stamp` (UTC) is when the entries were made, `revision` the
    issued order's (None: a draft), `superseded_by` the newest one where that is later: then every entry says so, and so
    it does of a `draft` that is to be told from an issued order.
    """
    from icalendar import Calendar

    days = [
        day
        for delivery in plan.deliveries
        for day in (delivery.order_by, delivery.deliver_on)
        if day is not None
    ]
    made = stamp or datetime.combine(min(days, default=date(2000, 1, 1)), time(), UTC)
    heading = plan.project.project
    calendar = Calendar()
    calendar.add("prodid", "-//barrier-orders//deliveries//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    title = " - ".join(part for part in (heading.name, heading.order_reference) if part) or "Order"
    if revision is not None:
        title += f", revision {revision}"
    if superseded_by is not None:
        title += f", superseded by {superseded_by}"
    if draft:
        title += ", draft"
    calendar.add("x-wr-calname", _clean(title))
    seen: Counter[str] = Counter()
    for delivery in plan.deliveries:
        levels = ", ".join(delivery.levels or (delivery.level,))
        seen[levels] += 1  # two deliveries may serve the same levels
        calendar.add_component(_arrival(plan, delivery, f"delivery {seen[levels]} {levels}", made))
    for measure_by, levels_to_measure in sorted(_levels_to_measure(plan).items()):
        calendar.add_component(_last_day_to_measure(plan, measure_by, levels_to_measure, made))
    for day, lines in sorted(_lines_to_order(plan).items()):
        calendar.add_component(_last_day(plan, day, lines, made))
    if not plan.deliveries:
        calendar.add_component(_nothing(plan, made))
    for entry in calendar.subcomponents:
        _of_revision(entry, revision, superseded_by)
        if draft:
            entry.add("summary", f"Draft: {entry.pop('summary')}")
    return bytes(calendar.to_ical())


def _arrival(plan: Plan, delivery: Delivery, name: str, made: datetime) -> Any:
    from icalendar import Event, Todo

    heading = plan.project.project
    levels = ", ".join(delivery.levels or (delivery.level,))
    brought = [f"{packs} x {code}" for code, packs in delivery.packs.items()]
    loads = [counted(delivery.trucks, "load")] if delivery.trucks else []
    weight = [f"{delivery.weight_kg:,} kg"] if delivery.weight_kg is not None else []
    words = [
        f"Packs: {', '.join(brought)}",
        *loads,
        *weight,
        grouped_money(delivery.amount, plan.order.currency),
    ]
    status, measure_by = firmness(delivery, {level.level: level for level in plan.levels})
    if "forecast" in status:
        words.append(f"Status: {status}" + (f"; measure by {measure_by}" if measure_by else ""))
    if delivery.order_by is not None:
        words.append(f"Order by {delivery.order_by}")
    if delivery.deliver_on is None:
        task = Todo()
        _common(task, plan, name, made)
        task.add("summary", _clean(f"Give {levels} its day: a delivery without needed_on"))
        task.add("description", _clean("\n".join([*words, _DECIDES])))
        return task
    event = Event()
    _common(event, plan, name, made)
    event.add("dtstart", delivery.deliver_on)
    event.add("dtend", delivery.deliver_on + timedelta(days=1))
    event.add("summary", _clean(f"{_goods(plan, delivery)} for {levels}"))
    event.add("description", _clean("\n".join([*words, _DECIDES])))
    event.add("transp", "TRANSPARENT")
    if heading.deliver_to:
        event.add("location", _clean(heading.deliver_to))
    return event


def _goods(plan: Plan, delivery: Delivery) -> str:
    """'Boards and brackets': which of them a delivery brings; anchors and tape are named where they come alone."""
    products = plan.project.building.products
    kinds = {products[code].kind for code, packs in delivery.packs.items() if packs and code in products}
    names = {"board": "boards", "bracket": "brackets", "anchor": "anchors", "tape": "tape"}
    brought = [kind for kind in KINDS if kind in kinds]
    main = [kind for kind in brought if kind in ("board", "bracket")] or brought
    return " and ".join(names[kind] for kind in main).capitalize() or "Goods"


def _levels_to_measure(plan: Plan) -> dict[date, list[str]]:
    found: dict[date, list[str]] = defaultdict(list)
    for level in plan.levels:
        if level.measure_by is not None:
            found[level.measure_by].append(level.level)
    return found


def _last_day_to_measure(plan: Plan, day: date, levels: list[str], made: datetime) -> Any:
    from icalendar import Event

    event = Event()
    _common(event, plan, f"measure by {day}", made)
    event.add("dtstart", day)
    event.add("dtend", day + timedelta(days=1))
    event.add("summary", _clean(f"Last day to measure {', '.join(levels)}"))
    event.add(
        "description",
        "Ordered as a forecast: measured by this day, what they need can still be ordered in time.",
    )
    event.add("transp", "TRANSPARENT")
    return event


def _lines_to_order(plan: Plan) -> dict[date, list[OrderLine]]:
    found: dict[date, list[OrderLine]] = defaultdict(list)
    for line in plan.order.lines:
        if line.packs and line.order_by is not None:
            found[line.order_by].append(line)
    return found


def _last_day(plan: Plan, day: date, lines: list[OrderLine], made: datetime) -> Any:
    from icalendar import Event

    packs: dict[tuple[str, date | None], int] = defaultdict(int)
    for line in lines:
        packs[line.code, line.deliver_on] += line.packs
    event = Event()
    _common(event, plan, f"order by {day}", made)
    event.add("dtstart", day)
    event.add("dtend", day + timedelta(days=1))
    levels = ", ".join(dict.fromkeys(line.level for line in lines))
    supplier = plan.project.project.supplier
    event.add("summary", _clean(f"Last day to order for {levels}{f' from {supplier}' if supplier else ''}"))
    listed = [f"{number} x {code} for {arrives}" for (code, arrives), number in packs.items()]
    event.add("description", _clean("\n".join(listed)))
    event.add("transp", "TRANSPARENT")
    return event


def _nothing(plan: Plan, made: datetime) -> Any:
    """A calendar must hold something: an order of nothing says so."""
    from icalendar import Todo

    task = Todo()
    _common(task, plan, "nothing to order", made)
    task.add("summary", "Nothing to order: what is on site covers all that is planned")
    return task


def _of_revision(entry: Any, revision: int | None, superseded_by: int | None) -> None:
    if revision is not None:
        entry.add("sequence", revision)
    if superseded_by is not None:
        summary = str(entry.pop("summary"))
        entry.add("summary", f"Superseded by revision {superseded_by}: {summary}")


def _common(entry: Any, plan: Plan, what: str, made: datetime) -> None:
    heading = plan.project.project
    whose = "\n".join((heading.name, heading.order_reference, heading.deliver_to, what))
    entry.add("uid", f"{sha256(whose.encode()).hexdigest()[:32]}@barrier-orders")
    entry.add("dtstamp", made)


def _clean(text: str) -> str:
    return "\n".join(without_control_characters(line) for line in text.split("\n"))
