"""Cells as people and spreadsheets read them."""

from datetime import date
from decimal import Decimal
from fractions import Fraction
from types import SimpleNamespace
from typing import Any

import pytest

from optimiser.tables.amounts import amount_text
from optimiser.tables.columns import Column, Kind, constant, only, units_of
from optimiser.tables.text import as_text, cell_text, counted, csv_of, html_of


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", " =1", "\n=1"])
def test_text_that_a_spreadsheet_would_run_is_neutralised(text: str) -> None:
    assert as_text(text) == "'" + text
    assert csv_of((Column("note", "Note"),), [SimpleNamespace(note=text)]).count("'") == 1
    assert csv_of((Column("codes", "Codes", "texts"),), [SimpleNamespace(codes=(text, "B"))]).count("'") == 1


@pytest.mark.parametrize("text", ["", "B-120", "a=b", "'=1", "Räume"])
def test_other_text_is_left_alone(text: str) -> None:
    assert as_text(text) == text


@pytest.mark.parametrize(
    ("kind", "value", "read", "written"),
    [
        ("count", 1234, "1,234", "1234"),
        ("mm", 12_345, "12345", "12345"),
        ("metres", 1234.56, "1,234.6", "1234.56"),
        ("area", 97.9, "97.90", "97.9"),
        ("share", 0.0312, "3.1%", "0.0312"),
        ("money", Decimal("123456.00"), "123,456.00", "123456.00"),
        ("money", Decimal("123456.5"), "123,456.50", "123456.50"),
        ("date", date(2027, 2, 22), "2027-02-22", "2027-02-22"),
        ("flag", True, "yes", "true"),
        ("texts", ("L01", "L02"), "L01, L02", '"L01, L02"'),
        ("numbers", (300, 900), "300, 900", '"300, 900"'),
        ("text", "B-120", "B-120", "B-120"),
        ("count", None, "", '""'),
    ],
)
def test_each_kind_of_value(kind: Kind, value: Any, read: str, written: str) -> None:
    column, row = Column("value", "Value", kind), SimpleNamespace(value=value)
    assert cell_text(column, row, "AUD") == read
    assert csv_of((column,), [row]) == f"value\r\n{written}\r\n"


def test_money_is_exact_and_small_units_are_left_out_where_there_are_none() -> None:
    assert amount_text(Decimal("90071992547409.93"), "AUD") == "90,071,992,547,409.93"
    whole, parts = Decimal("123456.00"), Decimal("123456.50")
    assert (amount_text(whole, "JPY"), amount_text(parts, "JPY")) == ("123,456", "123,456.50")


def test_a_column_reads_an_attribute_or_as_it_is_told() -> None:
    row = SimpleNamespace(length_mm=1200, kerf=Fraction(1, 3))
    assert Column("length_mm", "Length").of(row) == 1200
    assert Column("length_m", "Length", value=lambda r: r.length_mm / 1000).of(row) == 1.2
    assert constant(Column("currency", "Currency"), "AUD").of(row) == "AUD"
    with pytest.raises(AttributeError):
        Column("width_mm", "Width").of(row)


def test_columns_are_chosen_by_name_in_the_order_asked_for() -> None:
    columns = (Column("a", "A", unit="mm"), Column("b", "B"), Column("c", "C"))
    assert [column.name for column in only(columns, "c", "a")] == ["c", "a"]
    assert units_of(columns) == {"a": "mm"}
    with pytest.raises(KeyError):
        only(columns, "d")


def test_html_escapes_names_and_counts_what_it_leaves_out() -> None:
    rows = [SimpleNamespace(name="<b>") for _ in range(32)]
    shown = html_of((Column("name", "Name & more"),), rows, "<i>", notes=("a < b",))
    assert "<b></td>" not in shown
    assert "&lt;b&gt;" in shown
    assert "Name &amp; more" in shown
    assert "&lt;i&gt;" in shown
    assert "a &lt; b" in shown
    assert "and 2 more rows" in shown
    assert "and 1 more row<" in html_of((Column("name", "Name"),), rows[:31], "one too many")


def test_one_and_many() -> None:
    assert [counted(number, "delivery", "deliveries") for number in (1, 2)] == ["1 delivery", "2 deliveries"]
    assert (counted(1, "board"), counted(0, "board"), counted(1200, "board")) == (
        "1 board",
        "0 boards",
        "1,200 boards",
    )
