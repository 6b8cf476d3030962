"""What a job is: its kind, its status, its events, and its row in the database."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import sqlalchemy as sa

Kind = Literal["plan", "comparison", "allowance", "frontier", "scenario", "refit"]
Status = Literal["queued", "running", "done", "failed", "cancelled"]
OPEN: tuple[Status, ...] = ("queued", "running")
Job = sa.Row[Any]


@dataclass(frozen=True)
class Event:
    """Something that happened to a job: `number` counts from 1 without gaps."""

    number: int
    at: str
    kind: str
    data: dict[str, Any]
