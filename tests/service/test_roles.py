"""Every route says which role it needs, or that it needs none; who lacks it is told so, and pages hide its forms."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
from fastapi import Depends, FastAPI
from fastapi.routing import APIRoute
from fastapi.testclient import TestClient

from api.accounts.access import is_open, require_role, role_needed
from api.accounts.roles import ROLES, allows, role_named
from api.accounts.service import LOCAL_USER, Caller
from api.app import create_app
from api.http import problem_details
from api.settings import Settings

OPEN = {
    ("GET", "/healthz"),
    ("GET", "/readyz"),
    ("GET", "/sign-in"),
    ("GET", "/sign-in/done"),
    ("GET", "/sign-in/identity-server"),
    ("POST", "/sign-in"),
    ("POST", "/sign-out"),
    ("GET", "/site/worker.js"),
    ("GET", "/static/site/{version}/{name}"),
    ("GET", "/static/{name}"),
    ("GET", "/docs"),
    ("GET", "/docs/{name}"),
    ("GET", "/problems"),
    ("GET", "/problems/{name}"),
    ("GET", "/calendar/{name}"),
}
ISSUES = {"/plans/{plan_id}/issue", "/refits/{job_id}/issue"}


def every_route(app: FastAPI) -> Iterator[tuple[str, APIRoute]]:
    """All routes of an application, each with its whole path."""

    def within(routes: Any, prefix: str) -> Iterator[tuple[str, APIRoute]]:
        for one in routes:
            if isinstance(one, APIRoute):
                yield prefix + one.path, one
            elif hasattr(one, "original_router"):
                yield from within(one.original_router.routes, prefix + one.include_context.prefix)
            else:
                assert one.path == "/openapi.json", one  # what the interface is like, for everybody

    return within(app.routes, "")


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> FastAPI:
    url = f"sqlite:///{tmp_path_factory.mktemp('roles')}/roles.sqlite"
    return create_app(replace(Settings(), database_url=url, keys_required=True))


def test_every_route_needs_a_role_or_says_that_it_is_open(app: FastAPI) -> None:
    found = list(every_route(app))
    assert len(found) > 100
    open_to_all = set()
    for path, route in found:
        role = role_needed(route)
        assert (role is None) == is_open(route), f"{path} names no role, or names one and is open to all"
        for method in route.methods or ():
            if role is None:
                open_to_all.add((method, path))
            elif method != "GET":
                assert allows(role, "plan"), f"{method} {path} changes something for whoever may only read"
            if path.removeprefix("/v1") in ISSUES:
                assert role == "issue", path
    assert open_to_all == OPEN


def test_the_interface_says_which_role_each_call_needs(app: FastAPI) -> None:
    document = app.openapi()
    roles = {
        (method, path): operation["x-role"]
        for path, item in document["paths"].items()
        for method, operation in item.items()
    }
    assert set(roles.values()) <= {*ROLES, "none"}
    assert {call for call, role in roles.items() if role == "none"} == {
        ("get", "/healthz"),
        ("get", "/readyz"),
    }
    assert roles["post", "/v1/plans/{plan_id}/issue"] == "issue"
    assert roles["post", "/v1/projects"] == "plan"
    assert roles["get", "/v1/projects"] == "read"
    assert roles["get", "/v1/audit-log"] == "administer"


def test_each_role_may_do_what_those_before_it_may() -> None:
    assert ROLES == ("read", "plan", "issue", "administer")
    for place, held in enumerate(ROLES):
        assert [allows(held, needed) for needed in ROLES] == [number <= place for number in range(4)]
    assert role_named("issue") == "issue"
    assert role_named("Issue") is None
    assert Caller("local", "this machine", "administer") == LOCAL_USER


@pytest.mark.parametrize("held", ROLES)
def test_a_refused_call_is_a_problem_that_names_the_role(held: Any) -> None:
    app = FastAPI()
    problem_details.install(app)
    caller = Caller("north", "Ada Example (key 1)", held, key_id="1")
    for needed in ROLES:
        dependency = require_role(needed, lambda: caller)
        app.add_api_route(f"/{needed}", lambda: "done", dependencies=[Depends(dependency)])
    client = TestClient(app)
    for needed in ROLES:
        answer = client.get(f"/{needed}")
        if allows(held, needed):
            assert answer.status_code == 200
            continue
        assert answer.status_code == 403
        assert answer.headers["Content-Type"] == "application/problem+json"
        told = answer.json()
        assert (told["role"], told["needs"]) == (held, needed)
        assert told["detail"] == f"This key's role is {held}; this needs {needed}."
