"""The record of a job: events counted once, all faults at once, nothing ever altered, read back in pages."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import Any

import pytest
import sqlalchemy as sa
from fastapi.testclient import TestClient

from api.accounts.service import LOCAL_COMPANY, LOCAL_USER, company_named
from api.app import create_app
from api.projects.reading import ReadProject
from api.projects.service import add_project
from api.settings import Settings, usable_database_url
from api.storage.engine import Storage
from tests.service.conftest import DATABASES, Place, empty_database
from tests.service.running import wait_for_plan

NOTHING_NEW: dict[str, Any] = {"added": 0, "known": 0, "warnings": []}


@pytest.fixture
def project(client: TestClient, small_project: dict[str, Any]) -> str:
    """The address of the small job, kept."""
    return client.post("/projects", json=small_project).headers["Location"]


@pytest.fixture(scope="session")
def ordered(small_project: dict[str, Any]) -> dict[str, Any]:
    """Three boards for the first level are ordered."""
    return {
        "at": "2027-03-01T07:30:00",
        "event": "ordered",
        "level": small_project["levels"][0]["level"],
        "code": small_project["products"][0]["code"],
        "quantity": 3,
        "id": "office-1",
        "by": "purchasing",
    }


def test_events_are_added_and_read_back_with_who_sent_them_and_when(
    client: TestClient, project: str, ordered: dict[str, Any]
) -> None:
    cut = {"at": "2027-03-02T09:00:00", "event": "cut", "board": "1", "id": "phone-1", "note": "dry"}
    answer = client.post(f"{project}/events", json=[ordered, cut])
    assert (answer.status_code, answer.headers["Location"]) == (201, f"{project}/events")
    assert answer.json() == {"added": 2, "known": 0, "events": 2, "warnings": []}
    newest, first = client.get(f"{project}/events").json()["items"]
    assert ordered.items() <= first.items()
    assert cut.items() <= newest.items()
    assert (first["number"], newest["number"]) == (1, 2)
    assert newest["received_by"] == "this machine"
    assert newest["received_at"].endswith("Z")
    log = client.get(f"{project}/changes").json()["items"][-1]
    assert (log["subject"], log["action"]) == ("record of the job", "2 events added")


def test_under_the_version_the_location_names_it_too(
    client: TestClient, small_project: dict[str, Any], ordered: dict[str, Any]
) -> None:
    project = client.post("/v1/projects", json=small_project).headers["Location"]
    assert project.startswith("/v1/projects/")
    answer = client.post(f"{project}/events", json=[ordered])
    assert answer.headers["Location"] == f"{project}/events"
    assert client.get(f"{project}/events").json() == client.get(f"{project[3:]}/events").json()
    planned = client.post("/v1/order-schedules", json=small_project)
    assert planned.headers["Content-Location"] == planned.headers["Location"]
    assert planned.headers["Location"].startswith("/v1/plans/")
    missing = client.get("/v1/projects/0")
    assert (missing.status_code, missing.json()["instance"]) == (404, "/v1/projects/0")


def test_an_event_that_is_sent_again_counts_once(
    client: TestClient, project: str, ordered: dict[str, Any]
) -> None:
    client.post(f"{project}/events", json=[ordered])
    before = client.get(f"{project}/events").json()
    again = client.post(f"{project}/events", json=[ordered])
    assert (again.status_code, again.json()) == (200, {**NOTHING_NEW, "known": 1, "events": 1})
    assert client.get(f"{project}/events").json() == before
    more = client.post(f"{project}/events", json=[ordered, {**ordered, "id": "office-2"}])
    assert (more.status_code, more.json()) == (201, {**NOTHING_NEW, "added": 1, "known": 1, "events": 2})
    assert client.get(f"{project}/changes").json()["items"][-1]["action"] == "1 event added"


def test_an_id_that_says_something_else_now_is_refused(
    client: TestClient, project: str, ordered: dict[str, Any]
) -> None:
    client.post(f"{project}/events", json=[ordered])
    new = {**ordered, "id": "office-9"}
    refused = client.post(f"{project}/events", json=[new, {**ordered, "quantity": 4}])
    assert refused.status_code == 422
    (fault,) = refused.json()["errors"]
    assert (fault["place"], fault["value"]) == ("record[1].id", "office-1")
    assert "something else" in fault["message"]
    assert "undone" in fault["mend"]
    assert [item["id"] for item in client.get(f"{project}/events").json()["items"]] == ["office-1"]


def test_every_fault_is_told_at_once_and_nothing_is_added(
    client: TestClient, project: str, ordered: dict[str, Any]
) -> None:
    wrong = [
        ordered,
        {"at": "yesterday", "event": "sawn", "id": "a"},
        {"at": "2027-03-01", "event": "fitted", "level": "L99", "id": "b"},
        {"at": "2027-03-01", "event": "delivered", "code": "no such board", "quantity": 2, "id": "c"},
        {"at": "2027-03-01", "event": "undone", "undoes": "never sent", "id": "d"},
        {"at": "2027-03-01", "event": "cut", "piece": "P-1"},
        ordered,
        "cut it",
    ]
    refused = client.post(f"{project}/events", json=wrong)
    assert (refused.status_code, refused.json()["type"]) == (422, "/problems/unusable-input")
    places = {fault["place"] for fault in refused.json()["errors"]}
    assert places == {
        "record[1].at",
        "record[1].event",
        "record[2].level",
        "record[3].code",
        "record[4].undoes",
        "record[5].id",
        "record[6].id",
        "record[7]",
    }
    assert all(fault["message"] and fault["mend"] for fault in refused.json()["errors"])
    assert client.get(f"{project}/events").json() == {"items": [], "next": None}


def test_what_the_newest_plan_does_not_have_is_told_and_kept_all_the_same(
    client: TestClient, small_project: dict[str, Any]
) -> None:
    planned = client.post("/order-schedules", json=small_project)
    found = wait_for_plan(client, planned.headers["Location"])
    piece = found["plan"]["pieces"][0]["id"]
    sent = [
        {"at": "2027-03-02T09:00:00", "event": "cut", "piece": piece, "id": "a"},
        {"at": "2027-03-02T09:00:00", "event": "cut", "piece": f"{piece}x", "id": "b"},
        {"at": "2027-03-02T09:00:00", "event": "cut", "board": "B9999", "id": "c"},
    ]
    address = f"/projects/{found['project_id']}/events"
    answer = client.post(address, json=sent)
    assert (answer.status_code, answer.json()["added"]) == (201, 3)
    strange, board = answer.json()["warnings"]
    assert (strange["place"], strange["value"], strange["mend"]) == (
        "record[1].piece", f"{piece}x", f"write {piece}",
    )  # fmt: skip
    assert (board["place"], board["message"]) == ("record[2].board", "the newest plan has no such board")
    assert client.post(address, json=sent).json()["warnings"] == [], "it was told when they were new"


def test_ids_of_issued_orders_are_nobody_elses(
    client: TestClient, project: str, ordered: dict[str, Any]
) -> None:
    refused = client.post(f"{project}/events", json=[{**ordered, "id": "issued-1-abc"}])
    assert (refused.status_code, refused.json()["errors"][0]["place"]) == (422, "record[0].id")


def test_a_mistake_is_taken_back_by_an_event_sent_later(
    client: TestClient, project: str, ordered: dict[str, Any]
) -> None:
    client.post(f"{project}/events", json=[ordered])
    back = {"at": "2027-03-01T08:00", "event": "undone", "undoes": "office-1", "id": "office-2"}
    assert client.post(f"{project}/events", json=[back]).status_code == 201
    assert [item["event"] for item in client.get(f"{project}/events").json()["items"]] == [
        "undone",
        "ordered",
    ]


def test_the_record_is_read_in_pages_the_last_received_first(
    client: TestClient, project: str, ordered: dict[str, Any]
) -> None:
    client.post(f"{project}/events", json=[{**ordered, "id": f"office-{n}"} for n in range(1, 6)])
    found: list[int] = []
    after: dict[str, str] = {}
    for _ in range(4):
        page = client.get(f"{project}/events", params={"limit": 2, **after}).json()
        found += [item["number"] for item in page["items"]]
        if page["next"] is None:
            break
        after = {"after": page["next"]}
    assert found == [5, 4, 3, 2, 1]
    for nowhere in ("99", "0", "abc"):
        assert client.get(f"{project}/events", params={"after": nowhere}).status_code == 422


def test_those_who_send_at_once_lose_nothing_and_number_without_a_gap(
    client: TestClient, project: str, ordered: dict[str, Any]
) -> None:
    batches = [[{**ordered, "id": f"{n}"}, {**ordered, "id": f"{n + 1}"}] for n in range(8)]
    with ThreadPoolExecutor(4) as threads:
        answers = list(threads.map(lambda batch: client.post(f"{project}/events", json=batch), batches))
    assert {answer.status_code for answer in answers} <= {200, 201}
    assert sum(answer.json()["added"] for answer in answers) == 9
    items = client.get(f"{project}/events").json()["items"]
    assert [item["number"] for item in items] == list(range(9, 0, -1))
    assert {item["id"] for item in items} == {str(n) for n in range(9)}


@pytest.mark.parametrize(("body", "status"), [(b"{", 400), (b"", 400), (b'{"at": 1}', 422), (b"[[[", 400)])
def test_what_is_no_list_of_events_is_refused_in_words(
    client: TestClient, project: str, body: bytes, status: int
) -> None:
    refused = client.post(f"{project}/events", content=body)
    assert refused.status_code == status
    assert refused.json()["detail"]


def test_a_project_that_is_not_there_has_no_record(client: TestClient, ordered: dict[str, Any]) -> None:
    assert client.post("/projects/0/events", json=[ordered]).status_code == 404
    assert client.get("/projects/0/events").status_code == 404


@pytest.mark.parametrize("kind", DATABASES)
def test_a_database_of_before_there_was_a_record_is_brought_to_have_one(
    kind: str, request: pytest.FixtureRequest, small_project: dict[str, Any], ordered: dict[str, Any]
) -> None:
    url = usable_database_url(empty_database(kind, request, f"before_records_{kind}"))
    settings = replace(Settings(), database_url=url)
    storage = Storage(url)
    storage.upgrade("0001")
    assert not sa.inspect(storage.engine).has_table("record_events")
    with storage.writing() as connection:
        company_named(connection, LOCAL_COMPANY)
        text = json.dumps(small_project)
        add_project(connection, LOCAL_USER, "0" * 32, ReadProject(text, "kept before", 1))
    storage.close()
    with TestClient(create_app(settings)) as client:
        assert client.get(f"/projects/{'0' * 32}").json()["name"] == "kept before"
        assert client.post(f"/projects/{'0' * 32}/events", json=[ordered]).status_code == 201


@pytest.mark.parametrize(
    "statement", ["UPDATE record_events SET document = '{}'", "DELETE FROM record_events"]
)
def test_the_database_itself_refuses_to_alter_the_record(
    place: Place, project: str, ordered: dict[str, Any], statement: str
) -> None:
    place.client.post(f"{project}/events", json=[ordered])
    storage = Storage(place.settings.database_url)
    with pytest.raises(sa.exc.DatabaseError, match="never altered"), storage.writing() as connection:
        connection.execute(sa.text(statement))
    storage.close()
