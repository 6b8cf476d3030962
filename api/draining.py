"""A server that tells the open event streams to end when it is asked to stop."""

from __future__ import annotations

import socket
import sys
import threading
from types import FrameType

import uvicorn


class DrainingServer(uvicorn.Server):
    """Says its greeting once it can be reached; sets `stopping` on SIGTERM or SIGINT, then finishes the requests
    that are under way."""

    def __init__(self, config: uvicorn.Config, stopping: threading.Event, greeting: str) -> None:
        super().__init__(config)
        self._stopping, self._greeting = stopping, greeting

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Called by the server's own `serve`."""
        await super().startup(sockets)
        if self.started:
            print(self._greeting, file=sys.stderr, flush=True)

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """Called by the signal."""
        self._stopping.set()
        super().handle_exit(sig, frame)
