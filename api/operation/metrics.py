"""Metrics for Prometheus, and one log line a request."""

from __future__ import annotations

import re
import time
import uuid
from collections.abc import Iterable

import structlog
from prometheus_client import CollectorRegistry, Counter, Histogram
from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily
from prometheus_client.registry import Collector
from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api import connections
from api.context import AppContext
from api.operation.logs import repetition
from api.operation.service import counts

_METHODS = ("GET", "HEAD", "POST", "PUT", "DELETE", "PATCH", "OPTIONS")  # a client may send any word
_REQUEST_ID = re.compile(r"[A-Za-z0-9._-]{8,64}")


class Metrics:
    """The counters of one serving process."""

    def __init__(self, context: AppContext) -> None:
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
        self.registry.register(_Jobs(context))


class _Jobs(Collector):
    """Jobs by kind and status and workers alive, counted in the database when they are asked for; places, and what was
    turned away."""

    def __init__(self, context: AppContext) -> None:
        self._context = context

    def describe(self) -> Iterable[GaugeMetricFamily]:
        return ()

    def collect(self) -> Iterable[GaugeMetricFamily | CounterMetricFamily]:
        jobs = GaugeMetricFamily("barrier_orders_jobs", "Jobs by kind and status", labels=["kind", "status"])
        alive = GaugeMetricFamily("barrier_orders_workers", "Workers that are alive")
        taken = GaugeMetricFamily("barrier_orders_places_taken", "Places taken by kind", labels=["kind"])
        waiting = GaugeMetricFamily(
            "barrier_orders_requests_waiting", "Requests that wait for a place by kind", labels=["kind"]
        )
        closed = CounterMetricFamily(
            "barrier_orders_connections_closed",
            "Connections that were closed or turned away",
            labels=["reason"],
        )
        left_out = CounterMetricFamily(
            "barrier_orders_log_lines_left_out", "Log lines that repeated others and were only counted"
        )
        for kind_of_work, places in self._context.places.items():
            taken.add_metric([kind_of_work], places.taken)
            waiting.add_metric([kind_of_work], places.waiting)
        for reason, count in connections.closed.items():
            closed.add_metric([reason], count)
        left_out.add_metric([], repetition.left_out.total())
        counted, workers = counts(self._context)
        for kind, status, count in counted:
            jobs.add_metric([kind, status], count)
        alive.add_metric([], workers)
        yield jobs
        yield alive
        yield taken
        yield waiting
        yield closed
        yield left_out


class ObservationMiddleware:
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
            method = scope["method"] if scope["method"] in _METHODS else "other"
            self.metrics.requests.labels(method, route, status).inc()
            self.metrics.seconds.labels(method, route).observe(seconds)
            structlog.get_logger().info(
                "request",
                method=scope["method"],
                path=_told(scope["path"]),
                status=status,
                milliseconds=round(seconds * 1000, 1),
            )


def _told(path: str) -> str:
    """A path as the log has it: without the secret of a calendar feed's address."""
    return "/calendar/..." if path.startswith("/calendar/") else path
