"""Alive, ready to serve, and metrics."""

from __future__ import annotations

from anyio import move_on_after, to_thread
from fastapi import APIRouter, Request
from fastapi.responses import Response
from prometheus_client import CONTENT_TYPE_LATEST, generate_latest
from pydantic import BaseModel, ConfigDict

from api.accounts.access import OPEN_TO_ALL, Reader
from api.context import Context
from api.http.problem_details import MEDIA_TYPE, Problem, ProblemDetails
from api.http.responses import carrying, problems
from api.operation.metrics import Metrics

_ANSWER_SECONDS = 5.0

router = APIRouter(tags=["operation"])


class Health(BaseModel):
    """The process answers."""

    model_config = ConfigDict(json_schema_extra={"example": {"status": "alive"}})

    status: str = "alive"


class Readiness(BaseModel):
    """Everything that serving needs is there; `workers` is how many workers are alive."""

    model_config = ConfigDict(
        json_schema_extra={"example": {"status": "ready", "database": "postgresql", "workers": 2}}
    )
    status: str = "ready"
    database: str
    workers: int


@router.get("/healthz", operation_id="readHealth", response_model=Health, dependencies=OPEN_TO_ALL)
async def healthz() -> Health:
    """Whether the process answers at all."""
    return Health()


@router.get(
    "/readyz",
    operation_id="readReadiness",
    response_model=Readiness,
    dependencies=OPEN_TO_ALL,
    responses={
        503: {
            "model": ProblemDetails,
            "content": {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/ProblemDetails"}}},
            **carrying("Retry-After"),
            "description": "Not ready",
        }
    },
)
async def readyz(request: Request, context: Context) -> Readiness:
    """Whether requests can be served and jobs done: the database takes and gives back a row, the disk has room, a
    worker is alive, and the service is not stopping. A 503 says in `lacks` what is missing."""
    found: int | None = None
    with move_on_after(_ANSWER_SECONDS):
        look = request.app.state.readiness.workers
        found = await to_thread.run_sync(look, limiter=context.asking, abandon_on_cancel=True)
    if found is None:
        says = "The database does not answer in time."
        raise Problem(503, "not-ready", says, headers={"Retry-After": "5"}, lacks=[says])
    return Readiness(database="sqlite" if context.storage.embedded else "postgresql", workers=found)


@router.get(
    "/metrics",
    operation_id="readMetrics",
    response_class=Response,
    responses={
        **problems(),
        200: {"description": "Metrics", "content": {"text/plain": {"schema": {"type": "string"}}}},
    },
)
def read_metrics(request: Request, caller: Reader) -> Response:
    """Metrics in Prometheus' text form."""
    metrics: Metrics = request.app.state.metrics
    return Response(generate_latest(metrics.registry), media_type=CONTENT_TYPE_LATEST)
