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

from api.accounts.service import Caller
from api.context import AppContext
from api.http.problem_details import Problem
from api.jobs import service
from api.jobs.model import OPEN, Kind

LastEventId = Annotated[int | None, Header(ge=0, le=2**31 - 1)]
After = Annotated[int, Query(ge=0, le=2**31 - 1, description="As Last-Event-ID.")]

WATCH_RESPONSES: dict[int | str, dict[str, Any]] = {
    200: {
        "content": {"text/event-stream": {"schema": {"type": "string"}}},
        "description": "`status` and `progress` events",
    },
    204: {"description": "The job has ended and every event was told"},
}
_COMMENT_SECONDS = 15.0


def event_stream(
    context: AppContext, caller: Caller, job_id: str, kind: Kind, last_event_id: int | None, after: int = 0
) -> Response:
    """The events of the caller's job after `last_event_id` (None: after `after`), those to come included.

    Raises Problem 404, and 429 when the caller's company has too many streams open.
    """
    after = after if last_event_id is None else last_event_id
    if not service.missed_events(context, caller, job_id, kind, after):
        return Response(status_code=204)
    if 0 < context.settings.streams <= context.streams[caller.company_id]:
        raise Problem(
            429,
            "too-many-requests",
            f"{context.settings.streams} event streams of yours are open: close one first.",
            headers={"Retry-After": "30"},
        )
    return StreamingResponse(
        _counted(context, caller.company_id, _stream(context, job_id, after)),
        media_type="text/event-stream",
        headers={"X-Accel-Buffering": "no"},
    )


async def _counted(
    context: AppContext, company_id: str, stream: AsyncIterator[bytes]
) -> AsyncIterator[bytes]:
    context.streams[company_id] += 1
    try:
        async for part in stream:
            yield part
    finally:
        context.streams[company_id] -= 1
        if not context.streams[company_id]:
            del context.streams[company_id]


async def _stream(context: AppContext, job_id: str, number: int) -> AsyncIterator[bytes]:
    yield format_sse_event(comment="progress", retry=1000)
    with context.notifier.subscribed(job_id) as subscription:
        while not context.stopping.is_set():
            for event in await to_thread.run_sync(
                service.events_after, context, job_id, number, limiter=context.watching
            ):
                number = event.number
                yield format_sse_event(
                    event=event.kind,
                    id=str(event.number),
                    data_str=json.dumps({"at": event.at, **event.data}),
                )
                if event.kind == "status" and event.data["status"] not in OPEN:
                    return
            if not await subscription.newer_than(number, _COMMENT_SECONDS):
                yield format_sse_event(comment="waiting")
