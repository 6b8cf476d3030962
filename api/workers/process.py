"""A worker process: takes jobs from the queue until it is asked to stop."""

from __future__ import annotations

import os
import signal
import threading
from types import FrameType

import structlog
from dbos import DBOS, DBOSConfig

from api.jobs.queue import APPLICATION, VERSION, JobQueue, engine_url
from api.limited_process import start_forking
from api.settings import Settings
from api.source_code import fingerprint
from api.storage.engine import Storage
from api.workers import workflows  # noqa: F401 (registers the workflows with the engine)
from api.workers.context import WorkerContext
from api.workers.identity import own_name
from api.workers.sweeper import Sweeper
from api.workers.telling import WebhookSender
from api.workers.verifying import ScheduledVerification


def run_worker(settings: Settings, parent: int | None = None) -> None:
    """Works until SIGTERM or SIGINT (or until `parent`, the process that started it, is gone), then drains:
    takes no more jobs, gives the running ones `drain_seconds`, and leaves what is unfinished to others."""
    stop = threading.Event()

    def on_signal(number: int, frame: FrameType | None) -> None:
        stop.set()

    signal.signal(signal.SIGTERM, on_signal)
    signal.signal(signal.SIGINT, on_signal)
    storage = Storage(settings.database_url, flushed=False)
    storage.upgrade()
    threading.Thread(target=start_forking, name="forking", daemon=True).start()
    fingerprint()  # of the program as it is now, whatever becomes of its files
    name = own_name()
    WorkerContext.storage, WorkerContext.settings, WorkerContext.name = storage, settings, name
    queue = JobQueue(storage)
    queue.declare(settings.jobs_at_once, settings.poll_seconds)
    queue.close()
    sweeper = Sweeper(storage, settings, name)
    sweeper.heartbeat.record()
    config: DBOSConfig = {
        "name": APPLICATION,
        "system_database_url": engine_url(settings.database_url),
        "executor_id": name,
        "application_version": VERSION,
        "log_level": "WARNING",
        "enable_otlp": False,
    }
    if storage.embedded:
        config["system_database_engine"] = storage.engine
    DBOS(config=config)
    DBOS.launch()
    sweeper.start()
    verification = ScheduledVerification(storage, settings)
    verification.start()
    telling = WebhookSender(storage)
    telling.start()
    log = structlog.get_logger()
    log.info("worker_started", worker=name)
    while not stop.wait(0.5):
        if parent is not None and os.getppid() != parent:
            break
    log.info("worker_drains", worker=name, seconds=settings.drain_seconds)
    DBOS.destroy(workflow_completion_timeout_sec=settings.drain_seconds if WorkerContext.running_jobs else 0)
    telling.stop()
    verification.stop()
    sweeper.stop()
    log.info("worker_stopped", worker=name)
    os._exit(0)  # a step that is still running keeps a thread alive: its job is others' now
