"""`order.xlsx`: the order as a workbook for the supplier.

Sheets: Order (parties, terms, sums), Lines (a row a line, sums as formulas), Truckloads. Ready to print in landscape.
What stands behind the quantities is in office.xlsx, which is the buyer's own.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from optimiser.model.purchase_order import PurchaseOrder, Truckload
from optimiser.tables.columns import only
from optimiser.tables.deliveries import known
from optimiser.tables.purchase_lines import PURCHASE_LINES, rows_of
from optimiser.tables.truckloads import TRUCKLOADS
from optimiser.writing.spreadsheet import Book
from optimiser.writing.supplier.words import (
    change_in_words,
    document_in_words,
    forecast_of,
    price_breaks_in_words,
    terms_in_words,
)

_WIDTHS = {
    "line": 6, "truckload": 10, "deliver_on": 12, "status": 9, "confirm_by": 12, "level": 12, "code": 12,
    "description": 46, "packs": 7, "list_price": 12, "from_packs": 8, "price": 12, "amount": 14, "tax_rate": 8,
    "weight_kg": 9, "change": 11, "packs_before": 8, "deliver_on_before": 12,
}  # fmt: skip
"""What stands on the sheet Lines, in characters: narrow enough to be read in print; the rest is in the csv."""
_ALWAYS = ("line", "code", "packs", "price", "amount")


def order_xlsx(order: PurchaseOrder, paper: str = "A4") -> bytes:
    """The workbook as bytes. Dates are real dates, money has the order's currency; equal orders give equal bytes.
    `paper` is A4 or Letter."""
    title = " - ".join(part for part in (order.document, order.project) if part)
    book = Book(title, order.currency, paper)
    _order(book, order)
    _lines(book, order)
    _truckloads(book, order.truckloads)
    return book.content()


def _order(book: Book, order: PurchaseOrder) -> None:
    sheet = book.sheet("Order")
    sheet.set_column(0, 0, 22)
    sheet.set_column(1, 3, 34)
    book.text(sheet, 0, 0, f"Order {order.document}", "title")
    book.text(sheet, 1, 0, document_in_words(order), "label")
    row = 3
    for column, (name, party) in enumerate(
        (("Buyer", order.buyer), ("Supplier", order.supplier), ("Deliver to", order.deliver_to)), start=1
    ):
        book.text(sheet, row, column, name, "section")
        for place, line in enumerate(party.lines or ("not stated",), start=row + 1):
            book.text(sheet, place, column, line, "wrapped")
    row += 2 + max(1, *(len(party.lines) for party in (order.buyer, order.supplier, order.deliver_to)))
    facts = [("Project", order.project), ("Currency", order.currency), *terms_in_words(order)]
    for name, value in facts:
        book.text(sheet, row, 0, name, "label")
        book.text(sheet, row, 1, value, "wrapped")
        row += 1
    row = _sums(book, sheet, row + 1, order)
    for words in (change_in_words(order), forecast_of(order), *price_breaks_in_words(order)):
        if words:
            sheet.merge_range(row, 0, row, 3, "", book.formats["wrapped"])
            book.text(sheet, row, 0, words, "wrapped")
            sheet.set_row(row, 13.5 * (1 + len(words) // 110))
            row += 1


def _sums(book: Book, sheet: Any, row: int, order: PurchaseOrder) -> int:
    """Firm, forecast, subtotal, tax by rate and total; returns the next free row."""
    rows: list[tuple[str, Any, bool]] = []
    if any(line.status == "forecast" for line in order.lines):
        rows += [
            ("Firm lines", order.amount_of("firm"), False),
            ("Forecast lines", order.amount_of("forecast"), False),
        ]
    rows.append(("Subtotal before tax", order.subtotal, False))
    for tax in order.taxes:
        share = format((tax.rate * 100).normalize(), "f")
        rows.append((f"{order.tax_name or 'Tax'} {share} %", tax.tax, False))
    rows.append(("Total" if order.taxed else "Total before tax", order.total, True))
    for name, amount, last in rows:
        book.text(sheet, row, 0, name, "total_text" if last else "cell")
        sheet.write_number(row, 1, float(amount), book.formats["total" if last else "money"])
        row += 1
    return row + 1


def _lines(book: Book, order: PurchaseOrder) -> None:
    """A row a line; columns that nothing stands in are left out."""
    rows = rows_of(order)
    columns = tuple(
        replace(column, width=_WIDTHS[column.name])
        for column in only(PURCHASE_LINES, *_WIDTHS)
        if column.name in _ALWAYS or any(column.of(row) not in (None, "", ()) for row in rows)
    )
    sheet = book.sheet("Lines")
    end = book.table(sheet, 0, columns, rows)
    at = next(place for place, column in enumerate(columns) if column.name == "amount")
    book.text(sheet, end, 0, "Together", "total_text")
    for column in range(1, len(columns)):
        sheet.write_blank(end, column, None, book.formats["total_text"])
    if rows:
        letter = chr(ord("A") + at)
        sheet.write_formula(
            end, at, f"=SUM({letter}2:{letter}{end})", book.formats["total"], float(order.subtotal)
        )
    else:
        sheet.write_number(end, at, float(order.subtotal), book.formats["total"])


def _truckloads(book: Book, loads: tuple[Truckload, ...]) -> None:
    sheet = book.sheet("Truckloads")
    book.table(sheet, 0, known(TRUCKLOADS, loads) or TRUCKLOADS, loads)
