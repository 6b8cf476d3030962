"""A building's surveys, version by version: what each changed, its workbook, and its tables to edit in place."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Annotated, Any

from anyio import to_thread
from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from api.accounts.service import Caller
from api.admission import rendering, uploading
from api.context import AppContext, Context
from api.http.media_types import XLSX
from api.http.problem_details import Problem
from api.http.responses import File, file_response
from api.pages.answers import PageRoute, go_to, page
from api.pages.sign_in import SAME_SITE_ONLY, Planner, Reader
from api.plans.making import PlanOptions
from api.plans.service import plan_newer_survey
from api.projects.editing import (
    BY_LEVEL,
    DOWN,
    TABLES,
    CellFault,
    Faulty,
    Part,
    PartCells,
    edited_survey,
    part_cells,
)
from api.projects.service import (
    get_project,
    keep_version,
    kept_version,
    version_changes,
    version_document,
    version_workbook,
)
from api.projects.uploads import limited

router = APIRouter(prefix="/buildings/{building_id}", route_class=PageRoute, include_in_schema=False)

MOST_CELLS = 60_000
BLANK_ROWS = 3  # to write into below a table; a script adds more
SHOWN = 300  # changes of a survey that a page lists
NAMES = {
    "gaps": "Gaps",
    "levels": "Levels and their dates",
    "runs": "Runs",
    "products": "Products and prices",
    "price_breaks": "Price breaks",
    "allowance": "Allowance",
    "stock": "Stock on site",
    "deliveries": "Delivery limits",
    "detail": "Rules of the detail",
    "project": "Project",
    "parties": "Parties",
    "survey_limits": "Limits of questions",
    "crew_rates": "Crew rates",
}
"""What each table is called on the page."""


@dataclass(frozen=True)
class EditedCell:
    """A cell of the page: its text, what is kept there, and the numbers of its faults."""

    text: str
    kept: str
    faults: tuple[int, ...] = ()


@dataclass(frozen=True)
class EditedRow:
    """A row of the page with what is said of it below it."""

    cells: tuple[EditedCell, ...]
    faults: tuple[tuple[int, CellFault], ...]


@router.get("/surveys/{version}")
def survey_page(
    building_id: str, version: int, request: Request, context: Context, caller: Reader
) -> Response:
    """One version of a survey: what it changed of the one before, and its workbook."""
    row = get_project(context, caller, building_id)
    changes: tuple[Any, ...] = ()
    if version > 1:
        changes = version_changes(context, caller, building_id, version, version - 1)
    return page(
        request,
        "survey.html",
        caller=caller,
        building=row,
        version=version,
        kept=kept_version(context, caller, building_id, version),
        changes=changes[:SHOWN],
        more=max(0, len(changes) - SHOWN),
        names=NAMES,
    )


@router.get("/surveys/{version}/survey.xlsx")
@rendering
def survey_workbook(building_id: str, version: int, context: Context, caller: Reader) -> Response:
    """A version of a survey as a workbook that can be uploaded again."""
    row = get_project(context, caller, building_id)
    content = version_workbook(context, caller, building_id, version)
    stem = re.sub(r"[^A-Za-z0-9]+", "-", row.name).strip("-").lower()[:40] or "survey"
    return file_response(File(content, XLSX, f"{stem}-survey-{version}.xlsx"))


@router.get("/edit/{table}")
def edit_page(
    building_id: str,
    table: str,
    request: Request,
    context: Context,
    caller: Planner,
    level: Annotated[str, Query(max_length=60)] = "",
) -> Response:
    """A table of the newest survey, or its rows of one level, as cells to type and paste into."""
    row = get_project(context, caller, building_id)
    text = version_document(context, caller, building_id, row.version).decode()
    part, cells = _part(context, text, table, level)
    blank = () if table in DOWN else (("",) * len(cells.heads),) * BLANK_ROWS
    return _edit_page(request, caller, row, part, cells, (*cells.rows, *blank))


@router.post("/edit/{table}", dependencies=SAME_SITE_ONLY)
@uploading
async def save(building_id: str, table: str, request: Request, context: Context, caller: Planner) -> Response:
    """Keeps the cells as the survey's next version; what is wrong is said at its cell, and nothing is kept then."""
    async with request.form(max_files=0, max_fields=MOST_CELLS) as form:
        sent = [str(value) for name, value in form.multi_items() if name == "cell"]
        fields = {name: str(value) for name, value in form.multi_items() if name != "cell"}
    return await to_thread.run_sync(_save, request, context, caller, building_id, table, sent, fields)


def _save(
    request: Request,
    context: AppContext,
    caller: Caller,
    building_id: str,
    table: str,
    sent: list[str],
    fields: dict[str, str],
) -> Response:
    row = get_project(context, caller, building_id)
    text = version_document(context, caller, building_id, row.version).decode()
    part, cells = _part(context, text, table, fields.get("level", ""))
    rows = _rows_of(sent, cells, part)
    if fields.get("version") != str(row.version):
        told = f"Survey {row.version} was kept meanwhile. Your cells are below, unsaved: compare, then save again."
        return _edit_page(request, caller, row, part, cells, rows, 412, told=told)
    try:
        edited = limited(context, edited_survey, text, part, rows)
    except Faulty as found:
        return _edit_page(request, caller, row, part, cells, rows, 422, found.faults, found.more)
    if not edited.changed:
        return _edit_page(request, caller, row, part, cells, rows, told="Nothing differs from what is kept.")
    if "plan" in fields:
        plan_id = plan_newer_survey(
            context, caller, building_id, row.version, edited.project, PlanOptions(), edited.changed
        )
        return go_to(f"/schedules/{plan_id}")
    newest = keep_version(context, caller, building_id, row.version, edited.project, edited.changed)
    return go_to(f"/buildings/{building_id}/surveys/{newest}")


def _part(context: AppContext, text: str, table: str, level: str) -> tuple[Part, PartCells]:
    """The part that an address names and its cells. Raises Problem 404."""
    if table not in TABLES:
        raise Problem(404, "not-found", "A survey has no such table.")
    part = Part(table, level if table in BY_LEVEL else "")
    cells = limited(context, part_cells, text, part)
    if part.level and part.level not in cells.levels:
        raise Problem(404, "not-found", f"The building has no level {part.level}.")
    if table in BY_LEVEL and not part.level and len(cells.rows) * len(cells.heads) > 2_000:
        return _part(context, text, table, cells.levels[0])
    return part, cells


def _rows_of(sent: list[str], cells: PartCells, part: Part) -> tuple[tuple[str, ...], ...]:
    """The cells that a form sent as rows; of a table of one value a row the first column is not sent."""
    if part.table in DOWN:
        width = len(cells.heads) - 1
        if len(sent) != width * len(cells.rows):
            raise Problem(422, "unusable-input", "The form lacks cells: show the page again.")
        return tuple(
            (row[0], *sent[number * width : (number + 1) * width]) for number, row in enumerate(cells.rows)
        )
    width = len(cells.heads)
    if len(sent) % width:
        raise Problem(422, "unusable-input", "The form lacks cells: show the page again.")
    return tuple(tuple(sent[at : at + width]) for at in range(0, len(sent), width))


def _edit_page(
    request: Request,
    caller: Caller,
    building: Any,
    part: Part,
    cells: PartCells,
    rows: tuple[tuple[str, ...], ...],
    status: int = 200,
    faults: tuple[CellFault, ...] = (),
    more: int = 0,
    told: str = "",
) -> Response:
    return page(
        request,
        "edit.html",
        status,
        caller=caller,
        building=building,
        part=part,
        cells=cells,
        rows=edited_rows(rows, cells.rows, faults),
        elsewhere=[(number, fault) for number, fault in enumerate(faults, 1) if fault.row is None],
        faults=len(faults) + more,
        more=more,
        told=told,
        names=NAMES,
        down=part.table in DOWN,
        by_level=part.table in BY_LEVEL,
    )


def edited_rows(
    rows: tuple[tuple[str, ...], ...], kept: tuple[tuple[str, ...], ...], faults: tuple[CellFault, ...]
) -> tuple[EditedRow, ...]:
    """The rows of the page; `kept` are those of the survey, `faults` are numbered from 1."""
    of_row: dict[int, list[tuple[int, CellFault]]] = {}
    for number, fault in enumerate(faults, 1):
        if fault.row is not None:
            of_row.setdefault(fault.row, []).append((number, fault))
    found = []
    for at, row in enumerate(rows):
        said = of_row.get(at, [])
        was = kept[at] if at < len(kept) else ("",) * len(row)
        marks = [
            tuple(number for number, fault in said if fault.column == column) for column in range(len(row))
        ]
        found.append(
            EditedRow(
                tuple(EditedCell(text, old, mark) for text, old, mark in zip(row, was, marks, strict=True)),
                tuple(said),
            )
        )
    return tuple(found)
