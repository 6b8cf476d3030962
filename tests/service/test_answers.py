"""A supplier's answer to an issued order becomes events of the record; a later revision is an OrderChange to it."""

from __future__ import annotations

import io
from typing import Any

import pypdf
from fastapi.testclient import TestClient

from tests.builders.order_document import read
from tests.builders.supplier_documents import despatch_advice, order_response
from tests.service.running import wait_for_plan
from tests.writing.supplier.test_ubl import words

XML = {"Content-Type": "application/xml"}


def issued(client: TestClient, location: str) -> str:
    """The address of the project's plan, issued."""
    plan = wait_for_plan(client, client.post(f"{location}/plans").headers["Location"])
    address = f"/plans/{plan['id']}"
    assert client.post(f"{address}/issue").status_code == 201
    return address


def test_answers_are_written_down_once_and_faults_are_told(
    client: TestClient, small_project: dict[str, Any]
) -> None:
    project = {**small_project, "project": {**small_project["project"], "order_reference": "QY-3"}}
    location = client.post("/projects", json=project).headers["Location"]
    plan = wait_for_plan(client, client.post(f"{location}/plans").headers["Location"])
    address = f"/plans/{plan['id']}"
    early = client.post(f"{address}/answers", content=order_response(), headers=XML)
    assert (early.status_code, early.json()["type"].rsplit("/")[-1]) == (409, "not-issued")
    assert client.post(f"{address}/issue").status_code == 201
    whole = _ordered(client, location)
    first = client.post(f"{address}/answers", content=order_response(), headers=XML)
    assert first.status_code == 200, first.text
    assert (first.json()["kind"], first.json()["added"]) == ("OrderResponse", 0), (
        "an issued order is on record"
    )
    lines = order_response([{"line": 1, "quantity": 1}], document="OR-12")
    less = client.post(f"{address}/answers", content=lines, headers=XML).json()
    assert less["added"] == 2
    assert "are confirmed" in less["remarks"][0]
    one_pack = small_project["products"][0]["per_pack"]
    confirmed = {**whole, ("L1", "B-120"): one_pack}
    assert _ordered(client, location) == confirmed
    again = client.post(f"{address}/answers", content=lines, headers=XML).json()
    assert again["added"] == 0
    assert _ordered(client, location) == confirmed
    sent = despatch_advice([{"line": 1, "quantity": 1}])
    told = client.post(f"{address}/answers", params={"received_on": "2027-05-03"}, content=sent, headers=XML)
    assert told.json()["added"] == 1
    refused = client.post(
        f"{address}/answers", content=order_response([{"line": 99, "quantity": 1}]), headers=XML
    )
    assert refused.status_code == 422
    assert "is no line of QY-3" in refused.json()["errors"][0]["message"]
    nonsense = client.post(f"{address}/answers", content=b"<!DOCTYPE a><a/>", headers=XML)
    assert nonsense.status_code == 422


def _ordered(client: TestClient, location: str) -> dict[tuple[str, str], int]:
    """What the record holds as ordered, in single units by level and code."""
    items = client.get(f"{location}/events", params={"limit": 200}).json()["items"]
    undone = {event["undoes"] for event in items if event["event"] == "undone"}
    found: dict[tuple[str, str], int] = {}
    for event in items:
        if event["event"] == "ordered" and event["id"] not in undone:
            place = (event["level"], event["code"])
            found[place] = found.get(place, 0) + event["quantity"]
    return found


def test_the_documents_of_a_second_revision_replace_the_first(
    client: TestClient, small_project: dict[str, Any]
) -> None:
    location = client.post("/projects", json=small_project).headers["Location"]
    one = issued(client, location)
    wider = {
        **small_project,
        "gaps": [{**gap, "gap_mm": gap["gap_mm"] + 40} for gap in small_project["gaps"]],
    }
    etag = client.get(location).headers["ETag"]
    assert client.put(location, json=wider, headers={"If-Match": etag}).status_code == 200
    two = issued(client, location)
    first, second = (read(client.get(f"{address}/order.xml").content) for address in (one, two))
    assert second.tag.endswith("OrderChange")
    assert words(second, "cbc:ID") != words(first, "cbc:ID")
    assert words(second, "cbc:SequenceNumberID") == ["2"]
    assert words(second, "cac:OrderReference/cbc:ID") == words(first, "cbc:ID")
    text = pypdf.PdfReader(io.BytesIO(client.get(f"{two}/order.pdf").content)).pages[0].extract_text()
    assert "Revision 2, issued" in text
    assert "replaces" in text
    again = read(client.get(f"{one}/order.xml").content)
    assert words(again, "cbc:ID") == words(first, "cbc:ID"), "the first stays what it was"
