"""A written workbook, opened again: its sheets and their tables as they are read by their user."""

from __future__ import annotations

import io
from itertools import takewhile
from typing import Any

import openpyxl
from openpyxl.workbook import Workbook
from openpyxl.worksheet.worksheet import Worksheet


def opened(content: bytes) -> Workbook:
    """The workbook in these bytes."""
    return openpyxl.load_workbook(io.BytesIO(content))


def table_of(sheet: Worksheet) -> list[tuple[Any, ...]]:
    """The rows of a sheet's table with its heading, down to the first row in which nothing stands: what comes below
    explains its headings."""
    rows = sheet.iter_rows(values_only=True)
    return list(takewhile(lambda row: any(value is not None for value in row), rows))
