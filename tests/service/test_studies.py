"""Comparisons and simulations: shared out over the workers, and the same as made in one go."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from api.studies.making import parts_of
from optimiser.reading import project_from_json
from optimiser.simulation.simulate import simulate
from optimiser.studies.comparison import compare, gaps_between
from optimiser.studies.frontier import frontier
from optimiser.writing.office.frontier_csv import point_as_dict, point_of_dict
from tests.service.conftest import DATABASES, empty_database
from tests.service.paused_worker import program
from tests.service.running import FAST, Server, start_worker, statuses_of, wait_for, wait_for_plan


@pytest.fixture(scope="session")
def nominal_project(small_project: dict[str, Any]) -> dict[str, Any]:
    """The small job before its survey."""
    gaps = [{**gap, "basis": "nominal", "tolerance_mm": 10} for gap in small_project["gaps"]]
    return {**small_project, "gaps": gaps}


def _plain(value: Any) -> Any:
    return json.loads(json.dumps(value))


def test_a_comparison_shared_out_is_the_comparison_in_one_go(
    client: TestClient, small_project: dict[str, Any]
) -> None:
    project = client.post("/projects", json=small_project).headers["Location"]
    wanted = {"from_mm": 140, "to_mm": 160, "step_mm": 1}
    answer = client.post(f"{project}/comparisons", json=wanted)
    assert answer.status_code == 202
    assert answer.json()["kind"] == "comparison"
    study = wait_for_plan(client, answer.headers["Location"])
    assert study["status"] == "done", study["error"]
    assert study["result"] == _plain(
        compare(project_from_json(small_project), gaps_between(140, 160)).as_json()
    )
    assert statuses_of(client, answer.headers["Location"]) == ["queued", "running", "done"]
    events = client.get(f"{answer.headers['Location']}/events").text
    assert '"parts_done": 6, "parts": 6' in events


def test_choices_are_compared_side_by_side(client: TestClient, small_project: dict[str, Any]) -> None:
    project = client.post("/projects", json=small_project).headers["Location"]
    wanted = {"from_mm": 148, "to_mm": 153, "oversize": [[0.1, 0.12], [0.1, 0.2]], "shifted": True}
    study = wait_for_plan(client, client.post(f"{project}/comparisons", json=wanted).headers["Location"])
    assert study["status"] == "done", study["error"]
    options = study["result"]["options"]
    assert [option["gap_mm"] for option in options] == [*range(148, 154)] * 2
    assert {tuple(option["choice"]["oversize"]) for option in options} == {(0.1, 0.12), (0.1, 0.2)}


def test_a_simulation_is_the_same_as_in_one_go(client: TestClient, nominal_project: dict[str, Any]) -> None:
    project = client.post("/projects", json=nominal_project).headers["Location"]
    wanted = {"draws": 40, "seed": 7, "service_level": 0.9}
    study = wait_for_plan(client, client.post(f"{project}/allowances", json=wanted).headers["Location"])
    assert study["status"] == "done", study["error"]
    assert study["result"] == _plain(simulate(project_from_json(nominal_project), **wanted).as_json())


def test_the_frontier_is_the_same_as_in_one_go_and_a_plan_takes_one_of_its_numbers(
    client: TestClient, small_project: dict[str, Any]
) -> None:
    project = client.post("/projects", json=small_project).headers["Location"]
    study = wait_for_plan(client, client.post(f"{project}/frontiers", json={}).headers["Location"])
    assert study["status"] == "done", study["error"]
    points = frontier(project_from_json(small_project))
    assert study["result"]["plans"] == _plain([point_as_dict(point) for point in points])
    assert tuple(point_of_dict(plan) for plan in study["result"]["plans"]) == points
    location = client.post(f"{project}/plans", json={"waiting_choice": 1}).headers["Location"]
    made = wait_for_plan(client, location)
    assert made["status"] == "done", made["error"]
    assert made["plan"]["waiting"]["piece_stages"] == 0
    assert made["plan"]["waiting_choice"] == 1


def test_a_plan_with_a_price_on_waiting_tells_the_sum(
    client: TestClient, small_project: dict[str, Any]
) -> None:
    project = client.post("/projects", json=small_project).headers["Location"]
    made = wait_for_plan(
        client, client.post(f"{project}/plans", json={"carry_cost": "2.50"}).headers["Location"]
    )
    assert made["status"] == "done", made["error"]
    assert made["plan"]["carrying"]["price"] == "2.50"
    for refused in (
        {"carry_cost": "2.505"},
        {"waiting_choice": 0},
        {"carry_cost": "1", "waiting_choice": 1},
        {"waiting_choice": 1, "time_limit": 5},
    ):
        assert client.post(f"{project}/plans", json=refused).status_code == 422


def test_a_study_that_makes_no_sense_fails_with_the_reason(
    client: TestClient, small_project: dict[str, Any]
) -> None:
    too_wide = {**small_project, "gaps": [{**gap, "gap_mm": 500} for gap in small_project["gaps"]]}
    project = client.post("/projects", json=too_wide).headers["Location"]
    study = wait_for_plan(client, client.post(f"{project}/allowances", json={}).headers["Location"])
    assert (study["status"], study["error"]["type"]) == ("failed", "/problems/cannot-be-planned")
    assert "nothing can be planned" in study["error"]["detail"]
    wanted = {"from_mm": 150, "to_mm": 160, "boards": [["NO-SUCH-BOARD"]]}
    study = wait_for_plan(client, client.post(f"{project}/comparisons", json=wanted).headers["Location"])
    assert study["status"] == "failed"
    assert "NO-SUCH-BOARD" in study["error"]["detail"]
    for wanted in (
        {"from_mm": 160, "to_mm": 150},
        {"from_mm": 1, "to_mm": 2000, "oversize": [[0.1, 0.2]] * 9},
    ):
        refused = client.post(f"{project}/comparisons", json=wanted)
        assert refused.status_code == 422
        assert refused.json()["errors"]


def test_a_study_is_cancelled_with_all_its_parts(client: TestClient, small_project: dict[str, Any]) -> None:
    project = client.post("/projects", json=small_project).headers["Location"]
    wanted = {"from_mm": 30, "to_mm": 399}
    location = client.post(f"{project}/comparisons", json=wanted).headers["Location"]
    assert client.delete(location).json()["status"] == "cancelled"
    assert client.get(location).json()["result"] is None
    # The workers are free at once: a plan asked for after it ends soon.
    plan = client.post(f"{project}/plans").headers["Location"]
    assert wait_for_plan(client, plan)["status"] == "done"


@pytest.mark.parametrize("kind", DATABASES)
def test_a_part_whose_worker_is_killed_is_made_by_another(
    kind: str,
    request: pytest.FixtureRequest,
    small_project: dict[str, Any],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    url = empty_database(kind, request, f"studies_{kind}")
    server = Server(url, tmp_path / "server.log", embedded_workers=0, **FAST)
    paused = tmp_path / "paused"
    monkeypatch.setenv("PAUSED", str(paused))
    project = server.client.post("/projects", json=small_project).headers["Location"]
    wanted = {"from_mm": 148, "to_mm": 159}
    location = server.client.post(f"{project}/comparisons", json=wanted).headers["Location"]
    first = start_worker(url, tmp_path / "first.log", program("part 1"), **FAST)
    wait_for(lambda: paused.exists() or None, 120, "a part")
    first.kill()
    second = start_worker(url, tmp_path / "second.log", **FAST)
    study = wait_for_plan(server.client, location)
    assert study["status"] == "done", study["error"]
    assert [option["gap_mm"] for option in study["result"]["options"]] == [*range(148, 160)]
    assert statuses_of(server.client, location) == ["queued", "running", "done"]
    second.kill()
    server.kill()


def test_parts_cover_every_gap_once() -> None:
    for wanted in ((100, 100, 1), (100, 101, 5), (1, 2000, 1), (30, 399, 7)):
        request = dict(zip(("from_mm", "to_mm", "step_mm"), wanted, strict=True))
        parts = parts_of("comparison", request)
        gaps = [g for part in parts for g in range(part["from_mm"], part["to_mm"] + 1, part["step_mm"])]
        assert gaps == list(range(wanted[0], wanted[1] + 1, wanted[2]))
        assert len(parts) <= 32
