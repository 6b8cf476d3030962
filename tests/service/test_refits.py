"""Refits: what is cut against a newer survey, in the background, and ordered on top of what was issued."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi.testclient import TestClient

from optimiser.model.plan import Plan
from optimiser.reading import project_from_json
from optimiser.replanning.refit import refit
from optimiser.writing.data.refit_json import refit_as_dict
from tests.service.conftest import SMALL
from tests.service.running import statuses_of, wait_for_plan


@pytest.fixture
def plan(client: TestClient, small_project: dict[str, Any]) -> dict[str, Any]:
    """The small job's plan, done."""
    location = client.post("/order-schedules", json=small_project).headers["Location"]
    found: dict[str, Any] = client.get(location).json()
    return found


@pytest.fixture(scope="session")
def newer(small_project: dict[str, Any]) -> dict[str, Any]:
    """The small job measured again: some gaps of its last level are wider, one run's much."""
    level = small_project["levels"][-1]["level"]
    runs = [run["run"] for run in small_project["runs"] if run["level"] == level]
    wider = {runs[0]: 24, runs[-1]: 5}
    gaps = [{**gap, "gap_mm": gap["gap_mm"] + wider.get(gap["run"], 0)} for gap in small_project["gaps"]]
    return {**small_project, "gaps": gaps}


def test_a_newer_survey_is_refitted_as_the_command_does_and_kept(
    client: TestClient, plan: dict[str, Any], newer: dict[str, Any]
) -> None:
    levels = [level["level"] for level in newer["levels"]]
    asked = {"fitted_levels": levels[0]}
    answer = client.post(f"/plans/{plan['id']}/refits", json=newer, params=asked)
    assert answer.status_code == 202, answer.text
    assert answer.json()["request"]["fitted_levels"] == levels[:1]
    found = wait_for_plan(client, answer.headers["Location"])
    assert found["status"] == "done", found["error"]
    made = refit(Plan.model_validate(plan["plan"]), project_from_json(newer), fitted_levels=levels[:1])
    assert found["result"] == refit_as_dict(made)
    assert found["result"]["recut"]
    assert found["figures"]["reused_pieces"] == made.reused_pieces
    assert found["figures"]["total"] == found["result"]["order"]["total"]
    assert statuses_of(client, answer.headers["Location"]) == ["queued", "running", "done"]

    project = client.get(f"/projects/{plan['project_id']}").json()
    assert (project["version"], found["project_version"]) == (2, 2)
    assert [gap["gap_mm"] for gap in project["project"]["gaps"]] == [gap["gap_mm"] for gap in newer["gaps"]]
    assert [item["id"] for item in client.get(f"/plans/{plan['id']}/refits").json()] == [found["id"]]


def test_without_a_body_the_projects_newest_version_is_the_survey(
    client: TestClient, plan: dict[str, Any], newer: dict[str, Any]
) -> None:
    project = f"/projects/{plan['project_id']}"
    assert client.put(project, json=newer, headers={"If-Match": '"1"'}).status_code == 200
    answer = client.post(f"/plans/{plan['id']}/refits")
    assert answer.status_code == 202
    found = wait_for_plan(client, answer.headers["Location"])
    assert found["project_version"] == 2
    assert found["result"]["recut"]
    # the same survey sent once more is not kept twice
    again = client.post(f"/plans/{plan['id']}/refits", json=newer)
    assert again.json()["project_version"] == 2
    assert client.get(project).json()["version"] == 2


def test_a_workbook_is_a_survey_too_and_the_plans_own_survey_changes_nothing(
    client: TestClient, plan: dict[str, Any]
) -> None:
    workbook = {"workbook": ("small.xlsx", (SMALL / "small.xlsx").read_bytes())}
    answer = client.post(f"/plans/{plan['id']}/refits", files=workbook)
    found = wait_for_plan(client, answer.headers["Location"])["result"]
    assert found["reused_pieces"] == found["cut_pieces"] == len(plan["plan"]["pieces"])
    assert (found["moves"], found["recut"], found["order"]["lines"]) == ([], [], [])


def test_what_cannot_be_refitted_is_said_before_anything_is_kept(
    client: TestClient, plan: dict[str, Any], newer: dict[str, Any]
) -> None:
    address = f"/plans/{plan['id']}/refits"
    strange = client.post(address, json=newer, params={"cut_levels": "L99"})
    assert strange.status_code == 422
    assert strange.json()["errors"][0]["place"] == "query.cut_levels"
    assert "L99" in strange.json()["errors"][0]["message"]
    assert client.post(address, json={"runs": 3}).status_code == 422
    assert client.post(address, json=newer, headers={"If-Match": '"7"'}).status_code == 412
    assert client.get(f"/projects/{plan['project_id']}").json()["version"] == 1
    assert client.get(address).json() == []
    assert client.post("/plans/0/refits", json=newer).status_code == 404


def test_a_survey_that_does_not_belong_to_the_plan_fails_in_words(
    client: TestClient, plan: dict[str, Any], newer: dict[str, Any]
) -> None:
    foreign = {**newer, "project": {**newer["project"], "currency": "EUR"}}
    answer = client.post(f"/plans/{plan['id']}/refits", json=foreign)
    found = wait_for_plan(client, answer.headers["Location"])
    assert found["status"] == "failed"
    assert "write the same currency" in found["error"]["detail"]
    assert found["error"]["instance"] == answer.headers["Location"]


def test_a_refit_sent_twice_under_one_key_is_made_once(
    client: TestClient, plan: dict[str, Any], newer: dict[str, Any]
) -> None:
    headers = {"Idempotency-Key": f"refit-{plan['id']}"}
    address = f"/plans/{plan['id']}/refits"
    answers = [client.post(address, json=newer, headers=headers) for _ in range(2)]
    assert answers[0].json()["id"] == answers[1].json()["id"]
    assert client.get(f"/projects/{plan['project_id']}").json()["version"] == 2


def test_a_refit_is_issued_on_top_of_its_plans_order(
    client: TestClient, plan: dict[str, Any], newer: dict[str, Any]
) -> None:
    levels = [level["level"] for level in newer["levels"]]
    answer = client.post(f"/plans/{plan['id']}/refits", json=newer, params={"fitted_levels": levels[0]})
    refit_address = answer.headers["Location"]
    early = client.post(f"{refit_address}/issue")
    assert early.status_code == 409
    found = wait_for_plan(client, refit_address)
    not_issued = client.post(f"{refit_address}/issue")
    assert (not_issued.status_code, not_issued.json()["type"]) == (409, "/problems/not-the-last-issued")

    first = client.post(f"/plans/{plan['id']}/issue").json()
    issued = client.post(f"{refit_address}/issue")
    assert issued.status_code == 201, issued.text
    second = issued.json()
    assert (second["revision"], second["plan_id"], second["refit_id"]) == (2, plan["id"], found["id"])
    assert second["difference"]["total"] == found["result"]["order"]["total"]
    assert second["previous_hash"] == first["hash"]
    packs = sum(line["packs"] for line in second["difference"]["lines"])
    assert packs == sum(line["packs"] for line in found["result"]["order"]["lines"])
    assert client.post(f"{refit_address}/issue").json() == second
    assert client.get(f"/projects/{plan['project_id']}/orders").json()["chain_intact"] is True

    later = client.post(f"/projects/{plan['project_id']}/plans").headers["Location"]
    wait_for_plan(client, later)
    assert client.post(f"{later}/issue").json()["revision"] == 3
    again = client.post(f"{refit_address}/issue")
    assert (again.status_code, again.json()["superseded_by"]) == (200, 3)
