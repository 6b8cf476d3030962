"""What every answer has in common: headers, problem details, a request id, a log line, a count."""

from __future__ import annotations

import json
from dataclasses import replace
from html import unescape
from typing import Any

import pytest
import structlog
from fastapi.testclient import TestClient
from sqlalchemy.exc import DataError, OperationalError
from starlette.exceptions import HTTPException

from api.app import create_app
from api.limited_process import LimitReached
from api.operation import service as operation
from api.operation.logs import set_up_logs
from api.pages import buildings
from api.projects import service as projects
from api.storage.trouble import UnusableDatabase
from tests.service.conftest import Place


@pytest.mark.parametrize(
    ("method", "path", "status"),
    [
        ("GET", "/nothing/here", 404),
        ("GET", "/plans/unknown", 404),
        ("PATCH", "/projects", 405),
        ("GET", "/projects?limit=many", 422),
        ("GET", "/plans/x/layouts/one.svg", 422),
        ("POST", "/projects", 400),
    ],
)
def test_every_error_is_a_problem_document(client: TestClient, method: str, path: str, status: int) -> None:
    answer = client.request(method, path)
    assert answer.status_code == status
    assert answer.headers["Content-Type"] == "application/problem+json"
    problem = answer.json()
    assert problem["status"] == status
    assert problem["type"].startswith("/problems/")
    assert problem["title"]
    assert problem["detail"]
    assert problem["instance"] == path.partition("?")[0]
    assert problem["request_id"] == answer.headers["X-Request-ID"]
    if status == 405:
        assert answer.headers["Allow"]
    if "limit" in path:
        assert problem["errors"][0]["place"] == "query.limit"


def test_an_unexpected_error_tells_nothing_of_itself(place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: Any) -> None:
        raise RuntimeError("secret inside")

    monkeypatch.setattr(operation, "live_workers", broken)
    answer = place.client.get("/readyz")
    assert answer.status_code == 500
    assert answer.headers["Content-Type"] == "application/problem+json"
    assert "secret" not in answer.text
    assert answer.json()["request_id"] == answer.headers["X-Request-ID"]
    assert answer.headers["X-Content-Type-Options"] == "nosniff"


@pytest.mark.parametrize(
    ("error", "status", "says"),
    [
        (UnusableDatabase("The anchor is gone."), 503, "cannot be used. The operator&#39;s log says why."),
        (OperationalError("", {}, Exception("closed")), 503, "The database does not answer."),
        (DataError("", {}, Exception("NUL")), 422, "has a character that is never kept (NUL)"),
        (HTTPException(413), 413, "The body is larger than the service accepts."),
        (LimitReached("time"), 422, "This needs more time than it is given"),
    ],
    ids=lambda one: type(one).__name__,
)
def test_a_page_says_what_the_interface_says_of_an_expected_error(
    place: Place, monkeypatch: pytest.MonkeyPatch, error: Exception, status: int, says: str
) -> None:
    def broken(*_: Any) -> None:
        raise error

    monkeypatch.setattr(buildings, "projects_page", broken)
    page = place.client.get("/")
    assert page.status_code == status
    assert page.headers["Content-Type"].startswith("text/html")
    assert says in page.text
    assert "Retry-After" in page.headers or status != 503
    monkeypatch.setattr(projects, "projects_page", broken)
    answer = place.client.get("/v1/projects")
    assert answer.status_code == status
    assert answer.json()["detail"] in unescape(page.text)


def test_every_building_is_reached_from_the_first_page(
    client: TestClient, small_project: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(buildings, "_BUILDINGS", 2)
    made = [client.post("/projects", json=small_project).json()["id"] for _ in range(3)]
    first = client.get("/").text
    assert [f'href="/buildings/{one}"' in first for one in made] == [False, True, True]
    assert f'href="/?after={made[1]}#kept-title"' in first
    before = client.get(f"/?after={made[1]}").text
    assert f'href="/buildings/{made[0]}"' in before
    assert "The newest buildings" in before
    assert client.get("/?after=0").status_code == 422


def test_a_forms_fault_is_said_without_the_librarys_words(client: TestClient, small_project: Any) -> None:
    project = client.post("/projects", json=small_project).json()["id"]
    form = {"carry_cost": "2.50", "waiting_choice": "1"}
    page = client.post(f"/buildings/{project}/plans", data=form)
    assert page.status_code == 422
    assert "give either carry_cost or waiting_choice, not both." in page.text
    assert "Value error" not in page.text


def test_every_answer_has_its_security_headers_and_is_not_stored(client: TestClient) -> None:
    for path in ("/healthz", "/projects", "/nothing"):
        headers = client.get(path).headers
        assert "default-src 'self'" in headers["Content-Security-Policy"]
        assert headers["X-Frame-Options"] == "DENY"
        assert headers["Cache-Control"] == "no-store"


def test_a_request_id_is_kept_when_it_is_one(client: TestClient) -> None:
    assert (
        client.get("/healthz", headers={"X-Request-ID": "order-desk-1"}).headers["X-Request-ID"]
        == "order-desk-1"
    )
    strange = client.get("/healthz", headers={"X-Request-ID": "a b\tc"}).headers["X-Request-ID"]
    assert strange != "a b\tc"
    assert len(strange) == 16


def test_each_request_is_a_line_of_json_in_the_log(place: Place, capsys: pytest.CaptureFixture[str]) -> None:
    set_up_logs("info")
    with TestClient(create_app(place.settings)) as client:
        client.get("/plans/unknown", headers={"X-Request-ID": "look-for-this"})
    structlog.reset_defaults()
    lines = [json.loads(line) for line in capsys.readouterr().err.splitlines() if line.startswith("{")]
    (line,) = [line for line in lines if line.get("request_id") == "look-for-this"]
    assert (line["event"], line["method"], line["path"], line["status"]) == (
        "request",
        "GET",
        "/plans/unknown",
        404,
    )


def test_metrics_count_requests_by_route_and_jobs_by_status(
    place: Place, small_project: dict[str, Any]
) -> None:
    client = place.client
    client.post("/order-schedules", json=small_project)
    text = client.get("/metrics").text
    assert 'barrier_orders_requests_total{method="POST",route="/order-schedules",status="200"}' in text
    assert 'barrier_orders_jobs{kind="plan",status="done"}' in text
    assert "barrier_orders_workers 2.0" in text
    client.get("/plans/some-id-of-a-caller")
    assert "some-id-of-a-caller" not in client.get("/metrics").text


def test_a_body_that_is_too_large_is_refused_whether_or_not_it_says_its_size(place: Place) -> None:
    def pieces() -> Any:
        for _ in range(3):
            yield b"x" * 2**20

    with TestClient(create_app(replace(place.settings, body_megabytes=1))) as client:
        for body in (b"x" * (2**20 + 1), pieces()):
            answer = client.post("/projects", content=body, headers={"Content-Type": "application/json"})
            assert answer.status_code == 413
            assert answer.headers["Content-Type"] == "application/problem+json"
            assert answer.json()["type"] == "/problems/content-too-large"


def test_a_service_that_stops_is_no_longer_ready(place: Place) -> None:
    with TestClient(create_app(place.settings)) as client:
        assert client.get("/readyz").status_code == 200
        client.app.state.context.stopping.set()  # type: ignore[attr-defined]
        assert client.get("/readyz").status_code == 503
        assert client.get("/healthz").status_code == 200
