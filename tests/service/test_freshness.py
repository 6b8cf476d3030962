"""Pages and files that a browser has already are answered with 304 until anything that they show changes."""

from __future__ import annotations

import gzip
import zlib
from dataclasses import replace
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.responses import HTMLResponse, Response, StreamingResponse
from fastapi.testclient import TestClient

from api.accounts.roles import Role
from api.accounts.service import add_key
from api.app import create_app
from api.http.freshness import FreshnessMiddleware
from api.http.heads import HeadMiddleware
from tests.service.issued_places import IssuedPlace

LONG = "<p>A level, a run, a piece.</p>" * 100


def _client(text: str = LONG, **headers: str) -> TestClient:
    app = FastAPI()

    @app.get("/page")
    def page() -> Response:
        return HTMLResponse(text, headers=headers)

    @app.get("/kept.csv")
    def kept() -> Response:
        stored = zlib.compress(LONG.encode())
        name = {"Content-Disposition": 'attachment; filename="kept.csv"', "Content-Encoding": "deflate"}
        return Response(stored, media_type="text/csv", headers=name)

    @app.get("/call")
    def call() -> Any:
        return {"long": LONG}

    @app.get("/picture.png")
    def picture() -> Response:
        return Response(b"\x89PNG" + bytes(5000), media_type="image/png")

    @app.get("/stream")
    def stream() -> Response:
        return StreamingResponse((f"data: {LONG}\n\n" for _ in range(3)), media_type="text/event-stream")

    @app.get("/parts")
    def parts() -> Response:
        return StreamingResponse((LONG for _ in range(3)), media_type="text/html")

    app.add_middleware(FreshnessMiddleware)
    app.add_middleware(HeadMiddleware)
    return TestClient(app)


def test_a_page_that_the_browser_has_is_answered_with_nothing() -> None:
    client = _client()
    first = client.get("/page")
    etag = first.headers["ETag"]
    assert first.headers["Cache-Control"] == "private, no-cache"
    for known in (etag, f'"other", {etag}', "*", etag.removeprefix("W/")):
        again = client.get("/page", headers={"If-None-Match": known})
        assert (again.status_code, again.content) == (304, b"")
        assert again.headers["ETag"] == etag
        assert "Content-Type" not in again.headers
    assert client.get("/page", headers={"If-None-Match": 'W/"other"'}).status_code == 200


def test_a_page_that_shows_anything_else_has_another_etag() -> None:
    etags = {_client(text).get("/page").headers["ETag"] for text in (LONG, LONG + "<p>One more.</p>", "")}
    assert len(etags) == 3


def test_the_word_that_a_form_is_taken_once_by_is_no_change_of_the_page() -> None:
    forms = [f'{LONG}<input type="hidden" name="once" value="{digit * 32}">' for digit in "ab"]
    first, second = (_client(form).get("/page").headers["ETag"] for form in forms)
    assert first == second


def test_head_is_answered_as_get_without_the_body() -> None:
    client = _client()
    told, head = client.get("/page").headers, client.head("/page")
    assert head.content == b""
    for name in ("ETag", "Content-Length", "Content-Encoding", "Cache-Control"):
        assert head.headers[name] == told[name]
    assert client.head("/page", headers={"If-None-Match": told["ETag"]}).status_code == 304


@pytest.mark.parametrize(
    ("accepted", "coding"),
    [
        ("gzip, deflate", "gzip"),
        ("identity", None),
        ("gzip;q=0, deflate", None),
        ("GZIP ; q=0.5", "gzip"),
        ("", None),
    ],
)
def test_text_is_compressed_for_those_who_can_read_it(accepted: str, coding: str | None) -> None:
    answer = _client().get("/page", headers={"Accept-Encoding": accepted})
    assert answer.headers.get("Content-Encoding") == coding
    assert answer.headers["Vary"] == "Accept-Encoding"
    assert answer.text == LONG


def test_every_coding_has_the_same_etag() -> None:
    client = _client()
    for address in ("/page", "/kept.csv"):
        found = {
            client.get(address, headers={"Accept-Encoding": coding}).headers["ETag"]
            for coding in ("gzip", "deflate", "identity")
        }
        assert len(found) == 1


@pytest.mark.parametrize(
    ("accepted", "coding"), [("gzip, deflate", "deflate"), ("gzip", "gzip"), ("identity", None)]
)
def test_what_is_kept_compressed_is_sent_as_it_is_to_those_who_can_read_it(
    accepted: str, coding: str | None
) -> None:
    answer = _client().get("/kept.csv", headers={"Accept-Encoding": accepted})
    assert answer.headers.get("Content-Encoding") == coding
    assert answer.text == LONG


def test_what_another_sites_page_asked_for_is_not_compressed() -> None:
    answer = _client().get("/page", headers={"Sec-Fetch-Site": "cross-site"})
    assert "Content-Encoding" not in answer.headers


def test_calls_are_compressed_and_kept_by_nobody() -> None:
    answer = _client().get("/call")
    assert answer.headers["Content-Encoding"] == "gzip"
    assert "ETag" not in answer.headers
    assert "Cache-Control" not in answer.headers  # what adds 'no-store' stands further out


def test_pictures_stay_as_they_are_and_short_answers_too() -> None:
    assert "Content-Encoding" not in _client().get("/picture.png").headers
    assert "Content-Encoding" not in _client("<p>Short.</p>").get("/page").headers


def test_a_page_that_says_how_it_is_kept_is_kept_so() -> None:
    answer = _client(LONG, **{"Cache-Control": "no-store"}).get("/page")
    assert answer.headers["Cache-Control"] == "no-store"
    assert "ETag" not in answer.headers


@pytest.mark.parametrize("address", ["/stream", "/parts"])
def test_a_stream_passes_as_it_comes(address: str) -> None:
    client = _client()
    with client.stream("GET", address) as answer:
        assert "Content-Encoding" not in answer.headers
        assert "ETag" not in answer.headers
        assert answer.read().count(LONG.encode()) == 3


def test_the_bytes_on_the_wire_are_gzips() -> None:
    with _client().stream("GET", "/page", headers={"Accept-Encoding": "gzip"}) as answer:
        assert gzip.decompress(b"".join(answer.iter_raw())) == LONG.encode()


SHEETS = ("", "/deliveries", "/levels", "/levels/1", "/runs/1", "/boards", "/boards/1", "/find?q=L1")
SHEETS += ("/options", "/refits", "/revisions")


def _etags(client: TestClient, plan: str) -> dict[str, str]:
    return {sheet: client.get(f"/schedules/{plan}{sheet}").headers["ETag"] for sheet in SHEETS}


def test_every_sheet_of_a_plan_is_fresh_until_what_it_shows_changes(issued_copy: IssuedPlace) -> None:
    with issued_copy.client() as client:
        plans = [one["id"] for one in client.get(f"/projects/{issued_copy.project}/plans").json()["items"]]
        issued = client.get(f"/projects/{issued_copy.project}/orders").json()["items"]
        draft = next(plan for plan in plans if plan not in {one["plan_id"] for one in issued})
        last = issued[-1]["plan_id"]
        before, before_issued = _etags(client, draft), _etags(client, last)
        for sheet, etag in before.items():
            again = client.get(f"/schedules/{draft}{sheet}", headers={"If-None-Match": etag})
            assert again.status_code == 304, sheet
        files = ("order.pdf", "labels.pdf", "plan.json", "order.csv")
        kept = {name: client.get(f"/plans/{last}/{name}").headers["ETag"] for name in files}
        assert client.post(f"/plans/{draft}/issue").status_code == 201
        after, after_issued = _etags(client, draft), _etags(client, last)
        changed = {name: client.get(f"/plans/{last}/{name}").headers["ETag"] for name in files}
    assert all(before[sheet] != after[sheet] for sheet in SHEETS), "a draft, and issued"
    assert all(before_issued[sheet] != after_issued[sheet] for sheet in SHEETS), (
        "the last one, and superseded"
    )
    assert all(kept[name] != changed[name] for name in files), "each says, or is named, that it is superseded"


def test_a_page_at_the_slab_edge_is_fresh_until_something_is_told_though_it_says_when_it_was_made(
    issued_copy: IssuedPlace,
) -> None:
    site = f"/site/{issued_copy.project}"
    parts = ("", "/levels/1", "/levels/1/fit", "/levels/1/inspect", "/levels/1/measure", "/receiving")
    with issued_copy.client() as client:
        before = {part: client.get(site + part).headers["ETag"] for part in parts}
        for part, etag in before.items():
            assert client.get(site + part, headers={"If-None-Match": etag}).status_code == 304, part
        newest = client.get(f"/projects/{issued_copy.project}/plans?status=done").json()["items"][0]["id"]
        piece = client.get(f"/plans/{newest}/plan.json").json()["pieces"][0]["id"]
        event = {"id": "one", "at": "2027-03-01T08:00:00", "event": "cut", "piece": piece}
        address = f"/v1/projects/{issued_copy.project}/events"
        assert client.post(address, json=[event]).status_code in (200, 201)
        assert all(client.get(site + part).headers["ETag"] != etag for part, etag in before.items())


def test_who_reads_and_what_they_may_makes_another_page_and_who_is_signed_in_is_kept_by_no_browser(
    issued_copy: IssuedPlace,
) -> None:
    sheet = f"/schedules/{issued_copy.plans[-1]}/options"
    etags = []
    app = create_app(replace(issued_copy.settings, keys_required=True))
    roles: tuple[Role, ...] = ("read", "plan")
    with TestClient(app, base_url="https://orders.example"):
        for role in roles:
            with app.state.context.storage.writing() as connection:
                key = add_key(connection, "local", "office", role)
            browser = TestClient(app, base_url="https://orders.example")
            browser.post("/sign-in", data={"key": key})
            etags.append(browser.get(sheet).headers["ETag"])
            account = browser.get("/account")
            assert (account.status_code, account.headers["Cache-Control"]) == (200, "no-store")
            browser.post("/sign-out")
            signed_out = browser.get(sheet, headers={"If-None-Match": etags[-1]}, follow_redirects=False)
            assert signed_out.status_code == 303
    assert len(set(etags)) == 2


def test_a_plan_of_an_older_program_gets_its_excerpts_with_the_first_request(
    issued_copy: IssuedPlace,
) -> None:
    issued_copy.meddle("UPDATE plan_excerpts SET program = 'an older one'")
    plan = issued_copy.plans[-1]
    with issued_copy.client() as client:
        assert client.get(f"/schedules/{plan}/levels/1").status_code == 200
        first = issued_copy.one("SELECT count(*) FROM plan_excerpts WHERE job_id = :id", id=plan)
        old = issued_copy.one(
            "SELECT count(*) FROM plan_excerpts WHERE program = 'an older one' AND job_id = :id", id=plan
        )
        assert client.get(f"/schedules/{plan}/deliveries").status_code == 200
    assert (first > 10, old) == (True, 0)
    assert issued_copy.one("SELECT count(*) FROM plan_excerpts WHERE job_id = :id", id=plan) == first


def test_pages_of_an_issued_plan_are_those_of_the_plan_as_it_was_issued(issued_copy: IssuedPlace) -> None:
    issued, other = issued_copy.plans[0], issued_copy.plans[-1]
    sheet = f"/schedules/{issued}/levels/1"
    with issued_copy.client() as client:
        told = client.get(sheet).text
        issued_copy.meddle("DELETE FROM plan_excerpts WHERE job_id = :id", id=issued)
        issued_copy.meddle(
            "INSERT INTO plan_excerpts (job_id, name, program, document) SELECT :issued, name, program, document"
            " FROM plan_excerpts WHERE job_id = :other",
            issued=issued,
            other=other,
        )
        assert client.get(sheet).text == told
