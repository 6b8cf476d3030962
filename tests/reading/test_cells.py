"""One cell: generous in form, strict in content; each slip with its mend."""

from __future__ import annotations

from datetime import date, datetime
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


ANY_CELL = st.one_of(
    st.none(), st.booleans(), st.integers(), st.text(), st.dates(), st.floats(), st.decimals(),
    st.lists(st.integers() | st.text()), st.dictionaries(st.text(), st.integers()),
    st.from_regex(r"[-+]?[0-9.,]{1,8} ?(mm|cm|m|in|\"|%)?", fullmatch=True),
    st.from_regex(r"[0-9]{1,4}[-/. ][0-9A-Za-z]{1,4}[-/. ][0-9]{1,4}", fullmatch=True),
)  # fmt: skip
PARSERS = (
    gap, length, small, numbers.count(0, 10), numbers.rate(), numbers.rate(above_zero=True),
    numbers.fraction_or_simulated, numbers.money, cells.truth, cells.choice("board", "tape"), dates.day, cells.text,
    cells.name, cells.currency,
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
