"""A cell as text: for people to read, and for csv; a table as HTML."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from datetime import date
from html import escape
from itertools import islice
from typing import Any

from optimiser.tables.amounts import amount_text
from optimiser.tables.columns import Column

MOST_HTML_ROWS = 30  # of a table in a notebook; the frame has them all


def counted(number: int, noun: str, many: str = "") -> str:
    """1, 'piece' -> '1 piece'; 1200, 'piece' -> '1,200 pieces'; `many` is the noun of several where that is not an s
    more."""
    return f"{number:,} {noun if number == 1 else many or f'{noun}s'}"


def cell_text(column: Column, row: Any, currency: str = "") -> str:
    """A row's value as people read it: '1,234', '3.1%', '123,456.00', '2027-02-22', 'yes'; '' for none."""
    value = column.of(row)
    if value is None:
        return ""
    if isinstance(value, str):
        return value
    match column.kind:
        case "count":
            return f"{value:,}"
        case "metres":
            return f"{value:,.1f}"
        case "area":
            return f"{value:,.2f}"
        case "share":
            return f"{value:.1%}"
        case "money":
            return amount_text(value, currency)
        case "flag":
            return "yes" if value else "no"
        case "texts" | "numbers":
            return column.joined.join(str(part) for part in value)
    return str(value)


def as_text(value: str) -> str:
    """Text that no spreadsheet takes for a formula: a leading = + - @, tab or carriage return gets an
    apostrophe before it (the usual defence against formula injection: OWASP, 'CSV Injection')."""
    return "'" + value if value.lstrip(" \n")[:1] in {"=", "+", "-", "@", "\t", "\r"} else value


def csv_of(columns: Sequence[Column], rows: Iterable[Any]) -> str:
    """A table as csv (RFC 4180: commas, CRLF): numbers without grouping, dates as ISO 8601, true and false.

    An empty cell says that there is no value.
    """
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow([as_text(column.name) for column in columns])
    writer.writerows([[_csv_cell(column, column.of(row)) for column in columns] for row in rows])
    return text.getvalue()


def _csv_cell(column: Column, value: Any) -> Any:
    if value is None:
        return ""
    if column.kind == "money":
        return f"{value:.2f}"
    if column.kind == "flag":
        return str(value).lower()
    if column.kind in ("texts", "numbers"):
        return as_text(column.joined.join(str(part) for part in value))
    if isinstance(value, str):
        return as_text(value)
    if isinstance(value, date):
        return value.isoformat()
    return value if column.decimals is None else f"{value:.{column.decimals}f}"


def html_of(
    columns: Sequence[Column],
    rows: Sequence[Any],
    title: str,
    currency: str = "",
    notes: Iterable[str] = (),
) -> str:
    """A title, a table of at most 30 rows and notes, as HTML for a notebook; every text is escaped."""
    head = "".join(_tag("th", column, column.heading_with_unit) for column in columns)
    body = "".join(
        "<tr>" + "".join(_tag("td", column, cell_text(column, row, currency)) for column in columns) + "</tr>"
        for row in islice(rows, MOST_HTML_ROWS)
    )
    more = len(rows) - MOST_HTML_ROWS
    words = [*notes, *([f"and {counted(more, 'more row')}"] if more > 0 else [])]
    below = "".join(f"<p>{escape(word)}</p>" for word in words)
    return f"<p><b>{escape(title)}</b></p><table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>{below}"


def _tag(tag: str, column: Column, text: str) -> str:
    side = "right" if column.to_the_right else "left"
    return f'<{tag} style="text-align:{side}">{escape(text)}</{tag}>'
