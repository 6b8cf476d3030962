"""What can be seen of the running service: one JSON line a request, and metrics for Prometheus."""

from __future__ import annotations

import logging
import re
import sys
import time
import uuid
from collections.abc import Iterable

import structlog
from fastapi import APIRouter, Request
from fastapi.responses import Response
from prometheus_client import CONTENT_TYPE_LATEST, CollectorRegistry, Counter, Histogram, generate_latest
from prometheus_client.core import GaugeMetricFamily
from prometheus_client.registry import Collector
from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.accounts.access import Reader
from api.responses import problems
from api.service import Service

_REQUEST_ID = re.compile(r"[A-Za-z0-9._-]{8,64}")


def set_up_logs(level: str) -> None:
    """Every log line as JSON on stderr, the libraries' lines too."""
    shared: list[structlog.typing.Processor] = [
        structlog.contextvars.merge_contextvars,
        structlog.processors.add_log_level,
        structlog.processors.TimeStamper(fmt="iso", utc=True),
        structlog.processors.format_exc_info,
    ]
    number = logging.getLevelNamesMapping().get(level.upper(), logging.INFO)
    structlog.configure(
        processors=[*shared, structlog.processors.JSONRenderer()],
        wrapper_class=structlog.make_filtering_bound_logger(number),
        logger_factory=structlog.PrintLoggerFactory(sys.stderr),
    )
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(
        structlog.stdlib.ProcessorFormatter(
            foreign_pre_chain=shared,
            processors=[
                structlog.stdlib.ProcessorFormatter.remove_processors_meta,
                structlog.processors.JSONRenderer(),
            ],
        )
    )
    logging.basicConfig(handlers=[handler], level=max(number, logging.WARNING), force=True)


class Metrics:
    """The counters of one serving process."""

    def __init__(self, service: Service) -> None:
        self.registry = CollectorRegistry()
        self.requests = Counter(
            "barrier_orders_requests",
            "Requests answered",
            ["method", "route", "status"],
            registry=self.registry,
        )
        self.seconds = Histogram(
            "barrier_orders_request_seconds", "Seconds to answer", ["method", "route"], registry=self.registry
        )
        self.registry.register(_Jobs(service))


class _Jobs(Collector):
    """Jobs by kind and status and workers alive, counted in the database when they are asked for."""

    def __init__(self, service: Service) -> None:
        self._service = service

    def describe(self) -> Iterable[GaugeMetricFamily]:
        return ()

    def collect(self) -> Iterable[GaugeMetricFamily]:
        from api.jobs.repository import count_of_jobs, names_of_living_workers

        jobs = GaugeMetricFamily("barrier_orders_jobs", "Jobs by kind and status", labels=["kind", "status"])
        alive = GaugeMetricFamily("barrier_orders_workers", "Workers whose heart beats")
        with self._service.storage.reading() as connection:
            for kind, status, count in count_of_jobs(connection):
                jobs.add_metric([kind, status], count)
            dead_after = self._service.settings.dead_after_seconds
            alive.add_metric([], len(names_of_living_workers(connection, dead_after)))
        yield jobs
        yield alive


class Observed:
    """Gives each request an id, logs how it was answered, and counts it by its route."""

    def __init__(self, app: ASGIApp, metrics: Metrics) -> None:
        self.app, self.metrics = app, metrics

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        sent = Headers(scope=scope).get("x-request-id", "")
        request_id = sent if _REQUEST_ID.fullmatch(sent) else uuid.uuid4().hex[:16]
        scope.setdefault("state", {})["request_id"] = request_id
        structlog.contextvars.clear_contextvars()
        structlog.contextvars.bind_contextvars(request_id=request_id)
        started, status = time.perf_counter(), 500

        async def send_with_id(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
                MutableHeaders(scope=message)["X-Request-ID"] = request_id
            await send(message)

        try:
            await self.app(scope, receive, send_with_id)
        finally:
            seconds = time.perf_counter() - started
            route = getattr(scope.get("route"), "path", "none")
            self.metrics.requests.labels(scope["method"], route, status).inc()
            self.metrics.seconds.labels(scope["method"], route).observe(seconds)
            structlog.get_logger().info(
                "request",
                method=scope["method"],
                path=scope["path"],
                status=status,
                milliseconds=round(seconds * 1000, 1),
            )


router = APIRouter()


@router.get(
    "/metrics",
    tags=["operation"],
    response_class=Response,
    responses={**problems(), 200: {"description": "Metrics", "content": {"text/plain": {}}}},
)
def read_metrics(request: Request, caller: Reader) -> Response:
    """Metrics in Prometheus' text form."""
    metrics: Metrics = request.app.state.metrics
    return Response(generate_latest(metrics.registry), media_type=CONTENT_TYPE_LATEST)
