"""A cell that holds a number, however written; each slip of its unit or form with its mend."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from optimiser.errors.problems import CellError
from optimiser.reading import cells, numbers

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
        (gap, Decimal("15.5"), "if it is in centimetres, write 155; if it is in inches, write 394"),
        (gap, Decimal("150.4"), "round it to a whole millimetre: write 151"),
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


@pytest.mark.parametrize(
    ("what", "written", "mend"),
    [
        ("a whole number", "12 pcs", "write 12 alone"),
        ("a whole number of days", "15 days", "write 15 alone"),
        ("a whole number of days", "1 day", "write 1 alone"),
        ("a whole number of days", "3 weeks", "write how many days, the number alone"),
        ("a whole number of kilograms", "9000 kg", "write 9000 alone"),
        ("a whole number of kilograms", "9 t", "write how many kilograms, the number alone"),
    ],
)
def test_a_count_in_another_unit_is_not_taken_for_its_own(what: str, written: str, mend: str) -> None:
    with pytest.raises(CellError) as slip:
        numbers.count(0, 10**6, what)(written)
    assert slip.value.mend == mend
