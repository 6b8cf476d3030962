"""Reading back what happened on a job."""

from __future__ import annotations

from fastapi import APIRouter

from api.accounts.access import Reader
from api.admission import GuardedRoute
from api.context import Context
from api.events import service
from api.events.schemas import RecordedEvent
from api.http.paging import After, Limit, Page, page_of
from api.http.responses import problems

router = APIRouter(route_class=GuardedRoute, prefix="/projects/{project_id}/events", tags=["events"])


@router.get("", operation_id="listEvents", response_model=Page[RecordedEvent], responses=problems(404))
def list_events(
    project_id: str, context: Context, caller: Reader, limit: Limit = 50, after: After = None
) -> Page[RecordedEvent]:
    """What happened on the job, the last received first."""
    items = service.events_page(context, caller, project_id, limit, after)
    return page_of(items, limit, str(items[-1].number) if items else "")
