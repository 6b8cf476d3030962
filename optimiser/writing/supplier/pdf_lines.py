"""The lines of `order.pdf`: each product once, then truckload by truckload, then those that a revision cancels."""

from __future__ import annotations

from collections.abc import Sequence

from optimiser.model.money import total_of
from optimiser.model.products import KINDS
from optimiser.model.purchase_order import OrderedLine, PurchaseOrder, Truckload
from optimiser.tables.amounts import amount_text
from optimiser.tables.names import by_size
from optimiser.tables.text import counted
from optimiser.writing.drawing.pdf_pages import Column, Pages
from optimiser.writing.drawing.print_faces import printable
from optimiser.writing.supplier.words import price_breaks_in_words, revised_in_words

TEXT_SIZE = 9.0
_TO_AGREE = "day to be agreed"


def add_products(pages: Pages, order: PurchaseOrder) -> None:
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
        key=lambda item: (item[0][0] == "forecast", KINDS.index(item[1][0].kind), by_size(item[1][0].code)),
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
    pages.table(columns, rows, TEXT_SIZE, bold_rows=lambda row: row == len(rows) - 1)
    for words in price_breaks_in_words(order):
        pages.words(printable(words), TEXT_SIZE, after=1.5)


def add_truckloads(pages: Pages, order: PurchaseOrder) -> None:
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
        TEXT_SIZE,
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
        facts.append(f"{counted(load.pallets, 'pallet')} of boards")
    if load.weight_kg is not None:
        facts.append(f"{_kilograms(load.weight_kg)} kg without packaging")
    return "; ".join(facts)


def _confirmed(lines: Sequence[OrderedLine]) -> str:
    days = sorted({line.confirm_by for line in lines if line.confirm_by is not None})
    by = f"; confirmed by {', '.join(str(day) for day in days)}" if days else ""
    return f"Forecast, not firm yet{by}"


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


def add_cancelled(pages: Pages, order: PurchaseOrder) -> None:
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
    pages.table(columns, rows, TEXT_SIZE)


def _kilograms(weight: object) -> str:
    return f"{weight:,.0f}"


def _price(line: OrderedLine, currency: str) -> str:
    return amount_text(line.price, currency) if line.price else "to confirm"
