"""Gaps measured at the slab edge: the survey's next version, each sending once, nothing half kept."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
import sqlalchemy as sa
from fastapi.testclient import TestClient

from api.storage.engine import Storage
from tests.service.conftest import Place

AT = "2027-04-20T08:30:00"


@pytest.fixture
def nominal(small_project: dict[str, Any]) -> dict[str, Any]:
    """The small job with a second level that is not measured yet."""
    found: dict[str, Any] = json.loads(json.dumps(small_project))
    for gap in found["gaps"]:
        if gap["run"].startswith("L2"):
            gap.update(basis="nominal", tolerance_mm=10)
    return found


@pytest.fixture
def project(client: TestClient, nominal: dict[str, Any]) -> str:
    """The address of that job, kept."""
    return client.post("/v1/projects", json=nominal).headers["Location"]


def _gaps(client: TestClient, project: str) -> dict[tuple[str, int], dict[str, Any]]:
    found = client.get(project).json()["project"]["gaps"]
    return {(gap["run"], gap["at_mm"]): gap for gap in found}


def _sent(*readings: dict[str, Any], id: str = "phone-1") -> dict[str, Any]:
    return {"id": id, "at": AT, "by": "surveyor", "readings": list(readings)}


def test_the_wider_of_top_and_bottom_is_the_gap_of_the_next_version(client: TestClient, project: str) -> None:
    read = {"run": "L2-N", "at_mm": 0, "gap_top_mm": 139, "gap_bottom_mm": 143}
    answer = client.post(f"{project}/readings", json=_sent(read))
    assert (answer.status_code, answer.json()["version"]) == (201, 2)
    assert answer.headers["Location"] == f"{project}/readings"
    gap = _gaps(client, project)["L2-N", 0]
    assert (gap["gap_mm"], gap["basis"], gap["taken_on"]) == (143, "measured", "2027-04-20")
    assert (gap["gap_top_mm"], gap["gap_bottom_mm"]) == (139, 143)
    assert "tolerance_mm" not in gap or gap["tolerance_mm"] is None
    assert client.get(project).headers["ETag"] == '"2"'
    assert client.get(f"{project}/changes").json()["items"][-1]["action"] == "version 2 kept"


def test_a_position_between_others_is_added_and_the_rest_stays(
    client: TestClient, project: str, nominal: dict[str, Any]
) -> None:
    before = _gaps(client, project)
    client.post(f"{project}/readings", json=_sent({"run": "L1-N", "at_mm": 777, "gap_top_mm": 141}))
    after = _gaps(client, project)
    assert after.pop(("L1-N", 777))["gap_mm"] == 141
    assert {place: gap["gap_mm"] for place, gap in after.items()} == {
        place: gap["gap_mm"] for place, gap in before.items()
    }


def test_what_is_sent_again_counts_once_and_other_readings_under_its_id_are_refused(
    client: TestClient, project: str
) -> None:
    sent = _sent({"run": "L2-N", "at_mm": 0, "gap_top_mm": 150})
    first = client.post(f"{project}/readings", json=sent)
    again = client.post(f"{project}/readings", json=sent)
    assert (again.status_code, again.json()) == (200, first.json())
    assert client.get(project).json()["version"] == 2
    other = client.post(f"{project}/readings", json=_sent({"run": "L2-N", "at_mm": 0, "gap_top_mm": 151}))
    assert (other.status_code, other.json()["type"]) == (409, "/problems/other-readings")
    assert _gaps(client, project)["L2-N", 0]["gap_mm"] == 150


def test_what_nobody_can_get_at_is_kept_as_said_and_stays_nominal(client: TestClient, project: str) -> None:
    said = {"run": "L2-N", "at_mm": 0, "accessible": False, "note": "behind the hoist"}
    answer = client.post(f"{project}/readings", json=_sent(said))
    assert (answer.status_code, answer.json()["version"]) == (201, 1)
    assert _gaps(client, project)["L2-N", 0]["basis"] == "nominal"
    (kept,) = client.get(f"{project}/readings").json()["items"]
    assert kept["readings"][0]["note"] == "behind the hoist"
    assert kept["readings"][0]["accessible"] is False


def test_a_level_goes_on_record_as_measured_with_its_last_nominal_gap(
    client: TestClient, project: str, nominal: dict[str, Any]
) -> None:
    open_ones = [gap for gap in nominal["gaps"] if gap["basis"] == "nominal"]
    reads = [{"run": gap["run"], "at_mm": gap["at_mm"], "gap_top_mm": gap["gap_mm"]} for gap in open_ones]
    client.post(f"{project}/readings", json=_sent(*reads[:-1], id="morning"))
    assert client.get(f"{project}/events").json()["items"] == []
    client.post(f"{project}/readings", json=_sent(reads[-1], id="noon"))
    (event,) = client.get(f"{project}/events").json()["items"]
    assert (event["event"], event["level"], event["by"]) == ("measured", "L2", "surveyor")


@pytest.mark.parametrize(
    ("reading", "where"),
    [
        ({"run": "L9-N", "at_mm": 0, "gap_top_mm": 140}, "readings[1].run"),
        ({"run": "L2-N", "at_mm": 99_000, "gap_top_mm": 140}, "readings[1].at_mm"),
    ],
)
def test_readings_without_a_place_in_the_survey_are_told_and_nothing_is_kept(
    client: TestClient, project: str, reading: dict[str, Any], where: str
) -> None:
    good = {"run": "L2-N", "at_mm": 0, "gap_top_mm": 150}
    refused = client.post(f"{project}/readings", json=_sent(good, reading))
    assert refused.status_code == 422
    (fault,) = refused.json()["errors"]
    assert fault["place"] == where
    assert fault["mend"]
    assert client.get(project).json()["version"] == 1
    assert client.get(f"{project}/readings").json()["items"] == []


def test_a_position_that_is_read_twice_is_named(client: TestClient, project: str) -> None:
    once = {"run": "L2-N", "at_mm": 0, "gap_top_mm": 150}
    refused = client.post(f"{project}/readings", json=_sent(once, {**once, "gap_top_mm": 151}))
    assert refused.json()["detail"] == "The readings have 1 fault, listed with its mend; none is kept."
    (fault,) = refused.json()["errors"]
    assert fault["place"] == "readings[1].at_mm"
    assert fault["message"] == "L2-N at 0 mm is read by readings[0] too"


def test_a_reading_that_says_neither_a_gap_nor_that_there_is_no_access_is_refused(
    client: TestClient, project: str
) -> None:
    assert client.post(f"{project}/readings", json=_sent({"run": "L2-N", "at_mm": 0})).status_code == 422


def test_those_who_measure_at_once_lose_nothing(client: TestClient, project: str) -> None:
    sendings = [
        _sent({"run": "L2-N", "at_mm": at, "gap_top_mm": 150 + at // 1500}, id=f"phone-{at}")
        for at in (0, 1500, 3000, 4500)
    ]
    with ThreadPoolExecutor(4) as threads:
        answers = list(threads.map(lambda sent: client.post(f"{project}/readings", json=sent), sendings))
    assert [answer.status_code for answer in answers] == [201] * 4
    assert sorted(answer.json()["version"] for answer in answers) == [2, 3, 4, 5]
    gaps = _gaps(client, project)
    assert [gaps["L2-N", at]["gap_mm"] for at in (0, 1500, 3000, 4500)] == [150, 151, 152, 153]


def test_the_database_itself_refuses_to_alter_what_was_sent(
    place: Place, client: TestClient, project: str
) -> None:
    client.post(f"{project}/readings", json=_sent({"run": "L2-N", "at_mm": 0, "gap_top_mm": 150}))
    storage = Storage(place.settings.database_url)
    with pytest.raises(sa.exc.DatabaseError, match="never altered"), storage.writing() as connection:
        connection.execute(sa.text("UPDATE sent_readings SET document = '{}'"))
    storage.close()
