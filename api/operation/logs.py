"""Log lines as JSON; of lines that repeat each other the first few are written and the rest counted.

So an attack, or a database that is away, costs a count and not a disk.
"""

from __future__ import annotations

import logging
import sys
import threading
import time
from collections import Counter
from collections.abc import Callable
from typing import Any

import structlog

_WINDOW_SECONDS = 60.0
_FIRST_FEW = 20  # of equal warnings and errors in a window
_FIRST_REQUESTS = 200  # of requests that were answered with the same error
_MOST_KINDS = 1000  # of lines that are told apart; what comes beyond is counted as one


class Repetition:
    """Lets the first lines of a kind pass in a window of a minute, and counts the others.

    The first line of a kind after its window tells in `repeated` how many were left out. `left_out` counts all.
    """

    def __init__(self, now: Callable[[], float] = time.monotonic) -> None:
        self._now, self._lock = now, threading.Lock()
        self._seen: dict[str, list[float]] = {}  # since when, how many
        self.left_out: Counter[str] = Counter()

    def passes(self, kind: str, first: int = _FIRST_FEW) -> int | None:
        """How many lines of this kind were left out before this one, which is to be written; None: leave it out."""
        with self._lock:
            if kind not in self._seen and len(self._seen) >= _MOST_KINDS:
                kind = "other"
            since, count = self._seen.get(kind, (self._now(), 0))
            before = 0
            if self._now() - since > _WINDOW_SECONDS:
                before, since, count = max(0, int(count) - first), self._now(), 0
            self._seen[kind] = [since, count + 1]
            if count < first:
                return before
            self.left_out[kind] += 1
            return None


repetition = Repetition()


def _leave_out_repeated(_: Any, method: str, event: structlog.typing.EventDict) -> structlog.typing.EventDict:
    """A step of structlog's."""
    status = event.get("status", 0)
    if event.get("event") == "request" and status >= 400:
        before = repetition.passes(f"request {status}", _FIRST_REQUESTS)
    elif method in ("warning", "error", "critical", "exception"):
        error = event.get("exc_info")
        what = type(error).__name__ if isinstance(error, BaseException) else event.get("error", "")
        before = repetition.passes(f"{event.get('event', '')} {what}".strip()[:80])
    else:
        return event
    if before is None:
        raise structlog.DropEvent
    return {**event, "repeated": before} if before else event


class _LeaveOutRepeated(logging.Filter):
    """The same for the lines of the libraries."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Called by the handler."""
        if record.levelno < logging.WARNING:
            return True
        before = repetition.passes(f"{record.name} {str(record.msg)[:60]}")
        if before:
            record.msg = f"{record.msg} (and {before} more like it)"
        return before is not None


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
        processors=[_leave_out_repeated, *shared, structlog.processors.JSONRenderer()],
        wrapper_class=structlog.make_filtering_bound_logger(number),
        logger_factory=structlog.PrintLoggerFactory(sys.stderr),
    )
    handler = logging.StreamHandler(sys.stderr)
    handler.addFilter(_LeaveOutRepeated())
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
