# ruff: noqa: E501 (a table of cases is read line by line)
"""Every fault is told with its sheet, row, column, value and fix, and all of them at once."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from optimiser.reading import Problem, UnusableInput, project_from_json, read_project
from tests.builders.project_tables import SOUND, csv_folder, json_value, tables, with_cell, workbook


def lines_of(path: Path) -> tuple[str, ...]:
    with pytest.raises(UnusableInput) as refused:
        read_project(path)
    return refused.value.lines()


def test_a_problem_is_one_line_with_place_value_and_mend() -> None:
    problem = Problem(
        "gaps", 14, "gap_mm", "15 cm", "a length must be a whole number of millimetres", "write 150", "C14"
    )
    assert (
        str(problem)
        == "gaps, row 14, gap_mm = '15 cm': a length must be a whole number of millimetres; write 150"
    )
    assert (
        len(str(Problem("gaps", 1, "run", "x" * 10_000, "there\nis\nno such run", "add it")).splitlines())
        == 1
    )


@pytest.mark.parametrize(
    ("sheet", "cell", "value", "told"),
    [
        ("gaps", "C3", "15 cm", "gaps, row 3, gap_mm = '15 cm': a length must be a whole number of millimetres; write 150"),
        ("gaps", "C3", 0.15, "if it is in metres, write 150"),
        ("gaps", "C3", '6"', "write 153"),
        ("gaps", "C3", "wide", "not text"),
        ("gaps", "C3", -3, "gaps, row 3, gap_mm = -3: a length cannot be negative"),
        ("gaps", "C3", 150_000, "gaps, row 3, gap_mm = 150000: is absurdly large"),
        ("gaps", "C3", None, "gaps, row 3, gap_mm: is missing; write the gap in mm"),
        ("gaps", "A3", "L1-n", "gaps, row 3, run = 'L1-n': there is no such run; write L1-N, or add it to runs"),
        ("gaps", "B3", 3001, "gaps, row 3, at_mm = 3001: lies beyond the end of run L1-N at 3000"),
        ("runs", "C2", 60, "runs, row 2, length_mm = 60: it ends at 60 mm, and was measured up to 3000 mm; if it is in metres, write 60000; else measure positions from the run's start"),
        ("runs", "C2", "150.5", "runs, row 2, length_mm = 150.5: it ends at 151 mm, and was measured up to 3000 mm; if it is in metres, write 150500"),
        ("gaps", "B3", 0, "gaps, row 3, at_mm = 0: run L1-N has a gap here already, in row 2"),
        ("gaps", "A4", "L1-N", "runs, row 3, run = 'L2-N': has no gap; measure it"),
        ("gaps", "D2", "guessed", "gaps, row 2, basis = 'guessed': must be one of measured, nominal"),
        ("runs", "B2", "L9", "runs, row 2, level = 'L9': there is no such level"),
        ("runs", "D2", "B-12O", "runs, row 2, board = 'B-12O': 'B-12O' is no product; write B-120, or add it"),
        ("runs", "D2", "K-110", "'K-110' is a bracket, not a board; write a board's code"),
        ("runs", "D2", "B-120;X-9", "runs, row 2, board = 'B-120;X-9': 'X-9' is no product"),
        ("runs", "E2", "600 3001", "the mullion at 3001 lies beyond the end at 3000"),
        ("runs", "E2", "1250,5 2500,5", "runs, row 2, mullions_mm = '1250,5 2500,5': a comma may part two positions here, or be a decimal point or part thousands; separate positions by spaces"),
        ("runs", "E2", "1,200 2,400", "a comma may part two positions here"),
        ("runs", "E2", "1,200", "a comma may part two positions here"),
        ("runs", "E2", "600 m", "'m': a length must be a whole number of millimetres"),
        ("runs", "A3", "L1-N", "runs, row 3, run = 'L1-N': is already in row 2; keep one of the two"),
        ("runs", "C2", 3.0, "if it is in metres, write 3000"),
        ("levels", "A3", "L1", "levels, row 3, level = 'L1': is already in row 2"),
        ("levels", "C2", "03/04/2026", "write 2026-04-03 (3 April) or 2026-03-04 (4 March)"),
        ("levels", "B2", 1.5, "levels, row 2, sequence = 1.5: must be a whole number; write 2"),
        ("products", "A3", "B-120", "products, row 3, code = 'B-120': is already in row 2"),
        ("products", "B2", "bord", "products, row 2, kind = 'bord': must be one of board, bracket, anchor, tape; write board"),
        ("products", "D2", None, "products, row 2, width_mm: is missing for this board"),
        ("products", "C2", 1, "products, row 2, length_mm = 1: is absurdly small for a board"),
        ("products", "F2", 1.005, "without parts of a cent"),
        ("stock", "A2", "B-99", "stock, row 2, code = 'B-99': 'B-99' is no product"),
        ("stock", "E2", "L7", "stock, row 2, level = 'L7': there is no such level"),
        ("allowance", "B2", 3, "allowance, row 2, fraction = 3: must be a rate such as 0.10, not per cent; write 0.03"),
        ("detail", "B2", 10, "detail, row 2, oversize_min = 10: must be a rate such as 0.10, not per cent; write 0.10"),
        ("detail", "B3", 0.05, "oversize_min (0.1) is above oversize_max (0.05)"),
        ("detail", "A3", "oversize_mx", "'oversize_mx' is no rule that is known here; write oversize_max"),
        ("detail", "A4", "oversize_min", "detail, row 4, oversize_min = 2: is given twice"),
        ("detail", "C4", "cm", "detail, row 4, kerf_mm = 2: its unit is 'cm'; write it in mm"),
        ("project", "B2", "dollars", "project, row 2, currency = 'dollars': must be a currency's three-letter code"),
        ("project", "C2", "UK", "write GB"),
    ],
)  # fmt: skip
def test_one_fault_is_told_once_and_alike_in_workbook_and_csv(
    sheet: str, cell: str, value: Any, told: str, tmp_path: Path
) -> None:
    faulty = with_cell(sheet, cell, value)
    from_workbook = lines_of(workbook(tmp_path / "p.xlsx", faulty))
    assert len([line for line in from_workbook if told in line]) == 1, from_workbook
    from_csv = lines_of(csv_folder(tmp_path / "csv", faulty))
    if not isinstance(value, (int, float)):
        assert from_csv == from_workbook
    assert len(from_csv) == len(from_workbook)


def test_a_fault_carries_the_cells_name_for_the_page() -> None:
    with pytest.raises(UnusableInput) as refused:
        project_from_json([])
    assert refused.value.problems[0].cell is None


def test_all_faults_are_told_at_once_by_table_and_row(tmp_path: Path) -> None:
    faulty = with_cell("gaps", "C3", "15 cm")
    faulty["gaps"][3][0] = "L9-N"
    faulty["levels"][1][2] = "soon"
    faulty["runs"][1][1] = "L9"
    with pytest.raises(UnusableInput) as refused:
        read_project(workbook(tmp_path / "p.xlsx", faulty))
    told = [(problem.place, problem.row, problem.column, problem.cell) for problem in refused.value.problems]
    assert told == [
        ("levels", 2, "needed_on", "C2"),
        ("runs", 2, "level", "B2"),
        ("runs", 3, "run", "A3"),
        ("gaps", 3, "gap_mm", "C3"),
        ("gaps", 4, "run", "A4"),
    ]


def test_hundreds_of_faults_are_counted(tmp_path: Path) -> None:
    gaps = [SOUND["gaps"][0]] + [["L1-N", number, "?", None, None] for number in range(500)]
    lines = lines_of(workbook(tmp_path / "p.xlsx", tables(gaps=gaps)))
    assert len(lines) == 201
    assert lines[-1] == "and 301 more faults; mend these first"  # and L2-N has no gap


def test_an_unknown_run_of_many_rows_is_told_once(tmp_path: Path) -> None:
    gaps = SOUND["gaps"] + [["L9-N", number, 150, None, None] for number in range(30)]
    (line,) = lines_of(workbook(tmp_path / "p.xlsx", tables(gaps=gaps)))
    assert line.startswith(
        "gaps, row 5, run = 'L9-N': there is no such run (and in 29 more rows); write L2-N"
    )


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"gaps": None}, "gaps: the sheet is missing; add it, with the columns run, at_mm, gap_mm, basis, tolerance_mm"),
        ({"gaps": []}, "gaps: the sheet is empty; head its columns run, at_mm"),
        ({"gaps": [["run", "at_mm", "gap_mm"]]}, "gaps: nothing is filled in; write a row for one measured gap"),
        ({"gaps": [["a", "b"], [1, 2]]}, "gaps: no heading is known"),
        ({"gaps": [["run", "at_mm"], ["L1-N", 0]]}, "gaps, row 1: there is no column gap_mm; add it"),
        ({"gaps": [["run", "at_mm", "gpa_mm"], ["L1-N", 0, 1]]}, "gaps, row 1, heading = 'gpa_mm': is not known; write gap_mm"),
        ({"gaps": [["run", "at_mm", "gap_mm", "Tolerance, mm (plus or minus)"], ["L1-N", 0, 150, 5]]},
         "gaps, row 1, heading = 'Tolerance, mm (plus or minus)': is not known; write tolerance_mm, or another word if"),
        ({"gaps": [["run", "at_mm", "gap (cm)"], ["L1-N", 0, 15]]}, "heading = 'gap (cm)': lengths are read in millimetres only"),
        ({"gaps": [["run", "at_mm", "gap_mm", "Gap"], ["L1-N", 0, 15, 15]]}, "heading = 'Gap': stands twice, in columns C and D"),
        ({"gap": SOUND["gaps"], "gaps": None}, "gap: there is no sheet gaps, and this looks like it; name it gaps"),
        ({"detial": SOUND["detail"], "detail": None}, "detial: there is no sheet detail, and this looks like it"),
        ({"project": [["name"], ["One"], ["Two"]]}, "project, row 3: only one row of values is read here"),
        ({"project": [["name", "currency", "name"], ["One", "AUD", "Two"]]}, "project, row 2, name = 'Two': is given twice"),
        ({"crew_rates": [["rule", "value"], ["rip_minutes", -1]]},
         "crew_rates, row 2, rip_minutes = -1: must be a number of minutes such as 1.5, from 0 to 1000; write the minutes"),
        ({"crew_rates": [["rule", "value"], ["rip_minutes", "2 h"]]}, "rip_minutes = '2 h': must be a number of minutes such as 1.5; write"),
        ({"products": [["code", "kind", "length_mm", "width_mm", "carbon_kg"], ["B-120", "board", 1200, 1000, 0]]},
         "products, row 2, carbon_kg = 0: the CO2 equivalent must be above 0; write that of one piece"),
    ],
)  # fmt: skip
def test_faults_of_a_whole_sheet(changed: dict[str, Any], told: str, tmp_path: Path) -> None:
    faulty = {name: rows for name, rows in tables(**changed).items() if rows is not None}
    lines = lines_of(workbook(tmp_path / "p.xlsx", faulty))
    assert [line for line in lines if line.startswith(told) or told in line], lines
    assert not any("unknown" in line or "Traceback" in line for line in lines)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (lambda p: p["gaps"][1].update(gap_mm="15 cm"), "gaps[1].gap_mm = '15 cm': a length must be a whole number"),
        (lambda p: p["gaps"][1].pop("gap_mm"), "gaps[1].gap_mm: is missing"),
        (lambda p: p["gaps"][1].update(gap_mm=float("nan")), "gaps[1].gap_mm"),
        (lambda p: p["gaps"][1].update(gap_mm=[150]), "gaps[1].gap_mm = [150]"),
        (lambda p: p["gaps"].append(7), "gaps[3] = 7: must be an object"),
        (lambda p: p.update(gaps="none"), "gaps = 'none': must be a list of objects"),
        (lambda p: p.pop("gaps"), "gaps: is missing; add a list of objects"),
        (lambda p: p["runs"][0].update(mullions_mm=[600, 9000]), "runs[0].mullions_mm = [600, 9000]: the mullion at 9000"),
        (lambda p: p["runs"][0].update(mullions_mm=[7000, 8000, 9000]), "runs[0].mullions_mm = [7000, 8000, 9000]: the mullion at 7000 and 2 more lie beyond the end at"),
        (lambda p: p["runs"][0].update(bord="B-120") or p["runs"][0].pop("board"), "runs[0].bord = 'B-120': the key is not"),
        (lambda p: p["gaps"][0].update(at_mm=3000), "gaps[1].at_mm = 3000: run L1-N has a gap here already, in gaps[0]"),
        (lambda p: p.update(detail={"oversize_min": 10}), "detail.oversize_min = 10: must be a rate"),
        (lambda p: p.update(detail={"oversize": 0.1}), "detail.oversize"),
        (lambda p: p.update(detail=[{"rule": "trim", "value": "maybe"}]), "detail[0].value = 'maybe'"),
        (lambda p: p.update(allowance={"boards": 3}), "allowance.boards = 3: must be a rate"),
        (lambda p: p.update(project="x"), "project = 'x': must be an object"),
        (lambda p: p.update(project={"name": "a\nb"}), "project.name"),
    ],
)  # fmt: skip
def test_faults_of_json_are_told_with_their_path(change: Any, told: str) -> None:
    value = json_value(SOUND)
    change(value)
    with pytest.raises(UnusableInput) as refused:
        project_from_json(value)
    assert any(line.startswith(told) for line in refused.value.lines()), refused.value.lines()


def test_an_example_row_is_skipped_only_where_it_is_marked(tmp_path: Path) -> None:
    gaps = [*SOUND["gaps"], ["example: L1-N", 1500, 150, None, None], ["Example: x", "?", "?", "?", "?"]]
    assert len(read_project(workbook(tmp_path / "p.xlsx", tables(gaps=gaps))).gaps) == 3


@pytest.mark.parametrize(
    ("written", "said"),
    [
        (95, "project.service_level = 95: must be a rate such as 0.95, not per cent; write 0.95"),
        (0, "project.service_level = 0: must be a rate such as 0.95, above 0; write 0.95"),
        ("high", "project.service_level = 'high': must be a rate such as 0.95"),
    ],
)
def test_a_service_level_that_is_no_share_is_told_with_its_mend(written: object, said: str) -> None:
    value = json_value(SOUND)
    (heading,) = value["project"]
    value["project"] = heading | {"service_level": written}
    with pytest.raises(UnusableInput) as refused:
        project_from_json(value)
    assert any(line.startswith(said) for line in map(str, refused.value.problems)), refused.value.problems


def test_a_service_level_is_read_as_a_share_or_per_cent_and_is_95_in_a_hundred_otherwise() -> None:
    value = json_value(SOUND)
    assert project_from_json(value).project.service_level == Decimal("0.95")
    (heading,) = value["project"]
    for written in ("90 %", 0.9, "0.9"):
        value["project"] = heading | {"service_level": written}
        assert project_from_json(value).project.service_level == Decimal("0.9")


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("-1.00", "project.carry_cost = -1.00: "),
        (
            "2.505",
            "project.carry_cost = 2.505: must be an amount such as 212.00, without parts of a cent; write 2.51",
        ),
        ("dear", "project.carry_cost = 'dear': "),
    ],
)
def test_a_carry_cost_that_is_no_money_is_told_with_its_place(written: object, said: str) -> None:
    value = json_value(SOUND)
    (heading,) = value["project"]
    value["project"] = heading | {"carry_cost": written}
    with pytest.raises(UnusableInput) as refused:
        project_from_json(value)
    assert any(line.startswith(said) for line in map(str, refused.value.problems)), refused.value.problems


def test_a_carry_cost_is_read_as_money_and_is_none_otherwise() -> None:
    value = json_value(SOUND)
    assert project_from_json(value).project.carry_cost is None
    (heading,) = value["project"]
    value["project"] = heading | {"carry_cost": "2.5"}
    assert project_from_json(value).project.carry_cost == Decimal("2.50")
