"""Projects as the HTTP interface shows them."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict, Field

from api.http.moments import Moment
from optimiser.model.project import Project


class ProjectSummary(BaseModel):
    """A kept project without its tables."""

    model_config = ConfigDict(
        json_schema_extra={
            "example": {
                "id": "5d4f9c1e6a7b4c0d8e2f3a4b5c6d7e8f",
                "name": "Invented tower",
                "version": 3,
                "created_at": "2027-02-01T08:00:00.000000Z",
                "created_by": "this machine",
                "updated_at": "2027-02-03T09:30:00.000000Z",
                "updated_by": "this machine",
            }
        }
    )
    id: str
    name: str
    version: int = Field(description="Counts every change; the ETag is this number in quotes.")
    created_at: Moment
    created_by: str
    updated_at: Moment
    updated_by: str


class KeptProject(ProjectSummary):
    """A kept project with its tables in `project`."""

    project: Project


class Change(BaseModel):
    """One line of the log: who changed what, and when."""

    model_config = ConfigDict(
        json_schema_extra={
            "example": {
                "number": 12,
                "subject": "project 5d4f9c1e6a7b4c0d8e2f3a4b5c6d7e8f",
                "action": "version 3 kept",
                "who": "this machine",
                "at": "2027-02-03T09:30:00.000000Z",
            }
        }
    )
    number: int
    subject: str
    action: str
    who: str
    at: Moment


class Changes(BaseModel):
    """The log of a project, oldest first; `next` is what to send as `after`."""

    items: list[Change]
    next: int | None = None


def summary_of(row: Any) -> ProjectSummary:
    """A row of `projects`."""
    return ProjectSummary.model_validate(row, from_attributes=True)
