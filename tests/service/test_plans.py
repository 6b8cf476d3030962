"""Planning at once and in the background: what comes back, when, and in which forms."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any
from urllib.parse import quote

import openpyxl
import pypdf
import pytest
from fastapi.testclient import TestClient

from api.app import create_app
from optimiser.checking import broken_rules_of_plan
from optimiser.model.plan import Plan
from optimiser.model.project import Project
from tests.builders.forecast import forecast_project
from tests.service.conftest import SMALL, Place
from tests.service.running import wait_for_plan


def test_a_small_project_comes_back_as_its_plan_at_once(
    client: TestClient, small_project: dict[str, Any]
) -> None:
    answer = client.post("/order-schedules", json=small_project)
    assert answer.status_code == 200, answer.text
    plan = Plan.model_validate_json(answer.content)
    assert broken_rules_of_plan(plan) == []
    assert answer.json()["order"]["total"] != "0.00"
    kept = client.get(answer.headers["Content-Location"]).json()
    assert kept["status"] == "done"
    assert kept["plan"] == answer.json()
    assert kept["figures"]["boards"] == sum(count.count for count in plan.boards.values())


def test_a_workbook_in_is_a_plan_out(client: TestClient) -> None:
    workbook = (SMALL / "small.xlsx").read_bytes()
    answer = client.post("/order-schedules", files={"workbook": ("small.xlsx", workbook)})
    assert answer.status_code == 200
    assert answer.json()["pieces"]


def test_what_cannot_be_planned_is_said_in_plain_words(
    client: TestClient, small_project: dict[str, Any]
) -> None:
    wide = {**small_project, "gaps": [{**gap, "gap_mm": 395} for gap in small_project["gaps"]]}
    wide["detail"] = {**small_project["detail"], "gap_min_mm": 20, "gap_max_mm": 30}
    answer = client.post("/order-schedules", json=wide)
    assert answer.status_code == 422
    assert answer.json()["type"] == "/problems/cannot-be-planned"
    assert "395" in answer.json()["detail"]


def test_a_large_project_is_accepted_and_planned_in_the_background(
    place: Place, small_project: dict[str, Any]
) -> None:
    with TestClient(create_app(replace(place.settings, at_once_pieces=1))) as client:
        answer = client.post("/order-schedules", json=small_project)
        assert answer.status_code == 202
        assert answer.json()["status"] == "queued"
        plan = wait_for_plan(client, answer.headers["Location"])
    assert plan["status"] == "done", plan["error"]


def test_a_caller_may_prefer_not_to_wait(client: TestClient, small_project: dict[str, Any]) -> None:
    answer = client.post("/order-schedules", json=small_project, headers={"Prefer": "respond-async"})
    assert answer.status_code == 202
    assert wait_for_plan(client, answer.headers["Location"])["status"] == "done"


def test_a_plan_in_the_background_is_the_plan_at_once(
    client: TestClient, small_project: dict[str, Any]
) -> None:
    project = client.post("/projects", json=small_project).headers["Location"]
    answer = client.post(f"{project}/plans", json={"staging": "level"})
    assert answer.status_code == 202
    plan = wait_for_plan(client, answer.headers["Location"])
    assert plan["status"] == "done", plan["error"]
    at_once = client.post("/order-schedules", params={"staging": "level"}, json=small_project).json()
    assert _timeless(plan["plan"]) == _timeless(at_once)
    listed = client.get(f"{project}/plans").json()["items"]
    assert [item["id"] for item in listed] == [plan["id"]]


def _timeless(plan: dict[str, Any]) -> str:
    for proof in plan["proofs"]:
        proof["solve_seconds"] = 0
    return json.dumps(plan)


def test_an_order_comes_in_every_form(client: TestClient, small_project: dict[str, Any]) -> None:
    answer = client.post("/order-schedules", json=small_project)
    location, plan = answer.headers["Location"], answer.json()
    lines = client.get(f"{location}/order.json").json()["lines"]
    assert lines == plan["order"]["lines"]
    rows = list(csv.DictReader(io.StringIO(client.get(f"{location}/order.csv").text)))
    assert sum(Decimal(row["amount"]) for row in rows) == Decimal(plan["order"]["total"])
    assert {row["subtotal"] for row in rows} == {plan["order"]["total"]}
    book = openpyxl.load_workbook(io.BytesIO(client.get(f"{location}/order.xlsx").content))
    assert book.sheetnames == ["Order", "Lines", "Truckloads"]
    behind = openpyxl.load_workbook(io.BytesIO(client.get(f"{location}/office.xlsx").content))
    assert {"Cutting", "Pieces", "Waste", "Purchase order"} <= set(behind.sheetnames)
    pdf = client.get(f"{location}/order.pdf")
    assert (pdf.headers["Content-Type"], pdf.content[:5]) == ("application/pdf", b"%PDF-")
    xml = client.get(f"{location}/order.xml")
    assert xml.headers["Content-Type"].startswith("application/xml")
    assert b"<" in xml.content
    assert client.get(f"{location}/plan.json").json() == plan
    assert client.get(f"{location}/order.docx").status_code in (404, 422)


def test_every_layout_is_a_drawing_counted_from_one(
    client: TestClient, small_project: dict[str, Any]
) -> None:
    answer = client.post("/order-schedules", json=small_project)
    location, count = answer.headers["Location"], len(answer.json()["layouts"])
    for number in (1, count):
        drawing = client.get(f"{location}/layouts/{number}.svg")
        assert drawing.headers["Content-Type"] == "image/svg+xml"
        assert drawing.text.startswith("<svg")
    assert client.get(f"{location}/layouts/{count + 1}.svg").status_code == 404
    assert client.get(f"{location}/layouts/0.svg").status_code in (404, 422)


def test_an_idempotency_key_makes_one_plan(client: TestClient, small_project: dict[str, Any]) -> None:
    key = {"Idempotency-Key": "one plan".replace(" ", "-")}
    first = client.post("/order-schedules", json=small_project, headers=key)
    again = client.post("/order-schedules", json=small_project, headers=key)
    assert first.headers["Location"] == again.headers["Location"]
    assert first.text == again.text
    project = client.post("/projects", json=small_project).headers["Location"]
    key = {"Idempotency-Key": "background-plan"}
    plans = {client.post(f"{project}/plans", headers=key).headers["Location"] for _ in range(3)}
    assert len(plans) == 1


def test_a_plan_that_is_not_done_has_no_order_yet(place: Place, small_project: dict[str, Any]) -> None:
    project = place.client.post("/projects", json=small_project).headers["Location"]
    location = place.client.post(f"{project}/plans").headers["Location"]
    assert place.client.delete(location).json()["status"] == "cancelled"
    for path in ("/order.csv", "/layouts/1.svg", "/plan.json"):
        answer = place.client.get(location + path)
        assert (answer.status_code, answer.json()["type"]) == (409, "/problems/plan-not-done")
    assert place.client.post(f"{location}/issue").status_code == 409
    assert place.client.delete(location).status_code == 200
    done = place.client.post("/order-schedules", json=small_project).headers["Location"]
    assert place.client.delete(done).status_code == 409


@pytest.mark.parametrize("file", ["readme.txt", "order.xls"])
def test_other_files_are_refused(client: TestClient, file: str, tmp_path: Path) -> None:
    answer = client.post("/order-schedules", files={"workbook": (file, b"text")})
    assert answer.status_code == 415


def test_the_crews_papers_come_for_all_levels_or_for_one(
    client: TestClient, small_project: dict[str, Any]
) -> None:
    location = client.post("/order-schedules", json=small_project).headers["Location"]
    level = small_project["levels"][0]["level"]
    pieces = client.get(location).json()["plan"]["pieces"]
    mine = [piece["id"] for piece in pieces if piece["level"] == level]
    others = [piece["id"] for piece in pieces if piece["level"] != level]
    for name in ("cutting-sheets", "labels"):
        whole = client.get(f"{location}/{name}.pdf", params={"with_nominal": "true"})
        assert (whole.headers["Content-Type"], whole.content[:5]) == ("application/pdf", b"%PDF-")
        one = client.get(f"{location}/{name}.pdf", params={"level": level, "paper": "Letter"})
        assert one.content[:5] == b"%PDF-"
        of_all, of_one = (words(answer.content).replace(" ", "") for answer in (whole, one))
        assert all(piece in of_all for piece in (*mine, *others))
        assert all(piece in of_one for piece in mine)
        assert not any(piece in of_one for piece in others)
        strange = client.get(f"{location}/{name}.pdf", params={"level": "L99"})
        assert strange.status_code == 422
        assert "L99" in strange.json()["detail"]


def test_nominal_levels_are_withheld_unless_they_are_asked_for(client: TestClient) -> None:
    location = planned(client, forecast_project())
    for name, mark in (("cutting-sheets", "NOT READY TO CUT"), ("labels", "DO NOT CUT")):
        for params in ({}, {"level": "L03"}, {"with_nominal": "false"}):
            assert "L03-E-002" not in words(client.get(f"{location}/{name}.pdf", params=params).content)
        asked = words(
            client.get(f"{location}/{name}.pdf", params={"level": "L03", "with_nominal": "true"}).content
        )
        assert "L03-E-002" in asked
        assert mark in asked
        assert client.get(f"{location}/{name}.pdf", params={"with_nominal": "perhaps"}).status_code == 422
    for run, marked in (("L01-E", False), ("L03-N", True), ("L03-E", True)):
        assert ("DO NOT CUT" in client.get(f"{location}/elevations/{run}.svg").text) == marked
    layouts = client.get(f"{location}/plan.json").json()["layouts"]
    for number, layout in enumerate(layouts, 1):
        drawn = client.get(f"{location}/layouts/{number}.svg").text
        assert ("DO NOT CUT" in drawn) == (not layout["cut_ready"])


def test_the_order_tells_what_deliveries_cost_and_which_levels_are_firm(client: TestClient) -> None:
    location = planned(client, forecast_project(site_storage_m2=1, stack_height_mm=None))
    order, plan = (client.get(f"{location}/{name}.json").json() for name in ("order", "plan"))
    for member in ("levels", "forecast", "delivery_costs", "on_site", "deliveries"):
        assert order[member] == plan[member]
    assert [words for words in plan["warnings"] if words in order["limits_not_kept"]] == order[
        "limits_not_kept"
    ]
    assert "site_storage_m2 = " in order["limits_not_kept"][0], "what would fit"
    rows = list(csv.DictReader(io.StringIO(client.get(f"{location}/deliveries.csv").text, newline="")))
    assert [float(row["weight_kg"]) for row in rows] == [
        delivery["weight_kg"] for delivery in plan["deliveries"]
    ]


def planned(client: TestClient, project: Project) -> str:
    """Where the project's plan is, once it is done, at once or in the background."""
    answer = client.post("/order-schedules", json=project.model_dump(mode="json", by_alias=True))
    location = answer.headers["Location"]
    wait_for_plan(client, location)
    return location


def words(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages).split())


def test_every_run_is_a_drawing_under_its_name(client: TestClient, small_project: dict[str, Any]) -> None:
    names = {run["run"]: f"{run['run']}/a b" for run in small_project["runs"]}
    renamed = {
        **small_project,
        "runs": [{**run, "run": names[run["run"]]} for run in small_project["runs"]],
        "gaps": [{**gap, "run": names[gap["run"]]} for gap in small_project["gaps"]],
    }
    location = client.post("/order-schedules", json=renamed).headers["Location"]
    for name in list(names.values())[:2]:
        drawing = client.get(f"{location}/elevations/{quote(name, safe='')}.svg")
        assert drawing.headers["Content-Type"] == "image/svg+xml"
        assert f"Run {name} on level" in drawing.text
    assert client.get(f"{location}/elevations/nowhere.svg").status_code == 404


def test_an_issued_order_is_printed_with_its_revision_and_date(
    client: TestClient, small_project: dict[str, Any]
) -> None:
    location = client.post("/order-schedules", json=small_project).headers["Location"]
    draft = client.get(f"{location}/order.xml").text
    issued_on = client.post(f"{location}/issue").json()["issued_at"][:10]
    xml = client.get(f"{location}/order.xml").text
    assert f"IssueDate>{issued_on}<" in xml
    assert f"IssueDate>{issued_on}<" not in draft
    pdf = pypdf.PdfReader(io.BytesIO(client.get(f"{location}/order.pdf").content))
    assert f"Revision 1, issued {issued_on}" in pdf.pages[0].extract_text()
