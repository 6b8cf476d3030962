"""The rest of a job: the next plan from the plan, the record and the newest survey, again and again."""

from __future__ import annotations

import re
from datetime import date
from html import unescape
from typing import Any

import pytest
from fastapi.testclient import TestClient

from api import clock
from optimiser.model.plan import Plan
from optimiser.model.project import Project
from optimiser.replanning.replan import replan
from optimiser.writing.data.changes_csv import difference_csv, labels_to_change_csv
from tests.builders.job import JobOnSite, of_level
from tests.builders.supplier_documents import order_response
from tests.service.running import statuses_of, wait_for_plan

DOCUMENTS = (
    "plan.json",
    "order.csv",
    "order.xlsx",
    "deliveries.csv",
    "cutting-sheets.pdf",
    "labels.pdf",
    "layouts/{layout}.svg",
)


@pytest.fixture
def kept(client: TestClient, small_project: dict[str, Any]) -> dict[str, Any]:
    """The small job's plan, done."""
    location = client.post("/order-schedules", json=small_project).headers["Location"]
    return wait_for_plan(client, location)


@pytest.fixture
def first(kept: dict[str, Any]) -> Plan:
    return Plan.model_validate(kept["plan"])


def _send(client: TestClient, project_id: str, job: JobOnSite) -> None:
    sent = [event.model_dump(mode="json", exclude_defaults=True) for event in job.events]
    answer = client.post(f"/projects/{project_id}/events", json=sent)
    assert answer.status_code in (200, 201), answer.text


def _replanned(client: TestClient, plan_id: str, **wanted: Any) -> tuple[str, dict[str, Any]]:
    answer = client.post(f"/plans/{plan_id}/replans", json=wanted)
    assert answer.status_code == 202, answer.text
    location = answer.headers["Location"]
    found = wait_for_plan(client, location)
    assert found["status"] == "done", found["error"]
    return location, found


def _first_level_done(plan: Plan) -> JobOnSite:
    level = plan.project.levels_in_order()[0].level
    job = JobOnSite()
    job.order_all(plan)
    job.deliver(plan, level)
    job.cut_and_fit(of_level(plan, level))
    return job


def test_the_next_plan_is_the_one_that_the_command_makes(
    client: TestClient, kept: dict[str, Any], first: Plan
) -> None:
    job = _first_level_done(first)
    _send(client, kept["project_id"], job)
    location, found = _replanned(client, kept["id"])
    here = replan(first, job.record, Project.model_validate(first.project.model_dump()))
    there = Plan.model_validate(found["plan"])
    assert there.record == job.record
    assert there.pieces == here.pieces
    assert there.layouts == here.layouts
    assert there.order == here.order
    assert found["request"]["replan_of"] == kept["id"]
    assert found["request"]["staging"] == first.staging
    assert found["figures"]["total"] == str(there.order.total)
    assert statuses_of(client, location) == ["queued", "running", "done"]
    assert client.get(f"{location}/difference.csv").text == difference_csv(
        here, first, date.fromisoformat(clock.now()[:10])
    )
    assert client.get(f"{location}/labels-to-change.csv").text == labels_to_change_csv(first, here)


def test_it_is_a_plan_like_any_other(client: TestClient, kept: dict[str, Any], first: Plan) -> None:
    _send(client, kept["project_id"], _first_level_done(first))
    location, found = _replanned(client, kept["id"])
    plans = client.get(f"/projects/{kept['project_id']}/plans").json()["items"]
    assert [plan["id"] for plan in plans] == [found["id"], kept["id"]]
    layout = Plan.model_validate(found["plan"]).numbered_layouts[0][0]
    for document in DOCUMENTS:
        answer = client.get(f"{location}/{document.format(layout=layout)}")
        assert answer.status_code == 200, f"{document}: {answer.text}"


def test_it_starts_from_the_newest_survey_and_is_replanned_again_to_the_end(
    client: TestClient, kept: dict[str, Any], first: Plan, small_project: dict[str, Any]
) -> None:
    job = _first_level_done(first)
    _send(client, kept["project_id"], job)
    last = first.project.levels_in_order()[-1].level
    runs = {run.run for run in first.project.runs if run.level == last}
    gaps = [{**gap, "gap_mm": gap["gap_mm"] + 3 * (gap["run"] in runs)} for gap in small_project["gaps"]]
    newer = {**small_project, "gaps": gaps}
    put = client.put(f"/projects/{kept['project_id']}", json=newer, headers={"If-Match": '"1"'})
    assert put.status_code == 200
    _, found = _replanned(client, kept["id"])
    assert found["project_version"] == 2
    second = Plan.model_validate(found["plan"])
    assert [gap.gap_mm for gap in second.project.gaps] == [gap["gap_mm"] for gap in gaps]
    assert {piece.status for piece in second.pieces} == {"fitted", "planned"}

    job.order_all(second)
    job.cut_and_fit(piece for piece in second.pieces if not piece.done)
    _send(client, kept["project_id"], job)
    _, found = _replanned(client, found["id"])
    third = Plan.model_validate(found["plan"])
    assert {piece.status for piece in third.pieces} == {"fitted"}
    assert third.layouts == ()
    assert third.record == job.record

    def page(sheet: str) -> str:
        return _words(client, f"/schedules/{found['id']}{sheet}")

    assert "None: nothing of this level is left to cut." in page("/levels/1")
    assert "from the rack" not in page("/levels")
    assert "Nothing to cut is listed: every piece is cut, or none is planned." in page("/boards")
    assert "Every piece of the plan is fitted." in _words(client, f"/site/{kept['project_id']}")


def test_a_plan_that_orders_nothing_says_so_in_words_on_every_sheet(
    client: TestClient, kept: dict[str, Any], first: Plan
) -> None:
    job = JobOnSite()
    job.order_all(first)
    _send(client, kept["project_id"], job)
    location, found = _replanned(client, kept["id"])
    assert found["plan"]["order"]["lines"] == found["plan"]["deliveries"] == []
    nothing = "This plan orders nothing: stock, what is on site and what is on order cover what is planned."

    def page(sheet: str) -> str:
        return _words(client, f"/schedules/{found['id']}{sheet}")

    order = page("")
    assert f"Next order Nothing {nothing}" in order
    assert "needed_on" not in order
    assert "No delivery comes by this plan." in order
    assert "By product Nothing is ordered." in order
    assert "Order, UBL 2.1" not in order
    deliveries = page("/deliveries")
    assert "Next order date none this plan orders nothing" in deliveries
    assert f"What each delivery brings {nothing} So no delivery comes by it" in deliveries
    assert "date open" not in deliveries
    assert "Boards arriving" not in deliveries, "no chart of nothing"
    assert f"{nothing} So there is no delivery to move." in page("/dates")
    assert "has its place" in order or "have their place" in order
    assert b"Nothing to order" in client.get(f"{location}/deliveries.ics").content


def _words(client: TestClient, address: str) -> str:
    """A page's text with its blanks as one."""
    answer = client.get(address)
    assert answer.status_code == 200, answer.text
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", answer.text)).split()).replace(" .", ".")


def test_asking_twice_under_one_key_plans_once(client: TestClient, kept: dict[str, Any]) -> None:
    headers = {"Idempotency-Key": f"replan-{kept['id']}"}
    answers = [client.post(f"/plans/{kept['id']}/replans", headers=headers) for _ in range(2)]
    assert answers[0].json()["id"] == answers[1].json()["id"]


def test_events_that_the_plan_does_not_know_fail_in_words_until_they_are_taken_back(
    client: TestClient, kept: dict[str, Any]
) -> None:
    job = JobOnSite()
    job.write("cut", piece="nowhere-1")
    job.write("cut", board="999")
    _send(client, kept["project_id"], job)
    location = client.post(f"/plans/{kept['id']}/replans").headers["Location"]
    found = wait_for_plan(client, location)
    assert (found["status"], found["error"]["type"]) == ("failed", "/problems/cannot-be-planned")
    assert "nowhere-1" in found["error"]["detail"]
    assert "999" in found["error"]["detail"]
    assert client.get(f"{location}/plan.json").json()["detail"] == f"Plan {found['id']} has failed."
    assert client.delete(location).json()["detail"] == f"The plan {found['id']} has failed; it is kept."
    for name in ("event-1", "event-2"):
        job.write("undone", undoes=name)
    _send(client, kept["project_id"], job)
    _replanned(client, kept["id"])


def test_what_is_no_replan_changes_no_earlier_plan(client: TestClient, kept: dict[str, Any]) -> None:
    for name in ("difference", "labels-to-change"):
        answer = client.get(f"/plans/{kept['id']}/{name}.csv")
        assert answer.status_code == 404
        assert "first of its job" in answer.json()["detail"]
    assert client.post("/plans/0/replans").status_code == 404
    assert client.post(f"/plans/{kept['id']}/replans", json={"staging": "none"}).status_code == 422
    assert client.post(f"/projects/{kept['project_id']}/plans", json={"replan_of": "x"}).status_code == 422


def test_its_order_is_issued_on_top_of_what_was_issued(
    client: TestClient, kept: dict[str, Any], first: Plan
) -> None:
    _, unaware = _replanned(client, kept["id"])
    revision = client.post(f"/plans/{kept['id']}/issue").json()
    refused = client.post(f"/plans/{unaware['id']}/issue")
    assert (refused.status_code, refused.json()["type"]) == (409, "/problems/not-on-record")

    job = _first_level_done(first)
    code = next(line.code for line in first.order.lines if line.kind == "board" and line.packs)
    job.write("scrapped", code=code, quantity=2)
    _send(client, kept["project_id"], job)
    _, aware = _replanned(client, kept["id"])
    assert aware["plan"]["order"]["lines"]
    issued = client.post(f"/plans/{aware['id']}/issue")
    assert issued.status_code == 201, issued.text
    second = issued.json()
    assert (second["revision"], second["previous_hash"]) == (2, revision["hash"])
    assert second["plan_id"] == aware["id"]
    assert second["difference"]["total"] == aware["plan"]["order"]["total"]
    assert all(line["packs"] >= 0 for line in second["difference"]["lines"])
    assert all(line["causes"] == ["damage"] for line in second["difference"]["lines"])
    assert client.get(f"/projects/{kept['project_id']}/orders").json()["chain_intact"] is True


def test_what_a_supplier_did_not_confirm_is_ordered_in_the_next_revision_and_once(
    client: TestClient, small_project: dict[str, Any]
) -> None:
    """The revision holds what he confirmed and what is missing; issued, all of it is on record."""
    project = {**small_project, "project": {**small_project["project"], "order_reference": "QY-3"}}
    kept = wait_for_plan(client, client.post("/order-schedules", json=project).headers["Location"])
    first = Plan.model_validate(kept["plan"])
    client.post(f"/plans/{kept['id']}/issue")
    asked = next(line for line in first.order.lines if line.kind == "board" and line.packs > 1)
    lines = order_response([{"line": 1, "quantity": 1}])
    said = client.post(
        f"/plans/{kept['id']}/answers", content=lines, headers={"Content-Type": "application/xml"}
    )
    assert said.status_code == 200, said.text
    _, rest = _replanned(client, kept["id"])
    missing = {(line["level"], line["code"]): line["packs"] for line in rest["plan"]["order"]["lines"]}
    assert missing[asked.level, asked.code] == asked.packs - 1
    issued = client.post(f"/plans/{rest['id']}/issue")
    assert issued.status_code == 201, issued.text
    confirmed = {(line.level, line.code): line.packs for line in first.order.lines}
    confirmed[asked.level, asked.code] = 1
    assert {(line["level"], line["code"]): line["packs"] for line in issued.json()["order"]["lines"]} == {
        line: packs + missing.get(line, 0) for line, packs in confirmed.items()
    }
    _, nothing = _replanned(client, rest["id"])
    assert not nothing["plan"]["order"]["lines"]


def test_a_replan_knows_what_is_on_order_without_anyone_telling_it(
    client: TestClient, kept: dict[str, Any], first: Plan
) -> None:
    client.post(f"/plans/{kept['id']}/issue")
    location, found = _replanned(client, kept["id"])
    after = Plan.model_validate(found["plan"])
    assert after.order.total == 0
    assert {item.code: item.ordered for item in after.job.supplied} == {
        code: sum(line.packs * line.per_pack for line in first.order.lines if line.code == code)
        for code in {line.code for line in first.order.lines if line.packs}
    }
    rows = client.get(f"{location}/difference.csv").text.splitlines()
    assert "causes" in rows[0]


def test_a_damaged_piece_is_ordered_again_by_its_id(
    client: TestClient, kept: dict[str, Any], first: Plan
) -> None:
    client.post(f"/plans/{kept['id']}/issue")
    level = first.project.levels_in_order()[0].level
    job = JobOnSite()
    job.deliver(first, level)
    job.cut_and_fit(of_level(first, level))
    spoilt = [piece.id for piece in of_level(first, level)][:12]
    for name in spoilt:
        job.write("scrapped", piece=name)
    _send(client, kept["project_id"], job)
    _, found = _replanned(client, kept["id"])
    issued = client.post(f"/plans/{found['id']}/issue").json()
    boards = [line for line in issued["difference"]["lines"] if line["damaged"]]
    assert boards
    for line in boards:
        assert "damage" in line["causes"]
        assert set(line["damaged"]) <= set(spoilt)
