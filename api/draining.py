"""A server that tells the open event streams to end when it is asked to stop, and ends connections that are overdue."""

from __future__ import annotations

import socket
import sys
import threading
import time
from types import FrameType

import uvicorn

from api.connections import BoundedConnection


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

    async def on_tick(self, counter: int) -> bool:
        """Called by the server's own loop ten times a second."""
        if counter % 10 == 0:
            now = time.monotonic()
            for connection in list(self.server_state.connections):
                if isinstance(connection, BoundedConnection):
                    connection.close_if_overdue(now)
        return await super().on_tick(counter)

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """Called by the signal."""
        self._stopping.set()
        super().handle_exit(sig, frame)
