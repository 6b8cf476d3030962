"""Issued orders as the HTTP interface shows them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pydantic import AliasChoices, BaseModel, ConfigDict, Field

from api.http.moments import Day, Moment
from optimiser.model.order import Order


class DifferenceLine(BaseModel):
    """What a revision changes for one product of a level's delivery."""

    code: str
    level: str
    packs_before: int
    packs_after: int
    packs: int = Field(description="Packs more than the last issued order; negative: fewer.")
    amount: str = Field(examples=["-424.00"])
    price_before: str | None = Field(default=None, description="Of a pack; null where it was not ordered.")
    price_after: str | None = Field(default=None, description="Of a pack; null where it is ordered no more.")
    deliver_on_before: Day | None = Field(default=None, examples=["2027-02-22"])
    deliver_on_after: Day | None = Field(default=None, examples=["2027-03-01"])
    causes: list[str] = Field(
        default_factory=list,
        description="Why: survey, rule, damage, or cutting where boards are cut otherwise; price; date. None in the"
        " first order.",
        examples=[["survey", "date"]],
    )
    damaged: list[str] = Field(
        default_factory=list, description="Pieces and remainders, by name, that are damaged or lost."
    )


class Difference(BaseModel):
    """What a revision changes against the last issued order; the first one's is the whole order."""

    lines: list[DifferenceLine]
    total: str
    currency: str


class IssuedDocument(BaseModel):
    """A document of an issued order as it was made when it was issued; it never changes."""

    name: str = Field(examples=["order.pdf"])
    media_type: str
    bytes: int
    sha256: str


class IssuedSummary(BaseModel):
    """An issued order without its lines."""

    model_config = ConfigDict(
        json_schema_extra={
            "example": {
                "project_id": "5d4f9c1e6a7b4c0d8e2f3a4b5c6d7e8f",
                "revision": 2,
                "plan_id": "7c0e4b2f90a14d5c8b3d2e1f0a9b8c7d",
                "project_version": 4,
                "issued_at": "2027-02-04T07:00:00.000000Z",
                "issued_by": "this machine",
                "previous_hash": "0f" * 32,
                "hash": "a1" * 32,
            }
        }
    )
    project_id: str
    revision: int = Field(description="Counts a project's issued orders from 1. No number is given twice.")
    numbers_lost: list[int] = Field(
        default_factory=list,
        description="Numbers before this one that were given and whose orders were lost.",
    )
    plan_id: str
    refit_id: str | None = Field(default=None, description="The refit that was ordered on top of the plan.")
    project_version: int
    survey_sha256: str | None = Field(
        default=None, description="SHA-256 of the survey's version as it is kept."
    )
    issued_at: Moment
    issued_by: str = Field(validation_alias=AliasChoices("issuer", "issued_by"))
    issuer_sha256: str | None = Field(
        default=None,
        description="What the hash covers of `issued_by`: its SHA-256 behind a salt, so that the name can be erased.",
    )
    software: str | None = Field(default=None, examples=["barrier-orders 0.1.0"])
    previous_hash: str
    hash: str = Field(description="SHA-256 over the previous hash and this order: see the chain.")
    superseded_by: int | None = Field(
        default=None,
        description="The newest revision, where this is not it: then this order is no longer the one that counts.",
    )


class IssuedOrder(IssuedSummary):
    """An issued order: it never changes."""

    order: Order
    difference: Difference
    documents: list[IssuedDocument] = Field(default_factory=list)


class IssuedOrders(BaseModel):
    """Every issued order of a project, first to last, and whether their chain of hashes is intact."""

    items: list[IssuedSummary]
    chain_intact: bool


def headers_of(issued: Mapping[str, Any]) -> dict[str, str]:
    """The headers that say where an issued order is, and its revision as what the next one's If-Match wants."""
    return {
        "Location": f"/projects/{issued['project_id']}/orders/{issued['revision']}",
        "ETag": f'"{issued["revision"]}"',
    }
