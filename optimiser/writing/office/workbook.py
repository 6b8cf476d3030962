"""`office.xlsx`: the account behind the order, for the office, so that each figure of any page or paper is found there.

From pieces to boards to allowance to packs to money, one sheet leading to the next; then levels, runs, crew hours,
proofs, and what must be said. Headings are explained under their tables.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any, NamedTuple

from optimiser.model.money import NOTHING
from optimiser.model.plan import OrderLine, Plan
from optimiser.tables import deliveries as of_delivery
from optimiser.tables.amounts import amount_text
from optimiser.tables.columns import Column, Columns
from optimiser.tables.level_counts import brackets_of, level_counts_on_the_sheet
from optimiser.tables.on_site import ON_SITE
from optimiser.tables.order_lines import ORDER_LINES
from optimiser.tables.waste import LEFT_OVER, WASTE, areas_of, lots_of
from optimiser.writing.office.account import (
    Work,
    a_metre,
    board_accounts,
    crew_work,
    level_accounts,
    product_accounts,
    run_accounts,
)
from optimiser.writing.spreadsheet import Book
from optimiser.writing.words import (
    bracket_choices_in_words,
    carrying_in_words,
    delivery_costs_in_words,
    edges_in_words,
    forecast_in_words,
    moved_bracket_in_words,
    on_site_in_words,
    parts_in_words,
    place_in_words,
    proofs_in_words,
    question_in_words,
    waste_in_words,
)


def office_xlsx(plan: Plan, paper: str = "A4") -> bytes:
    """The workbook as bytes; equal plans give equal sheets. `paper` is A4 or Letter."""
    heading = plan.project.project
    title = " - ".join(part for part in (heading.order_reference, heading.name) if part) or "Order"
    book = Book(f"{title}: office", plan.order.currency, paper)
    for write in (
        _summary, _products, _boards, _waste, _lines, _deliveries, _levels, _brackets, _runs, _crew, _said,
    ):  # fmt: skip
        write(book, plan)
    return book.content()


class Figure(NamedTuple):
    """A line of the summary: what it is, the figure, how it is shown, and where it comes from."""

    name: str
    value: Decimal | int | float | None
    shown_as: str
    origin: str


def summary_figures(plan: Plan) -> tuple[Figure, ...]:
    """From the edge to the money for a metre of it, each line from those before."""
    products, boards, work = product_accounts(plan), board_accounts(plan), crew_work(plan)
    edge = sum(run.planned_mm for run in run_accounts(plan))
    rates = plan.project.crew_rates
    found = [
        Figure(
            "Edge with pieces, m", Decimal(edge) / 1000, "area", "sheet Runs: the planned length of all runs"
        ),
        Figure("Pieces", len(plan.pieces), "whole", "sheet Runs; each has its row in order.xlsx, Pieces"),
    ]
    for board in boards:
        named = f"{board.code} ({board.size})"
        found.append(
            Figure(f"Boards of {named} needed", board.opened, "whole", "sheet Boards: bought and cut")
        )
        if board.on_site:
            found.append(
                Figure(f"Boards and offcuts of {named} from stock", board.on_site, "whole", "sheet Boards")
            )
    for account in products:
        if account.kind == "board":
            found += [
                Figure(
                    f"Boards of {account.code} ({account.size}) as allowance", account.allowance, "whole",
                    "sheet Products: needed + allowance = quantity",
                ),
                Figure(
                    f"Boards of {account.code} ({account.size}) ordered", account.ordered, "whole",
                    f"sheet Products: {account.packs:,} packs of {account.per_pack:,}, the quantity rounded up",
                ),
            ]  # fmt: skip
    for kind in ("board", "bracket", "anchor", "tape"):
        amounts = [account.amount for account in products if account.kind == kind]
        if amounts:
            name = {"board": "Boards", "bracket": "Brackets", "anchor": "Anchors", "tape": "Tape"}[kind]
            found.append(Figure(name, sum(amounts, NOTHING), "money", "sheet Products: packs x price"))
    found.append(Figure("Order", plan.order.total, "total", "the amounts above; sheet Order lines"))
    metre = a_metre(plan.order.total, edge)
    found.append(Figure("Order a metre of edge", metre, "money", "order / edge with pieces"))
    scrap = [board.scrap_money for board in boards]
    waste = plan.waste
    found += [
        Figure("Scrap, m2", Decimal(waste.scrap_mm2) / 10**6, "area", "sheet Waste"),
        Figure(
            "Scrap, share of the board area", waste.scrap_fraction, "percent", "scrap / (bought + from stock)"
        ),
    ]
    if scrap and all(amount is not None for amount in scrap):
        together = sum((amount or NOTHING for amount in scrap), NOTHING)
        found.append(Figure("Scrap, money", together, "money", "sheet Boards: scrap at the price of a m2"))
    hours = sum((part.hours for part in work), Decimal(0))
    placeholders = " (placeholders; give crew_rates)" if any(part.placeholder for part in work) else ""
    found.append(Figure("Crew, hours of one person", hours, "area", f"sheet Crew hours{placeholders}"))
    if rates.hour_cost:
        cost = sum((part.cost(rates.hour_cost) for part in work), NOTHING)
        found += [
            Figure("Crew, money", cost, "money", "sheet Crew hours: hours x hour_cost"),
            Figure(
                "Order and crew a metre of edge", a_metre(plan.order.total + cost, edge), "money",
                "(order + crew) / edge with pieces",
            ),
        ]  # fmt: skip
    for what, weights in (
        ("Weight of all that is ordered, kg", [account.weight_kg for account in products]),
        ("Carbon of all that is ordered, kg CO2 equivalent", [account.carbon_kg for account in products]),
    ):
        stated = [weight for weight in weights if weight is not None]
        if stated:
            missing = len(weights) - len(stated)
            of_all = f"; {missing} products state none" if missing else ""
            found.append(Figure(what, sum(stated, Decimal(0)), "area", f"sheet Products{of_all}"))
    return tuple(found)


def _summary(book: Book, plan: Plan) -> None:
    sheet = book.sheet("Order summary")
    heading = plan.project.project
    book.text(sheet, 0, 0, f"Order summary {heading.order_reference}".strip(), "title")
    book.text(sheet, 1, 0, heading.name, "text")
    sheet.set_column(0, 0, 60)
    sheet.set_column(1, 1, 18)
    sheet.set_column(2, 2, 70)
    for column, words in enumerate(("What", "Figure", "Where it comes from")):
        book.text(sheet, 3, column, words, "number_heading" if column == 1 else "heading")
    row = 4
    for figure in summary_figures(plan):
        bold = figure.shown_as == "total"
        book.text(sheet, row, 0, figure.name, "total_text" if bold else "text")
        if figure.value is not None:
            sheet.write_number(row, 1, float(figure.value), book.formats[figure.shown_as])
        book.text(sheet, row, 2, figure.origin, "wrapped")
        row += 1
    _notes(book, sheet, row + 1, (
        ("Proof", proofs_in_words(plan)),
        ("Waste", (waste_in_words(plan),)),
        ("Firm and forecast", tuple(filter(None, (parts_in_words(plan), *forecast_in_words(plan))))),
    ), 2)  # fmt: skip


def _notes(
    book: Book,
    sheet: Any,
    row: int,
    parts: Sequence[tuple[str, Sequence[str]]],
    last: int,
    letters: int = 150,
) -> int:
    """Titled sentences across columns 0 to `last`; the row below them."""
    for title, sentences in parts:
        if not sentences:
            continue
        book.text(sheet, row, 0, title, "section")
        for sentence in sentences:
            row += 1
            sheet.merge_range(row, 0, row, last, "", book.formats["wrapped"])
            book.text(sheet, row, 0, sentence, "wrapped")
            sheet.set_row(row, 13.5 * (1 + len(sentence) // letters))
        row += 2
    return row


def _explained(book: Book, sheet: Any, row: int, columns: Columns) -> None:
    """What the headings of a table mean, under it."""
    said = [f"{column.heading_with_unit}: {column.what}" for column in columns if column.what]
    if said:
        book.text(sheet, row + 1, 0, "Headings", "section")
        for place, words in enumerate(said, start=row + 2):
            book.text(sheet, place, 0, words, "text")


def _table(book: Book, name: str, columns: Columns, rows: Sequence[Any], totals: Sequence[str] = ()) -> Any:
    """A sheet with a table, a line of totals under the columns named, and its headings explained."""
    sheet = book.sheet(name)
    end = book.table(sheet, 0, columns, rows)
    if totals:
        book.text(sheet, end, 0, "Total", "total_text")
        for place, column in enumerate(columns):
            if place and column.name not in totals:
                sheet.write_blank(end, place, None, book.formats["total_text"])
            elif place:
                values = [column.of(row) for row in rows]
                total = sum(Decimal(str(value)) for value in values if value is not None)
                style = {"count": "total_whole", "money": "total"}.get(column.kind, "total_area")
                sheet.write_number(end, place, float(total), book.formats[style])
        end += 1
    _explained(book, sheet, end, columns)
    return sheet


def _square_metres(name: str) -> Any:
    return lambda row: getattr(row, name) / 1e6


PRODUCTS: Columns = (
    Column("code", "Product", width=14),
    Column("size", "Size", width=24),
    Column(
        "needed", "Needed", "count", 11, what="single boards, brackets, anchors and rolls that the plan uses"
    ),
    Column("allowance", "Allowance", "count", 12, what="on top, for breakage, loss or tolerance"),
    Column("quantity", "Quantity", "count", 11, what="needed + allowance"),
    Column("per_pack", "Per pack", "count", 9, what="singles in a pack"),
    Column("packs", "Packs", "count", 8, what="quantity / per pack, rounded up once over the project"),
    Column("ordered", "Ordered", "count", 11, what="packs x per pack"),
    Column("over", "Over", "count", 8, what="ordered - quantity"),
    Column("price", "Price per pack", "money", 15),
    Column("list_amount", "Packs x price", "money", 18, what="packs x price per pack, before price breaks"),
    Column(
        "price_breaks", "Price breaks", "money", 15, what="what the price breaks of each delivery take off"
    ),
    Column(
        "amount", "Amount", "money", 16, what="packs x price + price breaks: what the order lines come to"
    ),
    Column(
        "weight_kg",
        "Weight",
        "area",
        12,
        "kg",
        what="of all that is ordered; empty where the product states none",
    ),
    Column(
        "carbon_kg",
        "Carbon",
        "area",
        12,
        "kg",
        what="CO2 equivalent of all that is ordered",
    ),
)
BOARDS: Columns = (
    Column("code", "Board", width=14),
    Column("size", "Size", width=24),
    Column("pieces", "Pieces", "count", 9, what="cut from it"),
    Column("strips", "Strips", "count", 9, what="ripped, as long as the board"),
    Column("opened", "Boards needed", "count", 10, what="bought and cut"),
    Column("on_site", "From stock", "count", 10, what="boards and offcuts of the stock table that are cut"),
    Column("lower_bound", "Proved minimum", "count", 10, what="no cutting of these pieces can need fewer boards"),
    Column("packs", "Packs", "count", 8, what="paid for, allowance included"),
    Column("lower_bound_packs", "Proved minimum of packs", "count", 12),
    Column("bought_m2", "Bought", "area", 11, "m2", value=_square_metres("bought_mm2")),
    Column("stock_m2", "From stock", "area", 11, "m2", value=_square_metres("stock_mm2")),
    Column("fitted_m2", "Fitted", "area", 11, "m2", what="pieces as cut", value=_square_metres("fitted_mm2")),
    Column(
        "left_over_m2", "Left over", "area", 11, "m2", what="kept in sizes that can serve again",
        value=_square_metres("left_over_mm2"),
    ),
    Column(
        "scrap_m2", "Scrap", "area", 11, "m2", what="bought + from stock - fitted - left over",
        value=_square_metres("scrap_mm2"),
    ),
    Column("price_m2", "Price a m2", "money", 14, what="price per pack / boards in it / area of one"),
    Column("left_over_money", "Left over", "money", 14, what="left over x price a m2"),
    Column("scrap_money", "Scrap", "money", 14, what="scrap x price a m2"),
)  # fmt: skip
RUNS: Columns = (
    Column("level", "Level", width=11),
    Column("run", "Run", width=18),
    Column("length_mm", "Length", "mm", 11, "mm"),
    Column("planned_mm", "With pieces", "mm", 12, "mm", what="the part of the run that is planned"),
    Column("boards", "Board", width=18),
    Column("pieces", "Pieces", "count", 9),
    Column("brackets", "Brackets", "count", 10),
    Column("notches", "Notches", "count", 9),
)


def _products(book: Book, plan: Plan) -> None:
    rows = product_accounts(plan)
    _table(
        book, "Products", of_delivery.known(PRODUCTS, rows), rows, ("list_amount", "price_breaks", "amount")
    )


def _boards(book: Book, plan: Plan) -> None:
    areas = ("bought_m2", "stock_m2", "fitted_m2", "left_over_m2", "scrap_m2")
    counts = ("pieces", "strips", "left_over_money", "scrap_money")
    _table(book, "Boards", BOARDS, board_accounts(plan), (*counts, *areas))


def _waste(book: Book, plan: Plan) -> None:
    sheet = book.sheet("Waste")
    end = book.table(sheet, 0, WASTE, areas_of(plan.waste), freeze=False)
    book.text(sheet, end + 1, 0, "Left over in sizes that can serve again", "section")
    book.table(sheet, end + 2, LEFT_OVER, lots_of(plan.left_over, ()), freeze=False)
    _explained(book, sheet, end + 3 + len(lots_of(plan.left_over, ())), (*WASTE, *LEFT_OVER))


def _lines(book: Book, plan: Plan) -> None:
    weights = {product.code: product.weight_kg for product in plan.project.products}

    def weight(line: OrderLine) -> Decimal | None:
        each = weights.get(line.code)
        return None if each is None else each * line.per_pack * line.packs

    columns = (
        *ORDER_LINES,
        Column("weight_kg", "Weight", "area", 11, "kg", what="of the packs", value=weight),
    )
    _table(book, "Order lines", columns, plan.order.lines, ("amount",))


def _deliveries(book: Book, plan: Plan) -> None:
    columns = (
        of_delivery.LEVELS,
        of_delivery.SEQUENCE,
        of_delivery.DELIVER_ON,
        of_delivery.ORDER_BY,
        *of_delivery.firmness_columns(plan.levels),
        *of_delivery.known(of_delivery.CARRIED_BY, plan.deliveries),
        *(of_delivery.packs_of(code) for code in plan.delivered_codes),
        of_delivery.AMOUNT,
    )
    packs = tuple(f"packs {code}" for code in plan.delivered_codes)
    _table(book, "Deliveries", columns, plan.deliveries, (*packs, "amount"))
    if plan.on_site:
        _table(book, "On site", of_delivery.known(ON_SITE, plan.on_site), plan.on_site)


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


def _levels(book: Book, plan: Plan) -> None:
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
        Column("tape_m", "Tape", "area", 10, "m", value=lambda row: row.tape_mm / 1000),
    )  # fmt: skip
    opened = tuple(f"opened {code}" for code in codes)
    counted = ("on_site", "taken", "kept", "pieces", "joints", "anchors", "tape_m")
    _table(book, "Levels", columns, rows, (*opened, *counted))


def _brackets(book: Book, plan: Plan) -> None:
    columns = level_counts_on_the_sheet(plan.bracket_codes)
    named = [brackets_of(code).name for code in plan.bracket_codes]
    _table(
        book, "Brackets", columns, plan.counted_levels, (*named, "brackets", "anchors", "joints", "tape_m")
    )


def _runs(book: Book, plan: Plan) -> None:
    totals = ("length_mm", "planned_mm", "pieces", "brackets", "notches")
    _table(book, "Runs", RUNS, run_accounts(plan), totals)


def _crew(book: Book, plan: Plan) -> None:
    rates = plan.project.crew_rates
    columns: Columns = (
        Column("name", "Work", width=34),
        Column("number", "Number", "count", 10, what="how often, by the crew's sheets"),
        Column("minutes_each", "Minutes each", "area", 12, what="of one person, by crew_rates"),
        Column("rate", "Rate", width=20, what="its row in crew_rates"),
        Column(
            "placeholder", "Placeholder", "text", 14, what="common practice, no source; give the rate in crew_rates",
            value=lambda work: "placeholder" if work.placeholder else "given",
        ),
        Column("hours", "Hours", "area", 10, what="number x minutes each / 60"),
    )  # fmt: skip
    if rates.hour_cost:
        said = f"hours x {amount_text(rates.hour_cost, plan.order.currency)} (hour_cost)"

        def cost(work: Work) -> Decimal:
            return work.cost(rates.hour_cost)

        columns = (*columns, Column("cost", "Cost", "money", 16, what=said, value=cost))
    _table(book, "Crew hours", columns, crew_work(plan), ("hours", "cost"))


def _said(book: Book, plan: Plan) -> None:
    """Everything that pages and papers say in words."""
    sheet = book.sheet("Said of the plan")
    sheet.set_column(0, 0, 150)
    waiting = plan.waiting
    parts: tuple[tuple[str, Sequence[str]], ...] = (
        ("Boards and carrying", carrying_in_words(plan)),
        ("Waiting", (
            f"{waiting.pieces:,} pieces wait for {waiting.piece_stages:,} deliveries together, in"
            f" {waiting.remainders:,} remainders; proved minimum {waiting.lower_bound_piece_stages:,} pieces times"
            " deliveries.",
        )),
        ("Bracket sizes", bracket_choices_in_words(plan)),
        ("Deliveries and storage", delivery_costs_in_words(plan)),
        ("On site", on_site_in_words(plan)),
        ("Edges", edges_in_words(plan)),
        (f"Brackets farther than the detail says: {len(plan.brackets_moved)}",
         [moved_bracket_in_words(one) for one in plan.brackets_moved]),
        (f"Not planned: {len(plan.not_planned)}", [place_in_words(place) for place in plan.not_planned]),
        ("Thinner than strip_min_mm", [rip.words for rip in plan.thin_rips]),
        (f"Questions to the survey: {len(plan.questions)}", [question_in_words(one) for one in plan.questions]),
        ("How cells of the survey were read", plan.project.reading_notes),
        ("Warnings", plan.warnings),
        ("Cautions", plan.cautions),
    )  # fmt: skip
    row = 0
    for title, sentences in parts:
        if not sentences:
            continue
        book.text(sheet, row, 0, title, "section")
        for sentence in sentences:
            row += 1
            book.text(sheet, row, 0, sentence, "wrapped")
            sheet.set_row(row, 13.5 * (1 + len(sentence) // 165))
        row += 2
