"""Keys and people: names that are checked, expiry, rotation, last use, whose a key is; keys from before stay good."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from fastapi.testclient import TestClient

from api import clock
from api.accounts import operating
from api.accounts.__main__ import main
from api.accounts.keys import hash_of, parts_of
from api.accounts.names import UnusableName, usable_email, usable_name
from api.accounts.people import add_person, end_person
from api.accounts.repository import all_keys, expire_key
from api.accounts.service import add_key, company_named, rotate_key
from api.app import create_app
from api.settings import Settings, usable_database_url
from api.storage.engine import Storage
from tests.service.conftest import DATABASES, empty_database


@dataclass
class Keyed:
    """The application where every request needs a key, and its database."""

    client: TestClient
    storage: Storage
    url: str

    def status(self, key: str) -> int:
        """What a call with a key is answered."""
        return self.asked(key).status_code

    def asked(self, key: str) -> Any:
        """A call with a key."""
        return self.client.get("/v1/projects", headers={"Authorization": f"Bearer {key}"})

    @contextmanager
    def writing(self) -> Iterator[sa.Connection]:
        """A transaction."""
        with self.storage.writing() as connection:
            yield connection


@pytest.fixture(scope="module", params=DATABASES)
def keyed(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Keyed]:
    url = usable_database_url(empty_database(request.param, request, f"keys_{request.param}"))
    folder: Path = tmp_path_factory.mktemp("keys")
    settings = replace(
        Settings(),
        database_url=url,
        keys_required=True,
        rate_per_minute=0,
        anchor_file=str(folder / "anchor"),
        signing_key_file=str(folder / "key"),
    )
    app = create_app(settings)
    with TestClient(app, raise_server_exceptions=False) as client:
        yield Keyed(client, app.state.context.storage, url)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("x" * 190, "The name has 190 characters: give one of at most 80."),
        ("", "The name is empty"),
        ("   ", "The name is empty"),
        ("the\x00crew", r"the character U\+0000"),
        ("the\ncrew", r"the character U\+000A"),
        ("the \u202ecrew", r"the character U\+202E"),
    ],
)
def test_a_name_is_checked_before_it_is_kept(keyed: Keyed, text: str, says: str) -> None:
    with pytest.raises(UnusableName, match=says), keyed.writing() as connection:
        add_key(connection, "north", text, "read")
    with pytest.raises(UnusableName, match=says), keyed.writing() as connection:
        add_person(connection, "north", text, "read")


def test_names_of_every_alphabet_are_taken() -> None:
    assert usable_name("  Zoë Ångström-李  ") == "Zoë Ångström-李"
    assert usable_email("Ada@Example.COM") == "ada@example.com"
    for wrong in ("ada", "@example.com", "ada@", "a da@example.com"):
        with pytest.raises(UnusableName, match="no e-mail address"):
            usable_email(wrong)


def test_a_key_with_a_name_of_190_characters_from_before_still_keeps_a_project(
    keyed: Keyed, small_project: Any
) -> None:
    with keyed.writing() as connection:
        key = add_key(connection, "north", "short", "plan")
        connection.execute(
            sa.text("UPDATE api_keys SET name = :name WHERE id = :id"),
            {"name": "x" * 190, "id": key.split("_")[1]},
        )
    headers = {"Authorization": f"Bearer {key}"}
    answer = keyed.client.post("/v1/projects", json=small_project, headers=headers)
    assert answer.status_code == 201, answer.text
    assert answer.json()["created_by"].startswith("x" * 70 + " (key ")


@pytest.mark.parametrize(
    "address", ["/v1/projects/%00", "/v1/plans/a%00b/order.pdf", "/buildings/%00", "/v1/projects?after=%00"]
)
def test_nul_in_an_address_is_refused_and_no_fault_of_the_service(keyed: Keyed, address: str) -> None:
    with keyed.writing() as connection:
        key = add_key(connection, "north", "NUL", "read")
    answer = keyed.client.get(address, headers={"Authorization": f"Bearer {key}"})
    assert answer.status_code == 400
    assert answer.headers["Content-Type"] == "application/problem+json"
    assert answer.json()["type"] == "/problems/unusable-address"
    assert "%00" in answer.json()["detail"]


def test_a_key_is_good_until_it_expires(keyed: Keyed) -> None:
    with keyed.writing() as connection:
        key = add_key(connection, "north", "for a day", "read", expires_at=clock.in_seconds(86400))
        over = add_key(connection, "north", "over", "read", expires_at=clock.in_seconds(-1))
    assert keyed.status(key) == 200
    assert keyed.status(over) == 401
    assert "expired on" in keyed.asked(over).json()["detail"]
    with keyed.writing() as connection:
        assert expire_key(connection, key.split("_")[1], clock.now())
        assert expire_key(connection, over.split("_")[1], None)
    assert (keyed.status(key), keyed.status(over)) == (401, 200)


def test_a_rotated_keys_old_secret_works_until_the_stated_time_and_no_longer(keyed: Keyed) -> None:
    with keyed.writing() as connection:
        old = add_key(connection, "north", "rotated", "read")
        key_id = old.split("_")[1]
        new = rotate_key(connection, key_id, clock.in_seconds(3600))
    assert new is not None
    assert new != old
    assert new.split("_")[1] == key_id
    assert (keyed.status(new), keyed.status(old)) == (200, 200)
    with keyed.writing() as connection:
        newest = rotate_key(connection, key_id, clock.in_seconds(-1))
    assert newest is not None
    assert [keyed.status(one) for one in (newest, new, old)] == [200, 401, 401]
    assert "the one before was good until" in keyed.asked(new).json()["detail"]
    assert "not known" in keyed.asked(old).json()["detail"]
    with keyed.writing() as connection:
        assert rotate_key(connection, "0" * 16, clock.now()) is None


def test_when_and_from_where_a_key_was_last_used_is_kept(keyed: Keyed) -> None:
    with keyed.writing() as connection:
        key_id = (key := add_key(connection, "north", "used", "read")).split("_")[1]

    def kept() -> tuple[str | None, str | None]:
        with keyed.storage.reading() as connection:
            (row,) = [one for one in all_keys(connection) if one.id == key_id]
        return row.last_used_at, row.last_used_from

    assert kept() == (None, None)
    assert keyed.status(key) == 200
    used_at, used_from = kept()
    assert used_at is not None
    assert 0 <= clock.seconds_since(used_at) < 60
    assert used_from == "testclient"
    assert keyed.status(key) == 200
    assert kept() == (used_at, used_from)  # within a minute it is not written again


def test_a_persons_key_names_the_person_and_ends_with_the_account(keyed: Keyed, small_project: Any) -> None:
    with keyed.writing() as connection:
        ada = add_person(connection, "north", "Ada Example", "issue", "ada@example.com")
        key = add_key(connection, "north", "desk", "plan", ada)
        with pytest.raises(UnusableName, match="south has no account"):
            add_key(connection, "south", "desk", "plan", ada)
        with pytest.raises(UnusableName, match=r"has the e-mail address ada@example\.com"):
            add_person(connection, "south", "Another Ada", "read", "ADA@example.com")
    headers = {"Authorization": f"Bearer {key}"}
    made = keyed.client.post("/v1/projects", json=small_project, headers=headers).json()
    assert made["created_by"] == f"Ada Example, desk (key {key.split('_')[1]})"
    with keyed.writing() as connection:
        end_person(connection, ada)
    assert keyed.status(key) == 401
    assert "account" in keyed.asked(key).json()["detail"]
    with keyed.writing() as connection:
        add_person(
            connection, "north", "Ada Example", "issue", "ada@example.com"
        )  # the address is free again


def test_no_secret_is_in_the_database(keyed: Keyed) -> None:
    with keyed.writing() as connection:
        key = add_key(connection, "north", "hashed", "read")
        rotated = rotate_key(connection, key.split("_")[1], clock.in_seconds(60))
    secrets = [(parts_of(one) or ("", ""))[1] for one in (key, rotated or "")]
    with keyed.storage.reading() as connection:
        rows = [str(tuple(row)) for row in connection.execute(sa.text("SELECT * FROM api_keys"))]
    for secret in secrets:
        assert secret
        assert not any(secret in row for row in rows)
        assert any(hash_of(secret) in row for row in rows)


@pytest.mark.parametrize("kind", DATABASES)
def test_keys_of_the_form_before_work_after_the_upgrade(
    kind: str, request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    url = usable_database_url(empty_database(kind, request, f"older_keys_{kind}"))
    storage = Storage(url)
    storage.upgrade("0004")
    secret = "0123456789abcdef" * 3
    with storage.writing() as connection:
        company = company_named(connection, "north")
        connection.execute(
            sa.text(
                "INSERT INTO api_keys (id, company_id, name, role, secret_hash, created_at)"
                " VALUES ('0123456789abcdef', :company, 'from before', 'plan', :hash, :now)"
            ),
            {"company": company, "hash": hash_of(secret), "now": clock.now()},
        )
    storage.close()
    settings = replace(
        Settings(),
        database_url=url,
        keys_required=True,
        anchor_file=str(tmp_path / "anchor"),
        signing_key_file=str(tmp_path / "key"),
    )
    with TestClient(create_app(settings)) as client:
        headers = {"Authorization": f"Bearer bo_0123456789abcdef_{secret}"}
        assert client.get("/v1/projects", headers=headers).status_code == 200


def test_an_operator_makes_lists_expires_and_rotates_keys_and_people(
    keyed: Keyed, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DATABASE_URL", keyed.url)

    def done(*arguments: str) -> list[str]:
        assert main(list(arguments)) == 0, arguments
        return capsys.readouterr().out.splitlines()

    (grace,) = done("add-person", "East Co", "Grace Example", "--role", "issue", "--email", "g@example.com")
    (key,) = done("add", "East Co", "desk", "--person", "g@example.com", "--expires", "90d")
    key_id = key.split("_")[1]
    (line,) = [one for one in done("list") if key_id in one]
    assert "plan        East Co: desk of Grace Example" in line
    assert "expires " in line
    assert "last used" not in line
    assert keyed.status(key) == 200
    assert any("last used" in one and "from testclient" in one for one in done("list") if key_id in one)
    (rotated,) = done("rotate", key)
    assert (keyed.status(key), keyed.status(rotated)) == (200, 200)
    done("rotate", key_id, "--old-until", "0d")
    assert keyed.status(rotated) == 401
    done("expire", key_id, "2020-01-01")
    assert any("expired 2020-01-01T00:00Z" in one for one in done("list") if key_id in one)
    done("expire", key_id, "never")
    assert done("change-person", grace, "--role", "read") == ["Grace Example may read from now on"]
    assert any(one.startswith(f"{grace}  read") for one in done("people"))
    done("end-person", "g@example.com")
    assert any("ended" in one for one in done("people") if grace in one)
    for wrong, code in (
        (["add", "East Co", "x" * 190], 2),
        (["add", "East Co", "x", "--expires", "soon"], 2),
        (["add", "x" * 121, "x"], 2),
        (["rotate", key_id, "--old-until", "never"], 2),
        (["rotate", "0" * 16], 1),
        (["expire", "0" * 16, "1d"], 1),
        (["end-person", "nobody"], 1),
    ):
        assert main(wrong) == code, wrong
        said = capsys.readouterr()
        assert said.out == ""
        assert said.err.count("\n") == 1


def test_a_company_is_the_same_with_blanks_around_its_name(keyed: Keyed) -> None:
    with keyed.writing() as connection:
        known = company_named(connection, "North Co")
        assert company_named(connection, " North Co ") == known


def test_a_machines_user_without_a_name_may_make_keys_too(
    keyed: Keyed, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def nameless() -> str:
        raise KeyError("getpwuid(): uid not found: 4711")

    monkeypatch.setenv("DATABASE_URL", keyed.url)
    monkeypatch.setattr(operating, "getuser", nameless)
    monkeypatch.setattr("os.geteuid", lambda: 4711)
    assert main(["add", "South Co", "desk"]) == 0
    capsys.readouterr()
    assert main(["log"]) == 0
    assert "operator 4711,command add" in capsys.readouterr().out
