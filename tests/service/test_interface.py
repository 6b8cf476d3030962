"""The interface as its callers read of it: names, examples, headers, the pages of it, and HEAD."""

from __future__ import annotations

import ast
import json
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from api.app import create_app
from api.http.problem_details import _kind_of
from api.http.problem_kinds import KINDS
from api.interface.describing import example
from api.plans.documents import order_as
from api.settings import Settings
from api.studies.suppliers import SuppliersRequest, compare_in_process
from optimiser.checking import broken_rules_of_plan
from optimiser.model.plan import Plan
from optimiser.reading import project_from_json

ROOT = Path(__file__).resolve().parents[2]
METHODS = ("get", "post", "put", "patch", "delete")


@pytest.fixture(scope="module")
def near(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """The application on an empty database, without a worker."""
    url = f"sqlite:///{tmp_path_factory.mktemp('interface')}/interface.sqlite"
    with TestClient(create_app(replace(Settings(), database_url=url))) as client:
        yield client


@pytest.fixture(scope="module")
def document(near: TestClient) -> dict[str, Any]:
    found: dict[str, Any] = near.get("/openapi.json").json()
    return found


def operations(document: dict[str, Any]) -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Every operation with its path and method."""
    for path, item in document["paths"].items():
        for method, operation in item.items():
            assert method in METHODS
            yield path, method, operation


def test_every_operation_has_a_name_of_its_own_that_somebody_gave_it(document: dict[str, Any]) -> None:
    names = [operation["operationId"] for _, _, operation in operations(document)]
    assert len(names) == len(set(names)) > 50
    for path, method, operation in operations(document):
        name = operation["operationId"]
        assert re.fullmatch(r"[a-z]+([A-Z][a-z]+)*", name), f"{method} {path} is named {name}"


def test_no_two_models_share_a_name(document: dict[str, Any]) -> None:
    """Of two that do, the framework names both by their modules, and what refers to them by hand finds neither."""
    for name in document["components"]["schemas"]:
        assert "__" not in name


def test_every_body_in_json_shows_an_example(document: dict[str, Any]) -> None:
    schemas = document["components"]["schemas"]

    def shown(schema: dict[str, Any]) -> bool:
        if "example" in schema or "examples" in schema or schema.get("type") == "string":
            return True
        if "$ref" in schema:
            return shown(schemas[schema["$ref"].rpartition("/")[2]])
        if "properties" in schema:
            return "items" in schema["properties"] and shown(schema["properties"]["items"])
        return schema.get("type") == "array" and shown(schema["items"])

    for path, method, operation in operations(document):
        for body in (operation.get("requestBody", {}), *operation["responses"].values()):
            for media_type, content in body.get("content", {}).items():
                plain = shown(content.get("schema", {})) or "example" in content or "json" not in media_type
                if not plain:
                    optional = content["schema"].get("anyOf", [{}])
                    plain = any(shown(one) for one in optional)
                assert plain, f"{method} {path}: {media_type} has no example"
                assert content.get("schema"), f"{method} {path}: {media_type} has no schema"


def test_the_examples_are_what_the_planner_makes() -> None:
    project = project_from_json(example("project"))
    plan = Plan.model_validate(example("plan"))
    assert plan.project == project
    assert not broken_rules_of_plan(plan, project)
    assert json.loads(order_as(json.dumps(example("plan")), "json")) == example("order")
    asked = SuppliersRequest.model_validate(SuppliersRequest.model_config["json_schema_extra"]["example"])  # type: ignore[index, call-overload]
    assert asked.on is not None
    compared = compare_in_process(
        json.dumps(example("plan")), asked.model_dump_json(include={"offers"}), asked.on
    )
    assert json.loads(compared) == example("suppliers")


def test_every_time_and_day_says_that_it_is_one(document: dict[str, Any]) -> None:
    times = re.compile(
        r"(.*_)?at$|(.*_)?on(_before|_after)?$|order_by$|order_by_(before|after)$|received_at$"
    )
    others = {"at_mm", "on", "notches_at_mm", "brackets_at_mm"}
    found = 0
    for name, schema in document["components"]["schemas"].items():
        for member, says in schema.get("properties", {}).items():
            if not times.fullmatch(member) or member in others:
                continue
            forms = {one.get("format") for one in (says, *says.get("anyOf", []))}
            if "string" not in {one.get("type") for one in (says, *says.get("anyOf", []))}:
                continue
            assert forms & {"date", "date-time"}, f"{name}.{member}"
            found += 1
    assert found > 20


def test_answers_say_which_headers_they_carry(document: dict[str, Any]) -> None:
    for path, method, operation in operations(document):
        answers = operation["responses"]
        for status, needed in (("202", ("Location", "Retry-After")), ("429", ("Retry-After",))):
            carried = answers.get(status, {}).get("headers", {})
            if status in answers:
                assert set(needed) <= set(carried), f"{method} {path} {status}"
        conditional = any(one["name"] == "if-match" for one in operation.get("parameters", ()))
        if conditional and method != "delete":
            carried = {name for answer in answers.values() for name in answer.get("headers", {})}
            assert carried & {"ETag", "Location"}, f"{method} {path}"
        for answer in answers.values():
            for says in answer.get("headers", {}).values():
                assert says["description"]
                assert says["schema"]
                assert says["example"]


def _kinds_in_the_code() -> Iterator[tuple[str, str]]:
    for path in sorted((ROOT / "api").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text())):
            if not isinstance(node, ast.Call) or len(node.args) < 2:
                continue
            name = node.func.id if isinstance(node.func, ast.Name) else ""
            kind = node.args[1]
            if name in ("Problem", "NoPlace", "problem_document") and isinstance(kind, ast.Constant):
                yield str(path), str(kind.value)


def test_the_address_of_every_kind_of_problem_says_what_it_means(near: TestClient) -> None:
    found = list(_kinds_in_the_code())
    assert len(found) > 60
    for path, kind in found:
        assert kind in KINDS, f"{path}: nothing says what {kind} means (api/http/problem_kinds.py)"
    for status in (400, 403, 404, 405, 413, 415, 422):
        assert _kind_of(status) in KINDS
    for problem in (near.get("/v1/plans/0"), near.patch("/v1/projects"), near.get("/v1/projects?limit=0")):
        named = problem.json()["type"]
        answer = near.get(named)
        assert answer.status_code == 200
        assert answer.json()["type"] == named
        assert answer.json()["means"]
        assert answer.json()["mend"]
        assert problem.status_code in answer.json()["statuses"]
    page = near.get("/problems/not-found", headers={"Accept": "text/html"})
    assert "<h1>Not found</h1>" in page.text
    assert len(near.get("/problems").json()) == len(KINDS)
    assert near.get("/problems/unheard-of").status_code == 404


def test_the_viewer_of_the_interface_asks_no_other_host(near: TestClient) -> None:
    page = near.get("/docs")
    assert page.status_code == 200
    assert "script-src 'self'" in page.headers["Content-Security-Policy"]
    addresses = re.findall(r'(?:src|href)="([^"]+)"', page.text)
    assert len(addresses) == 5
    for address in addresses:
        assert address.startswith("/"), address
        assert near.get(address).status_code == 200, address
    assert near.get("/docs/redoc.standalone.js").status_code == 404


def test_head_answers_as_get_does_without_the_body(near: TestClient, small_project: dict[str, Any]) -> None:
    location = near.post("/v1/projects", json=small_project).headers["Location"]
    queued = near.post(f"{location}/plans").headers["Location"]
    for address in (location, f"{location}/plans", "/v1/plans/0", "/", "/healthz", "/openapi.json", "/docs"):
        plain = {
            "Accept-Encoding": "identity"
        }  # a form's word is drawn anew, and compresses to another length
        got, head = near.get(address, headers=plain), near.head(address, headers=plain)
        assert head.status_code == got.status_code, address
        assert head.content == b"", address
        for name in ("Content-Type", "Content-Length", "ETag"):
            assert head.headers.get(name) == got.headers.get(name), f"{address} {name}"
    stream = near.head(f"{queued}/events")  # which does not end by itself: the plan is queued
    assert stream.status_code == 200
    assert stream.headers["Content-Type"].startswith("text/event-stream")
    near.delete(queued)
