"""What a newer survey changes: cells and rows by name, whatever their order."""

from __future__ import annotations

from typing import Any

from optimiser.model.project import Project
from optimiser.reading import project_from_json
from optimiser.writing.office.survey_changes import SurveyChange, counts_by_table, survey_changes
from tests.builders.project_tables import json_value, tables, with_cell


def project(content: dict[str, Any]) -> Project:
    return project_from_json(json_value(content))


SOUND = project(tables())


def test_a_corrected_gap_is_named_by_its_run_and_position() -> None:
    corrected = project(with_cell("gaps", "C3", 158))
    assert survey_changes(SOUND, corrected) == (
        SurveyChange("gaps", "L1-N 3000", "gap_mm", "changed", "152", "158"),
    )
    assert counts_by_table(survey_changes(SOUND, corrected)) == {"gaps": "1 changed"}


def test_rows_that_come_and_go_are_told_whole() -> None:
    more = tables()
    more["gaps"] = [*more["gaps"][:2], *more["gaps"][3:], ["L1-N", 1500, 149, None, None]]
    changes = survey_changes(SOUND, project(more))
    assert [(change.row, change.what, change.before, change.after) for change in changes] == [
        ("L1-N 3000", "removed", "gap_mm 152, basis measured", ""),
        ("L1-N 1500", "added", "", "gap_mm 149"),
    ]
    assert counts_by_table(changes) == {"gaps": "1 added, 1 removed"}


def test_a_rule_that_is_now_stated_and_one_that_is_not_any_more_are_changes() -> None:
    stated = tables(
        detail=[["rule", "value"], ["oversize_min", 0.1], ["oversize_max", 0.15], ["tape_faces", 2]]
    )
    changes = survey_changes(SOUND, project(stated))
    assert {(change.row, change.before, change.after) for change in changes} == {
        ("kerf_mm", "2", ""),
        ("tape_faces", "", "2"),
    }


def test_the_order_of_rows_is_no_change() -> None:
    turned = tables()
    turned["gaps"] = [turned["gaps"][0], *reversed(turned["gaps"][1:])]
    assert survey_changes(SOUND, project(turned)) == ()
    assert counts_by_table(()) == {}
