"""Several suppliers for what a plan orders, through the interface: as the command line compares them."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from fastapi.testclient import TestClient

from optimiser.model.offer import Offer
from optimiser.model.plan import Plan
from optimiser.ordering.supplier_comparison import compare_suppliers


def test_offers_are_compared_as_on_the_command_line(
    client: TestClient, small_project: dict[str, Any]
) -> None:
    made = client.post("/order-schedules", json=small_project)
    plan = Plan.model_validate(made.json())
    board = plan.project.boards[0].code
    offer = {
        "supplier": "Second Supplier (invented)",
        "currency": plan.order.currency,
        "freight": "45.00",
        "prices": [{"code": board, "price": "1.00", "lead_days": 1}],
    }
    address = f"{made.headers['Location']}/suppliers"
    answer = client.post(address, json={"offers": [offer], "on": "2027-01-04"})
    assert answer.status_code == 200, answer.text
    told = answer.json()
    found = compare_suppliers(plan, [Offer.model_validate(offer)], date(2027, 1, 4))
    assert found.best is not None
    assert Decimal(told["wholes"][0]["total"]) * 100 == found.best.cents
    assert Decimal(told["lower_bound"]) * 100 == found.best.least_cents
    assert {(row["supplier"], row["code"]) for row in told["split"]} == {
        (one.supplier, one.code) for one in found.best.purchases
    }
    assert ("Second Supplier (invented)", board) in {(row["supplier"], row["code"]) for row in told["split"]}


def test_offers_that_cannot_be_compared_are_refused(
    client: TestClient, small_project: dict[str, Any]
) -> None:
    made = client.post("/order-schedules", json=small_project)
    address = f"{made.headers['Location']}/suppliers"
    other = {"supplier": "Far (invented)", "currency": "EUR", "prices": [{"code": "B-120", "price": "1.00"}]}
    refused = client.post(address, json={"offers": [other]})
    assert (refused.status_code, refused.json()["type"]) == (422, "/problems/unusable-input")
    assert "offers in EUR" in refused.json()["detail"]
    assert client.post(address, json={"offers": []}).status_code == 422
    assert client.post("/plans/0/suppliers", json={"offers": [other]}).status_code == 404
