"""One cell: generous in form, strict in content; each slip with its mend."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimiser.errors.problems import CellError
from optimiser.reading import cells, dates, numbers

gap = numbers.millimetres(1, 1000, "gap")
length = numbers.millimetres(50, 10_000_000)
small = numbers.millimetres(0, 1000, "small")


@pytest.mark.parametrize(
    "written", [150, Decimal("150.0"), "150", " 150 ", "150.0", "150 mm", "150mm", 150.0]
)
def test_whole_millimetres_however_written(written: Any) -> None:
    assert gap(written) == 150


@pytest.mark.parametrize(
    ("parse", "written", "mend"),
    [
        (gap, Decimal("0.15"), "if it is in metres, write 150"),
        (gap, "0.15", "if it is in metres, write 150"),
        (gap, "15 cm", "write 150"),
        (gap, "0.15 m", "write 150"),
        (gap, '6"', "write 153"),
        (gap, "6 in", "write 153"),
        (gap, Decimal("15.5"), "if it is in centimetres, write 155"),
        (gap, Decimal("150.4"), "round it to a whole millimetre: write 150"),
        (length, Decimal("41.85"), "if it is in metres, write 41850"),
        (length, 36, "if it is in metres, write 36000"),
        (length, "41,850", "write 41850"),
        (length, "41 850", "write 41850"),
        (length, "41850,5", "round it to a whole millimetre: write 41851"),
        (small, Decimal("2.5"), "round it to a whole millimetre: write 3"),
        (gap, -150, "write it without the minus, or correct it"),
        (gap, 1500, "check its digits; write millimetres"),
        (gap, 10**30, "write the length in millimetres"),
        (gap, 0, "write the length in millimetres"),
    ],
)
def test_a_slip_of_units_is_told_with_what_to_write(parse: cells.Parser, written: Any, mend: str) -> None:
    with pytest.raises(CellError) as slip:
        parse(written)
    assert slip.value.mend == mend


@pytest.mark.parametrize(
    "written",
    [
        "n/a",
        "about 150",
        "-",
        "150-160",
        "1e999",
        Decimal("NaN"),
        Decimal("Infinity"),
        True,
        date(2027, 1, 1),
    ],
)
def test_what_is_no_number_is_not_guessed(written: Any) -> None:
    with pytest.raises(CellError):
        gap(written)


@pytest.mark.parametrize("written", [Decimal("0.10"), 0.1, "0.10", "10 %", "10%", ".1"])
def test_rates_are_exact(written: Any) -> None:
    assert numbers.rate()(written) == Decimal("0.1")


def test_a_rate_has_nine_decimals_at_most() -> None:
    assert numbers.rate()("0.123456789") == Decimal("0.123456789")
    assert numbers.rate()(Decimal("0.100000000000")) == Decimal("0.1")
    for written in ("0.1234567891", "12.34567891 %", Decimal(1) / 3):
        with pytest.raises(CellError, match="at most nine decimals"):
            numbers.rate()(written)


@pytest.mark.parametrize(
    ("written", "mend"),
    [
        (10, "write 0.10"),
        ("12.5", "write 0.125"),
        (Decimal("1.10"), "write 0.10"),
        (-1, "write 1.00"),
    ],
)
def test_a_rate_in_per_cent_or_as_a_factor_is_a_slip(written: Any, mend: str) -> None:
    with pytest.raises(CellError) as slip:
        numbers.rate()(written)
    assert slip.value.mend == mend


@pytest.mark.parametrize(
    "written",
    [
        "2026-12-31", "2026/12/31", "31/12/2026", "12/31/2026", "31.12.2026", "31-12-2026", "31 Dec 2026",
        "31 December 2026", "2026-12-31T00:00:00", date(2026, 12, 31), datetime(2026, 12, 31, 7, 30),
    ],
)  # fmt: skip
def test_dates_in_either_order(written: Any) -> None:
    assert dates.day(written) == date(2026, 12, 31)


@pytest.mark.parametrize(
    ("written", "told"),
    [
        ("03/04/2026", "write 2026-04-03 (3 April) or 2026-03-04 (4 March)"),
        ("31/02/2027", "correct the date"),
        ("31/12/26", "write it as 2026-MM-DD"),
        (46_023, "format the cell as a date, or write 2026-01-01"),
        ("soon", "write it as 2027-02-22"),
        ("1027-02-22", "correct the year"),
    ],
)
def test_a_date_that_could_be_another_day_is_refused(written: Any, told: str) -> None:
    with pytest.raises(CellError) as slip:
        dates.day(written)
    assert slip.value.mend == told


def test_a_date_that_is_the_same_in_both_orders_is_read() -> None:
    assert dates.day("05/05/2027") == date(2027, 5, 5)


@pytest.mark.parametrize("written", ["yes", "TRUE", "1", 1, True, "On"])
def test_truths(written: Any) -> None:
    assert cells.truth(written) is True


@pytest.mark.parametrize("written", ["600 1800", "600,1800", "600; 1800", [600, 1800], "600\n1800"])
def test_several_values_in_a_cell(written: Any) -> None:
    assert cells.several(length, "positions")(written) == (600, 1800)


@pytest.mark.parametrize(("written", "cents"), [("212.00", 21200), (Decimal("0.1"), 10), (3, 300)])
def test_money(written: Any, cents: int) -> None:
    assert numbers.money(written) * 100 == cents


@pytest.mark.parametrize("written", ["212.005", "$212", "212 AUD", -1, "1,212.00"])
def test_money_that_is_not_plain(written: Any) -> None:
    with pytest.raises(CellError):
        numbers.money(written)


@pytest.mark.parametrize("written", ["$212.00", "AUD 212.00", "€ 212.00", "212.00 AUD"])
def test_a_price_with_its_currency_is_told_what_to_write(written: str) -> None:
    with pytest.raises(CellError) as slip:
        numbers.money(written)
    assert slip.value.mend == "write 212.00"


ANY_CELL = st.one_of(
    st.none(), st.booleans(), st.integers(), st.text(), st.dates(), st.floats(), st.decimals(),
    st.lists(st.integers() | st.text()), st.dictionaries(st.text(), st.integers()),
    st.from_regex(r"[-+]?[0-9.,]{1,8} ?(mm|cm|m|in|\"|%)?", fullmatch=True),
    st.from_regex(r"[0-9]{1,4}[-/. ][0-9A-Za-z]{1,4}[-/. ][0-9]{1,4}", fullmatch=True),
)  # fmt: skip
PARSERS = (
    gap, length, small, numbers.count(0, 10), numbers.rate(), numbers.rate(above_zero=True), numbers.fraction_or_simulated,
    numbers.money, cells.truth, cells.choice("board", "tape"), dates.day, cells.text, cells.name, cells.currency,
    cells.country, cells.several(length, "positions"),
)  # fmt: skip


@given(ANY_CELL, st.sampled_from(PARSERS))
@settings(max_examples=600, deadline=None)
def test_any_cell_is_read_or_slips_in_one_line(value: Any, parse: cells.Parser) -> None:
    told = ""
    try:
        parse(value)
    except CellError as slip:
        told = f"{slip.message}; {slip.mend}"
    assert "\n" not in told
    assert told.strip() != ";"
