"""`office.xlsx`: the account behind the order, for the office, so that each figure of any page or paper is found there.

From boards to allowance to packs to money, one sheet leading to the next; then deliveries, levels, runs, pieces, crew
hours, what must be said, and the order as it is sent. Headings are explained under their tables. Ready to print in
landscape.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any, NamedTuple

from optimiser.model.money import NOTHING
from optimiser.model.plan import Plan
from optimiser.model.purchase_order import PurchaseOrder
from optimiser.ordering.purchase_order import purchase_order
from optimiser.writing.moved_brackets import moved_brackets_in_words
from optimiser.writing.office import workbook_building as of_building
from optimiser.writing.office import workbook_order as of_order
from optimiser.writing.office.account import ProductAccount, a_metre, board_accounts, product_accounts
from optimiser.writing.office.crew_account import crew_work
from optimiser.writing.office.level_account import run_accounts
from optimiser.writing.spreadsheet import Book
from optimiser.writing.supplier.words import document_in_words
from optimiser.writing.words import (
    bracket_choices_in_words,
    carrying_in_words,
    counted,
    delivery_costs_in_words,
    edges_in_words,
    forecast_in_words,
    on_site_in_words,
    parts_in_words,
    place_in_words,
    proofs_in_words,
    question_in_words,
    waste_in_words,
)


def office_xlsx(plan: Plan, paper: str = "A4", order: PurchaseOrder | None = None) -> bytes:
    """The workbook as bytes. Dates are real dates, money has the order's currency; equal plans give equal sheets.
    `paper` is A4 or Letter, `order` what is sent to the supplier (None: the plan's own)."""
    heading = plan.project.project
    title = " - ".join(part for part in (heading.order_reference, heading.name) if part) or "Order"
    book = Book(f"{title}: office", plan.order.currency, paper)
    sent = order if order is not None else purchase_order(plan)
    _summary(book, plan, sent)
    for write in (
        of_order.products,
        of_order.boards,
        of_order.cutting,
        of_order.waste,
        of_order.remainders,
        of_order.lines,
        of_building.deliveries,
        of_building.on_site,
        of_building.levels,
        of_building.brackets,
        of_building.runs,
        of_building.pieces,
        of_order.crew,
        _said,
    ):
        write(book, plan)
    of_order.sent(book, sent)
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
        Figure("Pieces", len(plan.pieces), "whole", "sheet Runs; each has its row in sheet Pieces"),
    ]
    ordered = {account.code: account for account in products if account.kind == "board"}
    for board in boards:
        named = f"{board.code} ({board.size})"
        found.append(
            Figure(f"Boards of {named} needed", board.opened, "whole", "sheet Boards: bought and cut")
        )
        if board.on_site:
            found.append(
                Figure(f"Boards and offcuts of {named} from stock", board.on_site, "whole", "sheet Boards")
            )
        if account := ordered.pop(board.code, None):
            found += _bought(account)
    for account in ordered.values():
        found += _bought(account)
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
            none = f"{counted(missing, 'product')} {'states' if missing == 1 else 'state'} none"
            of_all = f"; {none}" if missing else ""
            found.append(Figure(what, sum(stated, Decimal(0)), "area", f"sheet Products{of_all}"))
    return tuple(found)


def _bought(account: ProductAccount) -> tuple[Figure, Figure]:
    """What is put on top of the boards that a plan needs, and what is ordered in all."""
    named = f"{account.code} ({account.size})"
    return (
        Figure(
            f"Boards of {named} as allowance", account.allowance, "whole",
            "sheet Products: needed + allowance = quantity",
        ),
        Figure(
            f"Boards of {named} ordered", account.ordered, "whole",
            f"sheet Products: {counted(account.packs, 'pack')} of {account.per_pack:,}, the quantity rounded up",
        ),
    )  # fmt: skip


def _summary(book: Book, plan: Plan, order: PurchaseOrder) -> None:
    sheet = book.sheet("Order summary")
    heading = plan.project.project
    book.text(sheet, 0, 0, f"Order summary {heading.order_reference}".strip(), "title")
    facts = (
        ("Project", heading.name),
        ("Buyer", heading.buyer),
        ("Supplier", heading.supplier),
        ("Deliver to", heading.deliver_to),
        ("Order as it is sent", f"{order.document}: {document_in_words(order)}"),
    )
    for row, (label, value) in enumerate(facts, start=1):
        book.text(sheet, row, 0, label, "label")
        book.text(sheet, row, 1, value, "text")
    top = len(facts) + 2
    sheet.set_column(0, 0, 60)
    sheet.set_column(1, 1, 18)
    sheet.set_column(2, 2, 70)
    for column, words in enumerate(("What", "Figure", "Where it comes from")):
        book.text(sheet, top, column, words, "number_heading" if column == 1 else "heading")
    row = top + 1
    for figure in summary_figures(plan):
        bold = figure.shown_as == "total"
        book.text(sheet, row, 0, figure.name, "total_text" if bold else "cell")
        if figure.value is not None:
            sheet.write_number(row, 1, float(figure.value), book.formats[figure.shown_as])
        book.text(sheet, row, 2, figure.origin, "wrapped_cell")
        row += 1
    split = parts_in_words(plan)
    parts = (f"Of the total: {split}.",) if split else ()
    _notes(book, sheet, row + 1, (
        ("Proof", proofs_in_words(plan)),
        ("Waste", (waste_in_words(plan),)),
        ("Firm and forecast", (*parts, *forecast_in_words(plan))),
    ), 2)  # fmt: skip


def _notes(
    book: Book,
    sheet: Any,
    row: int,
    parts: Sequence[tuple[str, Sequence[str]]],
    last: int,
) -> None:
    """Titled sentences across columns 0 to `last`, from `row` down."""
    for title, sentences in parts:
        if not sentences:
            continue
        book.text(sheet, row, 0, title, "section")
        for sentence in sentences:
            row += 1
            sheet.merge_range(row, 0, row, last, "", book.formats["wrapped"])
            book.text(sheet, row, 0, sentence, "wrapped")
            sheet.set_row(row, _height(sentence, 150))
        row += 2


def _height(sentence: str, letters: int) -> float:
    """Of a row, in points, so that a sentence of so many letters a line is read whole; a sheet has no row of more than
    409 points (a limit of workbooks)."""
    return 13.5 * min(25, 1 + len(sentence) // letters)


def _said(book: Book, plan: Plan) -> None:
    """Everything that pages and papers say in words."""
    sheet = book.sheet("Said of the plan")
    sheet.set_column(0, 0, 104)
    waiting = plan.waiting
    parts: tuple[tuple[str, Sequence[str]], ...] = (
        ("Boards and carrying", carrying_in_words(plan)),
        ("Waiting", (
            f"Pieces that wait: {waiting.pieces:,}, in {counted(waiting.remainders, 'remainder')}; pieces times"
            f" deliveries: {waiting.piece_stages:,}, proved minimum {waiting.lower_bound_piece_stages:,}.",
        )),
        ("Bracket sizes", bracket_choices_in_words(plan)),
        ("Deliveries and storage", delivery_costs_in_words(plan)),
        ("On site", on_site_in_words(plan)),
        ("Edges", edges_in_words(plan)),
        (f"Brackets farther than the detail says: {len(plan.brackets_moved)}",
         moved_brackets_in_words(plan)),
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
            sheet.set_row(row, _height(sentence, 104))
        row += 2
