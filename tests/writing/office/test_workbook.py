"""The office's workbook: every figure that a page or paper shows is found in it, each line from those before."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from datetime import date, datetime
from decimal import Decimal
from typing import Any

import pytest
from openpyxl import load_workbook
from pypdf import PdfReader

from optimiser.model.crew_rates import CrewRates
from optimiser.model.plan import Plan
from optimiser.ordering.purchase_order import purchase_order
from optimiser.planning.plan import plan
from optimiser.writing.crew.cutting_sheets import cutting_sheets_pdf
from optimiser.writing.office.account import a_metre, board_accounts, product_accounts
from optimiser.writing.office.crew_account import crew_work
from optimiser.writing.office.level_account import level_accounts, run_accounts
from optimiser.writing.office.workbook import office_xlsx, summary_figures
from optimiser.writing.supplier.csv import deliveries_csv, order_csv
from optimiser.writing.supplier.pdf import order_pdf
from optimiser.writing.terminal.summary import show_plan
from tests.builders.forecast import forecast_plan
from tests.builders.sample_plans import sample_plan

PLANS: dict[str, Callable[[], Plan]] = {
    "small": lambda: sample_plan("small"),
    "tower": lambda: sample_plan("tower"),
    "nominal levels": forecast_plan,
}
EACH_PLAN = pytest.mark.parametrize(
    "name", [pytest.param(name, marks=pytest.mark.slow if name == "tower" else ()) for name in PLANS]
)
FIGURE = re.compile(r"(?<![\w.,:/-])(\d{1,3}(?:,\d{3})+|\d+)(\.\d+)?(?![\w-]|[.,:/]\d)")
DAY = re.compile(r"\d{4}-\d{2}-\d{2}")


class Found:
    """Everything that stands in a workbook: numbers, days, and the figures within its sentences."""

    def __init__(self, content: bytes) -> None:
        self.numbers: list[Decimal] = []
        self.days: set[str] = set()
        texts: list[str] = []
        for sheet in load_workbook(io.BytesIO(content), data_only=True):
            for row in sheet.iter_rows(values_only=True):
                for value in row:
                    if isinstance(value, (datetime, date)):
                        self.days.add(str(value)[:10])
                    elif isinstance(value, (int, float)):
                        self.numbers.append(Decimal(repr(value)))
                    elif isinstance(value, str):
                        texts.append(value)
        self.text = "\n".join(texts)
        self.days |= set(DAY.findall(self.text))
        self.said = figures(self.text)
        self.rounded: dict[int, set[Decimal]] = {}

    def has(self, figure: Decimal) -> bool:
        """Whether a figure stands in a cell, rounded to as many places as it has, or within a sentence."""
        places = -int(figure.as_tuple().exponent)
        if places not in self.rounded:
            unit = Decimal(1).scaleb(-places)
            self.rounded[places] = {number.quantize(unit) for number in self.numbers}
            self.rounded[places] |= {
                (number * 100).quantize(unit) for number in self.numbers
            }  # shares in per cent
        return figure in self.rounded[places] or figure in self.said


def figures(text: str) -> set[Decimal]:
    """The figures of a text: no days, and nothing that is part of a name."""
    return {Decimal(whole.replace(",", "") + places) for whole, places in FIGURE.findall(DAY.sub(" ", text))}


def shown(made: Plan, capsys: Any) -> dict[str, str]:
    """What a plan's readers see, by document."""
    capsys.readouterr()
    show_plan(made, None)
    summary = capsys.readouterr().out
    pages = PdfReader(io.BytesIO(cutting_sheets_pdf(made))).pages
    cover = pages[0].extract_text()
    table = cover[cover.index("What to cut") : cover.index("Labels for pieces")]
    by_page = re.sub(r"( \d+){1,2}$", "", table, flags=re.MULTILINE)  # but for the numbers of pages
    return {
        "the summary on the terminal": summary,
        "order.pdf": printed_order(made),
        "order.csv": order_csv(purchase_order(made)).replace(",", " "),
        "deliveries.csv": deliveries_csv(made).replace(",", " "),
        "the cover of the crew's book": by_page,
    }


def printed_order(made: Plan) -> str:
    """The text of the supplier's order, but for the telephone numbers of its parties."""
    order = purchase_order(made)
    text = "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(order_pdf(order))).pages)
    for party in (order.buyer, order.supplier, order.deliver_to):
        text = text.replace(party.telephone or "\n", "\n")
    return text


@EACH_PLAN
def test_every_figure_of_every_document_is_found_in_the_office_workbook(name: str, capsys: Any) -> None:
    made = PLANS[name]()
    found = Found(office_xlsx(made))
    for document, text in shown(made, capsys).items():
        missing = sorted(figure for figure in figures(text) if not found.has(figure))
        assert missing == [], f"{document}: {missing}"
        days = sorted(set(DAY.findall(text)) - found.days)
        assert days == [], f"{document}: {days}"


@EACH_PLAN
def test_each_line_leads_to_the_next(name: str) -> None:
    made = PLANS[name]()
    for account in product_accounts(made):
        assert account.needed + account.allowance == account.quantity
        assert account.packs == -(-account.quantity // account.per_pack)
        assert account.ordered == account.packs * account.per_pack
        assert account.quantity + account.over == account.ordered
        assert account.packs * account.price + account.price_breaks == account.amount
    assert sum(account.amount for account in product_accounts(made)) == made.order.total
    boards = board_accounts(made)
    assert {board.code: board.opened for board in boards} == {
        code: count.count for code, count in made.boards.items()
    }
    needed = {account.code: account.needed for account in product_accounts(made)}
    assert all(board.opened == needed[board.code] for board in boards if board.opened)
    assert sum(board.pieces for board in boards) == len(made.pieces)
    assert sum(board.bought_mm2 for board in boards) == made.waste.bought_mm2
    assert sum(board.left_over_mm2 for board in boards) == made.waste.reusable_offcut_mm2
    assert abs(sum(board.scrap_mm2 for board in boards) - made.waste.scrap_mm2) <= len(boards)


@EACH_PLAN
def test_levels_and_runs_add_up_to_the_plan(name: str) -> None:
    made = PLANS[name]()
    levels, runs = level_accounts(made), run_accounts(made)
    assert sum(level.pieces for level in levels) == sum(run.pieces for run in runs) == len(made.pieces)
    assert sum(sum(level.opened.values()) for level in levels) == sum(
        count.count for count in made.boards.values()
    )
    assert sum(level.taken for level in levels) == sum(level.kept for level in levels) == len(made.remainders)
    assert sum(run.planned_mm for run in runs) == sum(piece.length_mm for piece in made.pieces)


@pytest.mark.slow
def test_boards_are_never_named_without_their_size() -> None:
    for figure in summary_figures(PLANS["tower"]()):
        if figure.name.startswith("Boards of") and "needed" in figure.name:
            assert "1200 x 1000" in figure.name
    sheet = load_workbook(io.BytesIO(office_xlsx(PLANS["tower"]())))["Boards"]
    assert sheet["B2"].value == "1200 x 1000 x 120 mm"


def test_crew_hours_are_counted_by_the_users_rates_and_placeholders_say_so() -> None:
    made = PLANS["small"]()
    assert all(work.placeholder for work in crew_work(made))
    rates = CrewRates(bracket_minutes=Decimal(6), hour_cost=Decimal("60.00"))
    told = made.model_copy(update={"project": made.project.model_copy(update={"crew_rates": rates})})
    (brackets,) = [work for work in crew_work(told) if work.rate == "bracket_minutes"]
    assert not brackets.placeholder
    assert brackets.number == sum(len(piece.brackets_at_mm) for piece in made.pieces)
    assert brackets.hours == (Decimal(brackets.number) * 6 / 60).quantize(Decimal("0.01"))
    assert brackets.cost(rates.hour_cost) == brackets.hours * 60
    names = [figure.name for figure in summary_figures(told)]
    assert "Order and crew a metre of edge" in names
    assert not any("Crew, money" in figure.name for figure in summary_figures(made))


def test_weight_and_carbon_stand_where_products_state_them() -> None:
    made = PLANS["small"]()
    assert not any("Carbon" in figure.name for figure in summary_figures(made))
    products = tuple(
        product.model_copy(update={"weight_kg": Decimal("14.4"), "carbon_kg": Decimal("21.5")})
        if product.kind == "board"
        else product
        for product in made.project.products
    )
    told = plan(made.project.model_copy(update={"products": products}), advise=False)
    ordered = sum(account.ordered for account in product_accounts(told) if account.kind == "board")
    by_name = {figure.name: figure for figure in summary_figures(told)}
    carbon = by_name["Carbon of all that is ordered, kg CO2 equivalent"]
    assert carbon.value == ordered * Decimal("21.5")
    assert "state none" in carbon.origin
    assert by_name["Weight of all that is ordered, kg"].value is not None


def test_a_metre_of_edge() -> None:
    assert a_metre(Decimal("17737.90"), 1_847_900) == Decimal("9.60")
    assert a_metre(Decimal("1.00"), 0) is None


def test_equal_plans_give_equal_workbooks() -> None:
    assert office_xlsx(PLANS["small"]()) == office_xlsx(PLANS["small"]())
