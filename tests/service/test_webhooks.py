"""Webhooks: who registers them, what they are told, signed, until it is taken, and never inside a private network."""

from __future__ import annotations

import base64
import hashlib
import hmac
import http.server
import json
import socket
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
import sqlalchemy as sa
from fastapi.testclient import TestClient

from api import clock
from api.app import create_app
from api.settings import Settings, usable_database_url
from api.storage.engine import Storage
from api.storage.tables import webhook_deliveries
from api.webhooks import service
from api.webhooks.calling import NotCalled, Pinned, is_public, post, public_address, usable_address
from api.webhooks.service import PAUSES, deliver_due, find_news
from api.webhooks.signing import new_secret, signature, signed_headers
from tests.service.conftest import DATABASES, empty_database

URL = "https://orders.example/hooks"


class Receiver:
    """A server that takes what it is told, or answers another status."""

    def __init__(self) -> None:
        self.told: list[tuple[dict[str, str], dict[str, Any]]] = []
        self.status = 204

    def __call__(self, address: str, headers: Mapping[str, str], body: bytes) -> int:
        assert address == URL
        self.told.append((dict(headers), json.loads(body)))
        return self.status


@pytest.fixture(scope="module", params=DATABASES)
def near(request: pytest.FixtureRequest) -> Iterator[tuple[TestClient, Storage]]:
    """The application on an empty database without a worker: the tests themselves tell what is due."""
    url = usable_database_url(empty_database(request.param, request, f"hooks_{request.param}"))
    storage = Storage(url)
    with TestClient(create_app(replace(Settings(), database_url=url, at_once_seconds=60))) as client:
        yield client, storage
    storage.close()


def registered(client: TestClient, **more: Any) -> dict[str, Any]:
    answer = client.post("/v1/webhooks", json={"url": URL, **more})
    assert answer.status_code == 201, answer.text
    found: dict[str, Any] = answer.json()
    return found


def due_now(storage: Storage) -> None:
    """Lets the pauses pass."""
    with storage.writing() as connection:
        connection.execute(
            sa.update(webhook_deliveries)
            .where(webhook_deliveries.c.status == "waiting")
            .values(next_attempt_at=clock.in_seconds(-1))
        )


def test_a_webhook_is_told_once_of_each_thing_signed_until_it_takes_it(
    near: tuple[TestClient, Storage], small_project: dict[str, Any]
) -> None:
    client, storage = near
    made = registered(client, days_before=3)
    address = f"/v1/webhooks/{made['id']}/deliveries"
    plan = client.post("/v1/order-schedules", json=small_project).headers["Location"].rpartition("/")[2]
    receiver = Receiver()
    receiver.status = 500
    find_news(storage, date(2020, 1, 1))
    assert deliver_due(storage, receiver) == 1
    assert deliver_due(storage, receiver) == 0  # it pauses
    (waiting,) = client.get(address).json()["items"]
    assert (waiting["event"], waiting["status"], waiting["attempts"]) == ("plan.done", "waiting", 1)
    assert waiting["last_answer"] == "status 500"
    find_news(storage, date(2020, 1, 1))  # as after a restart: nothing is told twice
    due_now(storage)
    receiver.status = 204
    assert deliver_due(storage, receiver) == 1
    (first, told), (again, same) = receiver.told
    assert told == same
    assert first["webhook-id"] == again["webhook-id"] == waiting["id"]
    assert told["type"] == "plan.done"
    assert told["data"]["plan_id"] == plan
    (delivered,) = client.get(address).json()["items"]
    assert (delivered["status"], delivered["attempts"]) == ("delivered", 2)
    assert delivered["next_attempt_at"] is None

    order_by = told["data"]["figures"]["order_by"]
    find_news(storage, date.fromisoformat(order_by) - timedelta(days=4))
    assert deliver_due(storage, receiver) == 0
    find_news(storage, date.fromisoformat(order_by) - timedelta(days=3))
    assert deliver_due(storage, receiver) == 1
    assert receiver.told[-1][1]["type"] == "order_date.near"
    assert receiver.told[-1][1]["data"]["order_by"] == order_by

    assert client.post(f"/v1/plans/{plan}/issue").status_code == 201
    find_news(storage, date.fromisoformat(order_by))
    assert deliver_due(storage, receiver) == 1
    issued = receiver.told[-1][1]
    assert (issued["type"], issued["data"]["revision"]) == ("order.issued", 1)
    project = client.get(f"/v1/plans/{plan}").json()["project_id"]
    assert issued["data"]["hash"] == client.get(f"/v1/projects/{project}/orders/1").json()["hash"]
    find_news(storage, date.fromisoformat(order_by))
    assert deliver_due(storage, receiver) == 0
    assert len(client.get(address).json()["items"]) == 3
    assert client.delete(f"/v1/webhooks/{made['id']}").status_code == 204
    assert client.get(address).status_code == 404


def test_a_delivery_whose_process_was_killed_is_tried_again(
    near: tuple[TestClient, Storage], small_project: dict[str, Any]
) -> None:
    client, storage = near
    made = registered(client, events=["plan.done"])
    client.post("/v1/order-schedules", json=small_project)
    find_news(storage)

    def killed(*_: Any) -> int:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        deliver_due(storage, killed)
    receiver = Receiver()
    assert deliver_due(storage, receiver) == 0  # it is taken for a while
    due_now(storage)
    assert deliver_due(storage, receiver) == 1
    client.delete(f"/v1/webhooks/{made['id']}")


def test_pauses_grow_and_an_end_comes(
    near: tuple[TestClient, Storage], small_project: dict[str, Any]
) -> None:
    client, storage = near
    made = registered(client, events=["plan.done"])
    client.post("/v1/order-schedules", json=small_project)
    find_news(storage)

    def deaf(*_: Any) -> int:
        raise NotCalled("the server did not answer in time")

    waited = []
    while deliver_due(storage, deaf):
        (one,) = client.get(f"/v1/webhooks/{made['id']}/deliveries").json()["items"]
        if one["status"] == "waiting":
            waited.append(round(-clock.seconds_since(one["next_attempt_at"])))
        due_now(storage)
    assert one["status"] == "given up"
    assert one["attempts"] == len(PAUSES) + 1
    assert one["last_answer"] == "the server did not answer in time"
    for found, pause in zip(waited, PAUSES, strict=True):
        assert pause - 60 < found <= pause
    assert list(PAUSES) == sorted(set(PAUSES))
    client.delete(f"/v1/webhooks/{made['id']}")


def test_what_happened_before_or_to_others_is_not_told(
    near: tuple[TestClient, Storage], small_project: dict[str, Any]
) -> None:
    client, storage = near
    client.post("/v1/order-schedules", json=small_project)
    made = registered(client, events=["plan.done", "order.issued"])
    find_news(storage)
    assert client.get(f"/v1/webhooks/{made['id']}/deliveries").json()["items"] == []
    client.delete(f"/v1/webhooks/{made['id']}")


def test_a_secret_is_shown_once_and_addresses_are_checked(near: tuple[TestClient, Storage]) -> None:
    client, _ = near
    made = registered(client)
    assert len(base64.b64decode(made["secret"].removeprefix("whsec_"))) == 32
    (listed,) = client.get("/v1/webhooks").json()["items"]
    assert "secret" not in listed
    for url in ("http://orders.example/", "https://user@orders.example/", "https:///x", "ftp://a.example"):
        answer = client.post("/v1/webhooks", json={"url": url})
        assert answer.status_code == 422, url
        assert "url" in str(answer.json()["errors"])
    for _ in range(service.MOST_WEBHOOKS - 1):
        registered(client)
    assert client.post("/v1/webhooks", json={"url": URL}).status_code == 429
    for one in client.get("/v1/webhooks").json()["items"]:
        client.delete(f"/v1/webhooks/{one['id']}")


def test_the_signature_covers_id_time_and_body() -> None:
    secret, body = new_secret(), b'{"type":"plan.done"}'
    headers = signed_headers(secret, "one", 1_800_000_000, body)
    key = base64.b64decode(secret.removeprefix("whsec_"))
    expected = hmac.new(key, b"one.1800000000." + body, hashlib.sha256).digest()
    assert headers["webhook-signature"] == f"v1,{base64.b64encode(expected).decode()}"
    others = {signature(secret, *other) for other in (("two", 1, body), ("one", 2, body), ("one", 1, b""))}
    assert len(others | {signature(secret, "one", 1, body)}) == 4


@pytest.mark.parametrize(
    "address",
    [
        "127.0.0.1", "10.1.2.3", "172.16.0.1", "192.168.1.1", "169.254.169.254", "100.64.0.1", "0.0.0.0",
        "224.0.0.1", "255.255.255.255", "::1", "::", "fe80::1", "fc00::1", "ff02::1", "::ffff:10.0.0.1",
        "::ffff:127.0.0.1", "64:ff9b::a00:1", "2002:a00:1::", "2001:0:a00:1::", "198.18.0.1", "240.0.0.1",
    ],
)  # fmt: skip
def test_no_address_of_a_private_network_is_called(address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    assert not is_public(address)
    found = [(socket.AF_INET, socket.SOCK_STREAM, 6, "", (one, 443)) for one in ("93.184.215.14", address)]
    monkeypatch.setattr(socket, "getaddrinfo", lambda *_, **__: found)
    with pytest.raises(NotCalled, match="public internet"):
        public_address("orders.example", 443)


def test_public_addresses_are_called_at_the_address_that_was_looked_at() -> None:
    assert is_public("93.184.215.14")
    assert is_public("2606:2800:21f:cb07:6820:80da:af6b:8b2c")
    with pytest.raises(NotCalled, match="public internet"):
        post("https://localhost/hooks", {}, b"{}")
    with pytest.raises(NotCalled, match="public internet"):
        post("https://127.0.0.1/hooks", {}, b"{}")
    for bad in ("https://a.example:0/", "https://a.example:99999/", "https://a.example/ b", "https://[::1/"):
        with pytest.raises(ValueError, match="give"):
            usable_address(bad)


@contextmanager
def _server(status: int, headers: Mapping[str, str]) -> Iterator[tuple[int, list[tuple[str, str, bytes]]]]:
    asked: list[tuple[str, str, bytes]] = []

    class Handler(http.server.BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["Content-Length"]))
            asked.append((self.path, self.headers["Host"], body))
            self.send_response(status)
            for name, value in headers.items():
                self.send_header(name, value)
            self.end_headers()

        def log_message(self, *_: Any) -> None:
            """Says nothing."""

    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield server.server_port, asked
    server.shutdown()
    server.server_close()


def test_the_call_goes_to_the_pinned_address_and_follows_no_redirect() -> None:
    with _server(302, {"Location": "http://127.0.0.1:1/inside"}) as (port, asked):
        address = f"https://orders.example:{port}/hooks?a=1"
        status = post(
            address, {"webhook-id": "one"}, b"{}", look_up=lambda *_: "127.0.0.1", connection_to=Pinned
        )
    assert status == 302
    assert asked == [("/hooks?a=1", f"orders.example:{port}", b"{}")]
    with pytest.raises(NotCalled, match="did not answer"):
        post(address, {}, b"{}", look_up=lambda *_: "127.0.0.1", connection_to=Pinned)
