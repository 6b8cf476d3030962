"""order.csv: a row an order line, documented columns, no text that a spreadsheet would run."""

import csv
import io

import pytest

from optimiser.writing import order_csv as module
from optimiser.writing.order_csv import COLUMNS, as_text, order_csv
from tests.small_plan import small_plan, small_project


def rows() -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(order_csv(small_plan()), newline="")))


def test_a_row_an_order_line() -> None:
    assert [(row["level"], row["code"], row["packs"]) for row in rows()] == [
        ("L01", "B-120", "1"),
        ("L01", "K-110", "1"),
        ("L01", "A-1", "1"),
        ("L01", "T-1", "1"),
        ("L02", "K-110", "0"),
        ("L02", "A-1", "0"),
    ]


def test_numbers_dates_and_money_are_plain() -> None:
    assert rows()[0] == {
        "order_reference": "PO-17",
        "supplier": "Supplier (invented)",
        "buyer": "Buyer (invented)",
        "deliver_to": "",
        "level": "L01",
        "deliver_on": "2027-02-22",
        "order_by": "2027-02-01",
        "kind": "board",
        "code": "B-120",
        "needed": "1",
        "allowance": "1",
        "quantity": "2",
        "per_pack": "4",
        "packs": "1",
        "pack_name": "",
        "price": "212.00",
        "amount": "212.00",
        "currency": "AUD",
    }


def test_every_column_is_documented() -> None:
    assert all(column in (module.__doc__ or "") for column in COLUMNS)


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", " =1", "\n=1"])
def test_text_that_a_spreadsheet_would_run_is_neutralised(text: str) -> None:
    assert as_text(text) == "'" + text


@pytest.mark.parametrize("text", ["", "B-120", "a=b", "'=1", "Räume"])
def test_other_text_is_left_alone(text: str) -> None:
    assert as_text(text) == text


def test_names_from_the_project_are_neutralised_in_the_file() -> None:
    text = order_csv(small_plan(small_project(reference='=HYPERLINK("x")')))
    assert next(csv.DictReader(io.StringIO(text)))["order_reference"] == '\'=HYPERLINK("x")'
