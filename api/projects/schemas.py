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


class VersionSummary(BaseModel):
    """A version of a project's survey without its tables: a version never changes."""

    model_config = ConfigDict(
        json_schema_extra={
            "example": {
                "version": 3,
                "kept_at": "2027-02-03T09:30:00.000000Z",
                "kept_by": "this machine",
            }
        }
    )
    version: int
    kept_at: Moment
    kept_by: str


class KeptVersion(VersionSummary):
    """A version of a project's survey with its tables in `project`."""

    project: Project


class Versions(BaseModel):
    """The versions of a project's survey, newest first; `next` is what to send as `before`, or null on the last
    page."""

    items: list[VersionSummary]
    next: int | None = None


class TableChange(BaseModel):
    """A cell that differs between two versions, or a row that came or went (then `column` is '')."""

    model_config = ConfigDict(
        json_schema_extra={
            "example": {
                "table": "gaps",
                "row": "L01-N 1500",
                "column": "gap_mm",
                "what": "changed",
                "before": "148",
                "after": "151",
            }
        }
    )
    table: str
    row: str = Field(description="By its keys.")
    column: str
    what: str = Field(description="changed, added or removed.")
    before: str = Field(description="The cell as text, or a row's cells.")
    after: str


class VersionDifference(BaseModel):
    """What a version of a survey changes of another."""

    version: int
    against: int
    items: list[TableChange]


def summary_of(row: Any) -> ProjectSummary:
    """A row of `projects`."""
    return ProjectSummary.model_validate(row, from_attributes=True)
