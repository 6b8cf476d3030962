"""Alive, and ready to serve."""

from __future__ import annotations

import sqlalchemy as sa
from fastapi import APIRouter
from pydantic import BaseModel

from api.jobs.repository import names_of_living_workers
from api.problem_details import MEDIA_TYPE, Problem, ProblemDetails
from api.service import TheService

router = APIRouter(tags=["operation"])


class Health(BaseModel):
    """The process answers."""

    status: str = "alive"


class Readiness(BaseModel):
    """The database answers; `workers` is how many workers' hearts beat."""

    status: str = "ready"
    database: str
    workers: int


@router.get("/healthz", response_model=Health)
async def healthz() -> Health:
    """Whether the process answers at all."""
    return Health()


@router.get(
    "/readyz",
    response_model=Readiness,
    responses={503: {"model": ProblemDetails, "content": {MEDIA_TYPE: {}}, "description": "Not ready"}},
)
def readyz(service: TheService) -> Readiness:
    """Whether requests can be served: the database answers, and the service is not stopping."""
    if service.stopping.is_set():
        raise Problem(503, "stopping", "The service is stopping.", headers={"Retry-After": "5"})
    with service.storage.reading() as connection:
        connection.execute(sa.select(1))
        alive = len(names_of_living_workers(connection, service.settings.dead_after_seconds))
    return Readiness(database="sqlite" if service.storage.embedded else "postgresql", workers=alive)
