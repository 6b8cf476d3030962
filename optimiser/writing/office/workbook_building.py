"""The office workbook's sheets by day and by place: deliveries and what they cost, what stands on site, levels,
brackets, runs, pieces."""

from __future__ import annotations

from typing import Any

from optimiser.boards.forecast_levels import forecast_levels
from optimiser.model.order import DeliveryCosts
from optimiser.model.plan import Plan
from optimiser.tables import deliveries as of_delivery
from optimiser.tables.columns import Column, Columns
from optimiser.tables.delivery_costs import DELIVERY_COSTS, PROVED_MINIMUM, TOTAL, cost_parts
from optimiser.tables.level_counts import brackets_of, level_counts_on_the_sheet
from optimiser.tables.on_site import ON_SITE
from optimiser.tables.pieces import pieces_on_the_sheet
from optimiser.writing.office.level_account import level_accounts, run_accounts
from optimiser.writing.office.workbook_table import explain_headings, table_sheet, total_line
from optimiser.writing.spreadsheet import Book

RUNS: Columns = (
    Column("level", "Level", width=11),
    Column("run", "Run", width=18),
    Column("length_m", "Length", "metres", 11, "m", value=lambda run: run.length_mm / 1000),
    Column("planned_m", "With pieces", "metres", 12, "m", what="the part of the run that is planned",
           value=lambda run: run.planned_mm / 1000),
    Column("boards", "Board", width=18),
    Column("pieces", "Pieces", "count", 9),
    Column("brackets", "Brackets", "count", 10),
    Column("notches", "Notches", "count", 9),
)  # fmt: skip


def deliveries(book: Book, plan: Plan) -> None:
    """What comes together, and what the order costs with what brings and stores it beside the proved minimum."""
    limits = plan.project.delivery_limits
    columns = (
        of_delivery.LEVELS,
        of_delivery.SEQUENCE,
        of_delivery.DELIVER_ON,
        of_delivery.ORDER_BY,
        *of_delivery.firmness_columns(plan.levels),
        *of_delivery.known(of_delivery.CARRIED_BY, plan.deliveries),
        *(of_delivery.packs_of(code) for code in plan.delivered_codes),
        of_delivery.AMOUNT,
        *of_delivery.known(
            (of_delivery.loads_cost(limits.delivery_cost if limits else None),), plan.deliveries
        ),
    )
    packs = tuple(f"packs {code}" for code in plan.delivered_codes)
    sheet = book.sheet("Deliveries")
    end = book.table(sheet, 0, columns, plan.deliveries)
    total_line(book, sheet, end, columns, plan.deliveries, (*packs, "amount", "delivery_cost"))
    end += 1
    if plan.delivery_costs is not None:
        end = _costs(book, sheet, end + 1, plan.delivery_costs)
    explain_headings(book, sheet, end, columns)


def _costs(book: Book, sheet: Any, top: int, costs: DeliveryCosts) -> int:
    """What the order costs with what brings and stores it, from `top` down; the widths are the table's above. The row
    below it."""
    parts = cost_parts(costs)
    book.text(sheet, top, 0, DELIVERY_COSTS[0].heading, "section")
    for row, part in enumerate(parts, start=top + 1):
        bold = part.name in (TOTAL, PROVED_MINIMUM)
        book.text(sheet, row, 0, part.name, "total_text" if bold else "text")
        for column in (1, 2):
            sheet.write_blank(row, column, None, book.formats["total_text" if bold else "text"])
        if part.number is not None:
            shown_as = "area" if part.unit == "m2 weeks" else "whole"
            sheet.write_number(row, 1, float(part.number), book.formats[shown_as])
            book.text(sheet, row, 2, part.unit, "cell")
        sheet.write_number(row, 3, float(part.amount), book.formats["total" if bold else "money"])
    return top + 1 + len(parts)


def on_site(book: Book, plan: Plan) -> None:
    """What board stands on site on each day; no sheet where no days are known."""
    if plan.on_site:
        table_sheet(book, "On site", of_delivery.known(ON_SITE, plan.on_site), plan.on_site)


def _opened(code: str) -> Column:
    """The boards of a code that are opened for a level."""
    return Column(
        f"opened {code}",
        f"{code} opened",
        "count",
        12,
        what="boards of it that are opened for this level",
        value=lambda row: row.opened.get(code, 0),
    )


def levels(book: Book, plan: Plan) -> None:
    """What each level opens, takes from the rack, keeps on it, and takes beside its boards."""
    rows = level_accounts(plan)
    codes = [code for code in plan.boards if any(row.opened.get(code) for row in rows)]
    columns = (
        Column("level", "Level", width=11),
        Column("needed_on", "Needed on", "date"),
        Column("firmness", "Status", width=10, what="firm: every gap is measured; forecast: a gap is still nominal"),
        *(_opened(code) for code in codes),
        Column("on_site", "From stock", "count", 10, what="boards and offcuts of the stock that are opened"),
        Column("taken", "Taken", "count", 9, what="remainders that are taken from the rack"),
        Column("kept", "Kept", "count", 9, what="remainders that are kept on the rack"),
        Column("pieces", "Pieces", "count", 9),
        Column("joints", "Joints", "count", 9, what="taped"),
        Column("anchors", "Anchors", "count", 9),
        Column("tape_m", "Tape", "metres", 10, "m", value=lambda row: row.tape_mm / 1000),
    )  # fmt: skip
    opened = tuple(f"opened {code}" for code in codes)
    counted = ("on_site", "taken", "kept", "pieces", "joints", "anchors", "tape_m")
    table_sheet(book, "Levels", columns, rows, (*opened, *counted))


def brackets(book: Book, plan: Plan) -> None:
    """Brackets by size, anchors, joints and tape of each level."""
    columns = level_counts_on_the_sheet(plan.bracket_codes)
    named = [brackets_of(code).name for code in plan.bracket_codes]
    table_sheet(
        book, "Brackets", columns, plan.counted_levels, (*named, "brackets", "anchors", "joints", "tape_m")
    )


def runs(book: Book, plan: Plan) -> None:
    """Every run: how much of it is planned, and what it takes."""
    totals = ("length_m", "planned_m", "pieces", "brackets", "notches")
    table_sheet(book, "Runs", RUNS, run_accounts(plan), totals)


def pieces(book: Book, plan: Plan) -> None:
    """Every piece in its place; those of a level with nominal gaps are not ready to cut."""
    table_sheet(book, "Pieces", pieces_on_the_sheet(forecast_levels(plan.project)), plan.pieces)
