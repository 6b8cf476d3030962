"""`barrier-orders replan`: the next plan with every file of a plan, the supplier's difference and the labels."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from optimiser.commands.main import run
from optimiser.model.plan import Plan
from optimiser.planning.plan import plan
from optimiser.reading import read_plan
from optimiser.writing.data.plan_json import plan_json
from optimiser.writing.file_names import FILES
from tests.builders.job import JobOnSite, of_level
from tests.builders.levels import building


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the plan that a site works by, and what happened."""
    folder = tmp_path_factory.mktemp("site")
    made = plan(building(storeys=3, length_mm=7_200))
    job = JobOnSite()
    job.order_all(made)
    job.deliver(made, "L1")
    job.cut_and_fit(of_level(made, "L1"))
    (folder / "plan.json").write_text(plan_json(made), encoding="utf-8")
    events = [event.model_dump_json(exclude_defaults=True) for event in job.events]
    (folder / "record.jsonl").write_text("\n".join(events), encoding="utf-8")
    return folder


def test_it_writes_what_a_plan_writes_and_what_changes(
    site: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told = [
        "replan",
        str(site / "plan.json"),
        "--record",
        str(site / "record.jsonl"),
        "--out",
        str(site / "next"),
    ]
    assert run(told) == 0
    written = {path.name for path in (site / "next").iterdir()}
    own = {"difference.csv", "labels-to-change.csv", "received.csv", "job-state.csv"}
    assert own | {"plan.json", "cutting-sheets.pdf"} <= written
    assert written <= {*FILES, *own}
    assert "6 pieces fitted" in capsys.readouterr().out
    assert run(["check", str(site / "next" / "plan.json")]) == 0


def test_json_is_the_next_plan_which_can_be_replanned(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = ["replan", str(site / "plan.json"), "--record", str(site / "record.jsonl"), "--json"]
    assert run(told) == 0
    once = json.loads(capsys.readouterr().out)
    assert {p["status"] for p in once["pieces"] if p["level"] == "L1"} == {"fitted"}
    assert len(once["record"]["events"]) == len((site / "record.jsonl").read_text().splitlines())
    (site / "once.json").write_text(json.dumps(once), encoding="utf-8")
    assert run(["replan", str(site / "once.json"), "--record", str(site / "record.jsonl"), "--json"]) == 0
    again = json.loads(capsys.readouterr().out)
    assert again["pieces"] == once["pieces"]


def test_what_the_plan_does_not_have_is_said_and_nothing_written(
    site: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    wrong = site / "wrong.jsonl"
    wrong.write_text('{"at": "2027-03-01", "event": "cut", "piece": "L9-N-001"}', encoding="utf-8")
    out = site / "not written"
    assert run(["replan", str(site / "plan.json"), "--record", str(wrong), "--out", str(out)]) == 2
    said = capsys.readouterr().err
    assert "piece" in said
    assert "L9-N-001" in said
    assert "the plan has no such piece" in said
    assert not out.exists()


@pytest.mark.parametrize(("today", "late"), [("2027-02-22", False), ("2027-02-23", True)])
def test_an_order_whose_day_has_passed_is_told_by_the_day_that_is_given(
    site: Path, capsys: pytest.CaptureFixture[str], today: str, late: bool
) -> None:
    """Nothing was ordered, and all of it is needed on 22 February."""
    nothing = site / "nothing.jsonl"
    nothing.write_text("", encoding="utf-8")
    asked = ["replan", str(site / "plan.json"), "--record", str(nothing), "--out", str(site / "late")]
    assert run([*asked, "--today", today]) == 0
    assert ("the day to order has passed (the first was 2027-02-22)" in capsys.readouterr().out) is late


def test_goods_that_came_short_are_told_with_what_to_do(
    site: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    made = read_plan(site / "plan.json")
    assert isinstance(made, Plan)
    job = JobOnSite()
    job.order_all(made)
    job.deliver(made, "L1", short=1)
    short = site / "short.jsonl"
    events = [event.model_dump_json(exclude_defaults=True) for event in job.events]
    short.write_text("\n".join(events), encoding="utf-8")
    out = site / "short"
    asked = ["replan", str(site / "plan.json"), "--record", str(short), "--out", str(out)]
    assert run([*asked, "--today", "2027-02-01", "--change-cost", "25"]) == 0
    said = capsys.readouterr().out
    assert "Received of K-110 for L1: 1 missing." in said
    assert "L1 will be short of 1 K-110" in said
    rows = (out / "received.csv").read_text(encoding="utf-8").splitlines()
    assert rows[0].startswith("level,code,ordered,delivered,on_order,missing")
    assert any(row.startswith("L1,K-110,") and row.split(",")[5] == "1" for row in rows)


@pytest.mark.parametrize(
    ("option", "value", "says"),
    [
        ("--today", "1 March", "1 March is no day; write it as 2027-03-01"),
        ("--change-cost", "x", "give an amount of money with at most two places"),
        ("--change-cost", "-5", "give an amount of money from 0 to"),
    ],
)
def test_a_day_or_an_amount_that_is_none_is_said(
    site: Path, capsys: pytest.CaptureFixture[str], option: str, value: str, says: str
) -> None:
    told = ["replan", str(site / "plan.json"), "--record", str(site / "record.jsonl"), option, value]
    assert run(told) == 2
    assert says in " ".join(capsys.readouterr().err.split())
