"""All routes of the web pages."""

from __future__ import annotations

from fastapi import APIRouter

from api.pages import (
    administering,
    buildings,
    dates,
    feeds,
    identity_sign_in,
    options,
    refits,
    schedules,
    sign_in,
    site,
    surveys,
)

router = APIRouter(include_in_schema=False)
# refits before options, whose /{kind}s/... would match theirs
for part in (
    site,
    buildings,
    feeds,
    surveys,
    dates,
    schedules,
    refits,
    options,
    sign_in,
    identity_sign_in,
    administering,
):
    router.include_router(part.router)
