"""A small sound project as tables, and ways to write it to each kind of file, for the tests of reading."""

from __future__ import annotations

import csv
import json
from copy import deepcopy
from pathlib import Path
from typing import Any

import xlsxwriter

Table = list[list[Any]]

SOUND: dict[str, Table] = {
    "project": [["name", "currency", "country"], ["Invented job", "AUD", "AU"]],
    "detail": [
        ["rule", "value", "unit"],
        ["oversize_min", 0.1, ""],
        ["oversize_max", 0.15, ""],
        ["kerf_mm", 2, "mm"],
    ],
    "products": [
        ["code", "kind", "length_mm", "width_mm", "per_pack", "price"],
        ["B-120", "board", 1200, 1000, 4, 212.5],
        ["K-110", "bracket", 110, None, 50, 74],
    ],
    "levels": [["level", "sequence", "needed_on"], ["L1", 1, "2027-02-22"], ["L2", 2, "2027-03-01"]],
    "runs": [
        ["run", "level", "length_mm", "board", "mullions_mm"],
        ["L1-N", "L1", 3000, "B-120", "600 1800"],
        ["L2-N", "L2", 3000, "B-120", None],
    ],
    "gaps": [
        ["run", "at_mm", "gap_mm", "basis", "tolerance_mm"],
        ["L1-N", 0, 150, "measured", None],
        ["L1-N", 3000, 152, "measured", None],
        ["L2-N", 0, 140, "nominal", 10],
    ],
    "stock": [["code", "length_mm", "width_mm", "quantity", "level"], ["B-120", 1200, 380, 2, "L1"]],
    "allowance": [["kind", "fraction"], ["board", 0.03]],
}


def tables(**changed: Table) -> dict[str, Table]:
    """The sound tables, some of them replaced."""
    return deepcopy(SOUND) | changed


def with_cell(sheet: str, cell: str, value: Any) -> dict[str, Table]:
    """The sound tables with one cell changed; `cell` as a spreadsheet names it."""
    changed = deepcopy(SOUND)
    changed[sheet][int(cell[1:]) - 1][ord(cell[0]) - ord("A")] = value
    return changed


def workbook(path: Path, content: dict[str, Table]) -> Path:
    """The tables as a workbook."""
    with xlsxwriter.Workbook(str(path), {"strings_to_numbers": False}) as book:
        day = book.add_format({"num_format": "yyyy-mm-dd"})
        for name, rows in content.items():
            sheet = book.add_worksheet(name)
            for number, row in enumerate(rows):
                for index, value in enumerate(row):
                    if hasattr(value, "year"):
                        sheet.write_datetime(number, index, value, day)
                    elif value is not None:
                        sheet.write(number, index, value)
    return path


def csv_folder(
    folder: Path, content: dict[str, Table], encoding: str = "utf-8", delimiter: str = ","
) -> Path:
    """The tables as a folder of csv files."""
    folder.mkdir(exist_ok=True)
    for name, rows in content.items():
        with (folder / f"{name}.csv").open("w", newline="", encoding=encoding) as file:
            csv.writer(file, delimiter=delimiter).writerows(rows)
    return folder


def json_value(content: dict[str, Table]) -> dict[str, Any]:
    """The tables as the value of a JSON document."""
    value: dict[str, Any] = {
        name: [
            {key: cell for key, cell in zip(rows[0], row, strict=True) if cell is not None}
            for row in rows[1:]
        ]
        for name, rows in content.items()
    }
    for run in value.get("runs", []):
        if isinstance(run.get("mullions_mm"), str):
            run["mullions_mm"] = [int(part) for part in run["mullions_mm"].split()]
    return value


def json_file(path: Path, content: dict[str, Table]) -> Path:
    """The tables as a JSON file."""
    path.write_text(json.dumps(json_value(content)), encoding="utf-8")
    return path
