"""What a stranger, or one company, can do to all the others: little."""

from __future__ import annotations

import asyncio
import json
import resource
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any, cast

import httpx
import pytest
from fastapi import APIRouter, FastAPI
from fastapi.routing import APIRoute

from api.accounts.service import add_key
from api.admission import GuardedRoute
from api.app import CALLS, create_app, pages
from api.context import AppContext, Kind
from api.http.problem_details import Problem
from api.http.responses import File
from api.jobs.repository import count_of_open_jobs
from api.operation import service as operation
from api.operation.logs import Repetition
from api.plans import files
from api.settings import Settings, UnusableSetting, settings_from
from api.storage.usage import kept_bytes
from tests.service.conftest import Place
from tests.service.running import Server, environment, wait_for

LIMITS: dict[str, Any] = {"connections": 40, "header_seconds": 1, "idle_seconds": 1}


@pytest.fixture(scope="module")
def keyed(place: Place) -> FastAPI:
    """The application as it asks for keys, of which seventy requests of a company may wait."""
    settings = replace(place.settings, keys_required=True, rate_per_minute=0, waiting_requests=70)
    return create_app(settings)


@contextmanager
def _with_settings(app: FastAPI, **settings: Any) -> Iterator[None]:
    """The application works with other settings while the block runs."""
    context: AppContext = app.state.context
    app.state.context = replace(context, settings=replace(context.settings, **settings))
    try:
        yield
    finally:
        app.state.context = context


def _key(app: FastAPI, company: str, role: str = "plan") -> dict[str, str]:
    with app.state.context.storage.writing() as connection:
        return {"Authorization": f"Bearer {add_key(connection, company, 'office', role)}"}  # type: ignore[arg-type]


async def _sent(app: FastAPI, path: str, headers: dict[str, str], megabytes: int) -> tuple[int, int]:
    """The status of a POST that brings so much, and how many megabytes of it were read."""
    read, status = 0, 0

    async def receive() -> dict[str, Any]:
        nonlocal read
        read += 1
        return {"type": "http.request", "body": b" " * 2**20, "more_body": read < megabytes}

    async def send(message: dict[str, Any]) -> None:
        nonlocal status
        status = message.get("status", status)

    sent = {"content-type": "application/json", "transfer-encoding": "chunked", "host": "x", **headers}
    scope = {
        "type": "http",
        "asgi": {"version": "3.0"},
        "http_version": "1.1",
        "method": "POST",
        "scheme": "http",
        "path": path,
        "raw_path": path.encode(),
        "root_path": "",
        "query_string": b"",
        "headers": [(name.lower().encode(), value.encode()) for name, value in sent.items()],
        "client": ("192.0.2.7", 5000),
        "server": ("x", 80),
    }
    await app(scope, receive, send)  # type: ignore[arg-type]
    return status, read


@pytest.mark.parametrize("path", ["/projects", "/projects/x/plans", "/v1/projects/x/readings", "/buildings"])
def test_of_a_body_without_a_key_or_with_too_small_a_role_nothing_is_read(keyed: FastAPI, path: str) -> None:
    status, read = asyncio.run(_sent(keyed, path, {}, 31))
    assert read == 0
    assert status == (303 if path == "/buildings" else 401)
    if path != "/buildings":
        assert asyncio.run(_sent(keyed, path, _key(keyed, "north", "read"), 31)) == (403, 0)


def test_a_body_is_as_large_as_its_route_takes_one(keyed: FastAPI) -> None:
    key = _key(keyed, "north")
    status, read = asyncio.run(_sent(keyed, "/projects/x/plans", key, 31))
    assert status == 413
    assert read <= 3
    assert asyncio.run(_sent(keyed, "/projects", key, 31)) == (400, 31)


def test_one_companys_downloads_hold_up_no_other_company_and_no_health_check(
    keyed: FastAPI, monkeypatch: pytest.MonkeyPatch
) -> None:
    keys = {company: _key(keyed, company, "read") for company in ("north", "south")}
    go_on = threading.Event()

    def order(context: Any, caller: Any, plan_id: str, form: str, paper: str) -> File:
        if plan_id == "slow":
            assert go_on.wait(200)
        return File(b"{}", "application/json", "order.json")

    monkeypatch.setattr(files, "order", order)

    async def asked() -> tuple[list[int], list[int]]:
        transport = httpx.ASGITransport(app=keyed)
        async with httpx.AsyncClient(transport=transport, base_url="http://x", timeout=200) as client:
            slow = [
                asyncio.create_task(client.get("/plans/slow/order.json", headers=keys["north"]))
                for _ in range(80)
            ]
            rendering = keyed.state.context.places[Kind.RENDERING]
            while rendering.taken + rendering.waiting < 70:
                await asyncio.sleep(0.01)
            quick = [
                (await asyncio.wait_for(client.get(path, headers=keys["south"]), 60)).status_code
                for path in ("/plans/quick/order.json", "/projects", "/healthz")
            ]
            go_on.set()
            return quick, [(await one).status_code for one in slow]

    try:
        quick, slow = asyncio.run(asked())
    finally:
        go_on.set()
    assert quick == [200, 200, 200]
    assert set(slow) == {200, 429}
    assert slow.count(200) >= 70


def test_a_json_key_that_stands_twice_is_refused_as_by_the_command(
    place: Place, small_project: dict[str, Any]
) -> None:
    text = json.dumps(small_project)[:-1] + ', "gaps": ' + json.dumps(small_project["gaps"][:2]) + "}"
    sent = {"content": text, "headers": {"Content-Type": "application/json"}}
    for path in ("/projects", "/order-schedules"):
        answer = place.client.post(path, **sent)  # type: ignore[arg-type]
        assert answer.status_code == 422
        (fault,) = answer.json()["errors"]
        assert "gaps" in fault["message"]
        assert "twice" in fault["message"]
        assert fault["mend"]
    location = place.client.post("/projects", json=small_project).headers["Location"]
    event = '[{"id": "e", "id": "f", "at": "2027-02-01T08:00:00", "event": "ordered", "code": "x"}]'
    answer = place.client.post(f"{location}/events", content=event)
    assert answer.status_code == 422
    assert "twice" in answer.json()["errors"][0]["message"]


def test_strangers_words_do_not_become_labels_of_metrics(place: Place) -> None:
    for word in ("BREW", "WHEN"):
        place.client.request(word, "/projects")
    text = place.client.get("/metrics").text
    assert 'method="other"' in text
    assert "BREW" not in text


def test_repeated_errors_are_counted_and_not_logged() -> None:
    seconds = 0.0
    repetition = Repetition(lambda: seconds)
    passed = [repetition.passes("no files left", 5) for _ in range(3000)]
    assert [one for one in passed if one is not None] == [0] * 5
    assert repetition.left_out["no files left"] == 2995
    seconds = 61.0
    assert repetition.passes("no files left", 5) == 2995
    assert repetition.passes("another", 5) == 0
    for number in range(5000):
        repetition.passes(f"kind {number}", 1)
    assert len(repetition.left_out) <= 1001


def test_without_keys_nothing_that_came_through_a_proxy_is_served(place: Place) -> None:
    for header in ("X-Forwarded-For", "Forwarded", "Via", "X-Real-IP"):
        answer = place.client.get("/projects", headers={header: "203.0.113.9"})
        assert answer.status_code == 403
        assert "BARRIER_ORDERS_KEYS_REQUIRED" in answer.json()["detail"]


def test_proxies_are_trusted_by_address_only_and_never_without_keys(tmp_path: Path) -> None:
    found = settings_from({"HOME": str(tmp_path), "BARRIER_ORDERS_TRUSTED_PROXIES": "10.0.0.5, 10.1.0.0/24"})
    assert found.proxies == ["10.0.0.5", "10.1.0.0/24"]
    with pytest.raises(UnusableSetting, match="addresses or networks"):
        settings_from({"HOME": str(tmp_path), "BARRIER_ORDERS_TRUSTED_PROXIES": "*"})
    env = environment(f"sqlite:///{tmp_path}/x.sqlite", trusted_proxies="127.0.0.1")
    program = "from api.serving import serve; serve()"
    ended = subprocess.run([sys.executable, "-c", program], env=env, capture_output=True, text=True)
    assert ended.returncode == 2
    assert "BARRIER_ORDERS_KEYS_REQUIRED=true" in ended.stderr


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A service with small limits, of which every test leaves the connections closed."""
    folder = tmp_path_factory.mktemp("overload")
    server = Server(f"sqlite:///{folder}/orders.sqlite", folder / "log", embedded_workers=0, **LIMITS)
    yield server
    server.stop()


def _opened(server: Server, text: bytes) -> socket.socket:
    one = socket.create_connection(("127.0.0.1", server.port), 10)
    one.sendall(text)
    return one


def _is_closed(one: socket.socket) -> bool:
    one.setblocking(False)
    try:
        return one.recv(4096) == b""
    except BlockingIOError:
        return False
    except OSError:
        return True


def test_half_sent_headers_are_closed_and_keep_nobody_out(server: Server) -> None:
    before = server.log.stat().st_size
    slow = [_opened(server, b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Slow: ") for _ in range(200)]
    try:
        with httpx.Client(timeout=60) as client:
            assert client.get(f"http://127.0.0.1:{server.port}/healthz").status_code == 200
        wait_for(lambda: all(map(_is_closed, slow)) or None, 60, "the end of the slow connections")
    finally:
        for one in slow:
            one.close()
    assert server.log.stat().st_size - before < 10_000
    text = server.client.get("/metrics").text
    assert 'connections_closed_total{reason="slow headers"}' in text


@pytest.mark.parametrize("part", [b"", b"{"])
def test_a_body_that_does_not_come_is_not_waited_for(server: Server, part: bytes) -> None:
    head = b"POST /projects HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\n"
    with closing(_opened(server, head + b"Content-Length: 1000\r\n\r\n" + part)) as one:
        wait_for(lambda: _is_closed(one) or None, 60, "its end")


def test_what_the_service_writes_is_its_users_alone(server: Server) -> None:
    written = [path for path in server.log.parent.iterdir() if path != server.log]
    assert {"orders.sqlite", "orders.sqlite.signing-key"} <= {path.name for path in written}
    assert {path.name: oct(path.stat().st_mode & 0o077) for path in written} == {
        path.name: "0o0" for path in written
    }


def test_every_route_but_the_health_checks_is_guarded() -> None:
    operation_routes = {"/healthz", "/readyz", "/metrics"}
    for router in (*CALLS, pages):
        for route in _routes_of(router):
            assert isinstance(route, GuardedRoute), f"{route.path} reads a body before it knows whose it is"
            assert route.path not in operation_routes


def _routes_of(router: APIRouter) -> list[APIRoute]:
    found = []
    for route in router.routes:
        inside = getattr(route, "original_router", None)
        found += _routes_of(inside) if inside is not None else [route]
    return found


def test_defaults_leave_a_place_for_others() -> None:
    settings = Settings()
    assert settings.renderings >= 2
    assert settings.uploads_at_once > 2


def test_ready_is_a_service_that_writes_and_reads_has_a_worker_and_room_on_its_disk(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    context: AppContext = place.client.app.state.context  # type: ignore[attr-defined]

    def lacks(**settings: Any) -> list[str]:
        changed = replace(context, settings=replace(context.settings, **settings))
        with pytest.raises(Problem) as refused:
            operation.Readiness(changed).workers()
        assert refused.value.status == 503
        found: list[str] = refused.value.more["lacks"]
        return found

    assert operation.Readiness(context).workers() == 2
    assert lacks(dead_after_seconds=0.0) == ["No worker is alive: what is planned in the background waits."]
    assert all("MB left" in one for one in lacks(disk_megabytes=10**9))
    assert lacks(disk_megabytes=10**9)
    if place.settings.embedded:  # as on a full disk: no file grows any more
        _, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
        broken = _on_a_full_disk(operation.write_and_read, hard)
    else:
        broken = _read_only(operation.write_and_read)
    monkeypatch.setattr(operation, "write_and_read", broken)
    monkeypatch.setattr(operation, "_GOOD_FOR_SECONDS", 0.0)
    assert lacks() == ["The database does not take and give back a row."]
    answer = place.client.get("/readyz")
    assert answer.status_code == 503
    assert answer.json()["lacks"] == ["The database does not take and give back a row."]
    assert place.client.get("/healthz").status_code == 200


def _on_a_full_disk(write: Any, hard: int) -> Any:
    def tried(connection: Any) -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (0, hard))
        try:
            write(connection)
            connection.commit()
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, (hard, hard))

    return tried


def _read_only(write: Any) -> Any:
    def tried(connection: Any) -> None:
        connection.exec_driver_sql("SET TRANSACTION READ ONLY")
        write(connection)

    return tried


def test_quotas_of_jobs_storage_and_streams_are_told_with_when_to_come_again(
    place: Place, small_project: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    client, app = place.client, cast(FastAPI, place.client.app)
    context: AppContext = app.state.context
    location = client.post("/projects", json=small_project).headers["Location"]
    with context.storage.reading() as connection:
        already = count_of_open_jobs(connection, "local")
    with _with_settings(app, open_jobs=already + 2), monkeypatch.context() as patched:
        patched.setattr(context.queue, "put", lambda *_: None)  # nobody takes them
        made = [client.post(f"{location}/plans", json={"seed": seed}) for seed in range(4)]
    assert [answer.status_code for answer in made] == [202, 202, 429, 429]
    with _with_settings(app, streams=3), monkeypatch.context() as patched:
        patched.setitem(context.streams, "local", 3)
        watched = client.get(f"{made[0].headers['Location']}/events")
    for one in made[:2]:
        client.delete(one.headers["Location"])
    with _with_settings(app, storage_megabytes=2), monkeypatch.context() as patched:
        patched.setitem(context.kept, "local", (time.monotonic(), 2**21))
        kept = client.post("/projects", json=small_project)
    for answer in (*made[2:], watched, kept):
        assert answer.status_code == 429
        assert int(answer.headers["Retry-After"]) > 0


def test_what_a_company_keeps_is_counted_over_all_that_it_keeps(
    place: Place, small_project: dict[str, Any]
) -> None:
    storage = place.client.app.state.context.storage  # type: ignore[attr-defined]

    def kept() -> int:
        with storage.reading() as connection:
            return kept_bytes(connection, "local")

    before = kept()
    location = place.client.post("/projects", json=small_project).headers["Location"]
    after_project = kept()
    assert 1_000 < after_project - before < 10_000
    picture = b"\xff\xd8\xff" + b"x" * 50_000
    place.client.put(f"{location}/photographs/one", content=picture)
    assert kept() - after_project == len(picture)
    assert place.client.post("/order-schedules", json=small_project).status_code == 200
    assert kept() - after_project > len(picture) + 5_000, "the survey and its plan"
    with storage.reading() as connection:
        assert kept_bytes(connection, "nobody") == 0


def test_a_short_plan_does_not_wait_behind_another_companys_comparisons(
    place: Place, small_project: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """On the queue as the workers see it: the comparisons share out and take no worker's place for plans."""
    client = place.client
    queue = client.app.state.context.queue  # type: ignore[attr-defined]
    queued: list[dict[str, Any]] = []
    monkeypatch.setattr(
        queue._client, "enqueue_in_transaction", lambda connection, options, *_: queued.append(options)
    )
    location = client.post("/projects", json=small_project).headers["Location"]
    made = [
        client.post(f"{location}/comparisons", json={"from_mm": 100, "to_mm": 200, "step_mm": step})
        for step in (1, 2, 1, 2, 1, 2)
    ]
    made.append(client.post(f"{location}/plans", json={}))
    assert {one.status_code for one in made} == {202}
    for one in made:
        client.delete(one.headers["Location"])
    assert [one["queue_name"] for one in queued] == ["shared out jobs"] * 6 + ["short jobs"]
    assert all(one["priority"] >= 1 for one in queued)
