"""order.xlsx: the order as a workbook that prints well; text is never a formula, nothing of the plan is in it."""

from __future__ import annotations

import io
from datetime import datetime

import openpyxl
import pytest
from openpyxl.workbook import Workbook

from optimiser.model.purchase_order import PurchaseOrder
from optimiser.ordering.purchase_order import purchase_order
from optimiser.writing.supplier.workbook import order_xlsx
from tests.builders.small_plan import small_plan, small_project
from tests.builders.supplier_job import first_order, second_order


def workbook(order: PurchaseOrder, paper: str = "A4") -> Workbook:
    return openpyxl.load_workbook(io.BytesIO(order_xlsx(order, paper)))


def test_it_has_the_order_its_lines_and_its_truckloads_and_no_sheet_of_the_plan() -> None:
    assert workbook(first_order()).sheetnames == ["Order", "Lines", "Truckloads"]


def test_a_line_is_typed_and_columns_without_a_value_are_left_out() -> None:
    head, first, *_ = workbook(first_order())["Lines"].iter_rows(values_only=True)
    assert dict(zip(head, first, strict=True)) == {
        "Line": 1,
        "Truckload": 1,
        "Deliver on": datetime(2027, 3, 1),
        "Status": "firm",
        "Confirmed by": None,
        "For": "L01",
        "Code": "B-120",
        "Description": "board 1200 x 1000 x 120 mm, 4 in a pallet",
        "Packs": 1,
        "List price": 212,
        "Break from packs": 2,
        "Price per pack": 204.35,
        "Amount": 204.35,
        "Tax rate": 0.1,
        "Weight kg": 57.6,
    }
    changed = [cell.value for cell in workbook(second_order())["Lines"][1]]
    assert changed[-3:] == ["Change", "Packs before", "Day before"]


def test_the_amounts_are_added_up_by_a_formula_and_nothing_else_is_one() -> None:
    odd = purchase_order(small_plan(small_project("=1+1", "@SUM(A1)")))
    found = [
        (sheet.title, cell.value)
        for sheet in workbook(odd)
        for row in sheet
        for cell in row
        if cell.data_type == "f"
    ]
    ((sheet, formula),) = found
    assert sheet == "Lines"
    assert formula.startswith("=SUM(")


@pytest.mark.parametrize(("paper", "number"), [("A4", 9), ("Letter", 1)])
def test_every_sheet_is_set_up_for_print(paper: str, number: int) -> None:
    for sheet in workbook(second_order(), paper):
        assert sheet.page_setup.paperSize == number
        assert sheet.page_setup.orientation == "landscape"
        assert (sheet.page_setup.fitToWidth or 1, sheet.page_setup.fitToHeight) == (1, 0)
        assert "QY-3-R2" in sheet.oddHeader.left.text


def test_an_order_of_nothing_has_its_sheets_all_the_same() -> None:
    made = small_plan()
    lines = tuple(line.model_copy(update={"packs": 0, "amount": 0}) for line in made.order.lines)
    nothing = made.model_copy(update={"order": made.order.model_copy(update={"lines": lines, "total": 0})})
    book = workbook(purchase_order(nothing))
    assert [row[0] for row in book["Lines"].iter_rows(values_only=True)] == ["Line", "Together"]


def test_equal_orders_give_equal_bytes() -> None:
    assert order_xlsx(first_order()) == order_xlsx(first_order())
