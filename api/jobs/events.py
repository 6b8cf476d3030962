"""A job's progress as Server-Sent Events: read from the database, so any serving process can go on with it.

Each event's id is its number; a client that comes back with Last-Event-ID gets what it missed. When the job
has ended and nothing is left to tell, the answer is 204, which tells an EventSource to stop coming back
(WHATWG HTML, 'Server-sent events').
"""

from __future__ import annotations

import json
from collections.abc import AsyncIterator
from typing import Annotated, Any

from anyio import to_thread
from fastapi import Header, Query, Response
from fastapi.sse import format_sse_event
from starlette.responses import StreamingResponse

from api.accounts.access import Caller
from api.jobs.repository import OPEN, Event, Kind, events_after, status_of
from api.jobs.requests import found_job
from api.service import Service

LastEventId = Annotated[int | None, Header(ge=0, le=2**31 - 1)]
After = Annotated[int, Query(ge=0, le=2**31 - 1, description="As Last-Event-ID.")]

WATCH_RESPONSES: dict[int | str, dict[str, Any]] = {
    200: {"content": {"text/event-stream": {}}, "description": "`status` and `progress` events"},
    204: {"description": "The job has ended and every event was told"},
}
_COMMENT_SECONDS = 15.0
_ENDS = ("done", "failed", "cancelled")


def watched_job(
    service: Service, caller: Caller, job_id: str, kind: Kind, last_event_id: int | None, after: int = 0
) -> Response:
    """The events of the caller's job after `last_event_id` (None: after `after`), those to come included.

    Raises Problem 404.
    """
    after = after if last_event_id is None else last_event_id
    with service.storage.reading() as connection:
        found_job(connection, caller, job_id, kind)
        ended = status_of(connection, job_id) not in OPEN
        if ended and not events_after(connection, job_id, after, limit=1):
            return Response(status_code=204)
    return StreamingResponse(
        _stream(service, job_id, after),
        media_type="text/event-stream",
        headers={"X-Accel-Buffering": "no"},
    )


async def _stream(service: Service, job_id: str, number: int) -> AsyncIterator[bytes]:
    def read() -> list[Event]:
        with service.storage.reading() as connection:
            return events_after(connection, job_id, number)

    yield format_sse_event(comment="progress", retry=1000)
    with service.pulse.watching(job_id) as watch:
        while not service.stopping.is_set():
            for event in await to_thread.run_sync(read):
                number = event.number
                yield format_sse_event(
                    event=event.kind,
                    id=str(event.number),
                    data_str=json.dumps({"at": event.at, **event.data}),
                )
                if event.kind == "status" and event.data["status"] in _ENDS:
                    return
            if not await watch.newer_than(number, _COMMENT_SECONDS):
                yield format_sse_event(comment="waiting")
