"""The interface's OpenAPI document: what the framework finds in the routes, and what it cannot know."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from functools import lru_cache
from importlib.resources import files
from typing import Any

from fastapi import APIRouter, FastAPI
from fastapi.routing import APIRoute

from api.accounts.access import role_needed
from optimiser.model.project import Project

DESCRIPTION = """\
Plans and orders the material of perimeter cavity barriers. Send a project, get its plan and its supplier order.

The tested detail, local code and a licensed practitioner decide; no plan is called compliant here.
Each call says in `x-role` which role it needs: read, plan, issue, administer; each may do what those before it may.
Errors are problem details (RFC 9457); the `type` of each is an address that says what it means and how it is mended.
Each call also stands at its address without /v1; the answer's Location keeps the form that was called.
What GET answers, HEAD answers too, without the body.
"""


def describe(app: FastAPI, calls: Sequence[tuple[str, Sequence[APIRouter]]]) -> None:
    """Adds to OpenAPI a project's schema, for the bodies that are read by hand, and the role that each call needs.
    `calls` are the documented routers by the prefix of their addresses."""
    plain = app.openapi

    def openapi() -> dict[str, Any]:
        if app.openapi_schema is None:
            document = plain()
            for path, method, role in _roles(calls):
                document["paths"][path][method]["x-role"] = role
            schemas = document["components"]["schemas"]
            found = Project.model_json_schema(by_alias=True, ref_template="#/components/schemas/{model}")
            for name, schema in found.pop("$defs", {}).items():
                schemas.setdefault(name, schema)
            schemas["Project"] = {**found, "example": example("project")}
            _without_const(document)
            order = document["paths"]["/v1/plans/{plan_id}/order.json"]["get"]["responses"]["200"]
            order["content"]["application/json"]["example"] = example("order")
            schemas["Plan"]["example"] = example("plan")
            schemas["SuppliersCompared"]["example"] = example("suppliers")
        return app.openapi_schema or {}

    app.openapi = openapi  # type: ignore[method-assign]


def _without_const(part: Any) -> None:
    """Says of every single value that it is the only one of an enumeration: the same in JSON Schema, and read rightly
    by the generators of clients, one of which takes a union with a `const` for that value alone."""
    if isinstance(part, dict):
        if isinstance(part.get("const"), str):
            part["enum"] = [part.pop("const")]
        for name, one in part.items():
            if name != "example":
                _without_const(one)
    elif isinstance(part, list):
        for one in part:
            _without_const(one)


@lru_cache
def example(name: str) -> Any:
    """An example of the interface: the project of an invented kiosk, its plan, its order, or its
    suppliers side by side, as JSON."""
    return json.loads(files("api.interface").joinpath("examples", f"{name}.json").read_bytes())


def _roles(calls: Sequence[tuple[str, Sequence[APIRouter]]]) -> Iterator[tuple[str, str, str]]:
    """By path and method of each documented call the role that it needs; 'none' where it is open to all."""
    for prefix, routers in calls:
        for router in routers:
            for route in router.routes:
                assert isinstance(route, APIRoute)
                for method in route.methods or ():
                    yield prefix + route.path_format, method.lower(), role_needed(route) or "none"
