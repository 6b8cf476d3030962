"""Alive, ready to serve, and metrics."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import Response
from prometheus_client import CONTENT_TYPE_LATEST, generate_latest
from pydantic import BaseModel

from api.accounts.access import OPEN_TO_ALL, Reader
from api.context import Context
from api.http.problem_details import MEDIA_TYPE, ProblemDetails
from api.http.responses import problems
from api.operation import service
from api.operation.metrics import Metrics

router = APIRouter(tags=["operation"])


class Health(BaseModel):
    """The process answers."""

    status: str = "alive"


class Readiness(BaseModel):
    """The database answers; `workers` is how many workers are alive."""

    status: str = "ready"
    database: str
    workers: int


@router.get("/healthz", response_model=Health, dependencies=OPEN_TO_ALL)
async def healthz() -> Health:
    """Whether the process answers at all."""
    return Health()


@router.get(
    "/readyz",
    response_model=Readiness,
    dependencies=OPEN_TO_ALL,
    responses={503: {"model": ProblemDetails, "content": {MEDIA_TYPE: {}}, "description": "Not ready"}},
)
def readyz(context: Context) -> Readiness:
    """Whether requests can be served: the database answers, and the service is not stopping."""
    workers = service.ready_workers(context)
    return Readiness(database="sqlite" if context.storage.embedded else "postgresql", workers=workers)


@router.get(
    "/metrics",
    response_class=Response,
    responses={**problems(), 200: {"description": "Metrics", "content": {"text/plain": {}}}},
)
def read_metrics(request: Request, caller: Reader) -> Response:
    """Metrics in Prometheus' text form."""
    metrics: Metrics = request.app.state.metrics
    return Response(generate_latest(metrics.registry), media_type=CONTENT_TYPE_LATEST)
