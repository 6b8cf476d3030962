"""Webhooks as the HTTP interface takes and shows them."""

from __future__ import annotations

from typing import Annotated, Any, Literal, get_args

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from api.http.moments import Moment
from api.webhooks.calling import usable_address

EventType = Literal["plan.done", "order.issued", "order_date.near"]
EVENT_TYPES: tuple[EventType, ...] = get_args(EventType)
DeliveryStatus = Literal["waiting", "delivered", "given up"]


def _usable(text: str) -> str:
    usable_address(text)
    return text


class WebhookRequest(BaseModel):
    """Where to tell a company of what happens, and of what: a plan is done, an order is issued, the first day on which
    a plan that is not issued must be ordered is `days_before` days away or nearer."""

    model_config = ConfigDict(
        extra="forbid",
        json_schema_extra={
            "example": {
                "url": "https://orders.example/hooks/barriers",
                "events": ["plan.done", "order.issued"],
                "days_before": 5,
            }
        },
    )
    url: Annotated[str, Field(min_length=9, max_length=500), AfterValidator(_usable)]
    events: list[EventType] = Field(default=list(EVENT_TYPES), min_length=1, max_length=len(EVENT_TYPES))
    days_before: int = Field(default=7, ge=0, le=365)


_EXAMPLE: dict[str, Any] = {
    "id": "0c9d8e7f6a5b4c3d2e1f0a9b8c7d6e5f",
    "url": "https://orders.example/hooks/barriers",
    "events": ["plan.done", "order.issued"],
    "days_before": 5,
    "created_at": "2027-02-01T08:00:00.000000Z",
    "created_by": "Ada Example (key 0f0f)",
}


class Webhook(BaseModel):
    """A webhook that is registered; its secret is shown once, when it is made."""

    model_config = ConfigDict(json_schema_extra={"example": _EXAMPLE})
    id: str
    url: str
    events: list[EventType]
    days_before: int
    created_at: Moment
    created_by: str


class NewWebhook(Webhook):
    """A webhook that was just registered, with the secret that its deliveries are signed with."""

    model_config = ConfigDict(
        json_schema_extra={
            "example": {**_EXAMPLE, "secret": "whsec_aW52ZW50ZWQgc2VjcmV0IG9mIGFuIGV4YW1wbGU="}
        }
    )
    secret: str = Field(description="Shown this once. Signatures follow the Standard Webhooks specification.")


class Webhooks(BaseModel):
    """A company's webhooks, first to last."""

    items: list[Webhook]


class WebhookDelivery(BaseModel):
    """One thing that a webhook is told, and how that went."""

    model_config = ConfigDict(
        json_schema_extra={
            "example": {
                "id": "5f4e3d2c1b0a49f8e7d6c5b4a3928170",
                "event": "order.issued",
                "subject": "5d4f9c1e6a7b4c0d8e2f3a4b5c6d7e8f revision 2",
                "status": "waiting",
                "attempts": 1,
                "last_answer": "status 502",
                "created_at": "2027-02-04T07:00:02.000000Z",
                "next_attempt_at": "2027-02-04T07:00:07.000000Z",
                "delivered_at": None,
            }
        }
    )
    id: str = Field(description="The header webhook-id: the same at every attempt.")
    event: EventType
    subject: str = Field(description="The plan, or the project and its revision.")
    status: DeliveryStatus
    attempts: int
    last_answer: str = Field(description="The status of the last answer, or why there was none.")
    created_at: Moment
    next_attempt_at: Moment | None
    delivered_at: Moment | None
