"""A part of a survey as cells, and a form's cells back into the next version: pure, without a service."""

from __future__ import annotations

import pytest

from api.pages.surveys import edited_rows
from api.projects.editing import CellFault, Faulty, Part, edited_survey, part_cells
from api.projects.reading import kept_project
from optimiser.reading import project_from_json
from tests.builders.project_tables import json_value, tables

PROJECT = project_from_json(json_value(tables()))
TEXT = PROJECT.model_dump_json(by_alias=True, exclude_unset=True)


def test_gaps_are_shown_a_level_at_a_time_and_put_back_in_their_place() -> None:
    part = Part("gaps", "L2")
    cells = part_cells(TEXT, part)
    assert [row[:3] for row in cells.rows] == [("L2-N", "0", "140")]
    edited = edited_survey(TEXT, part, [("L2-N", "0", "141", "nominal", "10", "", "", ""), ("",) * 8])
    assert edited.changed == {"gaps": "1 changed"}
    gaps = kept_project(edited.project.text).gaps
    assert [gap.gap_mm for gap in gaps] == [150, 152, 141]


def test_a_row_that_is_added_and_one_that_is_blanked_come_and_go() -> None:
    rows = [*part_cells(TEXT, Part("gaps", "L1")).rows, ("L1-N", "1500", "151", "", "", "", "", "")]
    assert edited_survey(TEXT, Part("gaps", "L1"), rows).changed == {"gaps": "1 added"}
    blanked = [rows[0], ("",) * 8]
    assert edited_survey(TEXT, Part("gaps", "L1"), blanked).changed == {"gaps": "1 removed"}


def test_cells_that_come_back_as_they_were_change_nothing() -> None:
    for table in ("gaps", "detail", "deliveries", "products", "project"):
        part = Part(table)
        assert edited_survey(TEXT, part, part_cells(TEXT, part).rows).changed == {}


def test_every_fault_stands_at_its_cell_or_says_where_else() -> None:
    rows = [list(row) for row in part_cells(TEXT, Part("gaps", "L2")).rows]
    rows[0][2] = "14 cm"
    with pytest.raises(Faulty) as found:
        edited_survey(TEXT, Part("gaps", "L2"), rows)
    (fault,) = found.value.faults
    assert (fault.row, fault.column, fault.mend) == (0, 2, "write 140")
    levels = [list(row) for row in part_cells(TEXT, Part("levels")).rows]
    levels[1][0] = "Upper"  # its run and its stock still name it L2
    with pytest.raises(Faulty) as found:
        edited_survey(TEXT, Part("levels"), levels)
    assert [(fault.row, fault.place.split(",")[0]) for fault in found.value.faults] == [(None, "runs")]


def test_a_row_without_a_needed_cell_is_marked_at_that_cell() -> None:
    rows = [("L2-N", "0", "", "", "", "", "", "")]
    with pytest.raises(Faulty) as found:
        edited_survey(TEXT, Part("gaps", "L2"), rows)
    assert [(fault.row, fault.column, fault.message) for fault in found.value.faults] == [
        (0, 2, "is missing")
    ]


def test_a_page_marks_each_cell_with_its_faults_and_keeps_what_stood_there() -> None:
    fault = CellFault(0, 1, "gaps, row 2", "x", "must be a whole number", "write it")
    (row, added) = edited_rows((("a", "x"), ("new", "1")), (("a", "1"),), (fault,))
    assert [(cell.text, cell.kept, cell.faults) for cell in row.cells] == [("a", "a", ()), ("x", "1", (1,))]
    assert [cell.kept for cell in added.cells] == ["", ""]
    assert row.faults == ((1, fault),)
