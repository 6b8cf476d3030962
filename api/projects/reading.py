"""Uploads into projects: each function here runs in a limited process.

Everything that crosses is text, bytes or plain dictionaries, so that a fault of the input keeps its place and
its fix, and the process that serves never reads a file of a stranger's.
"""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from optimiser.errors.problems import UnusableInput
    from optimiser.model.project import Project


class Unusable(Exception):  # noqa: N818
    """The input cannot be used: `faults` lists every fault with its place, message and fix."""

    def __init__(self, faults: list[dict[str, Any]], more: int = 0) -> None:
        super().__init__(faults, more)
        self.faults, self.more = faults, more


class Unreadable(Exception):  # noqa: N818
    """The body is no JSON at all; the message says where it breaks."""


@dataclass(frozen=True)
class Upload:
    """A project as it came in: one JSON text, or files by name (a workbook, or the csv tables)."""

    kind: Literal["json", "files"]
    files: Mapping[str, bytes]


@dataclass(frozen=True)
class ReadProject:
    """A project as JSON text, its name, and about how many pieces it will have."""

    text: str
    name: str
    pieces: int


def read(upload: Upload) -> ReadProject:
    """Reads an upload. Raises Unreadable or Unusable."""
    return summarised(project_of(upload))


def empty_workbook() -> bytes:
    """The empty workbook that a survey is written into."""
    from optimiser.writing.office.template import write_template

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "survey-template.xlsx"
        write_template(path)
        return path.read_bytes()


def kept_project(text: str) -> Project:
    """A kept project from its JSON text."""
    from optimiser.model.project import Project

    return Project.model_validate_json(text)


def project_of(upload: Upload) -> Project:
    """The project of an upload. Raises Unreadable or Unusable."""
    from optimiser.errors.problems import UnusableInput
    from optimiser.reading import project_from_json, read_project

    try:
        if upload.kind == "json":
            (text,) = upload.files.values()
            return project_from_json(parsed(text))
        with tempfile.TemporaryDirectory() as folder:
            return read_project(_put_into(Path(folder), upload))
    except UnusableInput as error:
        raise unusable(error) from None


def marked_workbook_of(upload: Upload) -> bytes | None:
    """The upload as a workbook with its faulty cells coloured and commented; None where it has no cell to mark."""
    from optimiser.errors.problems import UnusableInput
    from optimiser.reading import read_project
    from optimiser.writing.office.marked_workbook import marked_workbook

    if upload.kind == "json":
        return None
    with tempfile.TemporaryDirectory() as folder:
        path = _put_into(Path(folder), upload)
        if path.is_file() and path.suffix.lower() != ".xlsx":
            return None
        try:
            read_project(path)
        except UnusableInput as found:
            try:
                return marked_workbook(path, found.kept)
            except Exception:  # a file that another library cannot open: its faults are told all the same
                return None
    return None


def _put_into(folder: Path, upload: Upload) -> Path:
    """An upload's files in a folder: the one that there is, or the folder of several."""
    for name, content in upload.files.items():
        (folder / name).write_bytes(content)
    names = list(upload.files)
    return folder / names[0] if len(names) == 1 else folder


def summarised(project: Project) -> ReadProject:
    """A project as it is kept, with what is asked of it before it is planned."""
    lengths = {code: board.length_mm for code, board in project.building.boards.items()}
    pieces = sum(-(-run.length_mm // max(lengths[code] for code in run.board)) for run in project.runs)
    text = project.model_dump_json(by_alias=True, exclude_unset=True)
    return ReadProject(text, project.project.name or "Unnamed project", pieces)


def unusable(error: UnusableInput) -> Unusable:
    """What the optimiser's reading found, as plain values."""
    return Unusable([_fault(problem) for problem in error.problems], error.more)


def parsed(text: bytes) -> Any:
    """The value of JSON text, by the parser that the command line reads files with.

    Raises Unreadable for what is no JSON, Unusable where a key stands twice in one object.
    """
    from optimiser.errors.problems import UnusableInput
    from optimiser.reading.json_text import NotJson, parse_json

    try:
        return parse_json(text, "body")
    except NotJson as error:
        raise Unreadable(error.problems[0].message.removeprefix("is not JSON: ")) from None
    except UnusableInput as error:
        raise unusable(error) from None


def _fault(problem: Any) -> dict[str, Any]:
    """A problem of the reading as plain values; its place names sheet, row and column together."""
    parts = [problem.place] if problem.place else []
    parts += [f"row {problem.row}"] if problem.row is not None else []
    parts += [str(problem.column)] if problem.column is not None else []
    value = problem.value if isinstance(problem.value, (str, int, float, bool)) else str(problem.value)
    return {
        "place": ", ".join(parts) or "input",
        "table": problem.place,
        "row": problem.row,
        "column": problem.column,
        "cell": problem.cell,
        "value": None if problem.value is None else value,
        "message": problem.message,
        "mend": problem.mend,
    }
