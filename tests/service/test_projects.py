"""Keeping projects: every form of upload, versions guarded by ETags, pages, the log."""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Callable
from typing import Any

import pytest
from fastapi.testclient import TestClient

from tests.service.conftest import SMALL

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def test_a_project_comes_as_json_workbook_form_or_csv_files_and_is_the_same(
    client: TestClient, small_project: dict[str, Any]
) -> None:
    workbook = (SMALL / "small.xlsx").read_bytes()
    tables = [
        ("files", (file.name, file.read_bytes(), "text/csv")) for file in sorted(SMALL.glob("csv/*.csv"))
    ]
    answers = [
        client.post("/projects", json=small_project),
        client.post("/projects", content=workbook, headers={"Content-Type": XLSX}),
        client.post("/projects", content=workbook, headers={"Content-Type": "application/octet-stream"}),
        client.post("/projects", files={"workbook": ("small.xlsx", workbook, XLSX)}),
        client.post("/projects", files=tables),
    ]
    assert [answer.status_code for answer in answers] == [201] * 5
    kept = [client.get(answer.headers["Location"]).json() for answer in answers]
    assert all(project["project"]["runs"] == kept[0]["project"]["runs"] for project in kept)
    assert all(project["project"]["gaps"] == kept[0]["project"]["gaps"] for project in kept)
    assert kept[0]["version"] == 1
    assert kept[0]["created_by"] == "this machine"


def test_every_fault_of_a_workbook_is_told_with_its_cell_and_its_mend(client: TestClient) -> None:
    faulty = (SMALL.parent / "faulty" / "faulty.xlsx").read_bytes()
    answer = client.post("/projects", files={"workbook": ("faulty.xlsx", faulty, XLSX)})
    assert answer.status_code == 422
    assert answer.headers["Content-Type"] == "application/problem+json"
    problem = answer.json()
    expected = (SMALL.parent / "faulty" / "expected_messages.txt").read_text().strip().splitlines()
    assert len(problem["errors"]) == len(expected)
    assert all(fault["message"] and fault["place"] for fault in problem["errors"])
    assert any(fault["row"] and fault["column"] and fault["mend"] for fault in problem["errors"])
    assert client.get("/projects", params={"limit": 200}).json()["items"] == [
        item for item in client.get("/projects", params={"limit": 200}).json()["items"] if item["name"]
    ]


def test_a_put_needs_the_newest_etag_and_keeps_the_next_version(
    client: TestClient, small_project: dict[str, Any]
) -> None:
    location = client.post("/projects", json=small_project).headers["Location"]
    etag = client.get(location).headers["ETag"]
    changed = {**small_project, "project": {**small_project["project"], "name": "Renamed"}}
    assert client.put(location, json=changed).status_code == 428
    assert client.put(location, json=changed, headers={"If-Match": '"7"'}).status_code == 412
    assert client.put(location, json=changed, headers={"If-Match": "W/nonsense"}).status_code == 412
    answer = client.put(location, json=changed, headers={"If-Match": etag})
    assert answer.status_code == 200
    assert (answer.json()["version"], answer.json()["name"]) == (2, "Renamed")
    assert answer.headers["ETag"] == '"2"'
    assert client.put(location, json=changed, headers={"If-Match": etag}).status_code == 412
    assert client.put(location, json=changed, headers={"If-Match": 'W/"2"'}).status_code == 412  # weak
    for known in ('"2"', 'W/"2"', '"1", "2"', "*"):
        assert client.get(location, headers={"If-None-Match": known}).status_code == 304, known
    assert client.get(location, headers={"If-None-Match": '"1"'}).status_code == 200
    log = client.get(f"{location}/changes").json()["items"]
    assert [(line["action"], line["who"]) for line in log] == [
        ("created", "this machine"),
        ("version 2 kept", "this machine"),
    ]


def test_a_put_that_cannot_be_read_leaves_the_project_as_it_was(
    client: TestClient, small_project: dict[str, Any]
) -> None:
    location = client.post("/projects", json=small_project).headers["Location"]
    before = client.get(location)
    answer = client.put(
        location, json={**small_project, "runs": []}, headers={"If-Match": before.headers["ETag"]}
    )
    assert answer.status_code == 422
    assert client.get(location).text == before.text


def test_an_idempotency_key_makes_one_project(client: TestClient, small_project: dict[str, Any]) -> None:
    key = {"Idempotency-Key": "one-project"}
    first = client.post("/projects", json=small_project, headers=key)
    again = client.post("/projects", json=small_project, headers=key)
    assert (first.status_code, again.status_code) == (201, 201)
    assert first.headers["Location"] == again.headers["Location"]
    other = {**small_project, "project": {**small_project["project"], "name": "Another"}}
    refused = client.post("/projects", json=other, headers=key)
    assert refused.status_code == 422
    assert refused.json()["type"] == "/problems/idempotency-key-reused"


def test_projects_come_in_pages_newest_first(client: TestClient, small_project: dict[str, Any]) -> None:
    made = [client.post("/projects", json=small_project).json()["id"] for _ in range(5)]
    found: list[str] = []
    after: str | None = None
    while len(found) < 5:
        parameters: dict[str, Any] = {"limit": 2} if after is None else {"limit": 2, "after": after}
        page = client.get("/projects", params=parameters).json()
        found += [item["id"] for item in page["items"]]
        after = page["next"]
    assert found[:5] == made[::-1]
    assert client.get("/projects", params={"limit": 0}).status_code == 422


@pytest.mark.parametrize(
    ("content", "media_type", "status"),
    [
        (b"{", "application/json", 400),
        (b"[" * 100_000, "application/json", 400),
        (b'{"runs": ' + b"9" * 10_000 + b"}", "application/json", (400, 422)),
        (b"\xff\xfe", "application/json", 400),
        (b"[]", "application/json", 422),
        (b"PK\x03\x04 broken", XLSX, 422),
        (b"no workbook", XLSX, 422),
        (b"hello", "text/plain", 415),
        (b"hello", "multipart/form-data", 400),
        (b"", "application/json", 400),
    ],
)
def test_what_is_no_project_is_refused_as_a_problem(
    client: TestClient, content: bytes, media_type: str, status: int | tuple[int, ...]
) -> None:
    answer = client.post("/projects", content=content, headers={"Content-Type": media_type})
    assert answer.status_code in (status if isinstance(status, tuple) else (status,))
    assert answer.headers["Content-Type"] == "application/problem+json"
    assert answer.json()["status"] == answer.status_code


def _zip(**members: bytes) -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name.replace("__", "/").replace("_dot_", "."), content)
    return file.getvalue()


def _workbook_with(member: str, content: bytes) -> bytes:
    file = io.BytesIO((SMALL / "small.xlsx").read_bytes())
    made = io.BytesIO()
    with zipfile.ZipFile(file) as old, zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            if name != member:
                new.writestr(name, old.read(name))
        new.writestr(member, content)
    return made.getvalue()


ENTITIES = (
    b"""<?xml version="1.0"?><!DOCTYPE lolz [<!ENTITY a "aaaaaaaaaa">"""
    + b"".join(
        f'<!ENTITY {letter} "{f"&{before};" * 10}">'.encode()
        for before, letter in zip("abcdefgh", "bcdefghi", strict=True)
    )
    + b"]><sst>&i;</sst>"
)


@pytest.mark.parametrize(
    ("name", "made"),
    [
        (
            "bomb.xlsx",
            lambda: _workbook_with("xl/worksheets/sheet1.xml", b"<x>" + b"0" * 300_000_000 + b"</x>"),
        ),
        ("zeros.xlsx", lambda: _zip(zeros=b"\0" * 200_000_000)),
        ("entities.xlsx", lambda: _workbook_with("xl/sharedStrings.xml", ENTITIES)),
        ("macros.xlsx", lambda: _workbook_with("xl/vbaProject.bin", b"\xd0\xcf\x11\xe0" * 100)),
        ("macros.xlsm", lambda: _workbook_with("xl/vbaProject.bin", b"\xd0\xcf\x11\xe0" * 100)),
    ],
)
def test_hostile_workbooks_are_refused_and_the_service_lives_on(
    client: TestClient, name: str, made: Callable[[], bytes]
) -> None:
    answer = client.post("/projects", files={"workbook": (name, made(), XLSX)})
    assert 400 <= answer.status_code < 500, answer.text
    assert answer.headers["Content-Type"] == "application/problem+json"
    assert client.get("/healthz").status_code == 200


def test_a_hundred_megabytes_of_csv_are_refused(client: TestClient) -> None:
    rows = b"L01,1,2027-03-01\n" * (100_000_000 // 17)
    answer = client.post("/projects", files={"levels": ("levels.csv", b"level,sequence,needed_on\n" + rows)})
    assert answer.status_code == 413
    assert answer.headers["Content-Type"] == "application/problem+json"


def test_thirty_megabytes_of_csv_get_an_answer_in_time(client: TestClient) -> None:
    rows = b"".join(b"R%d,0,150,measured,\n" % number for number in range(1_400_000))
    answer = client.post(
        "/projects", files={"gaps": ("gaps.csv", b"run,at_mm,gap_mm,basis,tolerance_mm\n" + rows)}
    )
    assert answer.status_code in (413, 422)


@pytest.mark.parametrize("media_type", ["", "application/octet-stream"])
def test_what_comes_without_a_type_is_told_by_its_content(
    client: TestClient, small_project: dict[str, Any], media_type: str
) -> None:
    headers = {"Content-Type": media_type} if media_type else {}
    for content in (json.dumps(small_project).encode(), (SMALL / "small.xlsx").read_bytes()):
        assert client.post("/projects", content=content, headers=headers).status_code == 201
        unnamed = {"survey": ("blob", content)}
        assert client.post("/projects", files=unnamed).status_code == 201
    pdf = client.post("/projects", content=b"%PDF-1.7", headers=headers)
    assert pdf.status_code == 422
    assert "PDF" in pdf.json()["errors"][0]["message"]


def test_a_page_after_what_is_not_in_the_list_is_refused(
    client: TestClient, small_project: dict[str, Any]
) -> None:
    project = client.post("/projects", json=small_project).headers["Location"]
    for path in ("/projects", f"{project}/plans"):
        refused = client.get(path, params={"after": "00"})
        assert (refused.status_code, refused.json()["type"]) == (422, "/problems/unusable-input")


@pytest.mark.parametrize("if_match", ["*", '"1", "9"'])
def test_if_match_may_name_any_version_or_several(
    client: TestClient, small_project: dict[str, Any], if_match: str
) -> None:
    location = client.post("/projects", json=small_project).headers["Location"]
    answer = client.put(location, json=small_project, headers={"If-Match": if_match})
    assert (answer.status_code, answer.headers["ETag"]) == (200, '"2"')


@pytest.mark.parametrize("body", [b"[" * 10**6, b'{"staging": "\xff"}', b'{"seed": ' + b"9" * 5000 + b"}"])
def test_a_body_that_is_no_json_is_refused_alike_on_every_route(
    client: TestClient, small_project: dict[str, Any], body: bytes
) -> None:
    project = client.post("/projects", json=small_project).headers["Location"]
    for path in ("/projects", f"{project}/plans", f"{project}/comparisons"):
        answer = client.post(path, content=body, headers={"Content-Type": "application/json"})
        assert (answer.status_code, answer.json()["type"]) == (400, "/problems/unreadable-body"), path
