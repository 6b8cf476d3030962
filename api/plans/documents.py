"""A plan in every form that is downloaded: each function here runs in a limited process."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from optimiser.plan import Plan

Paper = Literal["A4", "Letter"]


@dataclass(frozen=True)
class Printing:
    """How a document is printed: its paper, the revision that stands on it ('': a draft) and when that was
    issued, and the levels that it is for (None: all)."""

    paper: Paper = "A4"
    revision: str = ""
    issued_on: date | None = None
    levels: tuple[str, ...] | None = None


DRAFT = Printing()


def order_as(plan: str, form: str, printing: Printing = DRAFT) -> bytes:
    """The order in one of FORMS. Raises ValueError when nothing is ordered and the form cannot say so."""
    return _WRITERS[form](_plan(plan), printing)


def layout_svg(plan: str, number: int) -> bytes:
    """A plan's layout as a drawing; `number` counts from 1."""
    from optimiser.writing.layout_svg import layout_svg as drawn

    return drawn(_plan(plan), number - 1).encode()


def elevation_svg(plan: str, run: str) -> bytes:
    """A run drawn to scale. Raises KeyError when the plan's project has no such run."""
    from optimiser.writing.layout_svg import run_elevation_svg

    return run_elevation_svg(_plan(plan), run).encode()


def cutting_sheets(plan: str, printing: Printing) -> bytes:
    """The sheets that the crew cuts from, as PDF. Raises ValueError for an unknown level."""
    from optimiser.writing.cutting_sheets import cutting_sheets_pdf

    return cutting_sheets_pdf(_plan(plan), printing.paper, levels=printing.levels, revision=printing.revision)


def labels(plan: str, printing: Printing) -> bytes:
    """Labels to stick on pieces, as PDF. Raises ValueError for an unknown level."""
    from optimiser.writing.labels import labels_pdf

    return labels_pdf(_plan(plan), printing.paper, levels=printing.levels, revision=printing.revision)


def order_json(plan: Plan) -> str:
    """The order as JSON: whose it is, its lines, deliveries and total."""
    heading = plan.project.project.model_dump(mode="json")
    order = plan.order.model_dump(mode="json", by_alias=True)
    deliveries = [delivery.model_dump(mode="json", by_alias=True) for delivery in plan.deliveries]
    return json.dumps({"project": heading, **order, "deliveries": deliveries, "cautions": plan.cautions})


def _plan(text: str) -> Plan:
    from optimiser.plan import Plan

    return Plan.model_validate_json(text)


def _json(plan: Plan, _: Printing) -> bytes:
    return order_json(plan).encode()


def _csv(plan: Plan, _: Printing) -> bytes:
    from optimiser.writing.order_csv import order_csv

    return order_csv(plan).encode()


def _xlsx(plan: Plan, printing: Printing) -> bytes:
    from optimiser.writing.order_xlsx import order_xlsx

    return order_xlsx(plan, printing.paper)


def _pdf(plan: Plan, printing: Printing) -> bytes:
    from optimiser.writing.order_pdf import order_pdf

    return order_pdf(plan, printing.paper, revision=printing.revision, issued_on=printing.issued_on)


def _ubl(plan: Plan, printing: Printing) -> bytes:
    from optimiser.writing.order_ubl import order_ubl

    return order_ubl(plan, issued_on=printing.issued_on)


_WRITERS: dict[str, Callable[[Plan, Printing], bytes]] = {
    "json": _json,
    "csv": _csv,
    "xlsx": _xlsx,
    "pdf": _pdf,
    "xml": _ubl,
}
