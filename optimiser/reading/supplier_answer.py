"""A supplier's answer to an order, in UBL 2.1, into events of the job's record.

An OrderResponse says what will come: events *ordered*, so many that the record holds what is confirmed and no more. A
line that it does not name is taken as it was ordered. A DespatchAdvice says what was sent: events *delivered*, to be
counted on arrival. Quantities are in the packs of the order, or in pieces.

The codes of a response are those of UN/EDIFACT code list 4343 (RE: rejected; from memory).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from datetime import date, datetime, time
from hashlib import sha256
from pathlib import Path

from optimiser.errors.problems import ProblemList
from optimiser.model.answer import Answer
from optimiser.model.purchase_order import OrderedLine, PurchaseOrder
from optimiser.model.record import Event, Record
from optimiser.model.ubl_names import unit_code
from optimiser.reading.file_bytes import read_bytes
from optimiser.reading.ubl_document import LARGEST_BYTES, Part, root_of

_PIECES = ("H87", "EA", "C62")
"""UN/ECE Recommendation 20: piece, each, one."""
_REJECTED = "RE"

LONGEST_ID = 60

Goods = tuple[str, str]
"""A level and a product's code."""


def read_answer(
    path: Path, order: PurchaseOrder, record: Record | None = None, received_on: date | None = None
) -> Answer:
    """The answer in a UBL OrderResponse or DespatchAdvice to an order that was sent.

    `record` is what is written down already; `received_on` the day on which what was despatched was counted (None: the
    day that the document states). Raises UnusableInput with every fault and its place.
    """
    return answer_of(read_bytes(path, LARGEST_BYTES), path.name, order, record or Record(), received_on)


def answer_of(
    data: bytes, name: str, order: PurchaseOrder, record: Record, received_on: date | None = None
) -> Answer:
    """The answer in a document's bytes; `name` is the file's, for messages. Raises UnusableInput."""
    problems = ProblemList()
    kind, root = root_of(data, name, ("OrderResponse", "DespatchAdvice"), problems)
    document, at = root.text("cbc:ID"), root.moment()
    if not document:
        root.fault("cbc:ID", None, "is missing", "ask the supplier for the document's number")
    if at is None and not root.text("cbc:IssueDate"):
        root.fault("cbc:IssueDate", None, "is missing", "ask the supplier for its day")
    _refuse_another_order(root, order)
    if kind == "OrderResponse":
        found = list(_confirmed(root, order))
        problems.raise_if_any()
        assert at is not None
        events, remarks = _ordered_events(root, order, record, document, at, found)
        return Answer(
            kind="OrderResponse", document=document, issued_on=at.date(), events=events, remarks=remarks
        )
    sent = list(_despatched(root, order))
    day = received_on or _arrival(root)
    problems.raise_if_any()
    assert at is not None
    events = _delivered_events(order, record, document, datetime.combine(day or at.date(), time()), sent)
    remarks = (
        *(f"{document}: {line.code}: {said}" for line, _, said in sent if said),
        *(() if received_on else ("What was sent is not counted yet: count it on arrival.",)),
    )
    return Answer(
        kind="DespatchAdvice", document=document, issued_on=at.date(), events=events, remarks=tuple(remarks)
    )


def _refuse_another_order(root: Part, order: PurchaseOrder) -> None:
    """An answer refers to this order, by the name of its first document or of the revision."""
    own = {order.document, order.reference, *([order.original.document] if order.original else [])} - {""}
    for path in (
        "cac:OrderReference/cbc:ID",
        "cac:DespatchLine/cac:OrderLineReference/cac:OrderReference/cbc:ID",
    ):
        said = root.text(path)
        if said and said not in own:
            root.fault(path, said, f"answers another order than {order.document}", "give that order's file")


Confirmed = tuple[OrderedLine, int, tuple[str, ...]]
"""A line of the order, how many single units of it will come, and what is other than it was ordered."""


def _confirmed(root: Part, order: PurchaseOrder) -> Iterator[Confirmed]:
    rejected = root.text("cbc:OrderResponseCode").upper() == _REJECTED
    days = {line.number: load.deliver_on for load in order.truckloads for line in load.lines}
    named: dict[int, tuple[OrderedLine, int, list[str]]] = {}
    for part in root.parts("cac:OrderLine"):
        item = part.part("cac:LineItem")
        if item is None:
            part.fault("", None, "has no LineItem", "ask the supplier for the line")
            continue
        line = _line_of(
            part,
            order,
            part.first_text("cac:OrderLineReference/cbc:LineID")
            or item.first_text("cac:LineReference/cbc:LineID", "cbc:ID"),
        )
        cancelled = rejected or item.text("cbc:LineStatusCode").lower() == "cancelled"
        units = 0 if cancelled else _units(item, "cbc:Quantity", line)
        if line is None or units is None:
            continue
        _, before, said = named.get(line.number, (line, 0, []))
        promised = item.part("cac:Delivery/cac:PromisedDeliveryPeriod")
        day = promised.day("cbc:StartDate") or promised.day("cbc:EndDate") if promised else None
        if day is not None and day != days[line.number]:
            said.append(f"promised for {day}, ordered for {days[line.number] or 'a day to be agreed'}")
        price = item.number("cac:Price/cbc:PriceAmount")
        base = item.number("cac:Price/cbc:BaseQuantity")
        if price is not None and base in (None, 1) and price != line.price:
            said.append(f"confirmed at {price} a pack, ordered at {line.price}")
        named[line.number] = (line, before + units, said)
    for line in order.lines:
        if line.number in named:
            _, units, said = named[line.number]
            yield line, units, tuple(said)
        else:
            yield line, 0 if rejected else line.packs * line.per_pack, ()


def _line_of(part: Part, order: PurchaseOrder, number: str) -> OrderedLine | None:
    found = next((line for line in order.lines if f"{line.number}" == number), None)
    if found is None:
        known = ", ".join(f"{line.number}" for line in order.lines[:20])
        part.fault("cbc:LineID", number or None, f"is no line of {order.document}", f"its lines are {known}")
    return found


def _units(part: Part, path: str, line: OrderedLine | None) -> int | None:
    """A quantity in single units; None, told, where it is none of the line's."""
    number = part.number(path)
    if number is None:
        if not part.text(path):
            part.fault(path, None, "is missing", "ask the supplier how many")
        return None
    if line is None:
        return None
    code = part.attribute(path, "unitCode")
    if code in _PIECES and unit_code(line.pack_name) != code:
        units = number
    elif code in ("", unit_code(line.pack_name)):
        units = number * line.per_pack
    else:
        ask = f"{unit_code(line.pack_name)} (packs of {line.per_pack}) or {_PIECES[0]} (pieces)"
        part.fault(f"{path}/@unitCode", code, f"is not how {line.code} is ordered", f"ask for it in {ask}")
        return None
    if units != int(units):
        part.fault(path, number, f"is no whole number of {line.code}", "ask the supplier how many")
        return None
    return int(units)


def _ordered_events(
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
        for level, number in _by_level(line, units, {}).items():
            wanted[level, line.code] += number
        asked = line.packs * line.per_pack
        if units != asked:
            said = (f"{units:,} are confirmed, {asked:,} were ordered", *said)
        remarks += [f"line {line.number}, {line.code}: {words}" for words in said]
    if note := root.text("cbc:Note"):
        remarks.append(f"The supplier writes: {note[:500]}")
    events: list[Event] = []
    for (level, code), number in wanted.items():
        told, remark = _to_hold(record, level, code, number, document, at)
        events += told
        remarks += remark
    return tuple(events), tuple(remarks)


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
            said = f"{held:,} of {code} for {level} are on record as ordered, {number:,} are confirmed"
            return events, [f"{said}: the event has no id, so it cannot be taken back; correct the record"]
        held -= event.quantity or 0
        events.append(
            Event(at=at, event="undone", undoes=event.id, id=_id(document, code, level, f"undone {event.id}"))
        )
    if held < number:
        events.append(
            Event(
                at=at, event="ordered", level=level, code=code, quantity=number - held,
                note=f"confirmed by {document}"[:500], id=_id(document, code, level),
            )
        )  # fmt: skip
    return events, []


def _by_level(line: OrderedLine, units: int, served: Mapping[str, int]) -> dict[str, int]:
    """Single units of a line by the level that they are for, the first level first, less what it was `served`; what is
    above the order goes to the last one."""
    found: dict[str, int] = {}
    left = units
    for level, packs in line.packs_for.items():
        if number := min(left, max(0, packs * line.per_pack - served.get(level, 0))):
            found[level] = number
            left -= number
    if left and line.packs_for:
        last = list(line.packs_for)[-1]
        found[last] = found.get(last, 0) + left
    return found


Despatched = tuple[OrderedLine, int, str]


def _despatched(root: Part, order: PurchaseOrder) -> Iterator[Despatched]:
    """Each line's units that were sent, and what is said of it."""
    lines = list(root.parts("cac:DespatchLine"))
    if not lines:
        root.fault("cac:DespatchLine", None, "is missing", "ask the supplier what was sent")
    for part in lines:
        line = _line_of(part, order, part.text("cac:OrderLineReference/cbc:LineID"))
        units = _units(part, "cbc:DeliveredQuantity", line)
        if line is None or units is None:
            continue
        code = part.first_text(
            "cac:Item/cac:BuyersItemIdentification/cbc:ID", "cac:Item/cac:SellersItemIdentification/cbc:ID"
        )
        if code and code != line.code:
            mend = "ask the supplier what was sent, and write it down by hand"
            part.fault(
                "cac:Item/cac:SellersItemIdentification/cbc:ID", code, f"was sent for {line.code}", mend
            )
        short = part.number("cbc:OutstandingQuantity")
        reason = part.text("cbc:OutstandingReason")
        said = f"{short:f} outstanding" if short else ""
        if reason:
            said = f"{said}: {reason[:200]}" if said else reason[:200]
        yield line, units, said


def _arrival(root: Part) -> date | None:
    """The day on which a despatch arrives, as the document states it."""
    shipment = root.part("cac:Shipment/cac:Delivery")
    if shipment is None:
        return None
    return shipment.day("cbc:ActualDeliveryDate") or shipment.day("cac:EstimatedDeliveryPeriod/cbc:EndDate")


def _delivered_events(
    order: PurchaseOrder, record: Record, document: str, at: datetime, sent: list[Despatched]
) -> tuple[Event, ...]:
    """An event a level, product and line; what the document brought before counts once, by its events' ids."""
    own = {_id(document, f"{line.number}", level) for line in order.lines for level in line.packs_for}
    served: dict[str, Counter[str]] = {}
    for event in record.standing:
        if event.event == "delivered" and event.id not in own:
            served.setdefault(event.code, Counter())[event.level] += event.quantity or 0
    events = []
    for line, units, _ in sent:
        so_far = served.setdefault(line.code, Counter())
        for level, number in _by_level(line, units, so_far).items():
            so_far[level] += number
            events.append(
                Event(
                    at=at, event="delivered", level=level, code=line.code, quantity=number,
                    note=f"despatch advice {document} to {order.document}"[:500],
                    id=_id(document, f"{line.number}", level),
                )
            )  # fmt: skip
    return tuple(events)


def _id(*parts: str) -> str:
    """An event's id from what makes it the same event; at most as long as a record's ids are."""
    whole = "/".join(parts)
    return whole if len(whole) <= LONGEST_ID else f"{whole[:27]}~{sha256(whole.encode()).hexdigest()[:32]}"
