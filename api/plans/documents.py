"""A plan in every form that is downloaded: each function here runs in a limited process."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from optimiser.plan import Plan


def order_as(plan: str, form: str) -> bytes:
    """The order in one of FORMS."""
    from optimiser.plan import Plan

    found = Plan.model_validate_json(plan)
    return _WRITERS[form](found)


def layout_svg(plan: str, number: int) -> bytes:
    """A plan's layout as a drawing; `number` counts from 1."""
    from optimiser.plan import Plan
    from optimiser.writing.layout_svg import layout_svg as drawn

    return drawn(Plan.model_validate_json(plan), number - 1).encode()


def cutting_sheets(plan: str) -> bytes:
    """The sheets that the crew cuts from, as PDF."""
    from optimiser.plan import Plan
    from optimiser.writing.cutting_sheets import cutting_sheets_pdf

    return cutting_sheets_pdf(Plan.model_validate_json(plan))


def _csv(plan: Plan) -> bytes:
    from optimiser.writing.order_csv import order_csv

    return order_csv(plan).encode()


def _xlsx(plan: Plan) -> bytes:
    from optimiser.writing.order_xlsx import order_xlsx

    return order_xlsx(plan)


def _pdf(plan: Plan) -> bytes:
    from optimiser.writing.order_pdf import order_pdf

    return order_pdf(plan)


def _ubl(plan: Plan) -> bytes:
    from optimiser.writing.order_ubl import order_ubl

    return order_ubl(plan)


def _order_json_bytes(plan: Plan) -> bytes:
    return order_json(plan).encode()


_WRITERS: dict[str, Callable[[Plan], bytes]] = {
    "json": _order_json_bytes,
    "csv": _csv,
    "xlsx": _xlsx,
    "pdf": _pdf,
    "xml": _ubl,
}


def order_json(plan: Plan) -> str:
    """The order as JSON: whose it is, its lines, deliveries and total."""
    heading = plan.project.project.model_dump(mode="json")
    order = plan.order.model_dump(mode="json", by_alias=True)
    deliveries = [delivery.model_dump(mode="json", by_alias=True) for delivery in plan.deliveries]
    return json.dumps({"project": heading, **order, "deliveries": deliveries, "cautions": plan.cautions})
