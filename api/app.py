"""The application: its routes, and what every request passes through on its way to them."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Any

from anyio import to_thread
from fastapi import FastAPI
from starlette.middleware.body_limit import RequestBodyLimitMiddleware

from api import observability, operation, problem_details
from api.accounts.repository import LOCAL_COMPANY, company_named
from api.limited_process import start_forking
from api.observability import Metrics, Observed
from api.orders.routes import router as orders
from api.pages.routes import router as pages
from api.plans.files import router as plan_files
from api.plans.routes import router as plans
from api.projects.routes import router as projects
from api.refits.routes import router as refits
from api.security import OwnOriginOnly, SecurityHeaders
from api.service import Service
from api.settings import Settings
from api.studies.routes import router as studies
from optimiser.project import Project

DESCRIPTION = """\
Plans and orders the material of perimeter cavity barriers. Send a project, get its plan and its supplier order.

The tested detail, local code and a licensed practitioner decide; no plan is called compliant here.
Errors are problem details (RFC 9457).
"""


def create_app(settings: Settings) -> FastAPI:
    """The application on its database, which is brought to its newest form."""
    service = Service(settings)
    with service.storage.writing() as connection:
        company_named(connection, LOCAL_COMPANY)

    @asynccontextmanager
    async def lifespan(_: FastAPI) -> AsyncIterator[None]:
        await to_thread.run_sync(start_forking)
        async with service.pulse.beating():
            yield
        service.stopping.set()
        service.close()

    app = FastAPI(
        title="Barrier orders",
        version="0.1.0",
        description=DESCRIPTION,
        docs_url=None,
        redoc_url=None,
        lifespan=lifespan,
    )
    app.state.service, app.state.metrics = service, Metrics(service)
    for router in (
        projects,
        plans,
        plan_files,
        orders,
        studies,
        refits,
        pages,
        operation.router,
        observability.router,
    ):
        app.include_router(router)
    if not settings.keys_required:
        app.add_middleware(OwnOriginOnly)
    app.add_middleware(RequestBodyLimitMiddleware, max_body_size=settings.body_megabytes * 2**20)
    problem_details.install(app)
    app.add_middleware(SecurityHeaders)
    app.add_middleware(Observed, metrics=app.state.metrics)
    _describe_projects(app)
    return app


def _describe_projects(app: FastAPI) -> None:
    """Adds a project's schema to OpenAPI, for the bodies that are read by hand."""
    plain = app.openapi

    def openapi() -> dict[str, Any]:
        if app.openapi_schema is None:
            schemas = plain()["components"]["schemas"]
            found = Project.model_json_schema(by_alias=True, ref_template="#/components/schemas/{model}")
            for name, schema in found.pop("$defs", {}).items():
                schemas.setdefault(name, schema)
            schemas["Project"] = found
        return app.openapi_schema or {}

    app.openapi = openapi  # type: ignore[method-assign]
