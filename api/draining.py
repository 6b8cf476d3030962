"""A server that tells the open event streams to end when it is asked to stop."""

from __future__ import annotations

import threading
from types import FrameType

import uvicorn


class DrainingServer(uvicorn.Server):
    """Sets `stopping` on SIGTERM or SIGINT, then finishes the requests that are under way."""

    def __init__(self, config: uvicorn.Config, stopping: threading.Event) -> None:
        super().__init__(config)
        self._stopping = stopping

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """Called by the signal."""
        self._stopping.set()
        super().handle_exit(sig, frame)
