"""`order.xlsx`: the order and what stands behind it, for people.

Sheets: Order, Deliveries, Cutting, Pieces, Brackets, Waste. Ready to print in landscape.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import Any

from optimiser.plan import LevelCounts, Plan
from optimiser.project import KINDS
from optimiser.writing.spreadsheet import Book, Column
from optimiser.writing.words import place_in_words, proofs_in_words


def order_xlsx(plan: Plan, paper: str = "A4") -> bytes:
    """The workbook as bytes. Dates are real dates, money has the order's currency; equal plans give equal
    sheets. `paper` is A4 or Letter."""
    heading = plan.project.project
    title = " - ".join(part for part in (heading.order_reference, heading.name) if part) or "Order"
    book = Book(title, plan.order.currency, paper)
    for write in (_order, _deliveries, _cutting, _pieces, _brackets, _waste):
        write(book, plan)
    return book.content()


def _order(book: Book, plan: Plan) -> None:
    heading = plan.project.project
    columns = (
        Column("Level", width=11),
        Column("Deliver on", "date", 12),
        Column("Order by", "date", 12),
        Column("Kind", width=9),
        Column("Code", width=16),
        Column("Needed", "whole", 9),
        Column("Allowance", "whole", 10),
        Column("Quantity", "whole", 9),
        Column("Per pack", "whole", 9),
        Column("Packs to deliver", "whole", 11),
        Column("Pack", width=18),
        Column("Price a pack", "money", 15),
        Column("Amount", "money", 17),
    )
    sheet = book.sheet("Order")
    book.text(sheet, 0, 0, f"Order {heading.order_reference}".strip(), "title")
    facts = (
        ("Project", heading.name),
        ("Buyer", heading.buyer),
        ("Supplier", heading.supplier),
        ("Deliver to", heading.deliver_to),
    )
    for row, (label, value) in enumerate(facts, start=1):
        book.text(sheet, row, 0, label, "label")
        book.text(sheet, row, 1, value, "text")
    rows = [
        (
            line.level,
            line.deliver_on,
            line.order_by,
            line.kind,
            line.code,
            line.needed,
            line.allowance,
            line.quantity,
            line.per_pack,
            line.packs,
            line.pack_name,
            line.price,
            line.amount,
        )
        for line in plan.order.lines
    ]
    end = book.table(sheet, 6, columns, rows)
    book.text(sheet, end, 0, "Total", "total_text")
    for column in range(1, 12):
        sheet.write_blank(end, column, None, book.formats["total_text"])
    total = plan.order.total / 100
    if rows:
        sheet.write_formula(end, 12, f"=SUM(M8:M{end})", book.formats["total"], total)
    else:
        sheet.write_number(end, 12, total, book.formats["total"])
    row = end + 2
    row = book.paragraphs(
        sheet,
        row,
        "Packs",
        (
            "Packs are rounded up once for the whole project and carried: a line with 0 packs is served"
            " by what earlier deliveries leave over.",
        ),
    )
    row = book.paragraphs(sheet, row, "Proof", proofs_in_words(plan))
    row = book.paragraphs(
        sheet,
        row,
        "Not planned",
        [place_in_words(place) for place in plan.not_planned],
    )
    row = book.paragraphs(sheet, row, "Warnings", plan.warnings)
    book.paragraphs(sheet, row, "Cautions", plan.cautions)


def _deliveries(book: Book, plan: Plan) -> None:
    used = {code for delivery in plan.deliveries for code in delivery.packs}
    products = sorted(plan.project.products, key=lambda product: KINDS.index(product.kind))
    codes = [product.code for product in products if product.code in used]
    trucks = any(delivery.trucks is not None for delivery in plan.deliveries)
    fixed = 5 if trucks else 4  # columns before the packs
    columns = (
        Column("Level", width=11),
        Column("Delivery", "whole", 9),
        Column("Deliver on", "date", 12),
        Column("Order by", "date", 12),
        *((Column("Trucks", "whole", 8),) if trucks else ()),
        *(Column(f"{code} packs", "whole", max(9, min(16, len(code) + 2))) for code in codes),
        Column("Amount", "money", 17),
    )
    rows = [
        (
            " ".join(delivery.levels) or delivery.level,
            delivery.sequence,
            delivery.deliver_on,
            delivery.order_by,
            *((delivery.trucks,) if trucks else ()),
            *(delivery.packs.get(code) for code in codes),
            delivery.amount,
        )
        for delivery in plan.deliveries
    ]
    sheet = book.sheet("Deliveries")
    end = book.table(sheet, 0, columns, rows)
    book.text(sheet, end, 0, "Total", "total_text")
    for column in range(1, fixed):
        sheet.write_blank(end, column, None, book.formats["total_text"])
    for column, code in enumerate(codes, start=fixed):
        packs = sum(delivery.packs.get(code, 0) for delivery in plan.deliveries)
        sheet.write_number(end, column, packs, book.formats["total_whole"])
    sheet.write_number(end, fixed + len(codes), plan.order.total / 100, book.formats["total"])


def _cutting(book: Book, plan: Plan) -> None:
    columns = (
        Column("Layout", "whole", 8),
        Column("Board", width=14),
        Column("Cut from", width=14),
        Column("Delivery", "whole", 9),
        Column("Times", "whole", 7),
        Column("Strip", "whole", 7),
        Column("Strip width mm", "mm", 11),
        Column("Pieces", "whole", 8),
        Column("Pieces from the datum end (length mm)", "wrapped_cell", 60),
    )
    rows = [
        (
            number,
            layout.code,
            "board" if layout.stock == layout.code else layout.stock,
            layout.stage,
            layout.repeat,
            place,
            strip.width_mm,
            len(strip.pieces),
            ", ".join(
                f"{piece.id} ({piece.length_mm})" + (" head to tail" if piece.head_to_tail else "")
                for piece in strip.pieces
            ),
        )
        for number, layout in enumerate(plan.layouts, start=1)
        for place, strip in enumerate(layout.strips, start=1)
    ]
    book.table(book.sheet("Cutting"), 0, columns, rows)


def _pieces(book: Book, plan: Plan) -> None:
    columns = (
        Column("Piece", width=16),
        Column("Level", width=11),
        Column("Run", width=14),
        Column("From mm", "mm", 9),
        Column("To mm", "mm", 9),
        Column("Length mm", "mm", 9),
        Column("Gap from mm", "mm", 9),
        Column("Gap to mm", "mm", 9),
        Column("Cut width start mm", "mm", 10),
        Column("Cut width end mm", "mm", 10),
        Column("Gaps", width=10),
        Column("Bracket", width=13),
        Column("Brackets at mm (from the piece's start)", "wrapped_cell", 22),
        Column("Notches at mm (from the piece's start)", "wrapped_cell", 22),
    )
    rows = [
        (
            piece.id,
            piece.level,
            piece.run,
            piece.from_mm,
            piece.to_mm,
            piece.length_mm,
            piece.gap_min_mm,
            piece.gap_max_mm,
            piece.cut_width_start_mm,
            piece.cut_width_end_mm,
            piece.basis,
            piece.bracket or "",
            _listed(piece.brackets_at_mm),
            _listed(piece.notches_at_mm),
        )
        for piece in plan.pieces
    ]
    book.table(book.sheet("Pieces"), 0, columns, rows)


def _brackets(book: Book, plan: Plan) -> None:
    lengths = {product.code: product.length_mm or 0 for product in plan.project.products}
    codes = sorted(
        {code for count in plan.counts.values() for code in count.brackets},
        key=lambda code: (lengths.get(code, 0), code),
    )
    columns = (
        Column("Level", width=11),
        *(Column(code, "whole", max(9, min(16, len(code) + 2))) for code in codes),
        Column("Brackets", "whole", 10),
        Column("Anchors", "whole", 10),
        Column("Joints", "whole", 10),
        Column("Joint tape m", "area", 12),
    )

    def row_of(name: str, count: LevelCounts) -> tuple[Any, ...]:
        numbers = [count.brackets.get(code, 0) for code in codes]
        return (name, *numbers, sum(numbers), count.anchors, count.joints, count.tape_mm / 1000)

    counts = plan.counts
    rows = [
        row_of(level.level, counts[level.level])
        for level in plan.project.levels_in_order()
        if level.level in counts
    ]
    rows.append(
        row_of(
            "All levels",
            LevelCounts(
                joints=sum(count.joints for count in counts.values()),
                brackets={
                    code: sum(count.brackets.get(code, 0) for count in counts.values()) for code in codes
                },
                anchors=sum(count.anchors for count in counts.values()),
                tape_mm=sum(count.tape_mm for count in counts.values()),
            ),
        )
    )
    book.table(book.sheet("Brackets"), 0, columns, rows)


def _waste(book: Book, plan: Plan) -> None:
    waste = plan.waste
    sheet = book.sheet("Waste")
    whole = waste.bought_mm2 + waste.stock_mm2
    rows = [
        (name, area / 1e6, area / whole if whole else 0.0)
        for name, area in (
            ("Bought", waste.bought_mm2),
            ("From stock", waste.stock_mm2),
            ("Fitted", waste.fitted_mm2),
            ("Left over, reusable", waste.reusable_offcut_mm2),
            ("Scrap", waste.scrap_mm2),
        )
    ]
    columns = (Column("Board area", width=24), Column("m2", "area", 12), Column("Share", "percent", 10))
    end = book.table(sheet, 0, columns, rows, freeze=False)
    book.text(sheet, end + 1, 0, "Left over in sizes that can serve again", "section")
    told = plan.usable_left_over is not None
    sizes = (
        Column("Board", width=24),
        Column("From delivery", "whole", 12),
        Column("Length mm", "mm", 10),
        Column("Width mm", "mm", 10),
        Column("Pieces", "whole", 9),
        *((Column("Of use to level", width=40),) if told else ()),
    )
    serves = {
        (item.code, item.stage, item.length_mm, item.width_mm): " ".join(item.serves)
        for item in plan.usable_left_over or ()
    }
    ordered = sorted(
        (item.code, item.stage, -item.length_mm, -item.width_mm, item.quantity) for item in plan.left_over
    )
    lots = [
        (
            *key[:2],
            -key[2],
            -key[3],
            sum(item[4] for item in same),
            *((serves.get((key[0], key[1], -key[2], -key[3]), "none"),) if told else ()),
        )
        for key, same in groupby(ordered, key=lambda item: item[:4])
    ]
    book.table(sheet, end + 2, sizes, lots, freeze=False)
    sheet.repeat_rows(end + 2)


def _listed(positions: Sequence[int]) -> str:
    return ", ".join(str(position) for position in positions)
