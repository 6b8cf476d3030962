"""A project from whatever file it comes in."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from optimiser.errors.problems import Problem, ProblemList, UnusableInput
from optimiser.model.project import Project
from optimiser.reading.assembling import assemble
from optimiser.reading.csv_folder import document_of_folder
from optimiser.reading.file_bytes import read_bytes
from optimiser.reading.grids import Grid
from optimiser.reading.json_document import document_of_json
from optimiser.reading.json_text import LARGEST_BYTES, parse_json
from optimiser.reading.named_sheets import document_of_grids, named_sheets
from optimiser.reading.workbook import document_of_workbook


def read_project(path: Path) -> Project:
    """The project in a workbook (.xlsx), a folder of .csv, or a .json file.

    Raises UnusableInput with every problem found.
    """
    path = Path(path)
    problems = ProblemList()
    try:
        is_folder = path.is_dir()
    except (OSError, ValueError):
        is_folder = False
    if is_folder:
        return assemble(document_of_folder(path, problems), problems)
    if path.suffix.lower() == ".csv":
        raise UnusableInput(
            [Problem(path.name, message="is one table of a project", mend="give the folder that it lies in")]
        )
    data = read_bytes(path, LARGEST_BYTES)
    if path.suffix.lower() == ".json" or data.lstrip(b"\xef\xbb\xbf \t\r\n")[:1] in (b"{", b"["):
        return project_from_json(parse_json(data, path.name))
    return project_from_workbook(data, path.name)


def project_from_workbook(data: bytes, name: str = "the workbook") -> Project:
    """The project in a workbook's bytes; `name` is the file's, for messages.

    Raises UnusableInput with every problem found.
    """
    problems = ProblemList()
    return assemble(document_of_workbook(data, name, problems), problems)


def project_from_json(value: object) -> Project:
    """The project in a parsed JSON value, such as `Project.model_dump(mode="json", by_alias=True)`.

    Raises UnusableInput with every problem found; places are JSON paths.
    """
    problems = ProblemList()
    return assemble(document_of_json(value, problems), problems)


def project_from_sheets(sheets: Mapping[str, Grid]) -> Project:
    """The project in sheets of cells by their tables' names, each with its headings in the first row.

    A cell is what a workbook's or a csv file's would be: text, an exact number, a date or None. Raises UnusableInput
    with every problem found; rows are counted from 1, the row of headings first.
    """
    problems = ProblemList()
    named = named_sheets(tuple(sheets), problems, "table")
    grids = {table: (name, sheets[name]) for table, name in named.items()}
    return assemble(document_of_grids(grids, problems)[0], problems)
