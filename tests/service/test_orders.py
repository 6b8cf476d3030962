"""Issued orders: numbered, chained, immutable; a revision is the difference to the last one."""

from __future__ import annotations

import csv
import io
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pypdf
import pytest
import sqlalchemy as sa
from fastapi.testclient import TestClient
from hypothesis import given
from hypothesis import strategies as st

from api.orders.chain import FIRST, first_broken_revision, hash_of_revision
from api.orders.difference import difference
from api.storage.engine import Storage
from tests.service.conftest import Place
from tests.service.running import wait_for_plan


def _issued_project(client: TestClient, project: dict[str, Any]) -> tuple[str, dict[str, Any]]:
    """A project with its first revision."""
    location = client.post("/projects", json=project).headers["Location"]
    plan = wait_for_plan(client, client.post(f"{location}/plans").headers["Location"])
    answer = client.post(f"/plans/{plan['id']}/issue")
    assert answer.status_code == 201, answer.text
    return location, answer.json()


def _wider(project: dict[str, Any], by_mm: int) -> dict[str, Any]:
    return {**project, "gaps": [{**gap, "gap_mm": gap["gap_mm"] + by_mm} for gap in project["gaps"]]}


def test_an_issued_order_is_frozen_and_issuing_it_again_changes_nothing(
    client: TestClient, issued: tuple[str, dict[str, Any]]
) -> None:
    location, first = issued
    assert first["revision"] == 1
    assert first["issued_by"] == "this machine"
    assert first["previous_hash"] == FIRST
    assert first["difference"]["total"] == first["order"]["total"]
    again = client.post(f"/plans/{first['plan_id']}/issue")
    assert (again.status_code, again.json()) == (200, first)
    assert client.get(f"{location}/orders/1").json() == first
    assert client.get(f"{location}/orders/2").status_code == 404


def test_the_next_revision_is_the_difference_to_the_last_issued_order(
    client: TestClient, small_project: dict[str, Any]
) -> None:
    location, first = _issued_project(client, small_project)
    etag = client.get(location).headers["ETag"]
    changed = _wider(small_project, 40)
    assert client.put(location, json=changed, headers={"If-Match": etag}).status_code == 200
    plan = wait_for_plan(client, client.post(f"{location}/plans").headers["Location"])
    second = client.post(f"/plans/{plan['id']}/issue").json()
    assert (second["revision"], second["previous_hash"]) == (2, first["hash"])
    assert second["project_version"] == 2
    cents = _cents(second["order"]["total"]) - _cents(first["order"]["total"])
    assert _cents(second["difference"]["total"]) == cents
    assert sum(_cents(line["amount"]) for line in second["difference"]["lines"]) == cents
    listed = client.get(f"{location}/orders").json()
    assert [item["revision"] for item in listed["items"]] == [1, 2]
    assert listed["chain_intact"] is True
    log = client.get(f"{location}/changes", params={"limit": 200}).json()["items"]
    assert [line["subject"] for line in log if line["action"] == "issued"] == [
        "order revision 1",
        "order revision 2",
    ]


def test_what_is_issued_is_on_record_as_ordered_once(
    client: TestClient, small_project: dict[str, Any]
) -> None:
    location, first = _issued_project(client, small_project)
    units = {
        (line["level"], line["code"]): line["packs"] * line["per_pack"]
        for line in first["order"]["lines"]
        if line["packs"]
    }
    assert _on_order(client, location) == units
    client.post(f"/plans/{first['plan_id']}/issue")
    assert _on_order(client, location) == units
    line = first["order"]["lines"][0]
    told = {
        "at": "2027-03-01T07:30:00",
        "event": "ordered",
        "level": line["level"],
        "code": line["code"],
        "quantity": line["packs"] * line["per_pack"],
        "id": "office-1",
    }
    answer = client.post(f"{location}/events", json=[told]).json()
    assert "counts once" in answer["warnings"][0]["message"]
    assert _on_order(client, location) == units
    second = _next_revision(client, location, _wider(small_project, 40))
    assert _on_order(client, location) == {
        (line["level"], line["code"]): line["packs"] * line["per_pack"]
        for line in second["order"]["lines"]
        if line["packs"]
    }


def test_an_order_is_issued_and_put_on_record_together_or_not_at_all(
    client: TestClient, small_project: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    location = client.post("/projects", json=small_project).headers["Location"]
    plan = wait_for_plan(client, client.post(f"{location}/plans").headers["Location"])
    with monkeypatch.context() as broken:
        broken.setattr("api.orders.repository.add_issued", lambda *_: 1 / 0)
        assert client.post(f"/plans/{plan['id']}/issue").status_code == 500
    assert client.get(f"{location}/orders").json()["items"] == []
    assert _on_order(client, location) == {}
    assert client.post(f"/plans/{plan['id']}/issue").status_code == 201
    assert _on_order(client, location)


def _on_order(client: TestClient, location: str) -> dict[tuple[str, str], int]:
    items: list[dict[str, Any]] = []
    page = client.get(f"{location}/events", params={"limit": 200}).json()
    items += page["items"]
    while page["next"]:
        page = client.get(f"{location}/events", params={"limit": 200, "after": page["next"]}).json()
        items += page["items"]
    undone = {item["undoes"] for item in items if item["event"] == "undone"}
    found: dict[tuple[str, str], int] = {}
    for item in items:
        if item["event"] == "ordered" and item["id"] not in undone:
            line = item["level"], item["code"]
            found[line] = found.get(line, 0) + item["quantity"]
    return found


def _next_revision(client: TestClient, location: str, project: dict[str, Any]) -> dict[str, Any]:
    """The revision that is issued from the plan of a newer version."""
    etag = client.get(location).headers["ETag"]
    assert client.put(location, json=project, headers={"If-Match": etag}).status_code == 200
    plan = wait_for_plan(client, client.post(f"{location}/plans").headers["Location"])
    found: dict[str, Any] = client.post(f"/plans/{plan['id']}/issue").json()
    return found


def test_each_line_of_a_difference_has_its_causes_days_and_prices(
    client: TestClient, small_project: dict[str, Any]
) -> None:
    location, _ = _issued_project(client, small_project)
    last = small_project["levels"][-1]["level"]
    runs = {run["run"] for run in small_project["runs"] if run["level"] == last}
    changed = {
        **small_project,
        "gaps": [
            {**gap, "gap_mm": gap["gap_mm"] + 40 * (gap["run"] in runs)} for gap in small_project["gaps"]
        ],
    }
    second = _next_revision(client, location, changed)
    assert second["difference"]["lines"]
    assert {cause for line in second["difference"]["lines"] for cause in line["causes"]} == {"survey"}
    assert {line["level"] for line in second["difference"]["lines"]} == {last}
    later = "2027-12-01"
    moved = {
        **changed,
        "levels": [
            {**level, "needed_on": later} if level["level"] == last else level
            for level in small_project["levels"]
        ],
    }
    third = _next_revision(client, location, moved)["difference"]
    assert third["total"] == "0.00"
    assert {line["level"] for line in third["lines"]} == {last}
    for line in third["lines"]:
        assert (line["packs"], line["causes"], line["deliver_on_after"]) == (0, ["date"], later)
        assert line["deliver_on_before"] not in (None, later)
    products = [
        {**product, "price": "999.00"} if product["kind"] == "anchor" else product
        for product in small_project["products"]
    ]
    fourth = _next_revision(client, location, {**moved, "products": products})["difference"]
    assert fourth["lines"]
    assert {(*line["causes"], line["price_after"]) for line in fourth["lines"]} == {("price", "999.00")}


def test_a_superseded_revision_says_so_wherever_it_is_read(
    client: TestClient, small_project: dict[str, Any]
) -> None:
    location, first = _issued_project(client, small_project)
    plan = f"/plans/{first['plan_id']}"
    assert client.get(f"{plan}/order.json").json()["superseded_by"] is None
    assert "superseded" not in _text(client.get(f"{plan}/order.pdf").content)
    _next_revision(client, location, _wider(small_project, 40))
    assert client.get(f"{location}/orders/1").json() == {**first, "superseded_by": 2}
    assert client.post(f"{plan}/issue").json() == {**first, "superseded_by": 2}
    listed = client.get(f"{location}/orders")
    assert [item["superseded_by"] for item in listed.json()["items"]] == [2, None]
    assert (listed.headers["ETag"], listed.json()["chain_intact"]) == ('"2"', True)
    document = client.get(f"{plan}/order.json").json()
    assert (document["revision"], document["superseded_by"]) == (1, 2)
    for name in ("order", "deliveries"):
        for row in csv.DictReader(io.StringIO(client.get(f"{plan}/{name}.csv").text)):
            assert (row["revision"], row["superseded_by"]) == ("1", "2")
    for name in ("order", "cutting-sheets", "labels"):
        answer = client.get(f"{plan}/{name}.pdf")
        assert "1, superseded by 2" in _text(answer.content)
        assert "-revision-1-superseded.pdf" in answer.headers["Content-Disposition"]
    calendar = client.get(f"/schedules/{first['plan_id']}/deliveries.ics").text.replace("\r\n ", "")
    assert calendar.count("SUMMARY:Superseded by revision 2: ") == calendar.count("SUMMARY:") > 0


def _text(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages).split())


def test_an_order_is_issued_only_after_the_revision_that_is_expected(
    client: TestClient, small_project: dict[str, Any]
) -> None:
    location, _ = _issued_project(client, small_project)
    plan = wait_for_plan(client, client.post(f"{location}/plans", json={"seed": 1}).headers["Location"])
    refused = client.post(f"/plans/{plan['id']}/issue", headers={"If-Match": '"0"'})
    assert (refused.status_code, refused.json()["type"]) == (412, "/problems/precondition-failed")
    etag = client.get(f"{location}/orders").headers["ETag"]
    issued = client.post(f"/plans/{plan['id']}/issue", headers={"If-Match": etag})
    assert (issued.status_code, issued.headers["ETag"]) == (201, '"2"')


def test_two_who_issue_at_once_get_two_numbers(place: Place, small_project: dict[str, Any]) -> None:
    client = place.client
    location = client.post("/projects", json=small_project).headers["Location"]
    plans = [client.post(f"{location}/plans", json={"seed": seed}).headers["Location"] for seed in range(4)]
    for plan in plans:
        assert wait_for_plan(client, plan)["status"] == "done"
    with ThreadPoolExecutor(4) as threads:
        answers = list(threads.map(lambda plan: client.post(f"{plan}/issue"), [*plans, *plans]))
    assert {answer.status_code for answer in answers} == {200, 201}
    assert sorted({answer.json()["revision"] for answer in answers}) == [1, 2, 3, 4]
    assert client.get(f"{location}/orders").json()["chain_intact"] is True


@pytest.fixture(scope="module")
def issued(place: Place, small_project: dict[str, Any]) -> tuple[str, dict[str, Any]]:
    """A project with its first revision, for tests that alter nothing."""
    return _issued_project(place.client, small_project)


@pytest.mark.usefixtures("issued")
@pytest.mark.parametrize("statement", ["UPDATE {} SET {} = 'x'", "DELETE FROM {}"])
@pytest.mark.parametrize(
    ("table", "column"), [("issued_orders", "hash"), ("changes", "who"), ("project_versions", "kept_by")]
)
def test_the_database_itself_refuses_to_alter_what_is_kept(
    place: Place, statement: str, table: str, column: str
) -> None:
    storage = Storage(place.settings.database_url)
    with pytest.raises(sa.exc.DatabaseError, match="never altered"), storage.writing() as connection:
        connection.execute(sa.text(statement.format(table, column)))
    storage.close()


def _chain(orders: list[dict[str, Any]]) -> list[tuple[int, str, str, dict[str, Any]]]:
    previous, chain = FIRST, []
    for revision, document in enumerate(orders, start=1):
        own = hash_of_revision(previous, document)
        chain.append((revision, previous, own, document))
        previous = own
    return chain


documents = st.lists(st.dictionaries(st.text(max_size=3), st.integers()), min_size=2, max_size=6)


@given(documents, st.data())
def test_altering_dropping_or_swapping_a_revision_breaks_the_chain(
    orders: list[dict[str, Any]], data: st.DataObject
) -> None:
    chain = _chain(orders)
    assert first_broken_revision(chain) is None
    place = data.draw(st.integers(0, len(chain) - 1))
    revision, previous, own, document = chain[place]
    altered = [*chain[:place], (revision, previous, own, {**document, "added": 1}), *chain[place + 1 :]]
    assert first_broken_revision(altered) == place + 1
    if place < len(chain) - 1:
        assert first_broken_revision([*chain[:place], *chain[place + 1 :]]) == place + 1
        swapped = [*chain]
        swapped[place], swapped[place + 1] = swapped[place + 1], swapped[place]
        assert first_broken_revision(swapped) == place + 1


line = st.fixed_dictionaries(
    {
        "code": st.sampled_from(["B-120", "K-110", "A-1"]),
        "level": st.sampled_from(["L01", "L02"]),
        "packs": st.integers(0, 9),
        "amount": st.integers(0, 10_000).map(lambda cents: f"{cents // 100}.{cents % 100:02d}"),
    }
)


def _order(lines: list[dict[str, Any]]) -> dict[str, Any]:
    cents = sum(_cents(row["amount"]) for row in lines)
    return {"lines": lines, "total": f"{cents // 100}.{cents % 100:02d}", "currency": "AUD"}


@given(st.lists(line, max_size=6).map(_order), st.lists(line, max_size=6).map(_order))
def test_a_difference_added_to_the_last_order_is_the_new_one(
    last: dict[str, Any], new: dict[str, Any]
) -> None:
    found = difference(last, new)
    assert _cents(last["total"]) + _cents(found["total"]) == _cents(new["total"])
    assert sum(_cents(row["amount"]) for row in found["lines"]) == _cents(found["total"])
    packs = sum(row["packs"] for row in last["lines"]) + sum(row["packs"] for row in found["lines"])
    assert packs == sum(row["packs"] for row in new["lines"])
    assert difference(new, new)["lines"] == []


def _cents(amount: str) -> int:
    return round(float(amount) * 100)
