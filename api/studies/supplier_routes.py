"""Several suppliers for what a plan orders."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Body

from api.accounts.access import Planner
from api.admission import GuardedRoute, rendering
from api.context import Context
from api.http.responses import problems
from api.studies.suppliers import SuppliersCompared, SuppliersRequest, compared_suppliers

router = APIRouter(route_class=GuardedRoute, tags=["studies"])


@router.post(
    "/plans/{plan_id}/suppliers",
    operation_id="compareSuppliers",
    response_model=SuppliersCompared,
    responses=problems(404, 409, 413),
)
@rendering
def compare_suppliers(
    plan_id: str, context: Context, caller: Planner, wanted: Annotated[SuppliersRequest, Body()]
) -> SuppliersCompared:
    """Offers of several suppliers side by side for what a plan orders: the cheapest split, what each would cost alone,
    and what each price must fall by to win its product. Nothing is kept."""
    return compared_suppliers(context, caller, plan_id, wanted)
