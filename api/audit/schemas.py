"""The log as the HTTP interface shows it."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict, Field

from api.http.moments import Moment

EXAMPLE: dict[str, Any] = {
    "number": 41,
    "at": "2027-02-04T07:00:00.000000Z",
    "who": "Ada Example, desk (key 0123456789abcdef)",
    "operation": "POST /plans/{plan_id}/issue",
    "subject": "/plans/7c0e4b2f90a14d5c8b3d2e1f0a9b8c7d/issue",
    "address": "192.0.2.7",
    "status": 201,
    "result": "done",
    "account_id": "8f2e1d0c9b8a7f6e",
    "key_id": "0123456789abcdef",
    "session_id": None,
    "request_id": "0b6b2d9ef1c44a0f",
}


class AuditLine(BaseModel):
    """Who did what from where and when, and what came of it."""

    model_config = ConfigDict(json_schema_extra={"example": EXAMPLE})
    number: int
    at: Moment
    who: str
    operation: str = Field(description="The call, or 'command' and what an operator told it to do.")
    subject: str = Field(description="What it was done to: its address, and what was made.")
    address: str = Field(description="Where the call came from.")
    status: int = Field(description="HTTP's; 0 for a command of the operator's.")
    result: str
    account_id: str | None
    key_id: str | None
    session_id: str | None
    request_id: str


class AuditLines(BaseModel):
    """A page of the log, the newest line first; `next` is what `before` takes for the one after it."""

    items: list[AuditLine]
    next: int | None
