"""`order.pdf`: the order as it is sent to a supplier, to be signed.

Who buys, who supplies, where it goes and on what terms; the sums with tax by rate; each product once with its prices;
then a section a truckload with its lines, firm before forecast, and what a revision changes. Every amount is packs
times the price beside it, and every sum that of the amounts above it.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from optimiser.model.purchase_order import PurchaseOrder
from optimiser.writing.drawing.pdf_file import Frame, pdf_of
from optimiser.writing.drawing.pdf_pages import Column, Pages
from optimiser.writing.drawing.print_faces import printable
from optimiser.writing.drawing.shapes import Drawing, Label, Line, rectangle, wrapped
from optimiser.writing.supplier.pdf_lines import TEXT_SIZE, add_cancelled, add_products, add_truckloads
from optimiser.writing.supplier.ubl import orders_anything
from optimiser.writing.supplier.words import (
    change_in_words,
    document_in_words,
    forecast_of,
    taxes_in_words,
    terms_in_words,
)

_DECIDES = "The tested detail, local code and a licensed practitioner decide what may be built; this order only counts."


def order_pdf(order: PurchaseOrder, paper: str = "A4", record: Sequence[str] = ()) -> bytes:
    """The order for the supplier on A4 or Letter; `record` are lines that say what an issued order is known by. Raises
    ValueError for an unknown paper."""
    pages = Pages(paper)
    pages.new_page("Purchase order")
    _opening(pages, order)
    _sums(pages, order)
    _terms(pages, order)
    add_products(pages, order)
    add_truckloads(pages, order)
    add_cancelled(pages, order)
    if record:
        pages.heading("Order of record", 10.5, keep_with=14 + 11 * len(record))
        for words in record:
            pages.words(printable(words), 8, after=1)
    _signatures(pages, order)
    name = printable(order.project) or "Project without a name"
    document = printable(order.document)
    superseded = "" if order.superseded_by is None else f", superseded by {order.superseded_by}"
    revision = "" if order.revision is None else f" · rev. {order.revision}{superseded}"
    frame = Frame(
        title=f"Purchase order {document}: {name}",
        project=name,
        reference=f"Order {printable(order.reference)}{revision}"
        if order.reference
        else "No order reference",
        caution=_DECIDES,
        subject=_DECIDES,
    )
    return pdf_of(frame, [pages])


def _opening(pages: Pages, order: PurchaseOrder) -> None:
    """Which document it is, and the parties."""
    pages.words(f"Order {printable(order.document)}", 18, bold=True, after=2)
    pages.words(
        printable(document_in_words(order)),
        11,
        bold=order.replaces is not None or order.superseded_by is not None,
        after=2,
    )
    if order.project:
        pages.words(f"Project: {printable(order.project)}", 10, after=6)
    gap = 8.0
    width = (pages.content_width - 2 * gap) / 3
    boxes = []
    for title, party in (
        ("Buyer", order.buyer),
        ("Supplier", order.supplier),
        ("Deliver to", order.deliver_to),
    ):
        lines: list[tuple[str, bool]] = []
        for place, words in enumerate(party.lines or ("not stated",)):
            bold = place == 0 and bool(party.name)
            lines += [(line, bold) for line in wrapped(printable(words), width - 12, TEXT_SIZE, bold)]
        boxes.append((title, lines))
    height = 24 + max(len(lines) for _, lines in boxes) * 12
    block = Drawing(pages.content_width, height)
    for place, (title, lines) in enumerate(boxes):
        x = place * (width + gap)
        block.add(rectangle(x, 0, width, height, "box"), Label(x + 6, height - 13, title, 8.0, "start"))
        for number, (line, bold) in enumerate(lines):
            block.add(Label(x + 6, height - 27 - number * 12, line, TEXT_SIZE, "start", bold))
    pages.place(block, after=8)


def _sums(pages: Pages, order: PurchaseOrder) -> None:
    """Firm, forecast, tax by rate and the total, one below the other; then what a revision changes."""
    if not orders_anything(order):
        pages.words("Nothing is to be ordered: what is on site covers all that is planned.", 11, bold=True)
    rows = taxes_in_words(order)
    left = pages.content_width - 110
    columns = (Column("", left), Column("", 110, "end"))
    for place, row in enumerate(rows):
        last = place == len(rows) - 1
        size = 13.0 if last else 10.0
        height = size * 1.25 + 3
        pages.need(height)
        pages.y -= height
        baseline = pages.y + 4
        right = pages.left + sum(column.width for column in columns) - 3
        pages.add(
            Label(pages.left + 3, baseline, row[0], size, "start", last),
            Label(right, baseline, row[1], size, "end", last),
            Line(pages.left, pages.y, pages.right, pages.y, "rule"),
        )
    pages.y -= 8
    for words in (change_in_words(order), forecast_of(order)):
        if words:
            pages.words(printable(words), 9.5, after=4)


def _terms(pages: Pages, order: PurchaseOrder) -> None:
    """What is agreed, a line each; nothing where nothing is given."""
    given = terms_in_words(order)
    if not given:
        return
    pages.heading("Terms", keep_with=30)
    for name, value in given:
        lines = wrapped(printable(value), pages.content_width - 96, 9.5)
        for place, line in enumerate(lines):
            pages.need(14)
            pages.y -= 13
            if place == 0:
                pages.add(Label(pages.left, pages.y + 3, name, 9.5, "start", True))
            pages.add(Label(pages.left + 96, pages.y + 3, line, 9.5))
    pages.y -= 6


def _signatures(pages: Pages, order: PurchaseOrder) -> None:
    """Room for both to sign; and for the buyer's terms where the project states none."""
    height = 76 if terms_in_words(order) else 150
    block = Drawing(pages.content_width, height)
    half = (pages.content_width - 16) / 2
    if not terms_in_words(order):
        words = "Terms (payment, freight, acceptance, returns): written in by the buyer"
        block.add(Label(0, 138, words, 9.0, "start", True))
        block.add(
            *(Line(0, 138 - 18 * line, pages.content_width, 138 - 18 * line, "rule") for line in (1, 2, 3))
        )
    issued = order.issued_on
    for x, who, day in ((0.0, "For the buyer", issued), (half + 16, "Accepted for the supplier", None)):
        block.add(Label(x, 62, who, 9.0, "start", True))
        for y, name in ((38.0, "Name"), (20.0, "Date"), (2.0, "Signature")):
            block.add(Label(x, y + 3, name, 9.0), Line(x + 54, y, x + half, y, "rule"))
            if name == "Date" and isinstance(day, date):
                block.add(Label(x + 58, y + 3, f"{day}", 9.0))
    pages.y -= 8
    pages.place(block)
