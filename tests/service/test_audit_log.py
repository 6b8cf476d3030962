"""The log of who did what: what is on it, that nothing alters it, who may read it, and how it is taken away."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from fastapi.testclient import TestClient

from api.accounts.__main__ import main
from api.accounts.people import add_person
from api.accounts.roles import ROLES
from api.accounts.service import add_key, company_named
from api.app import create_app
from api.audit.export import COLUMNS, exported
from api.audit.repository import Line, add_line, all_lines
from api.settings import Settings, usable_database_url
from api.storage.engine import Storage
from api.storage.guards import dropped_guards
from tests.service.conftest import DATABASES, empty_database


@dataclass
class Logged:
    """The application with keys: one of each role of a person of the company north, one of the company south."""

    client: TestClient
    settings: Settings
    storage: Storage
    keys: dict[str, str]
    ada: str

    def bearer(self, name: str) -> dict[str, str]:
        """The header of a key."""
        return {"Authorization": f"Bearer {self.keys[name]}"}

    def lines(self, **query: Any) -> list[dict[str, Any]]:
        """North's log, the newest line first."""
        answer = self.client.get("/v1/audit-log", params=query, headers=self.bearer("administer"))
        assert answer.status_code == 200, answer.text
        items: list[dict[str, Any]] = answer.json()["items"]
        return items

    def newest(self) -> dict[str, Any]:
        """What the newest line was before the log was asked for."""
        with self.storage.reading() as connection:
            row = connection.execute(sa.text("SELECT * FROM audit_log ORDER BY number DESC LIMIT 1")).one()
        return dict(row._mapping)


@pytest.fixture(scope="module", params=DATABASES)
def logged(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Logged]:
    folder: Path = tmp_path_factory.mktemp("log")
    settings = replace(
        Settings(),
        database_url=usable_database_url(empty_database(request.param, request, f"log_{request.param}")),
        keys_required=True,
        rate_per_minute=0,
        anchor_file=str(folder / "anchor"),
        signing_key_file=str(folder / "key"),
    )
    app = create_app(settings)
    storage: Storage = app.state.context.storage
    with storage.writing() as connection:
        ada = add_person(connection, "north", "Ada Example", "administer")
        keys = {role: add_key(connection, "north", f"{role} key", role, ada) for role in ROLES}
        keys["south"] = add_key(connection, "south", "south key", "administer")
    with TestClient(app, raise_server_exceptions=False, base_url="https://orders.example") as client:
        yield Logged(client, settings, storage, keys, ada)


def test_a_change_is_on_the_log_with_who_what_where_when_and_what_came_of_it(
    logged: Logged, small_project: Any
) -> None:
    headers = {**logged.bearer("plan"), "X-Request-ID": "request-0001"}
    made = logged.client.post("/v1/projects", json=small_project, headers=headers)
    (line,) = logged.lines(limit=1)
    key_id = logged.keys["plan"].split("_")[1]
    assert line.pop("number") > 0
    assert line.pop("at").endswith("Z")
    assert line == {
        "who": f"Ada Example, plan key (key {key_id})",
        "operation": "POST /projects",
        "subject": f"/projects -> /projects/{made.json()['id']}",
        "address": "testclient",
        "status": 201,
        "result": "done",
        "account_id": logged.ada,
        "key_id": key_id,
        "session_id": None,
        "request_id": "request-0001",
    }


def test_what_is_refused_is_on_the_log_and_what_is_only_read_is_not(
    logged: Logged, small_project: Any
) -> None:
    before = logged.newest()["number"]
    assert logged.client.get("/v1/projects", headers=logged.bearer("read")).status_code == 200
    assert logged.newest()["number"] == before
    logged.client.post("/v1/projects", json=small_project, headers=logged.bearer("read"))
    line = logged.newest()
    assert (line["operation"], line["status"], line["result"]) == ("POST /projects", 403, "forbidden")
    logged.client.get("/v1/audit-log", headers=logged.bearer("issue"))
    line = logged.newest()
    assert (line["operation"], line["status"], line["result"]) == ("GET /audit-log", 403, "forbidden")
    logged.client.delete("/plans/0123", headers=logged.bearer("plan"))
    line = logged.newest()
    assert (line["operation"], line["subject"]) == ("DELETE /plans/{plan_id}", "/plans/0123")
    assert (line["status"], line["result"]) == (404, "not found")


def test_signing_in_and_out_is_on_the_log_with_the_session(logged: Logged) -> None:
    logged.client.cookies.clear()
    logged.client.post("/sign-in", data={"key": logged.keys["plan"]}, follow_redirects=False)
    begun = logged.newest()
    assert begun["operation"] == "POST /sign-in"
    assert begun["session_id"] in logged.client.cookies["barrier_orders_session"]
    logged.client.post("/v1/projects", json={})
    assert logged.newest()["session_id"] == begun["session_id"]
    logged.client.post("/sign-out")
    ended = logged.newest()
    assert (ended["operation"], ended["session_id"]) == ("POST /sign-out", begun["session_id"])
    before = ended["number"]
    assert logged.client.post("/sign-in", data={"key": "bo_nonsense"}).status_code == 401
    assert logged.newest()["number"] == before  # whose it would be nobody knows


def test_no_secret_is_on_the_log(logged: Logged) -> None:
    with logged.storage.reading() as connection:
        text = str(connection.execute(sa.text("SELECT * FROM audit_log")).all())
    for key in logged.keys.values():
        assert key.rpartition("_")[2] not in text


@pytest.mark.parametrize(
    "statement",
    ["UPDATE audit_log SET who = 'nobody'", "DELETE FROM audit_log", "TRUNCATE audit_log"],
)
def test_no_line_is_altered_or_deleted(logged: Logged, statement: str) -> None:
    if statement.startswith("TRUNCATE") and logged.storage.embedded:
        pytest.skip("SQLite has no TRUNCATE")
    with (
        pytest.raises(sa.exc.DBAPIError, match="rows of audit_log are never altered or deleted"),
        logged.storage.writing() as connection,
    ):
        connection.execute(sa.text(statement))


def test_a_dropped_trigger_of_the_log_is_found_like_those_of_issued_orders(logged: Logged) -> None:
    with logged.storage.engine.connect() as connection, connection.begin() as undone:
        name, on = (
            ("audit_log_no_delete", "") if logged.storage.embedded else ("audit_log_keep", " ON audit_log")
        )
        connection.execute(sa.text(f"DROP TRIGGER {name}{on}"))
        assert dropped_guards(connection) == {"audit_log": [name]}
        undone.rollback()


def test_only_an_administrator_reads_it_and_only_their_companys(logged: Logged) -> None:
    logged.client.cookies.clear()
    for role in ROLES:
        for address in ("/v1/audit-log", "/v1/audit-log.csv", "/v1/audit-log.jsonl"):
            answer = logged.client.get(address, headers=logged.bearer(role))
            assert answer.status_code == (200 if role == "administer" else 403), address
    with logged.storage.writing() as connection:
        south = company_named(connection, "south")
        add_line(connection, Line(south, "south's own", "POST /x", "/x", "192.0.2.1", 200, "done"))
    for address in ("/v1/audit-log", "/v1/audit-log.csv", "/v1/audit-log.jsonl"):
        assert "south's own" not in logged.client.get(address, headers=logged.bearer("administer")).text
        assert "south's own" in logged.client.get(address, headers=logged.bearer("south")).text


def test_it_is_read_in_pages_newest_first(logged: Logged) -> None:
    whole = logged.lines(limit=200)
    first = logged.client.get("/v1/audit-log?limit=2", headers=logged.bearer("administer")).json()
    then = logged.lines(limit=2, before=first["next"])
    numbers = [line["number"] for line in (*first["items"], *then)]
    assert numbers == sorted(numbers, reverse=True)
    assert then[-1]["number"] in [line["number"] for line in whole]
    assert logged.lines(since="2999-01-01") == []
    wrong = logged.client.get("/v1/audit-log?since=lately", headers=logged.bearer("administer"))
    assert wrong.status_code == 422
    assert "'lately'" in wrong.json()["detail"]


def test_it_is_taken_away_as_csv_and_as_json_lines_that_say_the_same(logged: Logged) -> None:
    with logged.storage.writing() as connection:
        north = company_named(connection, "north")
        add_line(connection, Line(north, '=HYPERLINK("x")', "POST /x", 'a "b", c', "192.0.2.1", 200, "done"))
    kept = logged.client.get("/v1/audit-log.csv", headers=logged.bearer("administer"))
    assert kept.headers["Content-Disposition"] == 'attachment; filename="audit-log.csv"'
    rows = list(csv.DictReader(io.StringIO(kept.text)))
    lines = logged.client.get("/v1/audit-log.jsonl", headers=logged.bearer("administer")).text.splitlines()
    told = [json.loads(line) for line in lines]
    # each reading is on the log before it is answered
    assert [int(row["number"]) for row in rows] == [line["number"] for line in told[:-1]]
    assert [line["subject"] for line in told[-2:]] == ["/audit-log.csv", "/audit-log.jsonl"]
    assert tuple(rows[0]) == tuple(told[0]) == COLUMNS
    assert (rows[-2]["who"], told[-3]["who"]) == ('\'=HYPERLINK("x")', '=HYPERLINK("x")')
    assert rows[-2]["subject"] == told[-3]["subject"] == 'a "b", c'
    with logged.storage.reading() as connection:
        counted = connection.scalar(sa.text("SELECT count(*) FROM audit_log"))
    whole = "".join(exported(all_lines(logged.storage, None), "jsonl"))
    assert whole.count("\n") == counted


def test_an_administrators_page_shows_it_and_others_have_no_link_to_it(logged: Logged) -> None:
    logged.client.cookies.clear()
    logged.client.post("/sign-in", data={"key": logged.keys["administer"]})
    page = logged.client.get("/log").text
    assert "POST /projects" in page
    assert '<a href="/log">Who did what</a>' in page
    assert logged.client.get("/v1/audit-log.csv").status_code == 200  # the page's link, by its session
    logged.client.post("/sign-in", data={"key": logged.keys["issue"]})
    assert "Who did what" not in logged.client.get("/").text
    refused = logged.client.get("/log")
    assert refused.status_code == 403
    assert "role is issue; this needs administer" in refused.text


def test_what_an_operator_does_is_on_it_and_the_operator_takes_it_away(
    logged: Logged, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DATABASE_URL", logged.settings.database_url)

    def done(*arguments: str) -> str:
        capsys.readouterr()
        assert main(list(arguments)) == 0, arguments
        return capsys.readouterr().out

    key = done("add", "north", "crew's phone", "--role", "plan").strip()
    key_id, secret = key.split("_")[1:]
    done("rotate", key_id)
    done("expire", key_id, "30d")
    done("revoke", key_id)
    (account_id,) = done("add-person", "north", "Grace Example", "--role", "issue").split()
    done("change-person", account_id, "--role", "read")
    done("end-sessions", "--person", account_id)
    done("end-person", account_id)
    told = [json.loads(line) for line in done("log", "--form", "jsonl", "--company", "north").splitlines()]
    mine = [line for line in told if line["who"].startswith("operator ")]
    assert [line["operation"].removeprefix("command ") for line in mine] == [
        "add",
        "rotate",
        "expire",
        "revoke",
        "add-person",
        "change-person",
        "end-sessions",
        "end-person",
        "log",
    ]
    assert mine[0]["subject"] == f"key {key_id} 'crew's phone', role plan"
    assert mine[4]["subject"] == f"account {account_id} 'Grace Example', role issue"
    assert secret not in json.dumps(told)
    assert {line["company"] for line in told} == {"north"}
    done("end-sessions", "--all")
    assert "everybody's" in done("log")
    assert done("log", "--since", "2999-01-01").count("\n") == 1  # its heading
    assert main(["log", "--company", "nobody's"]) == 1
    assert main(["log", "--since", "lately"]) == 2
