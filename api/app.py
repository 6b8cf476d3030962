"""The application: its routes, and what every request passes through on its way to them."""

from __future__ import annotations

import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from anyio import to_thread
from fastapi import FastAPI
from starlette.middleware.body_limit import RequestBodyLimitMiddleware

from api.accounts.rates import RateCounter
from api.accounts.service import LOCAL_COMPANY, company_named
from api.administration.routes import router as administration
from api.audit.recording import AuditMiddleware
from api.companies.routes import router as deletions
from api.context import AppContext, places_of
from api.events.routes import router as events
from api.feeds.feed_route import router as feeds_read
from api.feeds.routes import router as feeds
from api.http import problem_details
from api.http.addresses import PlainAddressMiddleware
from api.http.freshness import FreshnessMiddleware
from api.http.heads import HeadMiddleware
from api.http.places import FairPlaces
from api.http.security import SameOriginMiddleware, SecurityHeadersMiddleware
from api.http.versions import VERSION, VersionedAddressMiddleware
from api.inspection.routes import router as inspection
from api.interface.describing import DESCRIPTION, describe
from api.interface.routes import router as interface
from api.jobs.notifier import EventNotifier
from api.jobs.queue import JobQueue
from api.limited_process import start_forking
from api.operation.metrics import Metrics, ObservationMiddleware
from api.operation.routes import router as operation
from api.operation.service import Readiness
from api.orders.anchor import anchor_of
from api.orders.anchoring import opened
from api.orders.checks import check_all, log_findings
from api.orders.routes import router as orders
from api.pages import answers as answers_of_pages
from api.pages import figures
from api.pages.excerpts import excerpts_of
from api.pages.routes import router as pages
from api.photographs.routes import router as photographs
from api.plans.file_routes import router as plan_files
from api.plans.issue_routes import router as plan_orders
from api.plans.routes import router as plans
from api.projects.routes import router as projects
from api.projects.version_routes import router as survey_versions
from api.readings.routes import router as readings
from api.refits.routes import router as refits
from api.replans.routes import router as replans
from api.sending.answer_routes import router as answers
from api.sending.routes import router as sending
from api.settings import Settings
from api.source_code import fingerprint
from api.studies.routes import router as studies
from api.studies.scenario_routes import router as scenarios
from api.studies.supplier_routes import router as suppliers
from api.webhooks.routes import router as webhooks

CALLS = (
    projects,
    survey_versions,
    deletions,
    sending,
    answers,
    events,
    readings,
    photographs,
    plans,
    plan_files,
    plan_orders,
    inspection,
    orders,
    studies,
    scenarios,
    suppliers,
    refits,
    replans,
    webhooks,
    feeds,
    administration,
)

_OTHER_THREADS = 16  # beside those that serve: for finding callers, and for what is kept


def get_ready() -> None:
    """Does what the first request would wait for."""
    fingerprint()
    answers_of_pages.get_ready()
    figures.get_ready()


def create_app(settings: Settings) -> FastAPI:
    """The application on its database, which is brought to its newest form, and whose issued orders are verified.

    Raises UnusableDatabase where that cannot be done.
    """
    storage, stopping = opened(settings), threading.Event()
    with storage.writing() as connection:
        company_named(connection, LOCAL_COMPANY)
    log_findings(check_all(storage, anchor_of(settings)))
    queue = JobQueue(storage)
    notifier = EventNotifier(storage, stopping, settings.poll_seconds)
    context = AppContext(
        settings,
        storage,
        queue,
        RateCounter(settings.rate_per_minute),
        notifier,
        FairPlaces(
            settings.processes, most_waiting=settings.waiting_requests, wait_seconds=settings.at_once_seconds
        ),
        stopping,
        places_of(settings),
        excerpts_of,
    )

    @asynccontextmanager
    async def lifespan(_: FastAPI) -> AsyncIterator[None]:
        threads = to_thread.current_default_thread_limiter()
        threads.total_tokens = _OTHER_THREADS + sum(kind.places for kind in context.places.values())
        await to_thread.run_sync(start_forking)
        await to_thread.run_sync(get_ready)
        async with notifier.running():
            yield
        stopping.set()
        queue.close()
        storage.close()

    app = FastAPI(
        title="Barrier orders",
        version="0.1.0",
        description=DESCRIPTION,
        docs_url=None,
        redoc_url=None,
        lifespan=lifespan,
    )
    app.state.context, app.state.metrics, app.state.readiness = context, Metrics(context), Readiness(context)
    for router in CALLS:
        app.include_router(router, prefix=VERSION)
        app.include_router(router, include_in_schema=False)
    for router in (pages, feeds_read, operation, interface):
        app.include_router(router)
    app.add_middleware(FreshnessMiddleware)
    app.add_middleware(HeadMiddleware)
    app.add_middleware(VersionedAddressMiddleware)
    app.add_middleware(AuditMiddleware, storage=storage)
    if not settings.keys_required:
        app.add_middleware(SameOriginMiddleware)
    app.add_middleware(RequestBodyLimitMiddleware, max_body_size=settings.body_megabytes * 2**20)
    app.add_middleware(PlainAddressMiddleware)
    problem_details.install(app)
    app.add_middleware(SecurityHeadersMiddleware)
    app.add_middleware(ObservationMiddleware, metrics=app.state.metrics)
    describe(app, ((VERSION, CALLS), ("", (operation,))))
    return app
