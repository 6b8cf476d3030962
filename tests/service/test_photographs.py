"""Photographs: kept once under their sender's id, found with what they are of, never altered, seen by their company."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
import sqlalchemy as sa
from fastapi.testclient import TestClient
from PIL import Image
from pypdf import PdfReader

from api.accounts.browsers import COOKIE
from api.accounts.service import add_key
from api.app import create_app
from api.settings import Settings
from api.storage.engine import Storage
from tests.service.conftest import Place
from tests.service.running import wait_for_plan

JPEG = b"\xff\xd8\xff\xe0" + b"an invented picture" * 20
ABOUT = {"at": "2027-05-03T10:00:00", "what": "joint", "piece": "L1-N-003", "by": "crew 2"}


@pytest.fixture
def project(client: TestClient, small_project: dict[str, Any]) -> str:
    """The address of the small job, kept."""
    return client.post("/v1/projects", json=small_project).headers["Location"]


def test_a_photograph_is_kept_with_what_it_is_of_and_read_back(client: TestClient, project: str) -> None:
    address = f"{project}/photographs/phone-1"
    kept = client.put(address, params=ABOUT, content=JPEG)
    assert (kept.status_code, kept.headers["Location"]) == (201, address)
    assert ABOUT.items() <= kept.json().items()
    assert (kept.json()["media_type"], kept.json()["bytes"]) == ("image/jpeg", len(JPEG))
    shown = client.get(address)
    assert (shown.content, shown.headers["Content-Type"]) == (JPEG, "image/jpeg")
    assert client.get(f"{project}/photographs").json()["items"] == [kept.json()]


def test_sent_twice_it_is_kept_once_and_another_one_under_its_id_is_refused(
    client: TestClient, project: str
) -> None:
    address = f"{project}/photographs/phone-1"
    first = client.put(address, params=ABOUT, content=JPEG)
    again = client.put(address, params=ABOUT, content=JPEG)
    assert (again.status_code, again.json()) == (200, first.json())
    for params, content in ((ABOUT, JPEG + b"."), ({**ABOUT, "piece": "L1-N-004"}, JPEG)):
        assert client.put(address, params=params, content=content).status_code == 409
    assert client.get(address).content == JPEG


@pytest.mark.parametrize(
    ("content", "status"), [(b"", 415), (b"<svg onload='x'/>", 415), (JPEG + b"\0" * 2**23, 413)]
)
def test_what_is_no_picture_or_too_large_is_refused_in_words(
    client: TestClient, project: str, content: bytes, status: int
) -> None:
    refused = client.put(f"{project}/photographs/phone-1", params=ABOUT, content=content)
    assert refused.status_code == status
    assert refused.json()["detail"]
    assert client.get(f"{project}/photographs").json() == {"items": []}


def test_what_is_not_there_is_not_found(client: TestClient, project: str) -> None:
    assert client.get(f"{project}/photographs/none").status_code == 404
    assert client.put("/v1/projects/0/photographs/a", content=JPEG).status_code == 404
    assert client.put(f"{project}/photographs/a%20b", content=JPEG).status_code == 422
    assert client.put(f"{project}/photographs/a", params={"what": "cat"}, content=JPEG).status_code == 422


def test_the_database_itself_refuses_to_alter_a_photograph(
    place: Place, client: TestClient, project: str
) -> None:
    client.put(f"{project}/photographs/phone-1", content=JPEG)
    storage = Storage(place.settings.database_url)
    with pytest.raises(sa.exc.DatabaseError, match="never altered"), storage.writing() as connection:
        connection.execute(sa.text("DELETE FROM photographs"))
    storage.close()


def test_photographs_of_joints_are_in_the_report_of_their_level(
    client: TestClient, small_project: dict[str, Any]
) -> None:
    plan = client.post("/v1/order-schedules", json=small_project).headers["Location"]
    found = wait_for_plan(client, plan)
    piece = next(piece["id"] for piece in found["plan"]["pieces"] if piece["level"] == "L1")
    address = f"/v1/projects/{found['project_id']}/photographs"
    file = io.BytesIO()
    Image.new("RGB", (64, 48)).save(file, "JPEG")
    client.put(f"{address}/p1", params={**ABOUT, "piece": piece}, content=file.getvalue())
    client.put(f"{address}/p2", params={**ABOUT, "piece": piece}, content=JPEG)
    client.put(f"{address}/p3", params={**ABOUT, "piece": "elsewhere"}, content=JPEG)
    for level, count in (("L1", 1), ("L2", 0)):
        report = client.get(f"{plan}/inspection.pdf", params={"level": level})
        pages = PdfReader(io.BytesIO(report.content)).pages
        assert sum(len(page.images) for page in pages) == count
    rows = list(csv.DictReader(io.StringIO(client.get(f"{plan}/inspection.csv").text)))
    assert [row["photographs"] for row in rows if row["photographs"]] == ["p1, p2"]
    assert client.get(f"{plan}/inspection.csv", params={"level": "L9"}).status_code == 422


@pytest.fixture
def keyed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[TestClient, dict[str, str]]]:
    """The application where a key is needed, and keys of two companies."""
    folder = tmp_path_factory.mktemp("keyed")
    settings = replace(
        Settings(), database_url=f"sqlite:///{folder}/k.sqlite", keys_required=True, rate_per_minute=0
    )
    app = create_app(settings)
    with app.state.context.storage.writing() as connection:
        keys = {name: add_key(connection, name, f"{name} site", "plan") for name in ("north", "south")}
    with TestClient(app, base_url="https://testserver") as client:
        yield client, keys


def _sign_in(client: TestClient, key: str) -> None:
    client.cookies.clear()
    assert client.post("/sign-in", data={"key": key}, follow_redirects=False).status_code == 303
    assert COOKIE in client.cookies


def test_a_page_calls_with_its_browsers_cookie_and_no_other_sites_page_does(
    keyed: tuple[TestClient, dict[str, str]], small_project: dict[str, Any]
) -> None:
    client, keys = keyed
    bearer = {"Authorization": f"Bearer {keys['north']}"}
    project = client.post("/v1/projects", json=small_project, headers=bearer).headers["Location"]
    address = f"{project}/photographs/phone-1"
    assert client.put(address, content=JPEG).status_code == 401
    _sign_in(client, keys["north"])
    same, other = {"Sec-Fetch-Site": "same-origin"}, {"Sec-Fetch-Site": "cross-site"}
    assert client.put(address, content=JPEG, headers=other).status_code == 401
    assert (
        client.put(address, content=JPEG, headers={"Origin": "https://elsewhere.example"}).status_code == 401
    )
    kept = client.put(address, content=JPEG, headers=same)
    assert (kept.status_code, kept.json()["received_by"][:10]) == (201, "north site")
    _sign_in(client, keys["south"])
    assert client.get(address, headers=same).status_code == 404
