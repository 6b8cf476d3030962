"""An OrderResponse: what will come, and the events *ordered* after which the record holds that and no more.

A line that it does not name is taken as it was ordered. The codes of a response are those of UN/EDIFACT code list 4343
(RE: rejected; from memory).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import date, datetime
from decimal import Decimal

from optimiser.errors.listed import listed
from optimiser.model.purchase_order import OrderedLine, PurchaseOrder
from optimiser.model.record import Event, Record
from optimiser.reading.answered_lines import MOST_UNITS, event_id, line_of, units_by_level, units_of
from optimiser.reading.ubl_document import Part
from optimiser.tables.text import counted

_REJECTED = "RE"
_MANY = 6  # levels spelt out in a remark

Goods = tuple[str, str]
"""A level and a product's code."""

Confirmed = tuple[OrderedLine, int, tuple[str, ...]]
"""A line of the order, how many single units of it will come, and what is other than it was ordered."""


def confirmed_lines(root: Part, order: PurchaseOrder) -> Iterator[Confirmed]:
    """Every line of the order as it is confirmed, in single units. What cannot be read is told as a fault."""
    rejected = root.text("cbc:OrderResponseCode").upper() == _REJECTED
    days = {line.number: load.deliver_on for load in order.truckloads for line in load.lines}
    named: dict[int, tuple[OrderedLine, int, list[str]]] = {}
    for part in root.parts("cac:OrderLine"):
        item = part.part("cac:LineItem")
        if item is None:
            part.fault("", None, "has no LineItem", "ask the supplier for the line")
            continue
        line = line_of(part, order, number_of(part, item))
        cancelled = rejected or item.text("cbc:LineStatusCode").lower() == "cancelled"
        units = 0 if cancelled else units_of(item, "cbc:Quantity", line)
        if line is None or units is None:
            continue
        _, before, said = named.get(line.number, (line, 0, []))
        if before + units > MOST_UNITS:
            told = f"comes to more than {MOST_UNITS:,} of {line.code} with the lines before"
            item.fault("cbc:Quantity", units, told, "ask the supplier how many")
            continue
        day = promised_day(item)
        if day is not None and day != days[line.number]:
            said.append(_other_day(line, day, days[line.number]))
        price = pack_price(item)
        if price is not None and price != line.price:
            said.append(f"confirmed at {price} a pack, ordered at {line.price}")
        named[line.number] = (line, before + units, said)
    for line in order.lines:
        if line.number in named:
            _, units, said = named[line.number]
            yield line, units, tuple(said)
        else:
            yield line, 0 if rejected else line.packs * line.per_pack, ()


def number_of(part: Part, item: Part) -> str:
    """The number, as written, of the order's line that a line of a response answers; '' where it names none."""
    return part.first_text("cac:OrderLineReference/cbc:LineID") or item.first_text(
        "cac:LineReference/cbc:LineID", "cbc:ID"
    )


def promised_day(item: Part) -> date | None:
    """The day for which a line is promised; None where none is named."""
    period = item.part("cac:Delivery/cac:PromisedDeliveryPeriod")
    return period.day("cbc:StartDate") or period.day("cbc:EndDate") if period else None


def _other_day(line: OrderedLine, promised: date, ordered_for: date | None) -> str:
    """That a line comes on another day than it was ordered for; of a later one the levels that it is late for."""
    said = f"promised for {promised}, ordered for {ordered_for or 'a day to be agreed'}"
    if ordered_for is None or promised <= ordered_for:
        return said
    late = counted((promised - ordered_for).days, "day")
    return (
        f"{said}: {late} later for {listed(line.levels, _MANY)}; agree an earlier day, or move needed_on and plan the"
        " rest again"
    )


def pack_price(item: Part) -> Decimal | None:
    """The price of a pack that a line confirms; None where none is named, or one of another quantity."""
    price = item.number("cac:Price/cbc:PriceAmount")
    return price if item.number("cac:Price/cbc:BaseQuantity") in (None, 1) else None


def ordered_events(
    root: Part,
    order: PurchaseOrder,
    record: Record,
    document: str,
    at: datetime,
    found: list[Confirmed],
) -> tuple[tuple[Event, ...], tuple[str, ...]]:
    """The events after which the record holds as ordered what is confirmed, and what is other than ordered."""
    wanted: Counter[Goods] = Counter()
    for line in (*order.lines, *order.cancelled):
        for level in (*line.packs_for, *(line.before.packs_for if line.before else ())):
            wanted[level, line.code] += 0
    for code, by_level in order.ordered_besides.items():
        for level, number in by_level.items():
            wanted[level, code] += number
    remarks = []
    for line, units, said in found:
        for level, number in units_by_level(line, units, {}).items():
            wanted[level, line.code] += number
        asked = line.packs * line.per_pack
        if units != asked:
            said = (f"{_are(units)} confirmed, {_were(asked)} ordered", *said)
        remarks += [f"line {line.number}, {line.code}: {words}" for words in said]
    if note := root.text("cbc:Note"):
        remarks.append(f"The supplier writes: {note[:500]}")
    events: list[Event] = []
    for (level, code), number in wanted.items():
        told, remark = _to_hold(record, level, code, number, document, at)
        events += told
        remarks += remark
    return tuple(events), tuple(remarks)


def _are(number: int) -> str:
    return f"{number:,} {'is' if number == 1 else 'are'}"


def _were(number: int) -> str:
    return f"{number:,} {'was' if number == 1 else 'were'}"


def _to_hold(
    record: Record, level: str, code: str, number: int, document: str, at: datetime
) -> tuple[list[Event], list[str]]:
    """The events after which the record holds so many as ordered; a remark where it cannot be made to."""
    there = [
        event
        for event in record.standing
        if (event.event, event.level, event.code) == ("ordered", level, code)
    ]
    held = sum(event.quantity or 0 for event in there)
    events: list[Event] = []
    for event in reversed(there):
        if held <= number:
            break
        if not event.id:
            one = "is" if held == 1 else "are"
            said = f"{held:,} of {code} for {level} {one} on record as ordered, {_are(number)} confirmed"
            return events, [f"{said}: the event has no id, so it cannot be taken back; correct the record"]
        held -= event.quantity or 0
        events.append(
            Event(
                at=at,
                event="undone",
                undoes=event.id,
                id=event_id(document, code, level, f"undone {event.id}"),
            )
        )
    if held < number:
        events.append(
            Event(
                at=at, event="ordered", level=level, code=code, quantity=number - held,
                note=f"confirmed by {document}"[:500], id=event_id(document, code, level),
            )
        )  # fmt: skip
    return events, []
