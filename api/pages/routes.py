"""All routes of the web pages."""

from __future__ import annotations

from fastapi import APIRouter

from api.pages import buildings, options, schedules, sign_in

router = APIRouter(include_in_schema=False)
for part in (buildings, schedules, options, sign_in):
    router.include_router(part.router)
