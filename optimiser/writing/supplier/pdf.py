"""`order.pdf`: the order as it is sent to a supplier, to be signed.

Who buys, who supplies, where it goes and on what terms; the sums with tax by rate; each product once with its prices;
then a section a truckload with its lines, firm before forecast, and what a revision changes. Every amount is packs
times the price beside it, and every sum that of the amounts above it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date

from optimiser.model.money import total_of
from optimiser.model.products import KINDS
from optimiser.model.purchase_order import OrderedLine, PurchaseOrder, Truckload
from optimiser.tables.amounts import amount_text
from optimiser.writing.drawing.pdf_pages import Column, Frame, Pages, pdf_of
from optimiser.writing.drawing.print_faces import printable
from optimiser.writing.drawing.shapes import Drawing, Label, Line, rectangle, wrapped
from optimiser.writing.supplier.ubl import orders_anything
from optimiser.writing.supplier.words import (
    change_in_words,
    document_in_words,
    forecast_of,
    price_breaks_in_words,
    revised_in_words,
    taxes_in_words,
    terms_in_words,
)

_SIZE = 9.0
_DECIDES = "The tested detail, local code and a licensed practitioner decide what may be built; this order only counts."
_TO_AGREE = "day to be agreed"


def order_pdf(order: PurchaseOrder, paper: str = "A4", record: Sequence[str] = ()) -> bytes:
    """The order for the supplier on A4 or Letter; `record` are lines that say what an issued order is known by. Raises
    ValueError for an unknown paper."""
    pages = Pages(paper)
    pages.new_page("Purchase order")
    _opening(pages, order)
    _sums(pages, order)
    _terms(pages, order)
    _products(pages, order)
    _truckloads(pages, order)
    _cancelled(pages, order)
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
            lines += [(line, bold) for line in wrapped(printable(words), width - 12, _SIZE, bold)]
        boxes.append((title, lines))
    height = 24 + max(len(lines) for _, lines in boxes) * 12
    block = Drawing(pages.content_width, height)
    for place, (title, lines) in enumerate(boxes):
        x = place * (width + gap)
        block.add(rectangle(x, 0, width, height, "box"), Label(x + 6, height - 13, title, 8.0, "start"))
        for number, (line, bold) in enumerate(lines):
            block.add(Label(x + 6, height - 27 - number * 12, line, _SIZE, "start", bold))
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


def _products(pages: Pages, order: PurchaseOrder) -> None:
    """Each product and price once, firm and forecast apart, with what all truckloads together bring."""
    if not order.lines:
        return
    columns = (
        Column("code", 74),
        Column("description", pages.content_width - 74 - 62 - 44 - 76 - 82),
        Column("status", 62),
        Column("packs", 44, "end"),
        Column("price per pack", 76, "end"),
        Column("amount", 82, "end"),
    )
    together: dict[tuple[object, ...], list[OrderedLine]] = {}
    for line in order.lines:
        together.setdefault((line.status, line.code, line.price), []).append(line)
    rows = []
    for (status, code, _), lines in sorted(
        together.items(),
        key=lambda item: (item[0][0] == "forecast", KINDS.index(item[1][0].kind), _as_read(item[1][0].code)),
    ):
        rows.append(
            (
                printable(str(code)),
                printable(lines[0].description),
                str(status),
                f"{sum(line.packs for line in lines):,}",
                _price(lines[0], order.currency),
                amount_text(total_of(line.amount for line in lines), order.currency),
            )
        )
    rows.append(
        ("Together", "before tax", "", "", "", amount_text(order.subtotal, order.currency)),
    )
    pages.heading("Order summary", keep_with=60)
    pages.table(columns, rows, _SIZE, bold_rows=lambda row: row == len(rows) - 1)
    for words in price_breaks_in_words(order):
        pages.words(printable(words), _SIZE, after=1.5)


def _as_read(code: str) -> list[tuple[int, str]]:
    """A code's parts for sorting, numbers by their value, so that K-60 stands before K-130."""
    return [(int(part), "") if part.isdecimal() else (-1, part) for part in re.split(r"([0-9]+)", code)]


def _truckloads(pages: Pages, order: PurchaseOrder) -> None:
    """A section a truckload: its firm lines, then those that are a forecast, each with their sum."""
    columns = _columns(pages, order)
    for load in order.truckloads:
        pages.heading(_heading(order, load), 11, keep_with=40 + 15 * min(len(load.lines), 6))
        pages.bookmark(f"Truckload {load.number}: {load.deliver_on or _TO_AGREE}")
        if facts := _facts(load):
            pages.words(printable(facts), 9.5, after=3)
        firm = [line for line in load.lines if line.status == "firm"]
        forecast = [line for line in load.lines if line.status == "forecast"]
        for lines, said in ((firm, "Firm"), (forecast, _confirmed(forecast))):
            if lines and forecast:
                pages.need(50)
                pages.words(said, 9.5, bold=True, after=2)
            if lines:
                _lines(pages, order, load, lines, columns)
        if firm and forecast:
            pages.words(
                f"{_name(load)} together: {amount_text(load.amount, order.currency)} before tax",
                9.5,
                bold=True,
            )


def _columns(pages: Pages, order: PurchaseOrder) -> list[Column]:
    """The columns of a truckload's lines; the description takes what the others leave."""
    weighed = any(line.weight_kg is not None for line in order.lines)
    columns = [
        Column("line", 30, "end"),
        Column("code", 62),
        Column("description", 0),
        Column("for level", 76),
        Column("packs", 40, "end"),
        Column("price", 56, "end"),
        Column("amount", 64, "end"),
        *([Column("kg", 36, "end")] if weighed else []),
    ]
    room = pages.content_width - sum(column.width for column in columns)
    return [column if column.width else column._replace(width=room) for column in columns]


def _lines(
    pages: Pages,
    order: PurchaseOrder,
    load: Truckload,
    lines: Sequence[OrderedLine],
    columns: Sequence[Column],
) -> None:
    """A table of lines with their sum."""
    rows = [_row(order, load, line, columns) for line in lines]
    amount = amount_text(total_of(line.amount for line in lines), order.currency)
    together = {"description": "together, before tax", "amount": amount}
    pages.table(
        columns,
        [*rows, tuple(together.get(column.heading, "") for column in columns)],
        _SIZE,
        bold_rows=lambda row: row == len(rows),
    )


def _heading(order: PurchaseOrder, load: Truckload) -> str:
    """'Truckload 2 of 5 · Monday 2027-03-08 · 07:00 to 11:00'."""
    parts = [f"{_name(load)} {load.number} of {len(order.truckloads)}"]
    parts.append(f"{load.deliver_on:%A} {load.deliver_on}" if load.deliver_on else _TO_AGREE)
    if order.window:
        parts.append(order.window)
    return " · ".join(parts)


def _name(load: Truckload) -> str:
    """What a section is of: one truck, or a day whose trucks the supplier loads as it likes."""
    return "Truckload" if load.trucks == 1 else "Delivery"


def _facts(load: Truckload) -> str:
    """Which levels it is for, what the truck carries."""
    facts = []
    if load.loads > 1:
        facts.append(f"load {load.load} of {load.loads} on this day")
    if load.trucks > 1:
        facts.append(f"{load.trucks} trucks, parted by the supplier")
    if load.pallets is not None:
        facts.append(f"{load.pallets} pallet{'' if load.pallets == 1 else 's'} of boards")
    if load.weight_kg is not None:
        facts.append(f"{_kilograms(load.weight_kg)} kg without packaging")
    return "; ".join(facts)


def _confirmed(lines: Sequence[OrderedLine]) -> str:
    days = sorted({line.confirm_by for line in lines if line.confirm_by is not None})
    return f"Forecast, not firm yet; confirmed by {days[0]}" if days else "Forecast, not firm yet"


def _row(
    order: PurchaseOrder, load: Truckload, line: OrderedLine, columns: Sequence[Column]
) -> tuple[str, ...]:
    several = len(line.packs_for) > 1
    levels = ", ".join(f"{level}: {packs}" if several else level for level, packs in line.packs_for.items())
    changed = (
        "New line." if line.change == "added" else revised_in_words(line, load.deliver_on, order.currency)
    )
    said = {
        "line": f"{line.number}",
        "code": printable(line.code),
        "description": printable(f"{line.description}. {changed}" if changed else line.description),
        "for level": printable(levels),
        "packs": f"{line.packs:,}",
        "price": _price(line, order.currency),
        "amount": amount_text(line.amount, order.currency),
        "kg": "" if line.weight_kg is None else _kilograms(line.weight_kg),
    }
    return tuple(said[column.heading] for column in columns)


def _cancelled(pages: Pages, order: PurchaseOrder) -> None:
    """The lines of the replaced revision that are no longer wanted."""
    if not order.cancelled:
        return
    columns = (
        Column("line", 36, "end"),
        Column("code", 76),
        Column("description", pages.content_width - 36 - 76 - 60 - 50),
        Column("before", 60, "end"),
        Column("packs", 50, "end"),
    )
    pages.heading("Cancelled lines", keep_with=40)
    rows = [
        (
            f"{line.number}",
            printable(line.code),
            printable(line.description),
            f"{line.before.packs if line.before else 0:,}",
            "0",
        )
        for line in order.cancelled
    ]
    pages.table(columns, rows, _SIZE)


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


def _kilograms(weight: object) -> str:
    return f"{weight:,.0f}"


def _price(line: OrderedLine, currency: str) -> str:
    return amount_text(line.price, currency) if line.price else "to confirm"
