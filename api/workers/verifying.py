"""Verifying every issued order on a schedule, in a thread of a worker that has the anchor and its key at hand."""

from __future__ import annotations

import threading

import structlog

from api import clock
from api.orders.anchor import Anchor, anchor_of
from api.orders.checks import check_all, last_check, log_findings
from api.settings import Settings
from api.storage.engine import Storage

_LOOK_SECONDS = 30.0


class ScheduledVerification:
    """Looks now and then whether the last verification is `verify_minutes` old, whoever made it, and makes the next.
    A worker on another machine, without the anchor's files, leaves it to those that have them."""

    def __init__(self, storage: Storage, settings: Settings, look_seconds: float = _LOOK_SECONDS) -> None:
        self._storage, self._anchor = storage, anchor_of(settings)
        self._minutes, self._look_seconds = settings.verify_minutes, look_seconds
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="verification", daemon=True)

    def start(self) -> None:
        """Starts the thread, unless there is to be none."""
        if self._minutes:
            self._thread.start()

    def stop(self) -> None:
        """Lets the thread end after what it is doing."""
        self._stop.set()

    def _run(self) -> None:
        while not self._stop.wait(self._look_seconds):
            try:
                verify_when_due(self._storage, self._anchor, self._minutes)
            except Exception as error:  # the database is away: the next look may find it
                structlog.get_logger().warning("verification_missed", error=type(error).__name__)


def verify_when_due(storage: Storage, anchor: Anchor, minutes: int) -> bool:
    """Verifies every issued order when that was last done so many minutes ago, or never: whether it did."""
    if not (anchor.exists and anchor.has_key):
        return False
    with storage.reading() as connection:
        last = last_check(connection)
    if last is not None and 0 <= clock.seconds_since(last[0]) < minutes * 60:
        return False
    log_findings(check_all(storage, anchor))
    return True
