"""All routes of the web pages."""

from __future__ import annotations

from fastapi import APIRouter

router = APIRouter(include_in_schema=False)
