"""A supplier's answer to an order, in UBL 2.1, into events of the job's record.

An OrderResponse says what will come (`order_response`), a DespatchAdvice what was sent (`despatch_advice`).
"""

from __future__ import annotations

from datetime import date, datetime, time
from pathlib import Path

from optimiser.errors.problems import ProblemList
from optimiser.model.answer import Answer
from optimiser.model.purchase_order import PurchaseOrder
from optimiser.model.record import Record
from optimiser.reading.despatch_advice import arrival_of, delivered_events, despatched_lines
from optimiser.reading.file_bytes import read_bytes
from optimiser.reading.order_response import confirmed_lines, ordered_events
from optimiser.reading.ubl_document import LARGEST_BYTES, Part, root_of


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
        found = list(confirmed_lines(root, order))
        problems.raise_if_any()
        assert at is not None
        events, remarks = ordered_events(root, order, record, document, at, found)
        return Answer(
            kind="OrderResponse", document=document, issued_on=at.date(), events=events, remarks=remarks
        )
    sent = list(despatched_lines(root, order))
    day = received_on or arrival_of(root)
    problems.raise_if_any()
    assert at is not None
    events = delivered_events(order, record, document, datetime.combine(day or at.date(), time()), sent)
    remarks = (
        *(f"{document}: {line.code}: {said}" for line, _, said in sent if said),
        *(() if received_on else ("What was sent is not counted yet: count it on arrival.",)),
    )
    return Answer(
        kind="DespatchAdvice", document=document, issued_on=at.date(), events=events, remarks=tuple(remarks)
    )


def _refuse_another_order(root: Part, order: PurchaseOrder) -> None:
    """An answer refers to this order, by the name of its first document or of the revision, and so does each of its
    lines that names one: a truck may bring goods of several orders. The reference alone is the first order's: by it no
    supplementary one is answered."""
    own = {order.document, *([order.original.document] if order.original else [])}
    own |= set() if order.supplementary else {order.reference} - {""}
    of_line = "cac:OrderLineReference/cac:OrderReference/cbc:ID"
    for part, path in (
        (root, "cac:OrderReference/cbc:ID"),
        *((line, of_line) for line in root.parts("cac:OrderLine")),
        *((line, of_line) for line in root.parts("cac:DespatchLine")),
    ):
        said = part.text(path)
        if said and said not in own:
            part.fault(path, said, f"answers another order than {order.document}", "give that order's file")
