"""Survey versions, lists that are narrowed, what is read of a plan beside its order, and deleting a project."""

from __future__ import annotations

import io
import json
from typing import Any

import pytest
import sqlalchemy as sa
from fastapi.testclient import TestClient
from openpyxl import load_workbook

from api.changes.repository import log_change
from api.interface.describing import example
from api.storage.engine import Storage
from api.storage.guards import dropped_guards
from api.storage.tables import metadata
from tests.service.conftest import Place
from tests.service.issued_places import IssuedPlace

EXAMPLE = example("project")


@pytest.fixture
def versions(client: TestClient, small_project: dict[str, Any]) -> str:
    """A project whose second version widens its first gap by a millimetre: its address."""
    location = client.post("/v1/projects", json=small_project).headers["Location"]
    wider = json.loads(json.dumps(small_project))
    wider["gaps"][0]["gap_mm"] += 1
    assert client.put(location, json=wider, headers={"If-Match": '"1"'}).status_code == 200
    return location


def test_versions_are_listed_read_and_compared(
    client: TestClient, versions: str, small_project: dict[str, Any]
) -> None:
    listed = client.get(f"{versions}/versions?limit=1").json()
    assert [one["version"] for one in listed["items"]] == [2]
    before = client.get(f"{versions}/versions?before={listed['next']}").json()
    assert [one["version"] for one in before["items"]] == [1]
    assert before["next"] is None
    first = client.get(f"{versions}/versions/1")
    assert first.json()["project"]["gaps"][0]["gap_mm"] == small_project["gaps"][0]["gap_mm"]
    again = client.get(f"{versions}/versions/1", headers={"If-None-Match": first.headers["ETag"]})
    assert (again.status_code, again.content) == (304, b"")
    told = client.get(f"{versions}/versions/2/difference").json()
    assert (told["version"], told["against"]) == (2, 1)
    (change,) = told["items"]
    gap = small_project["gaps"][0]["gap_mm"]
    assert (change["table"], change["what"]) == ("gaps", "changed")
    assert (change["before"], change["after"]) == (str(gap), str(gap + 1))
    back = client.get(f"{versions}/versions/1/difference?against=2").json()["items"]
    assert back == [{**change, "before": change["after"], "after": change["before"]}]
    missing = client.get(f"{versions}/versions/3")
    assert missing.status_code == 404
    assert missing.json()["detail"] == "The building has 2 surveys; none is number 3."
    assert client.get(f"{versions}/versions/3/difference").status_code == 404


def test_a_version_as_a_workbook_is_read_as_the_same_survey(client: TestClient, versions: str) -> None:
    workbook = client.get(f"{versions}/versions/2/survey.xlsx").content
    again = client.post("/v1/projects", files={"workbook": ("survey.xlsx", workbook)}).headers["Location"]
    sent, kept = (client.get(one).json()["project"]["gaps"] for one in (again, versions))
    assert sent == kept
    template = load_workbook(io.BytesIO(client.get("/v1/survey-template.xlsx").content))
    assert "gaps" in {name.lower() for name in template.sheetnames}


def test_lists_are_narrowed_by_kind_status_and_moment(client: TestClient, versions: str) -> None:
    mine = versions.rpartition("/")[2]
    plan = client.post(f"{versions}/plans").headers["Location"]
    client.delete(plan)
    ended = client.get(plan).json()["status"]
    asked = client.post(f"{versions}/allowances", json={"draws": 1}).headers["Location"].rpartition("/")[2]
    client.delete(f"/v1/allowances/{asked}")

    def ids(path: str, **wanted: str) -> list[str]:
        answer = client.get(f"/v1{path}", params=wanted)
        assert answer.status_code == 200, answer.text
        return [one["id"] for one in answer.json()["items"]]

    of_project = f"/projects/{mine}"
    assert ids(f"{of_project}/plans", status=ended) == [plan.rpartition("/")[2]]
    assert ids(f"{of_project}/plans", status="failed") == []
    assert ids(f"{of_project}/plans", since="2999-01-01T00:00:00Z") == []
    assert ids(f"{of_project}/studies") == [asked]
    assert ids(f"{of_project}/studies", kind="allowance", since="2020-01-01") == [asked]
    assert ids(f"{of_project}/studies", kind="frontier") == []
    changed = client.get(versions).json()["updated_at"]
    assert mine in ids("/projects", since=changed)
    assert mine not in ids("/projects", since="2999-01-01T00:00:00+02:00")
    assert client.get("/v1/projects?since=0001-01-01T00:00:00%2B14:00").status_code == 422


def test_a_plan_has_a_calendar_and_the_risk_of_cutting_ahead(place: Place) -> None:
    project = json.loads(json.dumps(EXAMPLE))
    for gap in project["gaps"]:
        gap |= {"basis": "nominal", "tolerance_mm": 8}
    plan = place.client.post("/v1/order-schedules", json=project).headers["Location"]
    calendar = place.client.get(f"{plan}/deliveries.ics")
    assert calendar.headers["Content-Type"].startswith("text/calendar")
    assert calendar.text.count("BEGIN:VEVENT") > 1
    answer = place.client.get(f"{plan}/precut?draws=50&seed=1")
    assert answer.status_code == 200, answer.text
    told = answer.json()
    assert (told["draws"], told["seed"]) == (50, 1)
    (level,) = told["levels"]
    assert level["nominal_pieces"] == level["pieces"] > 0
    assert 0 < level["share_not_fitting"] <= 1


def test_a_buildings_page_shows_the_newest_of_its_changes(place: Place, versions: str) -> None:
    project = versions.rpartition("/")[2]
    storage = Storage(place.settings.database_url)
    with storage.writing() as connection:
        for number in range(200):
            log_change(connection, "local", project, "record of the job", f"change {number}", "A. Tester")
    storage.close()
    page = place.client.get(f"/buildings/{project}").text
    assert "Change log: the newest 200 changes" in page
    assert page.index("change 199") < page.index("change 0<")
    assert "version 2 kept" not in page


def test_a_project_is_deleted_with_everything_of_it(place: Place, versions: str) -> None:
    client, project = place.client, versions.rpartition("/")[2]
    plan = client.post(f"{versions}/plans").headers["Location"]
    client.delete(plan)
    assert client.delete(versions).status_code == 428
    jobs, storage = metadata.tables["jobs"], Storage(place.settings.database_url)
    with storage.writing() as connection:
        connection.execute(sa.update(jobs).where(jobs.c.project_id == project).values(status="running"))
    refused = client.delete(versions, headers={"If-Match": '"2"'})
    assert refused.json()["detail"].startswith("1 job of this project is queued or running")
    with storage.writing() as connection:
        connection.execute(sa.update(jobs).where(jobs.c.project_id == project).values(status="cancelled"))
    assert client.delete(versions, headers={"If-Match": '"1"'}).status_code == 412
    assert client.delete(versions, headers={"If-Match": '"2"'}).status_code == 204
    for address in (versions, plan, f"{versions}/versions"):
        assert client.get(address).status_code == 404
    with storage.reading() as connection:
        for table in metadata.sorted_tables:
            if "project_id" in table.c:
                left = sa.select(sa.func.count()).select_from(table).where(table.c.project_id == project)
                assert connection.scalar(left) == 0, table.name
        assert dropped_guards(connection) == {}
        log = sa.select(metadata.tables["changes"].c.action).where(
            metadata.tables["changes"].c.subject == f"project {project}"
        )
        assert list(connection.scalars(log)) == ["deleted"]
    storage.close()


def test_a_project_with_issued_orders_is_kept(issued_copy: IssuedPlace) -> None:
    with issued_copy.client() as client:
        address = f"/v1/projects/{issued_copy.project}"
        refused = client.delete(address, headers={"If-Match": "*"})
        assert refused.status_code == 409
        assert refused.json()["type"] == "/problems/orders-are-kept"
        assert refused.json()["orders"] == 2
        assert refused.json()["detail"].startswith("2 orders of this project were issued")
        assert client.get(address).status_code == 200
