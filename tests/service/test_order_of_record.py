"""The order of record: what is issued is kept byte for byte, and whatever happens to it is found, told apart and stops
issuing until an operator has looked at it."""

from __future__ import annotations

import hashlib
import io
import json
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from fastapi.testclient import TestClient
from pypdf import PdfReader

from api import clock
from api.orders.anchor import HeldAnchor, knowledge_of
from api.orders.anchoring import acknowledge, attend
from api.orders.chain import hash_of_revision
from api.orders.checks import check_all, last_check
from api.storage.tables import compressed, restored
from api.storage.trouble import UnusableDatabase
from api.workers.verifying import verify_when_due
from tests.service.conftest import empty_database
from tests.service.issued_places import IssuedPlace, drop_guards

DOCUMENTS = (
    "order.pdf",
    "order.xlsx",
    "office.xlsx",
    "order.xml",
    "order.csv",
    "order.json",
    "plan.json",
    "deliveries.csv",
)
SHEETS = ("cutting-sheets.pdf", "labels.pdf")


@pytest.fixture
def place(issued_copy: IssuedPlace) -> IssuedPlace:
    """A copy to meddle with."""
    return issued_copy


@pytest.fixture
def client(place: IssuedPlace) -> Iterator[TestClient]:
    with place.client() as client:
        yield client


def _downloads(client: TestClient, plan_id: str) -> dict[str, bytes]:
    """Every document of a plan, and its sheets on both papers."""
    names = [*DOCUMENTS, *(f"{name}?paper={paper}" for name in SHEETS for paper in ("A4", "Letter"))]
    address = f"/schedules/{plan_id}/files"
    found = {name: client.get(f"{address}/{name}") for name in [*names, "order.pdf?paper=Letter"]}
    assert {answer.status_code for answer in found.values()} == {200}
    return {name: answer.content for name, answer in found.items()}


def _issue(client: TestClient, plan_id: str) -> Any:
    return client.post(f"/plans/{plan_id}/issue")


def _with_another_total(document: bytes) -> bytes:
    """A kept plan whose total was altered."""
    plan = json.loads(restored(document))
    plan["order"]["total"] = "99999.99"
    return compressed(json.dumps(plan))


# What is served


def test_the_documents_of_an_issued_order_are_served_in_the_very_bytes_whatever_becomes_of_its_plan(
    place: IssuedPlace, client: TestClient
) -> None:
    superseded, plan_id = place.plans[:2]
    before = [_downloads(client, one) for one in (superseded, plan_id)]
    for one in (superseded, plan_id):
        kept = place.one("SELECT document FROM job_results WHERE job_id = :id", id=one)
        place.meddle(
            "UPDATE job_results SET document = :altered WHERE job_id = :id",
            altered=_with_another_total(kept),
            id=one,
        )
    assert [_downloads(client, one) for one in (superseded, plan_id)] == before
    assert client.get(f"/v1/plans/{plan_id}").json()["plan"]["order"]["total"] != "99999.99"
    assert "99,999.99" not in client.get(f"/schedules/{plan_id}").text
    assert place.kinds() == ["plan-altered", "plan-altered"]


def test_a_download_is_the_issued_document_byte_for_byte_and_of_a_superseded_revision_a_marked_copy(
    place: IssuedPlace, client: TestClient
) -> None:
    for revision, plan_id in enumerate(place.plans[: place.issued], start=1):
        files = _downloads(client, plan_id)
        address = f"/v1/projects/{place.project}/orders/{revision}/documents"
        same = {
            name
            for name in (*DOCUMENTS, *SHEETS)
            if files.get(name, files.get(f"{name}?paper=A4")) == (client.get(f"{address}/{name}").content)
        }
        marked = {*DOCUMENTS, *SHEETS} - {"plan.json", "order.xml"}
        assert same == {*DOCUMENTS, *SHEETS} - (marked if revision < place.issued else set())


def test_every_document_is_in_the_revision_with_its_hash_bound_to_plan_survey_and_software(
    place: IssuedPlace, client: TestClient
) -> None:
    address = f"/v1/projects/{place.project}/orders/1"
    issued = client.get(address).json()
    documents = {one["name"]: one for one in issued["documents"]}
    assert {*DOCUMENTS, *SHEETS, "deliveries.ics", "re-measure.pdf", "order-letter.pdf"} <= set(documents)
    for name, one in documents.items():
        answer = client.get(f"{address}/documents/{name}")
        assert answer.headers["Content-Type"] == one["media_type"]
        assert (len(answer.content), hashlib.sha256(answer.content).hexdigest()) == (
            one["bytes"],
            one["sha256"],
        )
    survey = place.one(
        "SELECT document FROM project_versions WHERE project_id = :id AND version = 1", id=place.project
    )
    assert issued["survey_sha256"] == hashlib.sha256(restored(survey)).hexdigest()
    assert issued["software"].startswith("barrier-orders ")
    assert client.get(f"{address}/documents/none.pdf").status_code == 404


def test_the_order_names_the_hashes_of_its_data_and_of_its_plan(
    client: TestClient, place: IssuedPlace
) -> None:
    files = _downloads(client, place.plans[1])
    for name in ("order.pdf", "order.pdf?paper=Letter"):
        printed = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(files[name])).pages)
        for data in ("order.json", "plan.json"):
            assert f"SHA-256 of {data}: {hashlib.sha256(files[data]).hexdigest()}" in printed
        assert f"Revision 2, from survey version 2, plan {place.plans[1]}" in printed


def test_a_document_that_was_altered_is_found_and_not_given_out(
    place: IssuedPlace, client: TestClient
) -> None:
    content = place.one("SELECT content FROM issued_documents WHERE name = 'order.csv' AND revision = 2")
    place.meddle(
        "UPDATE issued_documents SET content = :altered, content_hash = :hash WHERE name = 'order.csv' AND"
        " revision = 2",
        altered=compressed(restored(content) + b"one more line\n"),
        hash=hashlib.sha256(restored(content) + b"one more line\n").hexdigest(),
    )
    refused = client.get(f"/plans/{place.plans[1]}/order.csv")
    assert (refused.status_code, refused.json()["type"]) == (409, "/problems/not-what-was-issued")
    assert client.get(f"/plans/{place.plans[1]}/order.pdf").status_code == 200
    (found,) = place.verified().findings
    assert (found.kind, found.subject, found.revision) == ("document-altered", "order.csv", 2)


# What is found, and told apart


def _alter_the_row(place: IssuedPlace) -> None:
    place.meddle("UPDATE issued_orders SET issued_by = 'somebody else' WHERE revision = 1")


def _rewrite_the_row_with_its_hash(place: IssuedPlace) -> None:
    kept = place.one("SELECT document FROM issued_orders WHERE revision = 2")
    previous = place.one("SELECT previous_hash FROM issued_orders WHERE revision = 2")
    document = json.loads(restored(kept))
    document["order"]["total"] = "99999.99"
    place.meddle(
        "UPDATE issued_orders SET document = :document, hash = :hash WHERE revision = 2",
        document=compressed(json.dumps(document, ensure_ascii=False)),
        hash=hash_of_revision(previous, document),
    )


def _delete_a_document(place: IssuedPlace) -> None:
    place.meddle("DELETE FROM issued_documents WHERE name = 'order.xml' AND revision = 2")


def _spoil_a_document(place: IssuedPlace) -> None:
    place.meddle(
        "UPDATE issued_documents SET content = :nothing WHERE name = 'plan.json' AND revision = 1",
        nothing=b"not even compressed",
    )


def _alter_the_survey(place: IssuedPlace) -> None:
    place.meddle(
        "UPDATE project_versions SET document = :other WHERE version = 1", other=compressed('{"other": 1}')
    )


def _delete_the_last(place: IssuedPlace) -> None:
    place.meddle(
        "DELETE FROM issued_documents WHERE revision = 2", "DELETE FROM issued_orders WHERE revision = 2"
    )


def _delete_the_last_and_its_line_in_the_log(place: IssuedPlace) -> None:
    place.meddle(
        "DELETE FROM issued_documents WHERE revision = 2",
        "DELETE FROM issued_orders WHERE revision = 2",
        "INSERT INTO changes (company_id, subject, action, who, at) VALUES ('local', 'later', 'x', 'y', 'z')",
        "DELETE FROM changes WHERE subject = 'order revision 2'",
    )


def _delete_the_first(place: IssuedPlace) -> None:
    place.meddle(
        "DELETE FROM issued_documents WHERE revision = 1", "DELETE FROM issued_orders WHERE revision = 1"
    )


def _drop_triggers(place: IssuedPlace) -> None:
    with place.storage() as storage, storage.writing() as connection:
        drop_guards(connection, ("issued_orders",))


def _switch_a_trigger_off(place: IssuedPlace) -> None:
    """On PostgreSQL disabled, on SQLite replaced by one of the same name that refuses nothing."""
    with place.storage() as storage, storage.writing() as connection:
        if storage.embedded:
            connection.execute(sa.text("DROP TRIGGER changes_no_update"))
            connection.execute(
                sa.text("CREATE TRIGGER changes_no_update BEFORE UPDATE ON changes BEGIN SELECT 1; END")
            )
        else:
            connection.execute(sa.text("ALTER TABLE changes DISABLE TRIGGER changes_keep"))


def _insert_a_revision(place: IssuedPlace) -> None:
    kept = place.one("SELECT document FROM issued_orders WHERE revision = 2")
    previous = place.one("SELECT hash FROM issued_orders WHERE revision = 2")
    document = {**json.loads(restored(kept)), "revision": 3, "plan_id": place.plans[2], "documents": []}
    place.meddle(
        "INSERT INTO issued_orders (project_id, revision, company_id, plan_id, document, issued_at, issued_by,"
        " issuer_salt, previous_hash, hash) SELECT project_id, 3, company_id, :plan, :document, issued_at, issued_by,"
        " issuer_salt, hash, :hash"
        " FROM issued_orders WHERE revision = 2",
        plan=place.plans[2],
        document=compressed(json.dumps(document, ensure_ascii=False)),
        hash=hash_of_revision(previous, document),
    )


def _remove_the_anchor(place: IssuedPlace) -> None:
    place.settings.anchor_path.unlink()


def _remove_the_key(place: IssuedPlace) -> None:
    place.settings.signing_key_path.unlink()


def _rewrite_the_anchor(place: IssuedPlace) -> None:
    path = place.settings.anchor_path
    path.write_bytes(path.read_bytes().replace(b'"revision":2', b'"revision":3'))


def _write_nonsense_into_the_anchor(place: IssuedPlace) -> None:
    path = place.settings.anchor_path
    path.write_bytes(path.read_bytes().replace(b'"revision":2', b'"revision":"second"'))


def _cut_a_line_out_of_the_anchor(place: IssuedPlace) -> None:
    path = place.settings.anchor_path
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join([*lines[:1], *lines[2:]]))


def _put_the_anchor_back(place: IssuedPlace) -> None:
    path = place.settings.anchor_path
    path.write_bytes(b"".join(path.read_bytes().splitlines(keepends=True)[:-2]))


MEDDLING: dict[Callable[[IssuedPlace], None], tuple[list[str], str]] = {
    _alter_the_row: (["revision-altered"], "Revision 1 of .* was altered: its row"),
    _rewrite_the_row_with_its_hash: (
        ["revision-altered"],
        "Revision 2 of .* not the one that the anchor signed",
    ),
    _delete_a_document: (["document-missing"], r"order\.xml of revision 2 of .* is missing"),
    _spoil_a_document: (["document-altered"], r"plan\.json of revision 1 of .* was altered"),
    _alter_the_survey: (["survey-altered"], r"The survey \(version 1\) that revision 1 of .* was altered"),
    _delete_the_last: (["revision-missing"], "Revision 2 of .* is missing: .* deleted from the database"),
    _delete_the_last_and_its_line_in_the_log: (
        ["revision-missing"],
        "Revision 2 of .* deleted from the database",
    ),
    _delete_the_first: (["revision-missing"], "Revision 1 of .* is missing: .* deleted from the database"),
    _drop_triggers: (["guards-dropped"], "no longer refuses to alter rows of issued_orders: .* were dropped"),
    _switch_a_trigger_off: (["guards-dropped"], "no longer refuses to alter rows of changes"),
    _insert_a_revision: (["not-anchored"], "Revision 3 of .* the anchor does not know it"),
    _remove_the_anchor: (["anchor-missing"], "The anchor of the issued orders is not at .*anchor"),
    _remove_the_key: (["key-missing"], "The signing key is not at .*signing-key"),
    _rewrite_the_anchor: (["anchor-altered"], "The anchor .* was altered: line 4 is not signed by this key"),
    _write_nonsense_into_the_anchor: (
        ["anchor-altered", "not-anchored"],
        "The anchor .* was altered: line 4 is not signed by this key",
    ),
    _cut_a_line_out_of_the_anchor: (["anchor-altered"], "line 2 does not follow the one before it"),
    _put_the_anchor_back: (["not-anchored"], "Revision 2 of .* put back to an earlier day"),
}


@pytest.mark.parametrize("meddle", MEDDLING, ids=lambda meddle: meddle.__name__.strip("_"))
def test_what_was_done_is_told_stops_issuing_and_is_acknowledged(
    place: IssuedPlace, meddle: Callable[[IssuedPlace], None]
) -> None:
    kinds, words = MEDDLING[meddle]
    assert place.kinds() == []
    meddle(place)
    found = place.verified().findings
    assert set(kinds) <= {one.kind for one in found}
    assert any(re.search(words, one.says) for one in found), found
    plan = place.plans[3]
    with place.client() as client:
        refused = _issue(client, plan)
        assert (refused.status_code, refused.json()["type"]) == (409, "/problems/issued-orders-in-doubt")
        assert "barrier-orders verify --acknowledge" in refused.json()["detail"]
        assert client.get(f"/v1/projects/{place.project}/orders").status_code == 200  # it is still to be read
        with place.storage() as storage:
            assert len(acknowledge(storage, place.anchor, "A. Operator")) == len(found)
        after = place.verified()
        assert after.findings == ()
        assert all(who.startswith("A. Operator on ") for _, who in after.acknowledged)
        issued = _issue(client, plan)
        assert issued.status_code == 201, issued.text
        highest = 3 if meddle in (_insert_a_revision, _rewrite_the_anchor) else 2
        assert issued.json()["revision"] == highest + 1
    assert place.kinds() == []
    lines = knowledge_of(place.settings.anchor_path.read_bytes(), place.anchor.key())
    assert lines.faults == []
    said = [line for line in lines.lines if line["kind"] == "acknowledged"]
    assert said[-1]["who"] == "A. Operator"
    assert said[-1]["says"] == [one.says for one in found]


def test_what_changes_after_it_was_acknowledged_is_found_anew(place: IssuedPlace) -> None:
    _alter_the_row(place)
    with place.storage() as storage:
        acknowledge(storage, place.anchor, "A. Operator")
    assert place.kinds() == []
    place.meddle("UPDATE issued_orders SET issued_by = 'a third one' WHERE revision = 1")
    assert place.kinds() == ["revision-altered"]


def test_acknowledging_puts_the_triggers_back(place: IssuedPlace) -> None:
    _drop_triggers(place)
    with place.storage() as storage:
        acknowledge(storage, place.anchor, "A. Operator")
        with pytest.raises(sa.exc.DatabaseError, match="never altered"), storage.writing() as connection:
            connection.execute(sa.text("UPDATE issued_orders SET issued_by = 'x'"))
    assert place.verified().acknowledged == ()


# Numbers


def test_the_number_of_a_deleted_revision_is_not_given_again(place: IssuedPlace) -> None:
    _delete_the_last(place)
    with place.storage() as storage:
        acknowledge(storage, place.anchor, "A. Operator")
    with place.client() as client:
        issued = _issue(client, place.plans[2]).json()
        assert (issued["revision"], issued["numbers_lost"]) == (3, [2])
        listed = client.get(f"/v1/projects/{place.project}/orders").json()
        assert [one["revision"] for one in listed["items"]] == [1, 3]
        assert listed["chain_intact"] is True
        log = client.get(f"/v1/projects/{place.project}/changes").json()["items"]
        assert [line["who"] for line in log if line["action"] == "finding acknowledged"] == ["A. Operator"]
        page = client.get(f"/schedules/{place.plans[2]}/revisions").text
        assert "What it changed against revision 1:" in page
        assert "against revision 2:" not in page


def test_a_restored_older_database_is_told_and_issues_no_number_twice(
    place: IssuedPlace, tmp_path: Path
) -> None:
    older = place.copy_of_database(tmp_path / "older", "older")
    with place.client() as client:
        assert _issue(client, place.plans[2]).json()["revision"] == 3
    back = replace(place, settings=replace(place.settings, database_url=older))
    (found,) = back.verified().findings
    assert found.kind == "older-backup"
    assert "the database is older than that, a restored backup" in found.says
    with back.client() as client:
        assert _issue(client, place.plans[3]).status_code == 409
        with back.storage() as storage:
            acknowledge(storage, back.anchor, "A. Operator")
        issued = _issue(client, place.plans[3]).json()
    assert (issued["revision"], issued["numbers_lost"]) == (4, [3])
    assert back.kinds() == []


def test_an_older_database_from_before_its_anchor_was_begun_is_told(
    place: IssuedPlace, tmp_path: Path
) -> None:
    back = place.copied(tmp_path / "before", "before")
    back.meddle(
        "DELETE FROM issued_documents",
        "DELETE FROM issued_orders",
        "DELETE FROM anchors",
        "DELETE FROM changes WHERE subject LIKE 'order revision%'",
    )
    with back.storage() as storage:
        attend(storage, back.anchor)
    assert {"other-anchor"} < set(back.kinds()) <= {"other-anchor", "older-backup", "revision-missing"}


def test_a_new_database_beside_the_anchor_of_another_begins_its_own_and_keeps_the_other(
    place: IssuedPlace, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    kind = "sqlite" if place.settings.embedded else "postgresql"
    url = empty_database(kind, request, f"new_{tmp_path.name}")
    settings = replace(place.settings, database_url=url.replace("postgresql://", "postgresql+psycopg://"))
    before = place.settings.anchor_path.read_bytes()
    with replace(place, settings=settings).client() as client:
        assert client.get("/healthz").status_code == 200
    assert replace(place, settings=settings).kinds() == []
    kept = [path for path in tmp_path.iterdir() if path.name.startswith("copy.anchor.2")]
    assert [path.read_bytes() for path in kept] == [before]


# Crashes


def test_a_revision_that_was_committed_before_a_crash_is_known_and_completed_at_the_next_start(
    place: IssuedPlace, monkeypatch: pytest.MonkeyPatch
) -> None:
    add = HeldAnchor.add

    def dying(self: HeldAnchor, kind: str, **facts: Any) -> None:
        if kind == "issued":
            raise UnusableDatabase("the power went")
        add(self, kind, **facts)

    with place.client() as client:
        monkeypatch.setattr(HeldAnchor, "add", dying)
        assert _issue(client, place.plans[2]).json()["revision"] == 3
        monkeypatch.undo()
    assert (place.project, 3) not in place.anchor.read().issued
    assert place.kinds() == []
    with place.client():
        assert (place.project, 3) in place.anchor.read().issued


def test_an_intention_that_was_never_committed_gave_no_number(
    place: IssuedPlace, monkeypatch: pytest.MonkeyPatch
) -> None:
    add = HeldAnchor.add

    def dying(self: HeldAnchor, kind: str, **facts: Any) -> None:
        add(self, kind, **facts)
        raise UnusableDatabase("the power went")

    with place.client() as client:
        monkeypatch.setattr(HeldAnchor, "add", dying)
        refused = _issue(client, place.plans[2])
        assert (refused.status_code, refused.json()["type"]) == (503, "/problems/database-unusable")
        monkeypatch.undo()
        assert place.kinds() == []
        assert _issue(client, place.plans[2]).json()["revision"] == 3
    assert place.kinds() == []


def test_half_a_line_at_the_end_of_the_anchor_is_dropped(place: IssuedPlace) -> None:
    path = place.settings.anchor_path
    with path.open("ab") as file:
        file.write(b'{"kind":"intended","line":9,"proj')
    assert place.kinds() == []
    with place.client() as client:
        assert _issue(client, place.plans[2]).json()["revision"] == 3
    assert place.anchor.read().faults == []


# When it is verified


def test_it_is_verified_at_the_start_and_on_a_schedule_and_what_is_found_there_stops_every_project(
    place: IssuedPlace, small_project: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    with place.client() as client, place.storage() as storage:
        with storage.reading() as connection:
            at, found = last_check(connection) or ("", ())
        assert (clock.seconds_since(at) < 60, found) == (True, ())
        planned = client.post("/order-schedules", json={**small_project, "project": {"name": "Another"}})
        other = planned.headers["Location"]
        place.meddle("UPDATE issued_orders SET issued_by = 'x' WHERE revision = 1")
        assert verify_when_due(storage, place.anchor, minutes=60) is False
        assert verify_when_due(storage, place.anchor, minutes=0) is True
        refused = client.post(f"{other}/issue")
        assert refused.status_code == 409
        assert refused.json()["findings"] == ["1 finding about other projects."]
        place.meddle("UPDATE issued_orders SET issued_by = 'this machine' WHERE revision = 1")
        check_all(storage, place.anchor)
        assert client.post(f"{other}/issue").status_code == 201


def test_a_worker_without_the_anchors_files_leaves_verifying_to_others(place: IssuedPlace) -> None:
    elsewhere = replace(place.settings, anchor_file="/nowhere/anchor", signing_key_file="/nowhere/key")
    with place.storage() as storage:
        assert verify_when_due(storage, replace(place, settings=elsewhere).anchor, minutes=0) is False


# The files


def test_database_key_and_anchor_are_its_owners_alone(issued_template: IssuedPlace, tmp_path: Path) -> None:
    private = [issued_template.settings.anchor_path, issued_template.settings.signing_key_path]
    if issued_template.settings.embedded:
        private.append(Path(issued_template.settings.database_url.removeprefix("sqlite:///")))
    assert {path.name: oct(path.stat().st_mode & 0o777) for path in private} == {
        path.name: "0o600" for path in private
    }


def test_an_anchor_that_cannot_be_written_is_one_sentence(place: IssuedPlace, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("no folder")
    settings = replace(place.settings, anchor_file=str(tmp_path / "file" / "anchor"))
    with pytest.raises(UnusableDatabase, match=r"cannot be kept at .*BARRIER_ORDERS_ANCHOR_FILE"):
        replace(place, settings=settings).verified()
