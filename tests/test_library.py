"""The library as an analyst uses it: one import, one error with every fault, results to judge and write."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import optimiser
from optimiser import (
    CannotBeDone,
    Plan,
    Project,
    Status,
    UnusableInput,
    check,
    compare,
    plan,
    read,
    read_plan,
    refit,
    simulate,
    stagings,
    write,
)
from optimiser.cutting.solve import solve
from optimiser.reading import cutting_problem_from_json
from optimiser.writing.file_names import FILES

ROOT = Path(__file__).parent.parent
SMALL = ROOT / "sample_orders" / "small" / "small.json"


@pytest.fixture(scope="module")
def project() -> Project:
    return read(SMALL)


@pytest.fixture(scope="module")
def made(project: Project) -> Plan:
    return plan(project, staging="carry")


# -- one place to import from


def test_every_public_name_is_there_and_listed() -> None:
    for name in optimiser.__all__:
        assert getattr(optimiser, name) is not None
        assert name in dir(optimiser)
    assert sorted(optimiser.__all__) == sorted(set(optimiser.__all__))
    assert set(optimiser.__all__) == set(optimiser._WHERE)


def test_the_type_checker_sees_what_is_fetched() -> None:
    """The imports for the type checker name the same modules as those that are made when a name is first used."""
    tree = ast.parse((ROOT / "optimiser" / "__init__.py").read_text(encoding="utf-8"))
    seen = {
        alias.name: node.module
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("optimiser.")
        for alias in node.names
    }
    assert seen == {name: f"optimiser.{where}" for name, where in optimiser._WHERE.items()}


def test_any_other_name_is_missing() -> None:
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        _ = optimiser.nothing  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    "statement",
    ["import optimiser", "import optimiser.commands.main", "from optimiser import read, check, write"],
)
def test_importing_brings_nothing_heavy(statement: str) -> None:
    code = f"import sys; {statement}; print(*sys.modules)"
    modules = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    ).stdout.split()
    assert not {"pandas", "numpy", "ortools", "highspy", "reportlab", "xlsxwriter", "rich"} & set(modules)


# -- reading and judging


@pytest.mark.parametrize("kind", [str, Path])
def test_a_project_is_read_from_a_path_of_either_kind(kind: type, project: Project) -> None:
    assert read(kind(SMALL)) == project


def test_one_error_holds_every_fault() -> None:
    with pytest.raises(UnusableInput) as caught:
        read(ROOT / "sample_orders" / "faulty" / "faulty.xlsx")
    expected = (ROOT / "sample_orders" / "faulty" / "expected_messages.txt").read_text(encoding="utf-8")
    assert len(caught.value.problems) == len(expected.splitlines())
    assert all(problem.mend for problem in caught.value.problems)


def test_a_plan_of_its_project_breaks_no_rule(made: Plan, project: Project) -> None:
    assert check(made, project) == check(made) == ()
    assert made.status in (Status.OPTIMAL, Status.WITHIN_BOUND, Status.PARTLY_PLANNED)


def test_a_spoilt_plan_breaks_rules(made: Plan, project: Project) -> None:
    narrow = made.pieces[0].model_copy(update={"cut_width_start_mm": 1, "cut_width_end_mm": 1})
    broken = check(made.model_copy(update={"pieces": (narrow, *made.pieces[1:])}), project)
    assert any(narrow.id in rule for rule in broken)


def test_a_refit_and_a_cutting_result_are_judged_too(made: Plan, project: Project) -> None:
    assert check(refit(made, project), project, plan=made) == ()
    pieces = [{"id": "A", "length_mm": 600, "width_min_mm": 165, "width_max_mm": 172, "quantity": 14}]
    problem = cutting_problem_from_json({"board": {"length_mm": 1200, "width_mm": 1000}, "pieces": pieces})
    result = solve(problem)
    assert (check(result, problem), result.status, result.boards) == ((), Status.OPTIMAL, 2)


def test_what_does_not_belong_together_is_refused(made: Plan, project: Project) -> None:
    with pytest.raises(TypeError, match="against its project"):
        check(made, made)  # type: ignore[call-overload]
    with pytest.raises(TypeError, match="plan="):
        check(refit(made, project), project)  # type: ignore[call-overload]


def test_options_that_make_no_sense_are_refused(project: Project) -> None:
    with pytest.raises(CannotBeDone, match="no gap to compare"):
        compare(project, gaps=range(150, 150))


# -- writing


def test_a_plan_is_written_whole_and_read_back(made: Plan, tmp_path: Path) -> None:
    written = write(made, str(tmp_path / "out"))
    assert {path.name for path in written} == set(FILES)
    assert all(path.stat().st_size for path in written)
    assert read_plan(tmp_path / "out" / "plan.json") == made


def test_studies_and_refits_write_their_files(made: Plan, project: Project, tmp_path: Path) -> None:
    for found, names in (
        (compare(project, gaps=[150]), {"gaps.csv", "gaps.svg"}),
        (
            stagings(project, modes=["level"]),
            {"stagings.csv", "frontier.csv", "frontier.svg", "levels-level.svg"},
        ),
        (simulate(project, draws=5), {"allowance.json", "allowance.svg"}),
        (refit(made, project), {"refit.json"}),
    ):
        assert {path.name for path in write(found, tmp_path / "out")} == names  # type: ignore[arg-type]
    assert {path.name for path in (tmp_path / "out").iterdir()} == {
        "gaps.csv", "gaps.svg", "stagings.csv", "frontier.csv", "frontier.svg", "levels-level.svg",
        "allowance.json", "allowance.svg", "refit.json",
    }  # fmt: skip


def test_nothing_is_left_where_writing_fails(made: Plan, tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file, not a folder")
    with pytest.raises(NotADirectoryError):
        write(made, tmp_path / "out")
    assert [path.name for path in tmp_path.iterdir()] == ["out"]
