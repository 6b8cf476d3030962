"""The command line as its user meets it: exit codes, plain words on stderr, clean stdout, nothing half-written."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from pypdf import PdfReader

from optimiser.commands.options import each_level_with_its_option, names_given
from optimiser.model.plan import Plan
from optimiser.writing.data.plan_json import plan_json
from tests.builders.command import COMMAND, run, run_alone
from tests.builders.small_plan import small_plan, small_project

FILES = {
    "plan.json",
    "order.xlsx",
    "order.pdf",
    "order.csv",
    "purchase-order.json",
    "office.xlsx",
    "labels.pdf",
    "cutting-sheets.pdf",
    "order.ubl.xml",
    "deliveries.csv",
    "deliveries.ics",
    "levels.svg",
}


@pytest.fixture
def project(tmp_path: Path) -> Path:
    path = tmp_path / "house.json"
    path.write_text(small_project().model_dump_json(by_alias=True, exclude_unset=True))
    return path


@pytest.fixture
def problem(tmp_path: Path) -> Path:
    path = tmp_path / "problem.json"
    piece = {"id": "a", "length_mm": 1200, "width_min_mm": 165, "width_max_mm": 172, "quantity": 7}
    path.write_text(json.dumps({"board": {"length_mm": 1200, "width_mm": 1000}, "pieces": [piece]}))
    return path


# -- help and mistakes


def test_help_imports_nothing_heavy() -> None:
    heavy = (
        "numpy ortools highspy pydantic reportlab xlsxwriter holidays rich fastapi sqlalchemy python_calamine"
    )
    script = (
        "import sys\nfrom optimiser.commands.main import run\n"
        "code = run(['--help'])\n"
        f"print([name for name in {heavy.split()!r} if name in sys.modules], code, file=sys.stderr)"
    )
    found = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, timeout=60)
    assert found.stderr.strip() == "[] 0"
    assert "plan " in found.stdout


@pytest.mark.parametrize(
    "arguments",
    [
        ["plan"],
        ["plan", "x.xlsx", "--staging", "sideways"],
        ["plan", "x.xlsx", "--time-limit", "0"],
        ["plan", "x.xlsx", "--time-limit", "nan"],
        ["plan", "x.xlsx", "--seed", "-1"],
        ["plan", "x.xlsx", "--paper", "A3"],
        ["check", "-", "--against", "-"],
        ["nonsense"],
        ["cut"],
        ["serve", "--port", "70000"],
    ],
)
def test_wrong_options_leave_with_2(arguments: list[str]) -> None:
    found = run(*arguments)
    assert (found.returncode, found.stdout) == (2, "")
    assert found.stderr


@pytest.mark.parametrize("command", ["plan", "cut", "check"])
def test_a_missing_file_leaves_with_2_and_is_named(command: str, tmp_path: Path) -> None:
    found = run(command, tmp_path / "nowhere.json", cwd=tmp_path)
    assert found.returncode == 2
    assert "nowhere.json" in found.stderr
    assert list(tmp_path.iterdir()) == []


def test_every_fault_of_a_project_is_told_at_once(project: Path) -> None:
    values = json.loads(project.read_text())
    values["gaps"][0]["gap_mm"] = "15 cm"
    values["runs"][1]["level"] = "L99"
    project.write_text(json.dumps(values))
    found = run("plan", project, cwd=project.parent)
    assert found.returncode == 2
    assert "15 cm" in found.stderr
    assert "L99" in found.stderr
    assert not (project.parent / "out").exists()


# -- plan


def test_plan_writes_every_file_and_says_the_proof(project: Path) -> None:
    found = run_alone("plan", project, cwd=project.parent)
    assert (found.returncode, found.stderr) == (0, "")
    out = project.parent / "out"
    assert {path.name for path in out.iterdir()} == FILES
    assert (
        "2 boards of B-120 in 1 pack; no cutting of these pieces can do with fewer packs: proved."
        in found.stdout
    )
    assert "Total  AUD 313.60" in found.stdout
    assert "Placeholders" in found.stdout
    assert "fall protection" in found.stdout
    assert os.path.join("out", "order.xlsx") in found.stdout
    assert [path for path in project.parent.iterdir() if "unfinished" in path.name] == []


def test_a_search_that_met_its_time_limit_is_told_and_the_order_stands(project: Path) -> None:
    found = run("plan", project, "--time-limit", "0.0001", cwd=project.parent)
    assert found.returncode == 0
    assert "met its time limit" in " ".join(found.stdout.split())
    assert (project.parent / "out" / "order.csv").exists()


def test_json_is_alone_on_stdout_and_writes_no_file(project: Path) -> None:
    found = run("plan", project, "--json", cwd=project.parent)
    assert (found.returncode, found.stderr) == (0, "")
    assert Plan.model_validate_json(found.stdout).boards["B-120"].count == 2
    assert not (project.parent / "out").exists()


def test_json_with_a_folder_writes_the_same_plan_there(project: Path) -> None:
    out = project.parent / "deep" / "order"
    found = run("plan", project, "--json", "--out", out)
    assert found.stdout == (out / "plan.json").read_text()
    assert {path.name for path in out.iterdir()} == FILES


def test_a_second_plan_replaces_the_files_and_leaves_others_alone(project: Path) -> None:
    out = project.parent / "out"
    run("plan", project, "--out", out)
    (out / "notes.txt").write_text("mine")
    (out / "order.csv").write_text("old")
    assert run("plan", project, "--out", out, "--staging", "level").returncode == 0
    assert (out / "notes.txt").read_text() == "mine"
    assert "B-120" in (out / "order.csv").read_text()
    assert json.loads((out / "plan.json").read_text())["boards"]["B-120"]["count"] == 2
    assert {path.name for path in out.iterdir()} == FILES | {"notes.txt"}


def test_a_file_in_the_way_is_named_and_kept(project: Path) -> None:
    (project.parent / "taken").write_text("mine")
    found = run("plan", project, "--out", project.parent / "taken")
    assert found.returncode == 1
    assert "taken" in found.stderr
    assert "--out" in found.stderr
    assert (project.parent / "taken").read_text() == "mine"


def test_sheets_of_chosen_levels_on_letter_paper(project: Path) -> None:
    command = ("plan", project, "--out", project.parent / "out", "--paper", "letter", "--levels", "L02")
    assert run(*command).returncode == 0
    sheets = PdfReader(project.parent / "out" / "cutting-sheets.pdf")
    assert {tuple(page.mediabox[2:]) for page in sheets.pages} == {(612, 792)}
    titles = " ".join(page.extract_text() for page in sheets.pages)
    assert "L02 · fitting" in titles
    assert "L01 · fitting" not in titles


def test_a_level_that_is_not_there_is_told_before_planning(project: Path) -> None:
    found = run("plan", project, "--levels", "L01,L09", cwd=project.parent)
    assert found.returncode == 2
    assert "no level L09; it has L01, L02" in " ".join(found.stderr.replace("│", " ").split())
    assert not (project.parent / "out").exists()


def test_an_order_of_nothing_is_told_and_loses_no_other_file(project: Path) -> None:
    out = project.parent / "out"
    assert run("plan", project, "--out", out).returncode == 0
    values = json.loads(project.read_text())
    values["stock"] = [{"code": "B-120", "length_mm": 1200, "width_mm": 1000, "quantity": 9, "level": "L01"}]
    values["products"] = [row for row in values["products"] if row["kind"] == "board"]
    values["allowance"] = []
    project.write_text(json.dumps(values))
    found = run("plan", project, "--out", out)
    assert (found.returncode, found.stderr) == (0, "")
    assert "no order.ubl.xml: nothing is ordered" in found.stdout
    assert {path.name for path in out.iterdir()} == FILES - {"order.ubl.xml"}


def test_a_day_to_order_that_has_passed_is_told(project: Path) -> None:
    values = json.loads(project.read_text())
    values["levels"][0]["needed_on"] = "2020-03-02"
    project.write_text(json.dumps(values))
    found = run("plan", project, cwd=project.parent)
    assert found.returncode == 0
    assert "TOO LATE" in found.stdout
    assert "the day to order has passed" in found.stdout


def test_a_project_is_read_from_stdin(project: Path) -> None:
    found = run("plan", "-", "--json", stdin=project.read_text())
    assert json.loads(found.stdout)["boards"]["B-120"]["count"] == 2


def test_nothing_that_can_be_planned_leaves_with_1_and_the_places(project: Path) -> None:
    values = json.loads(project.read_text())
    for gap in values["gaps"]:
        gap["gap_mm"] = 900
    values["detail"]["gap_max_mm"] = 300
    project.write_text(json.dumps(values))
    found = run("plan", project, cwd=project.parent)
    assert found.returncode == 1
    assert "L01-N" in found.stderr
    assert "L02-N" in found.stderr
    assert not (project.parent / "out").exists()


def test_places_left_out_are_listed_loudly_and_the_rest_is_ordered(project: Path) -> None:
    values = json.loads(project.read_text())
    values["gaps"][1]["gap_mm"] = 900
    project.write_text(json.dumps(values))
    found = run("plan", project, cwd=project.parent)
    assert found.returncode == 0
    assert "NOT PLANNED: 1" in found.stdout
    assert "L02-N" in found.stdout
    assert {path.name for path in (project.parent / "out").iterdir()} == FILES


def test_equal_seeds_give_equal_plans(project: Path) -> None:
    plans = [json.loads(run("plan", project, "--json", "--seed", "7").stdout) for _ in range(2)]
    for plan in plans:
        for proof in plan["proofs"]:
            del proof["solve_seconds"]
    assert plans[0] == plans[1]


# -- cut and check


def test_cut_prints_a_result_that_check_accepts(problem: Path) -> None:
    found = run("cut", problem)
    assert (found.returncode, found.stderr) == (0, "")
    result = json.loads(found.stdout)
    assert (result["boards"], result["lower_bound"], result["optimal"]) == (2, 2, True)
    (problem.parent / "result.json").write_text(found.stdout)
    checked = run("check", problem.parent / "result.json", "--against", problem)
    assert (checked.returncode, checked.stderr) == (0, "")


def test_cut_reads_stdin(problem: Path) -> None:
    assert json.loads(run_alone("cut", "-", stdin=problem.read_text()).stdout)["boards"] == 2


def test_check_lists_each_broken_rule_and_leaves_with_1(tmp_path: Path, project: Path) -> None:
    values = json.loads(plan_json(small_plan()))
    values["order"]["total"] = "313.61"
    values["pieces"][0]["cut_width_start_mm"] = 164
    (tmp_path / "plan.json").write_text(json.dumps(values))
    found = run("check", tmp_path / "plan.json", "--against", project)
    assert found.returncode == 1
    assert "313.61" in found.stdout
    assert "L01-N-001" in found.stdout
    assert len(found.stdout.splitlines()) >= 2


def test_check_accepts_a_right_plan(tmp_path: Path, project: Path) -> None:
    (tmp_path / "plan.json").write_text(plan_json(small_plan()))
    assert run("check", tmp_path / "plan.json").returncode == 0
    assert run("check", tmp_path / "plan.json", "--against", project).returncode == 0
    assert run("check", "-", "--against", project, stdin=plan_json(small_plan())).returncode == 0


# -- names of levels, however they are given


@pytest.mark.parametrize(
    "given", [["L01,L02"], ["L01 L02"], ["L01", "L02"], ["L01; L02,"], [" L01 , L02 L01"], ["L01,", "L02"]]
)
def test_names_are_separated_by_commas_spaces_or_given_again(given: list[str]) -> None:
    assert names_given(given, ["L01", "L02", "L03"]) == ["L01", "L02"]


def test_a_name_that_holds_a_space_or_a_comma_is_taken_whole() -> None:
    known = ["Level 1", "Level 2", "Plant, east"]
    assert names_given(["Level 1, Level 2"], known) == ["Level 1", "Level 2"]
    assert names_given(["Plant, east"], known) == ["Plant, east"]
    assert names_given(["Level 9"], known) == ["Level 9"]


def test_several_words_after_an_option_of_levels_are_all_its_own(tmp_path: Path) -> None:
    plan = tmp_path / "plan.json"
    words = [
        "refit",
        "--cut-levels",
        "L01",
        "L02",
        str(plan),
        "--survey",
        "new.xlsx",
        "--fitted-levels",
        "L01",
    ]
    assert each_level_with_its_option(words) == [
        "refit", "--cut-levels", "L01", "--cut-levels", "L02", str(plan), "--survey", "new.xlsx",
        "--fitted-levels", "L01",
    ]  # fmt: skip
    assert each_level_with_its_option(["plan", "a", "b", "--levels"]) == ["plan", "a", "b", "--levels"]


# -- a rough world: full disks, closed pipes, Ctrl-C


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="this system has no /dev/full")
def test_a_full_disk_is_told_in_plain_words(problem: Path) -> None:
    with open("/dev/full", "w") as full:
        found = subprocess.run(
            [*COMMAND, "cut", str(problem)], stdout=full, stderr=subprocess.PIPE, text=True, timeout=60
        )
    assert found.returncode == 1
    assert "Traceback" not in found.stderr
    assert "No space left" in found.stderr


def test_a_closed_pipe_is_no_fault_to_shout_about(problem: Path) -> None:
    read_end, write_end = os.pipe()
    os.close(read_end)
    with os.fdopen(write_end, "w") as pipe:
        found = subprocess.run(
            [*COMMAND, "cut", str(problem)], stdout=pipe, stderr=subprocess.PIPE, text=True, timeout=60
        )
    assert found.stderr == ""


def wait_until_it_waits(process: int) -> None:
    """Until the process has started and used no processor for a while: it waits for its problem on stdin."""
    deadline, used = time.monotonic() + 30, -1
    while time.monotonic() < deadline:
        time.sleep(0.4)
        fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
        state, so_far = fields[0], int(fields[11]) + int(fields[12])
        if state == "S" and so_far == used > 5:  # hundredths of a second: more than a start takes at least
            return
        used = so_far
    raise AssertionError("the command never came to wait")


@pytest.mark.parametrize(("stop", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, 143)])
def test_a_signal_to_stop_needs_no_traceback(stop: signal.Signals, code: int) -> None:
    started = subprocess.Popen(
        [*COMMAND, "cut", "-"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),  # a background shell ignores it
    )
    wait_until_it_waits(started.pid)
    started.send_signal(stop)
    out, err = started.communicate(timeout=30)
    assert (started.returncode, out) == (code, "")
    assert err == "stopped; nothing was written\n"
