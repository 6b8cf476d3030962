"""Registering webhooks, and reading what they were told."""

from __future__ import annotations

import json

from fastapi import APIRouter, Response

from api.accounts.access import Administrator
from api.admission import GuardedRoute
from api.context import Context
from api.http.paging import After, Limit, Page, page_of
from api.http.responses import carrying, json_response, problems
from api.webhooks import service
from api.webhooks.repository import Row
from api.webhooks.schemas import NewWebhook, Webhook, WebhookDelivery, WebhookRequest, Webhooks

router = APIRouter(route_class=GuardedRoute, prefix="/webhooks", tags=["webhooks"])


def _shown(row: Row) -> Webhook:
    names = ("id", "url", "days_before", "created_at", "created_by")
    return Webhook(events=json.loads(row.events), **{name: getattr(row, name) for name in names})


@router.post(
    "",
    operation_id="registerWebhook",
    status_code=201,
    response_model=NewWebhook,
    responses={**problems(413), 201: {"description": "It is registered", **carrying("Location")}},
)
def register_webhook(wanted: WebhookRequest, context: Context, caller: Administrator) -> Response:
    """Registers an address of the company's own that is told what happens from now on: signed, and tried again for some
    three days until it answers with a status of 2xx. Addresses outside the public internet are never called."""
    row, secret = service.register(context, caller, wanted)
    made = NewWebhook(**_shown(row).model_dump(), secret=secret)
    return json_response(made, 201, {"Location": f"/webhooks/{row.id}/deliveries"})


@router.get("", operation_id="listWebhooks", response_model=Webhooks, responses=problems())
def list_webhooks(context: Context, caller: Administrator) -> Webhooks:
    """The company's webhooks, without their secrets."""
    return Webhooks(items=[_shown(row) for row in service.all_webhooks(context, caller)])


@router.delete(
    "/{webhook_id}",
    operation_id="deleteWebhook",
    status_code=204,
    response_class=Response,
    responses={**problems(404), 204: {"description": "It is deleted, with what it was still to be told"}},
)
def delete_webhook(webhook_id: str, context: Context, caller: Administrator) -> Response:
    """Deletes a webhook: nothing more is sent to it."""
    service.remove(context, caller, webhook_id)
    return Response(status_code=204)


@router.get(
    "/{webhook_id}/deliveries",
    operation_id="listDeliveries",
    response_model=Page[WebhookDelivery],
    responses=problems(404),
)
def list_deliveries(
    webhook_id: str, context: Context, caller: Administrator, limit: Limit = 50, after: After = None
) -> Page[WebhookDelivery]:
    """What a webhook was told or is still to be told, newest first, and how each attempt ended."""
    rows = service.deliveries_page(context, caller, webhook_id, limit, after)
    items = [WebhookDelivery.model_validate(row, from_attributes=True) for row in rows]
    return page_of(items, limit, items[-1].id if items else "")
