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
    prices,
    refits,
    scenarios,
    schedules,
    sign_in,
    site,
    supplier_answers,
    surveys,
    weighing,
)

router = APIRouter(include_in_schema=False)
# refits and weighing before options, whose /{kind}s/... would match theirs
for part in (
    site,
    buildings,
    feeds,
    surveys,
    prices,
    scenarios,
    dates,
    schedules,
    refits,
    weighing,
    supplier_answers,
    options,
    sign_in,
    identity_sign_in,
    administering,
):
    router.include_router(part.router)
