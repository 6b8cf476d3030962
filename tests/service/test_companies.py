"""A company's data as a whole: handed over, a name erased, closed, its retention ended; the chain stays whole."""

from __future__ import annotations

import hashlib
import json
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
import sqlalchemy as sa

from api import clock
from api.companies.erasure import NotNow, close_company, erase_person
from api.companies.export import export
from api.companies.holdings import (
    DOCUMENTS,
    OF_NO_COMPANY,
    PEOPLE,
    SECRETS,
    UnknownCompany,
    find_company,
    rows_of,
    tables_of_companies,
    tables_to_hand_over,
)
from api.companies.retention import end_retention
from api.orders.anchoring import acknowledge
from api.orders.chain import commitment, is_intact
from api.storage.guards import dropped_guards
from api.storage.tables import MADE_AGAIN, metadata
from optimiser.commands.main import run
from tests.service.issued_places import IssuedPlace

COMPANY, ISSUER = "local", "Ada Example"
Command = Callable[..., tuple[int, list[str], str]]


@pytest.fixture
def place(issued_copy: IssuedPlace) -> IssuedPlace:
    """Two revisions issued by a named person, two plans that are not issued, and what she told and took."""
    with issued_copy.client() as client:
        event = {"id": "one", "at": "2027-02-01T08:00:00", "event": "measured", "level": "L1", "by": ISSUER}
        assert client.post(f"/projects/{issued_copy.project}/events", json=[event]).status_code < 300
        jpeg = b"\xff\xd8\xff\xe0" + b"invented picture" + b"\xff\xd9"
        about = {"at": "2027-05-03T10:00:00", "what": "joint", "piece": "L1-N-003", "by": ISSUER}
        address = f"/projects/{issued_copy.project}/photographs/first"
        assert client.put(address, params=about, content=jpeg).status_code == 201
    _rename_the_issuer(issued_copy)
    _sign_in(issued_copy)
    assert issued_copy.kinds() == []
    return issued_copy


def _sign_in(place: IssuedPlace) -> None:
    """She has an account, a key, and a browser that is signed in."""
    company, at, later = (
        f"(SELECT id FROM companies WHERE name = '{COMPANY}')",
        "'2027-01-01T08:00:00.000000Z'",
        "'2037-01-01T08:00:00.000000Z'",
    )
    place.meddle(
        "INSERT INTO accounts (id, company_id, name, email, role, created_at)"
        f" VALUES ('ada', {company}, '{ISSUER}', 'ada@example.com', 'issue', {at})",
        "INSERT INTO api_keys (id, company_id, name, role, secret_hash, created_at, account_id, last_used_from)"
        f" VALUES ('0f0f', {company}, 'telephone of {ISSUER}', 'issue', 'x', {at}, 'ada', '192.0.2.7')",
        "INSERT INTO sessions (id, secret_hash, company_id, account_id, begun_at, begun_from, browser, last_used_at,"
        f" expires_at) VALUES ('s', 'x', {company}, 'ada', {at}, '192.0.2.7', 'any', {at}, {later})",
        "INSERT INTO audit_log (company_id, at, who, operation, subject, address, status, result, request_id)"
        f" VALUES ({company}, {at}, '{ISSUER} (account ada)', 'sign in', 'as {ISSUER}', '192.0.2.7', 200, 'done', 'r')",
    )


def _rename_the_issuer(place: IssuedPlace) -> None:
    """Everything was done by Ada Example with a key: as if its requests had shown that key."""
    who = f"{ISSUER} (key 0f0f)"
    columns = [
        (table, c) for table, names in PEOPLE.items() for c in names if c.endswith("_by") or c == "who"
    ]
    statements = [f"UPDATE {t} SET {c} = '{who}'" for t, c in columns if t in metadata.tables]
    place.meddle(*(one for one in statements if "issued_orders" not in one))
    with place.storage() as storage, storage.reading() as connection:
        rows = connection.execute(sa.text("SELECT revision, issuer_salt FROM issued_orders")).all()
    for (
        row
    ) in rows:  # the commitment is hashed: the orders are issued anew under her name, in a chain of their own
        assert row.issuer_salt
    _issue_as(place, who)


def _issue_as(place: IssuedPlace, who: str) -> None:
    """The two revisions as she would have issued them: hashed, and anchored by acknowledging."""
    from api.orders.chain import FIRST, hash_of_revision
    from api.storage.tables import compressed, restored

    previous = FIRST
    for revision in (1, 2):
        kept = place.one(f"SELECT document FROM issued_orders WHERE revision = {revision}")
        salt = place.one(f"SELECT issuer_salt FROM issued_orders WHERE revision = {revision}")
        document = {**json.loads(restored(bytes(kept))), "issuer_sha256": commitment(who, salt)}
        own = hash_of_revision(previous, document)
        place.meddle(
            "UPDATE issued_orders SET issued_by = :who, document = :document, previous_hash = :previous, hash = :own"
            " WHERE revision = :revision",
            who=who,
            document=compressed(json.dumps(document, ensure_ascii=False)),
            previous=previous,
            own=own,
            revision=revision,
        )
        previous = own
    place.anchor.path.unlink()
    with place.storage() as storage:
        acknowledge(storage, place.anchor, "a test")


def test_every_table_says_whose_its_rows_are_and_every_column_that_names_people_is_known() -> None:
    for table in tables_of_companies():
        rows_of(table, "any")
    for table in metadata.sorted_tables:
        named = {c.name for c in table.c if c.name.endswith("_by") or c.name in ("who", "email")}
        assert named <= set(PEOPLE.get(table.name, ())), f"{table.name}: {sorted(named)} name people"
        secret = {c.name for c in table.c if "secret" in c.name or "salt" in c.name}
        assert secret <= set(SECRETS.get(table.name, ())), f"{table.name}: {sorted(secret)} are secrets"
    assert {*PEOPLE, *DOCUMENTS, *SECRETS, *OF_NO_COMPANY} <= {*metadata.tables}


def test_an_export_has_every_row_of_the_company_every_document_and_photograph_and_no_secret(
    place: IssuedPlace, tmp_path: Path
) -> None:
    file = tmp_path / "all.zip"
    with place.storage() as storage:
        counts = export(storage, COMPANY, file)
        with storage.reading() as connection:
            company_id = find_company(connection, COMPANY)
            for table in tables_to_hand_over():
                rows = sa.select(sa.func.count()).select_from(table).where(rows_of(table, company_id))
                assert counts[table.name] == connection.scalar(rows)
    assert not {*MADE_AGAIN} & {*counts}
    assert file.stat().st_mode & 0o777 == 0o600
    with zipfile.ZipFile(file) as archive:
        manifest = json.loads(archive.read("manifest.json"))
        assert set(archive.namelist()) == {*manifest["sha256"], "manifest.json"}
        for name, digest in manifest["sha256"].items():
            assert hashlib.sha256(archive.read(name)).hexdigest() == digest
        tables = {
            name: [json.loads(line) for line in archive.read(f"tables/{name}.jsonl").splitlines()]
            for name in counts
        }
        for issued in tables["issued_orders"]:
            order = json.loads(archive.read(issued["document"]["file"]))
            assert order["revision"] == issued["revision"]
            assert "issuer_salt" not in issued
        for kept in tables["issued_documents"]:
            content = archive.read(kept["content"]["file"])
            assert hashlib.sha256(content).hexdigest() == kept["content_hash"]
        (photograph,) = tables["photographs"]
        assert b"invented picture" in archive.read(photograph["content"]["file"])
        assert json.loads(archive.read(tables["project_versions"][0]["document"]["file"]))["runs"]


def test_an_erased_name_is_gone_from_every_row_and_no_hash_changes(place: IssuedPlace) -> None:
    hashes = "SELECT group_concat(hash) FROM issued_orders"
    if not place.settings.embedded:
        hashes = "SELECT string_agg(hash, ',' ORDER BY revision) FROM issued_orders"
    before = place.one(hashes)
    with place.client() as client:
        for plan in client.get(f"/projects/{place.project}/plans").json()["items"]:
            assert client.get(f"/plans/{plan['id']}/labels.pdf?level=L1").status_code == 200
            assert client.get(f"/schedules/{plan['id']}").status_code == 200
    assert all(place.one(f"SELECT count(*) FROM {table}") for table in MADE_AGAIN)
    with place.storage() as storage:
        shown = erase_person(storage, place.anchor, COMPANY, ISSUER, really=False)
        assert shown.rows["issued_orders"] == 2
        assert place.kinds() == []
        done = erase_person(storage, place.anchor, COMPANY, ISSUER, really=True)
        assert done.rows == shown.rows
        assert {"changes", "jobs", "project_versions", "projects", "record_events", "photographs"} < {
            *done.rows
        }
        assert not done.stays
        _nothing_else_tells_who_she_was(place)
        again = erase_person(storage, place.anchor, COMPANY, ISSUER, really=True)
        assert not again.rows
        assert not any(place.one(f"SELECT count(*) FROM {table}") for table in MADE_AGAIN)
        with storage.reading() as connection:
            assert not dropped_guards(connection)
            for table in metadata.sorted_tables:
                for row in connection.execute(sa.select(table)):
                    assert ISSUER not in " ".join(map(str, row)), table.name
    assert place.one(hashes) == before
    assert place.kinds() == []
    with place.client() as client:
        orders = client.get(f"/projects/{place.project}/orders").json()
        assert orders["chain_intact"]
        assert {one["issued_by"] for one in orders["items"]} == {f"{done.stands_for} (key 0f0f)"}
        (event,) = client.get(f"/projects/{place.project}/events", params={"limit": 1}).json()["items"]
        assert ISSUER not in json.dumps(event)


def _nothing_else_tells_who_she_was(place: IssuedPlace) -> None:
    for table in ("accounts", "api_keys", "audit_log", "sessions"):
        with place.storage() as storage, storage.reading() as connection:
            rows = " ".join(str(row) for row in connection.execute(sa.select(metadata.tables[table])))
        assert "ada@example.com" not in rows
        assert "192.0.2.7" not in rows
    assert place.one("SELECT count(*) FROM sessions") == 0
    assert place.one("SELECT ended_at FROM accounts") is not None
    assert place.one("SELECT revoked_at FROM api_keys WHERE id = '0f0f'") is not None


def test_another_name_beside_an_issued_order_is_found_as_long_as_it_is_not_erased(place: IssuedPlace) -> None:
    place.meddle("UPDATE issued_orders SET issued_by = 'Somebody Else' WHERE revision = 1")
    assert place.kinds() == ["revision-altered"]
    place.meddle("UPDATE issued_orders SET issuer_salt = NULL WHERE revision = 1")
    assert place.kinds() == ["revision-altered"]


def test_a_backup_that_brings_an_erased_name_back_is_found(place: IssuedPlace, tmp_path: Path) -> None:
    older = place.copied(tmp_path, "older")
    with place.storage() as storage:
        erase_person(storage, place.anchor, COMPANY, ISSUER, really=True)
    older.anchor.path.write_bytes(place.anchor.path.read_bytes())
    found = older.verified().findings
    assert [one.kind for one in found] == ["erasure-undone"] * 2
    assert "was erased on" in found[0].says
    with older.storage() as storage:
        erase_person(storage, older.anchor, COMPANY, ISSUER, really=True)
    assert older.kinds() == []


def test_of_an_order_whose_hash_covers_the_name_it_is_shown_no_more_and_said_to_stay(
    place: IssuedPlace,
) -> None:
    """Issued by an earlier version: the name stands in what is hashed, and cannot be taken out of it."""
    from api.orders.chain import hash_of_revision
    from api.storage.tables import compressed, restored

    kept = json.loads(restored(bytes(place.one("SELECT document FROM issued_orders WHERE revision = 2"))))
    previous = place.one("SELECT hash FROM issued_orders WHERE revision = 1")
    old = {**{k: v for k, v in kept.items() if k != "issuer_sha256"}, "issued_by": ISSUER}
    place.meddle(
        "UPDATE issued_orders SET document = :document, hash = :own, issuer_salt = NULL, issued_by = :who"
        " WHERE revision = 2",
        document=compressed(json.dumps(old, ensure_ascii=False)),
        own=hash_of_revision(previous, old),
        who=ISSUER,
    )
    place.anchor.path.unlink()
    with place.storage() as storage:
        acknowledge(storage, place.anchor, "a test")
        assert place.kinds() == []
        done = erase_person(storage, place.anchor, COMPANY, ISSUER, really=True)
    assert done.stays == (f"order 2 of project {place.project}: what its hash covers",)
    assert place.kinds() == []
    with place.client() as client:
        (_, second) = client.get(f"/projects/{place.project}/orders").json()["items"]
        assert second["issued_by"] == done.stands_for


def test_a_company_that_goes_leaves_its_orders_with_what_they_were_made_from_and_nothing_else(
    place: IssuedPlace,
) -> None:
    with place.storage() as storage:
        place.meddle("UPDATE jobs SET status = 'running' WHERE id = (SELECT max(id) FROM jobs)")
        with pytest.raises(NotNow, match="1 unfinished job"):
            close_company(storage, place.anchor, COMPANY, really=True)
        place.meddle("UPDATE jobs SET status = 'done'")
        shown = close_company(storage, place.anchor, COMPANY, really=False)
        assert place.one("SELECT count(*) FROM photographs") == 1
        done = close_company(storage, place.anchor, COMPANY, really=True)
    assert done == shown
    assert done.stays == ("2 issued orders, with their documents, plans and surveys",)
    left = {name: place.one(f"SELECT count(*) FROM {name}") for name in metadata.tables}
    assert (left["issued_orders"], left["jobs"], left["job_results"], left["project_versions"]) == (
        2,
        2,
        2,
        2,
    )
    assert left["photographs"] == left["record_events"] == left["job_events"] == left["api_keys"] == 0
    assert place.kinds() == []
    unknown = pytest.raises(UnknownCompany, match="There is no company 'another'; there is local")
    with place.storage() as storage, unknown:
        close_company(storage, place.anchor, "another", really=True)


def test_a_building_that_stood_still_for_years_goes_with_its_orders_and_is_not_missed(
    place: IssuedPlace, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    older, now = place.copied(tmp_path, "older"), clock.now()
    with place.storage() as storage:
        assert end_retention(storage, place.anchor, 1, really=True) == ()
        monkeypatch.setattr(clock, "now", lambda: f"{int(now[:4]) + 10}{now[4:]}")
        assert end_retention(storage, place.anchor, 11, really=True) == ()
        (shown,) = end_retention(storage, place.anchor, 10, really=False)
        assert (shown.orders, shown.last_change[:4]) == (2, now[:4])
        assert place.one("SELECT count(*) FROM issued_orders") == 2
        assert end_retention(storage, place.anchor, 10, really=True) == (shown,)
        with storage.reading() as connection:
            assert not dropped_guards(connection)
    for name in ("projects", "issued_orders", "issued_documents", "jobs", "record_events"):
        assert place.one(f"SELECT count(*) FROM {name}") == 0, name
    assert place.kinds() == []
    assert place.one("SELECT count(*) FROM changes WHERE project_id IS NOT NULL") == 0
    assert place.anchor.read().highest(place.project) == 2
    older.anchor.path.write_bytes(place.anchor.path.read_bytes())
    assert older.kinds() == ["erasure-undone"] * 2


def test_the_commands_show_first_and_do_it_only_when_it_is_confirmed(
    place: IssuedPlace, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    settings = place.settings
    monkeypatch.setenv("DATABASE_URL", settings.database_url)
    monkeypatch.setenv("BARRIER_ORDERS_ANCHOR_FILE", settings.anchor_file)
    monkeypatch.setenv("BARRIER_ORDERS_SIGNING_KEY_FILE", settings.signing_key_file)

    def told(*arguments: str) -> tuple[int, str]:
        capsys.readouterr()
        code = run(list(arguments))
        said = capsys.readouterr()
        return code, said.out + said.err

    file = str(tmp_path / "company.zip")
    assert told("export", COMPANY, file)[1].startswith(f"{file}: 1 project, 2 issued orders, ")
    assert told("export", COMPANY, file) == (1, f"There is a file {file} already; name a new one.\n")
    assert told("export", "another", file + "2") == (1, "There is no company 'another'; there is local.\n")
    assert not Path(file + "2").exists()
    code, said = told("erase", COMPANY, "--person", ISSUER)
    assert code == 0
    assert said.endswith("nothing was erased yet: add --confirm\n")
    assert "stands in issued_orders: 2 rows" in said
    assert "replaced by: erased person " in told("erase", COMPANY, "--person", ISSUER, "--confirm")[1]
    assert told("erase", COMPANY, "--person", ISSUER)[1].startswith("nothing has the name")
    assert told("retention", "--years", "10") == (0, "no building has stood unchanged for 10 years\n")
    assert told("verify")[0] == 0
    assert "2 issued orders, with their documents" in told("erase", COMPANY, "--confirm")[1]
    assert told("verify")[0] == 0


def test_a_chain_is_whole_whoever_is_named_beside_it(place: IssuedPlace) -> None:
    from api.orders import repository

    with place.storage() as storage, storage.reading() as connection:
        company_id = find_company(connection, COMPANY)
        issued = repository.issued_orders_of(connection, company_id, place.project)
    assert is_intact(issued)
    assert is_intact([{**one, "issuer": "erased person 1"} for one in issued])
    assert not is_intact([{**one, "issuer_sha256": "0" * 64} for one in issued])
