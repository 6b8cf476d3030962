"""Issued orders: numbered, chained, immutable; a revision is the difference to the last one."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import Any

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
    assert first["issued_by"] == "local user"
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
