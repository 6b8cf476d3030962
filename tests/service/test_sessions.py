"""Sessions of browsers: they end when they are signed out, idle or too old, with their key and their person."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from fastapi.testclient import TestClient

from api import clock
from api.accounts.__main__ import main
from api.accounts.browsers import COOKIE
from api.accounts.people import add_person, end_person
from api.accounts.repository import change_account, expire_key, revoke_key
from api.accounts.service import add_key
from api.accounts.sessions import begin_session, caller_of_account
from api.app import create_app
from api.backup.service import back_up
from api.orders.anchor import anchor_of
from api.settings import Settings, UnusableSetting, settings_from, usable_database_url
from api.storage.engine import Storage
from tests.service.conftest import DATABASES, empty_database


@dataclass
class Signing:
    """The application with keys, its database, and a key of nobody's."""

    app: Any
    settings: Settings
    storage: Storage
    key: str

    def browser(self, key: str | None = None, address: str = "https://orders.example") -> TestClient:
        """A browser that is signed in with a key."""
        client = TestClient(self.app, base_url=address)
        answer = client.post("/sign-in", data={"key": key or self.key}, follow_redirects=False)
        assert answer.status_code == 303, answer.text
        return client

    def change(self, browser: TestClient, **values: str) -> None:
        """Alters the row of a browser's session, as if time had passed."""
        session = browser.cookies[COOKIE].split("_")[1]
        told = ", ".join(f"{name} = :{name}" for name in values)
        with self.storage.writing() as connection:
            done = connection.execute(
                sa.text(f"UPDATE sessions SET {told} WHERE id = :id"), {**values, "id": session}
            )
        assert done.rowcount == 1


@pytest.fixture(scope="module", params=DATABASES)
def signing(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Signing]:
    folder: Path = tmp_path_factory.mktemp("sessions")
    settings = replace(
        Settings(),
        database_url=usable_database_url(empty_database(request.param, request, f"sessions_{request.param}")),
        keys_required=True,
        rate_per_minute=0,
        anchor_file=str(folder / "anchor"),
        signing_key_file=str(folder / "key"),
    )
    app = create_app(settings)
    storage: Storage = app.state.context.storage
    with storage.writing() as connection:
        key = add_key(connection, "north", "north office", "issue")
    with TestClient(app):
        yield Signing(app, settings, storage, key)


@pytest.fixture(autouse=True)
def _no_refusals_counted(signing: Signing) -> None:
    """Each test begins as if no address had been refused before."""
    rates = signing.app.state.context.rates
    rates._counter.storage.reset()


def is_in(browser: TestClient) -> bool:
    """Whether a browser is signed in, for pages and for calls of their scripts alike."""
    page = browser.get("/", follow_redirects=False).status_code
    call = browser.get("/v1/projects").status_code
    assert (page, call) in ((200, 200), (303, 401))
    return page == 200


def test_signing_in_with_a_key_begins_a_session_and_only_its_hash_is_kept(signing: Signing) -> None:
    browser = signing.browser()
    assert is_in(browser)
    text = browser.cookies[COOKIE]
    kind, _, secret = text.split("_")
    assert kind == "bs"
    with signing.storage.reading() as connection:
        rows = [str(tuple(row)) for row in connection.execute(sa.text("SELECT * FROM sessions"))]
    assert not any(secret in row for row in rows)
    key = TestClient(signing.app, base_url="https://orders.example", cookies={COOKIE: signing.key})
    assert key.get("/v1/projects").status_code == 401  # a key is no session
    bearer = {"Authorization": f"Bearer {text}"}
    assert TestClient(signing.app).get("/v1/projects", headers=bearer).status_code == 401  # nor the other way


def test_the_cookie_is_for_this_site_alone_and_for_tls_where_that_is_used(signing: Signing) -> None:
    def cookie(address: str, base_address: str = "") -> str:
        app = signing.app
        if base_address:
            app = create_app(replace(signing.settings, base_address=base_address))
        client = TestClient(app, base_url=address)
        answer = client.post("/sign-in", data={"key": signing.key}, follow_redirects=False)
        return answer.headers["Set-Cookie"]

    found = cookie("https://orders.example")
    for part in ("HttpOnly", "SameSite=strict", "Secure", "Path=/", f"Max-Age={12 * 3600}"):
        assert part in found
    assert "Secure" not in cookie("http://127.0.0.1:8000")
    assert "Secure" in cookie("http://127.0.0.1:8000", "https://orders.example")  # TLS ends before it


def test_signing_out_ends_the_session_at_once_also_for_whoever_has_its_cookie(signing: Signing) -> None:
    browser, other = signing.browser(), signing.browser()
    copied = TestClient(
        signing.app, base_url="https://orders.example", cookies={COOKIE: browser.cookies[COOKIE]}
    )
    assert is_in(copied)
    browser.post("/sign-out")
    assert not is_in(copied)
    assert is_in(other)


def test_signing_out_everywhere_ends_every_session_of_the_same_key_or_person_and_no_others(
    signing: Signing,
) -> None:
    with signing.storage.writing() as connection:
        ada = add_person(connection, "north", "Ada Example", "plan")
        adas = [add_key(connection, "north", name, "plan", ada) for name in ("desk", "phone")]
    mine = [signing.browser(key) for key in adas]
    others = signing.browser()
    page = mine[0].get("/account").text
    assert "Ada Example" in page
    assert page.count('<tr><th scope="row">') == 2
    mine[0].post("/sign-out", data={"everywhere": "yes"})
    assert [is_in(one) for one in (*mine, others)] == [False, False, True]
    again = signing.browser()
    again.post("/sign-out", data={"everywhere": "yes"})
    assert not is_in(others)


def test_a_session_ends_when_it_is_idle_and_goes_on_while_it_is_used(signing: Signing) -> None:
    browser = signing.browser()
    signing.change(browser, last_used_at=clock.in_seconds(-119 * 60))
    assert is_in(browser)  # which counts as use
    signing.change(browser, begun_at=clock.in_seconds(-200 * 60))
    assert is_in(browser)
    signing.change(browser, last_used_at=clock.in_seconds(-120 * 60 - 1))
    assert not is_in(browser)


def test_a_session_ends_however_much_it_is_used(signing: Signing) -> None:
    browser = signing.browser()
    signing.change(browser, expires_at=clock.in_seconds(-1))
    assert not is_in(browser)
    assert "This session has ended" in browser.get("/v1/projects").json()["detail"]


@pytest.mark.parametrize("end", ["revoked", "expired"])
def test_a_session_ends_with_its_key(signing: Signing, end: str) -> None:
    with signing.storage.writing() as connection:
        key = add_key(connection, "north", "short-lived", "read")
    browser = signing.browser(key)
    assert is_in(browser)
    with signing.storage.writing() as connection:
        assert (
            revoke_key(connection, key.split("_")[1])
            if end == "revoked"
            else expire_key(connection, key.split("_")[1], clock.now())
        )
    assert not is_in(browser)


def test_a_session_has_the_role_that_its_person_has_now_and_ends_with_the_account(signing: Signing) -> None:
    with signing.storage.writing() as connection:
        grace = add_person(connection, "north", "Grace Example", "plan")
        row = connection.execute(sa.text("SELECT * FROM accounts WHERE id = :id"), {"id": grace}).one()
        session = begin_session(
            connection, signing.settings, caller_of_account(row), "192.0.2.7", "a browser"
        )
    browser = TestClient(signing.app, base_url="https://orders.example", cookies={COOKIE: session})
    assert is_in(browser)
    assert browser.post("/v1/projects", json={}).status_code == 422
    with signing.storage.writing() as connection:
        change_account(connection, grace, role="read")
    refused = browser.post("/v1/projects", json={})
    assert refused.status_code == 403
    assert refused.json()["detail"] == "Your role is read; this needs plan."
    with signing.storage.writing() as connection:
        end_person(connection, grace)
    assert not is_in(browser)


def test_another_sites_page_cannot_use_a_session(signing: Signing) -> None:
    browser = signing.browser()
    for headers in (
        {"Sec-Fetch-Site": "cross-site"},
        {"Origin": "https://elsewhere.example"},
        {"Origin": "https://["},
    ):
        assert browser.post("/v1/projects", json={}, headers=headers).status_code == 401
        assert browser.post("/sign-out", headers=headers).status_code == 403
    assert is_in(browser)


def test_an_operator_lists_and_ends_sessions(
    signing: Signing, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DATABASE_URL", signing.settings.database_url)

    def done(*arguments: str) -> str:
        capsys.readouterr()  # what the requests before have logged
        assert main(list(arguments)) == 0, arguments
        return capsys.readouterr().out

    done("end-sessions", "--all")
    first, second, third = (signing.browser() for _ in range(3))
    session = first.cookies[COOKIE].split("_")[1]
    listed = done("sessions")
    assert listed.count("north: north office") == 3
    assert re.search(rf"^{session}  north: north office  since .*Z from testclient, last used", listed, re.M)
    assert done("end-sessions", "--session", session) == "1 session ended\n"
    assert main(["end-sessions", "--session", session]) == 1
    assert [is_in(one) for one in (first, second, third)] == [False, True, True]
    assert done("end-sessions", "--key", signing.key) == "2 sessions ended\n"
    assert not is_in(second)
    assert done("sessions") == ""


def test_a_backup_signs_nobody_in(signing: Signing, tmp_path: Path) -> None:
    signing.browser()
    made = back_up(signing.storage, anchor_of(signing.settings), tmp_path / "all.backup")
    assert "api_keys" in made.rows
    assert "sessions" not in made.rows


def test_nobody_could_stay_signed_in_for_no_time() -> None:
    with pytest.raises(UnusableSetting, match="SESSION_HOURS is 0"):
        settings_from({"DATABASE_URL": "sqlite:////tmp/none.sqlite", "BARRIER_ORDERS_SESSION_HOURS": "0"})
