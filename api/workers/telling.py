"""Telling webhooks what happened, in a thread of a worker."""

from __future__ import annotations

import threading

import structlog

from api.storage.engine import Storage
from api.webhooks.service import deliver_due, find_news

_LOOK_SECONDS = 2.0


class WebhookSender:
    """Looks every few seconds what webhooks are to be told, and tells them; several workers share it."""

    def __init__(self, storage: Storage, look_seconds: float = _LOOK_SECONDS) -> None:
        self._storage, self._look_seconds = storage, look_seconds
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="webhooks", daemon=True)

    def start(self) -> None:
        """Starts the thread."""
        self._thread.start()

    def stop(self) -> None:
        """Lets the thread end after what it is doing."""
        self._stop.set()

    def _run(self) -> None:
        while not self._stop.wait(self._look_seconds):
            try:
                if find_news(self._storage):
                    while deliver_due(self._storage) and not self._stop.is_set():
                        pass
            except Exception as error:  # the database is away: the next look may find it
                structlog.get_logger().warning("webhooks_missed", error=type(error).__name__)
