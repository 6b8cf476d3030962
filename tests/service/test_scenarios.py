"""Scenarios side by side through the interface: as in one go, with clear refusals, as files, and planned in full."""

from __future__ import annotations

import csv
import io
import json
from datetime import date, timedelta
from typing import Any

import pytest
from fastapi.testclient import TestClient
from openpyxl import load_workbook

from api.studies.making import parts_of
from optimiser.checking import broken_rules_of_plan
from optimiser.model.plan import Plan
from optimiser.model.scenario import Scenario
from optimiser.reading import project_from_json
from optimiser.studies.changed_project import changed_project
from optimiser.studies.scenario_result import ScenarioComparison
from optimiser.studies.scenarios import scenarios
from tests.service.running import wait_for_plan

_SECONDS = 400  # parts give way to all other work of the machine
WANTED = [
    {"name": "as surveyed"},
    {"name": "on its own", "staging": "level"},
    {"name": "cheapest brackets", "bracket_choice": "cheapest"},
    {"name": "150 mm", "gap_mm": 150},
    {"name": "151 mm", "gap_mm": 151},
]


@pytest.fixture(scope="module")
def measured(small_project: dict[str, Any]) -> dict[str, Any]:
    """The small job once every gap is measured: nothing of it is simulated, so that a plan takes a moment."""
    gaps = [
        {**{name: value for name, value in gap.items() if name != "tolerance_mm"}, "basis": "measured"}
        for gap in small_project["gaps"]
    ]
    return {**small_project, "gaps": gaps}


def compared(client: TestClient, project: str, **wanted: Any) -> tuple[str, dict[str, Any]]:
    answer = client.post(f"{project}/scenarios", json=wanted)
    assert answer.status_code == 202, answer.text
    location = answer.headers["Location"]
    study = wait_for_plan(client, location, _SECONDS)
    assert study["status"] == "done", study["error"]
    return location, study


def without_seconds(found: ScenarioComparison) -> list[dict[str, Any]]:
    return [json.loads(one.model_dump_json(exclude={"figures": {"seconds"}})) for one in found.results]


def test_scenarios_shared_out_are_those_in_one_go(client: TestClient, measured: dict[str, Any]) -> None:
    project = client.post("/projects", json=measured).headers["Location"]
    location, study = compared(client, project, scenarios=WANTED)
    assert (study["kind"], study["project_version"]) == ("scenario", 1)
    found = ScenarioComparison.model_validate(study["result"])
    in_one_go = scenarios(project_from_json(measured), [Scenario.model_validate(one) for one in WANTED])
    assert without_seconds(found) == without_seconds(in_one_go)
    assert found.notes == in_one_go.notes
    assert len(parts_of("scenario", study["request"])) == len(WANTED)
    kinds = {one["kind"] for one in client.get(f"{project}/studies").json()["items"]}
    assert kinds == {"scenario"}
    assert client.get(location).json()["result"] == study["result"]


def test_the_files_have_a_row_a_scenario(client: TestClient, measured: dict[str, Any]) -> None:
    project = client.post("/projects", json=measured).headers["Location"]
    location, study = compared(client, project, scenarios=WANTED)
    text = client.get(f"{location}/scenarios.csv")
    assert text.headers["content-type"].startswith("text/csv")
    rows = list(csv.DictReader(io.StringIO(text.text)))
    assert [row["scenario"] for row in rows] == [one["name"] for one in WANTED]
    assert [row["cost"] for row in rows] == [one["figures"]["cost"] for one in study["result"]["results"]]
    book = load_workbook(io.BytesIO(client.get(f"{location}/scenarios.xlsx").content))
    assert book.sheetnames == ["Scenarios", "Warnings"]
    names = [cell.value for cell in book["Scenarios"]["A"][1 : len(WANTED) + 1]]
    assert names == [one["name"] for one in WANTED]


def test_a_scenario_is_planned_on_its_survey_with_its_options_and_judged_by_them(
    client: TestClient, measured: dict[str, Any]
) -> None:
    project = client.post("/projects", json=measured).headers["Location"]
    changed = {**measured, "stock": []}
    etag = client.get(project).headers["ETag"]
    assert client.put(project, json=changed, headers={"If-Match": etag}).status_code == 200
    location, study = compared(client, project, scenarios=WANTED, survey=1)
    assert study["project_version"] == 1
    answer = client.post(f"{location}/plans", json={"scenario": "cheapest brackets"})
    made = wait_for_plan(client, answer.headers["Location"])
    assert made["status"] == "done", made["error"]
    assert made["project_version"] == 1
    assert made["request"]["scenario"]["scenario"]["bracket_choice"] == "cheapest"
    plan = Plan.model_validate(made["plan"])
    scenario = Scenario(name="cheapest brackets", bracket_choice="cheapest")
    assert broken_rules_of_plan(plan, changed_project(project_from_json(measured), scenario)) == []
    assert broken_rules_of_plan(plan, project_from_json(measured)) != []
    assert "the scenario 'cheapest brackets'" in plan.warnings[0]
    result = study["result"]["results"][2]["figures"]
    assert made["figures"]["total"] == result["goods"]
    assert made["figures"]["boards"] == result["boards"]
    issued = client.post(f"{answer.headers['Location']}/issue", headers={"If-Match": '"0"'})
    assert issued.status_code == 201, issued.text


def test_the_rest_of_a_job_is_planned_as_its_scenario_was(
    client: TestClient, measured: dict[str, Any]
) -> None:
    project = client.post("/projects", json=measured).headers["Location"]
    location, _ = compared(client, project, scenarios=WANTED[2:3])
    plan = client.post(f"{location}/plans", json={"scenario": "cheapest brackets"}).headers["Location"]
    assert wait_for_plan(client, plan)["status"] == "done"
    rest = wait_for_plan(client, client.post(f"{plan}/replans", json={}).headers["Location"])
    assert rest["status"] == "done", rest["error"]
    assert rest["plan"]["project"]["detail"]["bracket_choice"] == "cheapest"
    refit = client.post(f"{plan}/refits", json=measured)
    assert refit.status_code == 202, refit.text
    assert wait_for_plan(client, refit.headers["Location"])["status"] == "done"


def moved_a_week(client: TestClient, plan: dict[str, Any]) -> dict[str, Any]:
    """The plan of the survey whose last delivery of a plan comes a week later, as its page saves it."""
    last = max(plan["plan"]["deliveries"], key=lambda one: str(one["deliver_on"]))
    place = plan["plan"]["deliveries"].index(last) + 1
    day = date.fromisoformat(last["deliver_on"]) + timedelta(days=7)
    form = {"survey": str(plan["project_version"]), "moved": f"{place}={day}"}
    saved = client.post(f"/schedules/{plan['id']}/dates", data=form, follow_redirects=False)
    assert saved.status_code == 303, saved.text
    found = wait_for_plan(client, saved.headers["Location"].replace("/schedules/", "/plans/"))
    assert (found["status"], found["project_version"]) == ("done", plan["project_version"] + 1)
    return found


def test_a_plan_whose_deliveries_move_is_planned_again_with_its_scenario_and_options(
    client: TestClient, measured: dict[str, Any]
) -> None:
    project = client.post("/projects", json=measured).headers["Location"]
    rounds = [{"name": "cheapest brackets", "bracket_choice": "cheapest", "joint_rounds": 1, "seed": 3}]
    location, _ = compared(client, project, scenarios=rounds)
    asked = client.post(f"{location}/plans", json={"scenario": "cheapest brackets"})
    plan = wait_for_plan(client, asked.headers["Location"])
    moved = moved_a_week(client, plan)
    assert moved["request"] == plan["request"]
    assert moved["plan"]["project"]["detail"]["bracket_choice"] == "cheapest"


def test_a_plan_whose_deliveries_move_keeps_how_it_was_asked_for(
    client: TestClient, measured: dict[str, Any]
) -> None:
    project = client.post("/projects", json=measured).headers["Location"]
    options = {"staging": "level", "time_limit": 20, "seed": 5, "joint_rounds": 1}
    plan = wait_for_plan(client, client.post(f"{project}/plans", json=options).headers["Location"])
    assert moved_a_week(client, plan)["request"] == plan["request"]


def test_nothing_is_planned_to_a_gap_that_nobody_measured(
    client: TestClient, measured: dict[str, Any]
) -> None:
    project = client.post("/projects", json=measured).headers["Location"]
    answer = client.post(f"{project}/scenarios", json={"scenarios": WANTED})
    location = answer.headers["Location"]
    refused = client.post(f"{location}/plans", json={"scenario": "150 mm"})
    assert (refused.status_code, refused.json()["type"]) == (422, "/problems/cannot-be-planned")
    assert "nothing may be cut to it" in refused.json()["detail"]
    assert client.post(f"{location}/plans", json={"scenario": "another"}).status_code == 404
    client.delete(location)
    assert client.get(f"{location}/scenarios.csv").json()["type"] == "/problems/scenario-not-done"


@pytest.mark.parametrize(
    ("scenario", "words"),
    [
        (
            {"name": "too wide", "oversize_max": 5},
            "scenario 'too wide', oversize_max is 5: it is too large; give at most 1",
        ),
        (
            {"name": "slip", "stagin": "level"},
            "scenario 'slip', stagin is 'level': there is no such option; staging was meant?",
        ),
        (
            {"name": "no board", "boards": ["B-999"]},
            "scenario 'no board', boards: B-999 is no board of the products",
        ),
        (
            {"name": "narrow", "oversize_max": 0.01},
            "scenario 'narrow', oversize_max: oversize_min (0.1) is above oversize_max (0.01)",
        ),
        (
            {"name": "nobody", "supplier": "Nobody"},
            "scenario 'nobody', supplier: there is no offer of 'Nobody'",
        ),
        ({"name": "on site", "runs": ["X-*"]}, "scenario 'on site', runs: no run is called X-*"),
        (
            {"name": "trucks", "trucks_a_delivery": 1},
            "scenario 'trucks', trucks_a_delivery: trucks_a_delivery needs a truck's size",
        ),
    ],
)
def test_what_cannot_be_used_is_told_with_scenario_option_value_and_mend(
    client: TestClient, measured: dict[str, Any], scenario: dict[str, Any], words: str
) -> None:
    project = client.post("/projects", json=measured).headers["Location"]
    refused = client.post(f"{project}/scenarios", json={"scenarios": [{"name": "fine"}, scenario]})
    assert refused.status_code == 422
    told = [fault["message"] for fault in refused.json()["errors"]]
    assert len(told) == 1
    assert words in told[0]


def test_how_many_scenarios_and_on_which_survey(client: TestClient, measured: dict[str, Any]) -> None:
    project = client.post("/projects", json=measured).headers["Location"]
    many = [{"name": f"{number}"} for number in range(25)]
    assert client.post(f"{project}/scenarios", json={"scenarios": many}).status_code == 422
    assert client.post(f"{project}/scenarios", json={"scenarios": []}).status_code == 422
    twice = client.post(f"{project}/scenarios", json={"scenarios": [{"name": "a"}, {"name": "a"}]})
    assert "it stands 2 times; give each its own" in twice.json()["errors"][0]["message"]
    later = client.post(f"{project}/scenarios", json={"scenarios": [{"name": "a"}], "survey": 9})
    assert later.status_code == 404


def test_a_supplier_s_prices_freight_and_lead_time_are_compared_and_planned(
    client: TestClient, measured: dict[str, Any]
) -> None:
    project = client.post("/projects", json=measured).headers["Location"]
    board = next(one["code"] for one in measured["products"] if one["kind"] == "board")
    offer = {
        "supplier": "Second Supplier (invented)",
        "currency": "AUD",
        "freight": "45.00",
        "prices": [{"code": board, "price": "1.00", "lead_days": 3}],
    }
    wanted = [{"name": "own prices"}, {"name": "offered", "supplier": offer["supplier"]}]
    location, study = compared(client, project, scenarios=wanted, offers=[offer], on="2027-01-11")
    own, offered = (one["figures"] for one in study["result"]["results"])
    assert float(offered["goods"]) < float(own["goods"])
    freight = float(offered["cost"]) - float(offered["goods"])
    assert freight > 0
    assert freight % 45 == 0
    plan = client.post(f"{location}/plans", json={"scenario": "offered"}).headers["Location"]
    made = wait_for_plan(client, plan)
    assert made["status"] == "done", made["error"]
    prices = {one["code"]: one["price"] for one in made["plan"]["project"]["products"]}
    assert prices[board] == "1.00"


def test_a_scenario_is_one_type_of_the_interface(client: TestClient) -> None:
    """Generators of clients refuse two types of one title, such as one that is read and one that is written."""
    schemas = client.get("/openapi.json").json()["components"]["schemas"]
    assert "Scenario" in schemas
    assert [name for name in schemas if "-" in name] == []
