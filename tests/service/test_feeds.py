"""A project's calendar feed: a secret address, shown once, that follows the newest revision until it is revoked."""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
import sqlalchemy as sa
from fastapi.testclient import TestClient

from api import clock
from api.accounts.rates import RateCounter
from api.accounts.service import LOCAL_USER
from api.app import create_app
from api.jobs.repository import cancel_job
from api.jobs.service import log_job
from api.settings import Settings, usable_database_url
from api.storage.engine import Storage
from api.storage.tables import audit_log, calendar_feeds
from tests.service.conftest import DATABASES, empty_database


@pytest.fixture(scope="module", params=DATABASES)
def near(request: pytest.FixtureRequest) -> Iterator[tuple[TestClient, Storage]]:
    """The application on an empty database; small plans are made at once."""
    url = usable_database_url(empty_database(request.param, request, f"feeds_{request.param}"))
    storage = Storage(url)
    with TestClient(create_app(replace(Settings(), database_url=url, at_once_seconds=60))) as client:
        yield client, storage
    storage.close()


def planned(client: TestClient, project: dict[str, Any]) -> tuple[str, str]:
    """The ids of a project and of its plan, which is done."""
    answer = client.post("/v1/order-schedules", json=project)
    assert answer.status_code == 200, answer.text
    plan_id = answer.headers["Location"].rpartition("/")[2]
    return str(client.get(f"/v1/plans/{plan_id}").json()["project_id"]), plan_id


def made(client: TestClient, project_id: str) -> str:
    """The path of a feed that is made."""
    answer = client.post(f"/v1/projects/{project_id}/calendar-feed")
    assert answer.status_code == 201, answer.text
    address = str(answer.json()["address"])
    path = address.removeprefix("http://testserver")
    assert re.fullmatch(r"/calendar/[A-Za-z0-9_-]{43}\.ics", path)
    return path


def test_a_feed_shows_the_newest_finished_plan_however_many_were_cancelled_since(
    near: tuple[TestClient, Storage], small_project: dict[str, Any]
) -> None:
    client, storage = near
    project_id, _ = planned(client, small_project)
    with storage.writing() as connection:
        for _ in range(60):
            job_id = uuid.uuid4().hex
            log_job(connection, LOCAL_USER, job_id, project_id, 1, "plan", {})
            assert cancel_job(connection, job_id, "A. Tester")
    assert client.get(made(client, project_id)).status_code == 200


def test_a_feed_is_a_draft_until_a_revision_is_issued_and_then_shows_that(
    near: tuple[TestClient, Storage], small_project: dict[str, Any]
) -> None:
    client, _ = near
    project_id, plan_id = planned(client, small_project)
    path = made(client, project_id)
    draft = client.get(path)
    assert draft.status_code == 200
    assert draft.headers["Content-Type"] == "text/calendar; charset=utf-8"
    assert draft.text.startswith("BEGIN:VCALENDAR")
    unfolded = draft.text.replace("\r\n ", "")
    summaries = re.findall(r"SUMMARY:(.*)\r", unfolded)
    assert summaries
    assert all(words.startswith("Draft: ") for words in summaries)
    assert client.post(f"/v1/plans/{plan_id}/issue").status_code == 201
    issued = client.get(path, headers={"If-None-Match": draft.headers["ETag"]})
    assert issued.status_code == 200
    assert issued.headers["ETag"] != draft.headers["ETag"]
    assert "Draft" not in issued.text
    assert "revision 1" in issued.text.replace("\r\n ", "")
    assert issued.content == client.get(f"/v1/plans/{plan_id}/deliveries.ics").content


def test_a_program_that_has_it_already_is_answered_with_304(
    near: tuple[TestClient, Storage], small_project: dict[str, Any]
) -> None:
    client, _ = near
    path = made(client, planned(client, small_project)[0])
    etag = client.get(path).headers["ETag"]
    for known in (etag, f"W/{etag}", f'"other", {etag}'):
        again = client.get(path, headers={"If-None-Match": known})
        assert (again.status_code, again.content, again.headers["ETag"]) == (304, b"", etag)
    assert client.get(path, headers={"If-None-Match": '"other"'}).status_code == 200
    head = client.head(path)
    assert (head.status_code, head.content, head.headers["ETag"]) == (200, b"", etag)


def test_a_new_address_ends_the_old_one_and_a_revoked_one_is_not_found(
    near: tuple[TestClient, Storage], small_project: dict[str, Any]
) -> None:
    client, _ = near
    project_id, _ = planned(client, small_project)
    feed = f"/v1/projects/{project_id}/calendar-feed"
    assert client.get(feed).status_code == 404
    assert client.delete(feed).status_code == 404
    first = made(client, project_id)
    second = made(client, project_id)
    assert client.get(first).status_code == 404
    assert client.get(second).status_code == 200
    assert client.delete(feed).status_code == 204
    for path in (first, second, "/calendar/none.ics", second.removesuffix(".ics")):
        assert client.get(path).status_code == 404
    log = client.get(f"/v1/projects/{project_id}/changes").json()["items"]
    told = [line["action"] for line in log if line["subject"] == "calendar feed"]
    assert sorted(told) == ["made", "renewed", "revoked"]


def test_only_a_hash_of_the_secret_is_kept_and_no_log_has_it(
    near: tuple[TestClient, Storage], small_project: dict[str, Any], capsys: pytest.CaptureFixture[str]
) -> None:
    client, storage = near
    project_id, _ = planned(client, small_project)
    path = made(client, project_id)
    secret = path.removeprefix("/calendar/").removesuffix(".ics")
    assert client.get(path).status_code == 200
    with storage.reading() as connection:
        row = connection.execute(
            sa.select(calendar_feeds).where(calendar_feeds.c.project_id == project_id)
        ).one()
        lines = connection.execute(sa.select(audit_log)).all()
    assert re.fullmatch(r"[0-9a-f]{64}", row.secret_hash)
    assert all(secret not in str(value) for value in row)
    assert any(line.operation == "POST /projects/{project_id}/calendar-feed" for line in lines)
    assert all(secret not in str(line) for line in lines)
    assert "address" not in client.get(f"/v1/projects/{project_id}/calendar-feed").json()
    said = capsys.readouterr()
    assert secret not in said.out + said.err


def test_that_it_was_read_is_kept_to_the_hour(
    near: tuple[TestClient, Storage], small_project: dict[str, Any]
) -> None:
    client, storage = near
    project_id, _ = planned(client, small_project)
    path, feed = made(client, project_id), f"/v1/projects/{project_id}/calendar-feed"
    assert client.get(feed).json()["last_used_at"] is None
    client.get(path)
    first = client.get(feed).json()["last_used_at"]
    assert first is not None
    client.get(path)
    assert client.get(feed).json()["last_used_at"] == first
    with storage.writing() as connection:
        connection.execute(sa.update(calendar_feeds).values(last_used_at=clock.in_seconds(-3700)))
    client.get(path)
    assert client.get(feed).json()["last_used_at"] >= first


def test_a_project_without_a_plan_has_nothing_to_show(
    near: tuple[TestClient, Storage], small_project: dict[str, Any]
) -> None:
    client, _ = near
    location = client.post("/v1/projects", json=small_project).headers["Location"]
    answer = client.post(f"{location}/calendar-feed")
    assert (answer.status_code, answer.json()["type"].rpartition("/")[2]) == (409, "plan-not-done")
    assert client.post("/v1/projects/0/calendar-feed").status_code == 404


def test_guessing_addresses_is_slowed_down_like_guessing_keys(
    near: tuple[TestClient, Storage], small_project: dict[str, Any]
) -> None:
    client, _ = near
    path = made(client, planned(client, small_project)[0])
    app: Any = client.app
    context = app.state.context
    guessed = [client.get(f"/calendar/{'a' * 43}.ics").status_code for _ in range(40)]
    assert 404 in guessed
    assert guessed[-1] == 429
    assert client.get(path).status_code == 200  # who has the address still reads it
    app.state.context = replace(context, rates=RateCounter(2))
    try:
        assert [client.get(path).status_code for _ in range(3)] == [200, 200, 429]
    finally:
        app.state.context = context
