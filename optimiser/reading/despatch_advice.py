"""A DespatchAdvice: what was sent, and the events *delivered* of it, to be counted on arrival."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import date, datetime

from optimiser.errors.listed import listed
from optimiser.model.purchase_order import OrderedLine, PurchaseOrder
from optimiser.model.record import Event, Record
from optimiser.reading.answered_lines import MOST_LISTED, event_id, line_of, units_by_level, units_of
from optimiser.reading.ubl_document import Part

Despatched = tuple[OrderedLine, int, str]
"""A line of the order, how many single units of it were sent, and what is said of it."""


def despatched_lines(root: Part, order: PurchaseOrder) -> Iterator[Despatched]:
    """Each line's units that were sent, and what is said of it."""
    lines = list(root.parts("cac:DespatchLine"))
    if not lines:
        root.fault("cac:DespatchLine", None, "is missing", "ask the supplier what was sent")
    for part in lines:
        line = line_of(part, order, part.text("cac:OrderLineReference/cbc:LineID"))
        units = units_of(part, "cbc:DeliveredQuantity", line)
        if line is None or units is None:
            continue
        _refuse_other_goods(part, order, line)
        short = part.number("cbc:OutstandingQuantity")
        reason = part.text("cbc:OutstandingReason")
        said = f"{short:f} outstanding" if short else ""
        if reason:
            said = f"{said}: {reason[:200]}" if said else reason[:200]
        yield line, units, said


def _refuse_other_goods(part: Part, order: PurchaseOrder, line: OrderedLine) -> None:
    """Tells where another product was sent than the line orders. The whole document is refused then: half of it on
    record would be taken for all that came."""
    buyers, sellers = (f"cac:Item/cac:{whose}ItemIdentification/cbc:ID" for whose in ("Buyers", "Sellers"))
    path = buyers if part.text(buyers) else sellers
    code = part.text(path)
    if code and code != line.code:
        codes = listed(list(dict.fromkeys(ordered.code for ordered in order.lines)), MOST_LISTED)
        message = f"was sent for {line.code}, line {line.number} of {order.document}, which orders {codes}"
        mend = (
            "ask the supplier for the document with the right code or line; or leave it, count what came and write all"
            " of it down as delivered (nothing of the document is on record)"
        )
        part.fault(path, code, message, mend)


def arrival_of(root: Part) -> date | None:
    """The day on which a despatch arrives, as the document states it."""
    shipment = root.part("cac:Shipment/cac:Delivery")
    if shipment is None:
        return None
    return shipment.day("cbc:ActualDeliveryDate") or shipment.day("cac:EstimatedDeliveryPeriod/cbc:EndDate")


def delivered_events(
    order: PurchaseOrder, record: Record, document: str, at: datetime, sent: list[Despatched]
) -> tuple[Event, ...]:
    """An event a level, product and line; what the document brought before counts once, by its events' ids."""
    own = {event_id(document, f"{line.number}", level) for line in order.lines for level in line.packs_for}
    served: dict[str, Counter[str]] = {}
    for event in record.standing:
        if event.event == "delivered" and event.id not in own:
            served.setdefault(event.code, Counter())[event.level] += event.quantity or 0
    events = []
    for line, units, _ in sent:
        so_far = served.setdefault(line.code, Counter())
        for level, number in units_by_level(line, units, so_far).items():
            so_far[level] += number
            events.append(
                Event(
                    at=at, event="delivered", level=level, code=line.code, quantity=number,
                    note=f"despatch advice {document} to {order.document}"[:500],
                    id=event_id(document, f"{line.number}", level),
                )
            )  # fmt: skip
    return tuple(events)
