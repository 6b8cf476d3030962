"""A folder of csv files, one a table, into grids."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import Any

from optimiser.errors.problems import Problem, ProblemList, UnusableInput
from optimiser.reading.documents import Document
from optimiser.reading.file_bytes import read_bytes
from optimiser.reading.named_sheets import document_of_grids, named_sheets
from optimiser.reading.sheet_scan import MOST_COLUMNS, MOST_ROWS

LARGEST_BYTES = 64 * 1024 * 1024
DELIMITERS = (",", ";", "\t")


def document_of_folder(path: Path, problems: ProblemList) -> Document:
    """The tables of a folder. Raises UnusableInput when it holds no csv at all."""
    return document_of_grids(grids_of_folder(path, problems), problems)[0]


def grids_of_folder(path: Path, problems: ProblemList) -> dict[str, tuple[str, list[list[Any]]]]:
    """The cells of a folder's tables, {table: (file's name, cells)}. Raises UnusableInput when it holds no csv."""
    try:
        files = {file.stem: file for file in sorted(path.iterdir()) if file.suffix.lower() == ".csv"}
    except OSError as error:
        raise UnusableInput(
            [Problem(str(path), message=f"cannot be read: {error.strerror}", mend="check the folder")]
        ) from None
    if not files:
        raise UnusableInput(
            [Problem(str(path), message="there is no .csv in this folder",
                     mend="give a folder with products.csv, levels.csv, runs.csv and gaps.csv")]
        )  # fmt: skip
    grids: dict[str, tuple[str, list[list[Any]]]] = {}
    for table, stem in named_sheets(tuple(files), problems, "csv file").items():
        grid = _grid(files[stem], stem, problems)
        if grid is not None:
            grids[table] = (stem, grid)
    return grids


def _grid(file: Path, sheet: str, problems: ProblemList) -> list[list[Any]] | None:
    """The cells of a csv file, or None when it cannot be read at all (then a problem says so)."""
    try:
        data = read_bytes(file, LARGEST_BYTES, may_be_empty=True)
    except UnusableInput as unusable:
        for problem in unusable.problems:
            problems.add(Problem(sheet, message=problem.message, mend=problem.mend))
        return None
    return grid_of_csv(data, sheet, problems)


def grid_of_csv(data: bytes, sheet: str, problems: ProblemList) -> list[list[Any]] | None:
    """The cells of a csv file's bytes, or None when they cannot be read at all (then a problem says so)."""
    written = _decoded(data)
    if written is None or "\0" in written:
        problems.add(Problem(sheet, message="is not text", mend="save it as csv in UTF-8"))
        return None
    sample = next((line for line in written.splitlines() if line.strip(" ,;\t")), "")
    delimiter = max(DELIMITERS, key=sample.count)
    try:
        grid: list[list[Any]] = []
        for row in csv.reader(io.StringIO(written, newline=""), delimiter=delimiter):
            if any(cell.strip() for cell in row[MOST_COLUMNS:]):
                problems.add(
                    Problem(
                        sheet, len(grid) + 1, None, None, f"the row has {len(row)} columns, and"
                        f" {MOST_COLUMNS} are the most", "keep only the table's own columns",
                    )
                )  # fmt: skip
                return None
            grid.append(row[:MOST_COLUMNS])
            if len(grid) > MOST_ROWS:
                problems.add(Problem(sheet, message=f"has more than {MOST_ROWS} rows", mend="divide it"))
                return None
    except csv.Error as error:
        problems.add(
            Problem(sheet, len(grid) + 1, message=f"is no csv: {error}", mend="save it as csv in UTF-8")
        )
        return None
    return grid


def _decoded(data: bytes) -> str | None:
    """UTF-8 with or without its mark, UTF-16 with its mark, else Windows-1252; None for anything else."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        encodings: tuple[str, ...] = ("utf-16",)
    else:
        encodings = ("utf-8-sig", "cp1252")
    for encoding in encodings:
        try:
            return data.decode(encoding)
        except UnicodeDecodeError:
            continue
    return None
