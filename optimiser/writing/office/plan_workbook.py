"""`plan.xlsx`: the plan and what stands behind its order, for the office.

Sheets: Order, Deliveries, On site (where days are known), Cutting, Pieces, Brackets, Waste. Ready to
print in landscape.
"""

from __future__ import annotations

from typing import Any

from optimiser.boards.forecast_levels import forecast_levels
from optimiser.model.plan import DeliveryCosts, LevelCounts, Plan
from optimiser.tables import deliveries as of_delivery
from optimiser.tables.delivery_costs import DELIVERY_COSTS, PROVED_MINIMUM, TOTAL, cost_parts
from optimiser.tables.level_counts import CountedLevel, level_counts_on_the_sheet
from optimiser.tables.on_site import ON_SITE
from optimiser.tables.order_lines import ORDER_LINES
from optimiser.tables.patterns import PATTERNS_ON_THE_SHEET, strips_of
from optimiser.tables.pieces import pieces_on_the_sheet
from optimiser.tables.waste import LEFT_OVER, SERVES, WASTE, areas_of, lots_of
from optimiser.writing.spreadsheet import Book
from optimiser.writing.words import (
    delivery_costs_in_words,
    forecast_in_words,
    on_site_in_words,
    parts_in_words,
    place_in_words,
    proofs_in_words,
    question_in_words,
)

MOST_QUESTIONS = 40  # to the survey, on the sheet Order


def plan_xlsx(plan: Plan, paper: str = "A4") -> bytes:
    """The workbook as bytes. Dates are real dates, money has the order's currency; equal plans give equal
    sheets. `paper` is A4 or Letter."""
    heading = plan.project.project
    title = " - ".join(part for part in (heading.order_reference, heading.name) if part) or "Order"
    book = Book(title, plan.order.currency, paper)
    for write in (_order, _deliveries, _on_site, _cutting, _pieces, _brackets, _waste):
        write(book, plan)
    return book.content()


def _order(book: Book, plan: Plan) -> None:
    heading = plan.project.project
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
    end = book.table(sheet, 6, ORDER_LINES, plan.order.lines)
    book.text(sheet, end, 0, "Total", "total_text")
    for column in range(1, len(ORDER_LINES) - 1):
        sheet.write_blank(end, column, None, book.formats["total_text"])
    total = float(plan.order.total)
    if plan.order.lines:
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
    parts = parts_in_words(plan)
    total_of_parts = (f"Of the total: {parts}.",) if parts else ()
    row = book.paragraphs(sheet, row, "Firm and forecast", (*total_of_parts, *forecast_in_words(plan)))
    row = book.paragraphs(sheet, row, "Deliveries and storage", delivery_costs_in_words(plan))
    row = book.paragraphs(sheet, row, "On site", on_site_in_words(plan))
    row = book.paragraphs(sheet, row, "Proof", proofs_in_words(plan))
    row = book.paragraphs(
        sheet,
        row,
        "Not planned",
        [place_in_words(place) for place in plan.not_planned],
    )
    asked = tuple(question_in_words(question) for question in plan.questions[:MOST_QUESTIONS])
    more = len(plan.questions) - len(asked)
    told = (*asked, f"and {more:,} more: see plan.json.") if more > 0 else asked
    row = book.paragraphs(sheet, row, "Questions to the survey", told)
    row = book.paragraphs(sheet, row, "How cells of the survey were read", plan.project.reading_notes)
    row = book.paragraphs(sheet, row, "Warnings", plan.warnings)
    book.paragraphs(sheet, row, "Cautions", plan.cautions)


def _deliveries(book: Book, plan: Plan) -> None:
    codes = plan.delivered_codes
    before = (
        of_delivery.LEVELS,
        of_delivery.SEQUENCE,
        of_delivery.DELIVER_ON,
        of_delivery.ORDER_BY,
        *of_delivery.firmness_columns(plan.levels),
        *of_delivery.known(of_delivery.CARRIED_BY, plan.deliveries),
    )
    columns = (*before, *(of_delivery.packs_of(code) for code in codes), of_delivery.AMOUNT)
    sheet = book.sheet("Deliveries")
    end = book.table(sheet, 0, columns, plan.deliveries)
    book.text(sheet, end, 0, "Total", "total_text")
    for column in range(1, len(before)):
        sheet.write_blank(end, column, None, book.formats["total_text"])
    for column, code in enumerate(codes, start=len(before)):
        packs = sum(delivery.packs.get(code, 0) for delivery in plan.deliveries)
        sheet.write_number(end, column, packs, book.formats["total_whole"])
    sheet.write_number(end, len(columns) - 1, float(plan.order.total), book.formats["total"])
    if plan.delivery_costs is not None:
        _costs(book, sheet, end + 2, plan.delivery_costs)


def _costs(book: Book, sheet: Any, top: int, costs: DeliveryCosts) -> None:
    """What the order costs with what brings and stores it, from `top` down; the widths are the table's above."""
    book.text(sheet, top, 0, DELIVERY_COSTS[0].heading, "section")
    for row, part in enumerate(cost_parts(costs), start=top + 1):
        bold = part.name in (TOTAL, PROVED_MINIMUM)
        book.text(sheet, row, 0, part.name, "total_text" if bold else "text")
        for column in (1, 2):
            sheet.write_blank(row, column, None, book.formats["total_text" if bold else "text"])
        if part.number is not None:
            sheet.write_number(
                row, 1, float(part.number), book.formats["area" if part.unit == "m2 weeks" else "whole"]
            )
            book.text(sheet, row, 2, part.unit, "cell")
        sheet.write_number(row, 3, float(part.amount), book.formats["total" if bold else "money"])


def _on_site(book: Book, plan: Plan) -> None:
    if plan.on_site:
        columns = of_delivery.known(ON_SITE, plan.on_site)
        book.table(book.sheet("On site"), 0, columns, plan.on_site)


def _cutting(book: Book, plan: Plan) -> None:
    book.table(book.sheet("Cutting"), 0, PATTERNS_ON_THE_SHEET, list(strips_of(plan.layouts)))


def _pieces(book: Book, plan: Plan) -> None:
    book.table(book.sheet("Pieces"), 0, pieces_on_the_sheet(forecast_levels(plan.project)), plan.pieces)


def _brackets(book: Book, plan: Plan) -> None:
    counts = plan.counts.values()
    together = LevelCounts(
        joints=sum(count.joints for count in counts),
        brackets={code: sum(count.brackets.get(code, 0) for count in counts) for code in plan.bracket_codes},
        anchors=sum(count.anchors for count in counts),
        tape_mm=sum(count.tape_mm for count in counts),
    )
    rows = (*plan.counted_levels, CountedLevel("All levels", together))
    book.table(book.sheet("Brackets"), 0, level_counts_on_the_sheet(plan.bracket_codes), rows)


def _waste(book: Book, plan: Plan) -> None:
    sheet = book.sheet("Waste")
    end = book.table(sheet, 0, WASTE, areas_of(plan.waste), freeze=False)
    book.text(sheet, end + 1, 0, "Left over in sizes that can serve again", "section")
    columns = LEFT_OVER if plan.usable_left_over is None else (*LEFT_OVER, SERVES)
    book.table(sheet, end + 2, columns, lots_of(plan.left_over, plan.usable_left_over or ()), freeze=False)
    sheet.repeat_rows(end + 2)
