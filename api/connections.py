"""Connections with an end: how many there may be, and how long a client may take for its headers, its body, its answer.

The server library (uvicorn) bounds the size of headers and the time between two requests of a connection; how many
connections there are, and how slowly a request may come, it leaves open. So its protocol is watched here. A slow
request costs what it sends, not a log line: what is closed is counted.
"""

from __future__ import annotations

import asyncio
import ipaddress
import resource
import time
from collections import Counter
from dataclasses import dataclass, field

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

from api.settings import Settings, is_loopback

_OTHER_FILES = 300  # databases, pipes to limited processes, and what the libraries hold open
closed: Counter[str] = Counter()
"""By reason, how many connections were closed or turned away."""


@dataclass(frozen=True)
class ConnectionLimits:
    """How many connections there may be, in all and of one address (loopback and trusted proxies speak for many), and
    seconds for a request's headers, between two parts of its body or of its answer, and for a whole body."""

    most: int = 1000
    most_of_an_address: int = 100
    header_seconds: float = 10.0
    idle_seconds: float = 30.0
    body_seconds: float = 300.0
    proxies: tuple[str, ...] = ()
    _networks: tuple[ipaddress.IPv4Network | ipaddress.IPv6Network, ...] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_networks", tuple(map(ipaddress.ip_network, self.proxies)))

    @classmethod
    def of(cls, settings: Settings) -> ConnectionLimits:
        """The limits of the settings, below what this process may hold open; its own limit is raised to the machine's
        for it."""
        soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
        wanted = settings.connections + _OTHER_FILES
        if soft != resource.RLIM_INFINITY and soft < wanted:
            soft = wanted if hard == resource.RLIM_INFINITY else min(wanted, hard)
            resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))
        room = settings.connections if soft == resource.RLIM_INFINITY else max(soft - _OTHER_FILES, soft // 2)
        return cls(
            min(settings.connections, room),
            settings.connections_per_address,
            settings.header_seconds,
            settings.idle_seconds,
            settings.body_seconds,
            tuple(settings.proxies),
        )

    def speaks_for_many(self, address: str) -> bool:
        """Whether many clients come from this address: a proxy, or this machine."""
        if is_loopback(address):
            return True
        try:
            found = ipaddress.ip_address(address)
        except ValueError:
            return True  # a socket file
        return any(found in network for network in self._networks)


class BoundedConnection(H11Protocol):
    """One connection: it knows since when its client has been owing it something."""

    limits: ConnectionLimits
    _head_since: float | None = (
        None  # since when its headers are not complete; None: they are, or none is due
    )
    _body_since: float | None = None
    _heard: float = 0.0
    _blocked_since: float | None = None
    _turned_away = False

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Called by the event loop."""
        super().connection_made(transport)
        self._head_since = self._heard = time.monotonic()
        address = self.client[0] if self.client else ""
        if len(self.connections) > self.limits.most and not self._take_the_place_of_a_slow_one():
            self._close("too many connections")
        elif not self.limits.speaks_for_many(address):
            addresses = (getattr(one, "client", None) or ("",) for one in self.connections)
            there = sum(1 for one in addresses if one[0] == address)
            if there > self.limits.most_of_an_address:
                self._close("too many connections of an address")

    def data_received(self, data: bytes) -> None:
        """Called by the event loop."""
        self._heard = time.monotonic()
        if self._head_since is None and self.conn.their_state is h11.IDLE:
            self._head_since = self._heard
        super().data_received(data)
        if self.conn.their_state is not h11.IDLE:
            self._head_since = None
            if self.conn.their_state is h11.SEND_BODY:
                self._body_since = self._body_since or self._heard
            else:
                self._body_since = None

    def on_response_complete(self) -> None:
        """Called by the cycle of a request."""
        super().on_response_complete()
        if self.conn.their_state is h11.SEND_BODY:  # answered before its body came: that is not waited for
            self._body_since = (
                time.monotonic() - self.limits.body_seconds + min(2.0, self.limits.idle_seconds)
            )

    def pause_writing(self) -> None:
        """Called by the transport: the client does not take its answer."""
        super().pause_writing()
        self._blocked_since = time.monotonic()

    def resume_writing(self) -> None:
        """Called by the transport."""
        super().resume_writing()
        self._blocked_since = None

    def close_if_overdue(self, now: float) -> None:
        """Closes the connection when its client has been too slow."""
        limits = self.limits
        if self._head_since is not None:
            if now - self._head_since > limits.header_seconds:
                self._close("slow headers")
        elif self._blocked_since is not None:
            if now - self._blocked_since > limits.idle_seconds:
                self._close("answer not taken")
        elif self._body_since is not None and self.conn.their_state is h11.SEND_BODY:
            idle = not self.flow.read_paused and now - self._heard > limits.idle_seconds
            if idle or now - self._body_since > limits.body_seconds:
                self._close("slow body")

    def _take_the_place_of_a_slow_one(self) -> bool:
        """Closes the connection that has owed its headers for the longest, so that slow ones never keep others out."""
        slow = [
            one
            for one in self.connections
            if isinstance(one, BoundedConnection) and one is not self and one._head_since is not None
        ]
        if not slow:
            return False
        min(slow, key=lambda one: one._head_since or 0.0)._close("headers overdue while there were too many")
        return True

    def _close(self, reason: str) -> None:
        if not self._turned_away:
            self._turned_away = True
            closed[reason] += 1
            self.connections.discard(self)
            self.transport.abort()


def bounded_connection(limits: ConnectionLimits) -> type[BoundedConnection]:
    """The protocol with these limits, as the server takes it."""
    return type("Connection", (BoundedConnection,), {"limits": limits})
