"""Dates as people write them: read where only one day can be meant, refused where two can."""

from __future__ import annotations

import re
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

from optimiser.errors.problems import CellError, shown
from optimiser.model.project import WEEKDAYS

MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")

_ISO_DATE = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[T ]00:00(?::00(?:\.0+)?)?Z?)?", re.ASCII)
_OTHER_DATE = re.compile(r"(\d{1,2})\s*[-/.]\s*(\d{1,2})\s*[-/.]\s*(\d{4}|\d{2})", re.ASCII)
_NAMED_DATE = re.compile(r"(\d{1,2})[ -]([A-Za-z]{3,9})\.?,?[ -](\d{4})", re.ASCII)


def day(value: Any) -> date:
    """A date: a date cell, 2027-02-22, 22/2/2027 or 2/22/2027 where only one order is possible, 22 Feb 2027.

    Raises CellError: 03/04/2027 is refused, because it is a month apart in the two orders.
    """
    if isinstance(value, datetime):
        value = value.date()
    if isinstance(value, date):
        return _plausible(value)
    if isinstance(value, (int, Decimal)) and not isinstance(value, bool):
        finite = isinstance(value, int) or value.is_finite()
        if finite and 36_526 <= value <= 73_050:  # 2000-01-01 to 2099-12-31 in a spreadsheet's day numbers
            meant = date.fromordinal(int(value) + date(1899, 12, 30).toordinal())
            raise CellError("is a number, not a date", f"format the cell as a date, or write {meant}")
        raise CellError("must be a date", "write it as 2027-02-22")
    if not isinstance(value, str):
        raise CellError("must be a date", "write it as 2027-02-22")
    written = value.strip()
    if match := _ISO_DATE.fullmatch(written):
        return _plausible(_date(int(match[1]), int(match[2]), int(match[3])))
    if match := _NAMED_DATE.fullmatch(written):
        month = match[2].lower()
        if month[:3] in MONTHS:
            return _plausible(_date(int(match[3]), MONTHS.index(month[:3]) + 1, int(match[1])))
    if match := _OTHER_DATE.fullmatch(written):
        first, second, year = int(match[1]), int(match[2]), int(match[3])
        if len(match[3]) == 2:
            raise CellError("the year must have four digits", f"write it as {2000 + year}-MM-DD")
        if first <= 12 and second <= 12 and first != second:
            one, other = _date(year, second, first), _date(year, first, second)
            raise CellError(
                "the date can be read in two orders",
                f"write {one} ({one.day} {one:%B}) or {other} ({other.day} {other:%B})",
            )
        return _plausible(_date(year, second, first) if second <= 12 else _date(year, first, second))
    raise CellError("must be a date", "write it as 2027-02-22")


def weekday(value: Any) -> str:
    """A day of the week by its English name or its first three letters, in any capitals. Raises CellError."""
    written = value.strip().lower() if isinstance(value, str) else ""
    for name in WEEKDAYS:
        if written in (name.lower(), name[:3].lower(), f"{name.lower()}s"):
            return name
    raise CellError(f"must be a day of the week, not {shown(value)}", "write one such as Monday")


def _date(year: int, month: int, of_month: int) -> date:
    try:
        return date(year, month, of_month)
    except ValueError:
        raise CellError("there is no such day", "correct the date") from None


def _plausible(found: date) -> date:
    if not 2000 <= found.year <= 2100:
        raise CellError("the year must lie between 2000 and 2100", "correct the year")
    return found


_CLOCK = re.compile(r"(\d{1,2})[:.h](\d{2})(?::00)?", re.ASCII)


def time_of_day(value: Any) -> time:
    """A time of day such as 07:00 or '7.30', to the minute, by the twenty-four hours of the day.

    Raises CellError: a number below 1 is refused too, for a spreadsheet's 0.25 is a quarter of a day, 06:00.
    """
    if isinstance(value, Decimal) and 0 < value < 1:
        minutes = round(value * 24 * 60)
        meant = f"{minutes // 60 % 24:02d}:{minutes % 60:02d}"
        raise CellError("is a number, not a time of day", f"format the cell as a time, or write {meant}")
    if isinstance(value, Decimal):
        value = str(value)  # 10.15 in a cell of numbers
    match = _CLOCK.fullmatch(value.strip()) if isinstance(value, str) else None
    if match is None or int(match[1]) > 23 or int(match[2]) > 59:
        raise CellError("must be a time of day", "write it as 07:00")
    return time(int(match[1]), int(match[2]))
