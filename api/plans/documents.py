"""A plan in every form that is downloaded: each function here runs in a limited process.

One module although long: it is a list, a short function a document, each with its imports inside.
"""

from __future__ import annotations

import contextlib
import csv
import hashlib
import io
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any, Literal

from api.http.media_types import XLSX

if TYPE_CHECKING:
    from optimiser.model.plan import Plan
    from optimiser.model.purchase_order import PurchaseOrder

FORMS: dict[str, str] = {
    "json": "application/json",
    "csv": "text/csv; charset=utf-8",
    "xlsx": XLSX,
    "pdf": "application/pdf",
    "xml": "application/xml",
}
Paper = Literal["A4", "Letter"]
PAPERS: tuple[Paper, ...] = ("A4", "Letter")
LabelOrder = Literal["cutting", "run"]


@dataclass(frozen=True)
class Printing:
    """How a document is printed: its paper, the revision that stands on it ('': a draft), when that was issued and
    the newest one where it is superseded, what it is known by (`record`, lines of words), and the levels that it is
    for (None: all). Sheets and labels of nominal levels are withheld, or `with_nominal` printed and marked as not
    ready to cut. `address` is that of the pages that labels open, `label_order` that of the labels: as pieces are
    cut, or run by run. `issued` are the project's issued orders up to this revision, each as JSON text, the first
    one first.
    """

    paper: Paper = "A4"
    revision: str = ""
    superseded_by: str = ""
    issued_on: date | None = None
    levels: tuple[str, ...] | None = None
    with_nominal: bool = False
    address: str = ""
    record: tuple[str, ...] = ()
    issued: tuple[str, ...] = ()
    label_order: LabelOrder = "cutting"

    @property
    def printed_revision(self) -> str:
        """The revision as it stands on every page: '1', or '1, superseded by 2'."""
        return f"{self.revision}, superseded by {self.superseded_by}" if self.superseded_by else self.revision


DRAFT = Printing()


def order_as(plan: str, form: str, printing: Printing = DRAFT) -> bytes:
    """The order in one of FORMS. Raises ValueError when nothing is ordered and the form cannot say so."""
    return _WRITERS[form](_plan(plan), printing)


def documents_of_record(plan: str, printing: Printing, what: str) -> dict[str, bytes]:
    """Every document that an issued plan offers on one paper, by its name, made once; those that are on no paper
    too, where it is A4. The order's PDF names the SHA-256 of order.json and of plan.json. A form that cannot say
    that nothing is ordered is left out. `what` says which revision this is.
    """
    found = _plan(plan)
    data = _json(found, printing)
    hashes = {"order.json": data, "plan.json": plan.encode()}
    record = tuple(f"SHA-256 of {name}: {hashlib.sha256(text).hexdigest()}" for name, text in hashes.items())
    printing = replace(printing, record=(what, *record))
    made: dict[str, bytes] = {}
    if printing.paper == "A4":
        made = {
            **hashes,
            "order.csv": _csv(found, printing),
            "deliveries.csv": deliveries_csv(plan, printing),
            "deliveries.ics": deliveries_ics(plan, printing),
        }
        with contextlib.suppress(ValueError):
            made["order.xml"] = _ubl(found, printing)
    for name, content in (
        ("order.xlsx", _xlsx(found, printing)),
        ("office.xlsx", office_workbook(plan, printing)),
        ("order.pdf", _pdf(found, printing)),
        ("cutting-sheets.pdf", cutting_sheets(plan, printing)),
        ("labels.pdf", labels(plan, printing)),
        ("re-measure.pdf", remeasure_sheet(plan, printing)),
    ):
        made[on_paper(name, printing.paper)] = content
    return made


def on_paper(name: str, paper: Paper) -> str:
    """The name that a document is kept under: order.pdf on A4, order-letter.pdf on Letter."""
    stem, _, form = name.rpartition(".")
    return name if paper == "A4" else f"{stem}-{paper.lower()}.{form}"


def media_type_of(name: str) -> str:
    """The media type of a document, by its name."""
    form = name.rpartition(".")[2]
    return FORMS.get(form) or {"ics": "text/calendar; charset=utf-8", "svg": "image/svg+xml"}[form]


def precut_json(plan: str, draws: int, seed: int) -> bytes:
    """What cutting each level now, to nominal gaps, is expected to scrap, beside cutting it on site, as JSON."""
    from optimiser.studies.precut import precut_risks
    from optimiser.writing.terminal.precut_table import risk_as_dict

    risks = [risk_as_dict(risk) for risk in precut_risks(_plan(plan), draws=draws, seed=seed)]
    return json.dumps({"draws": draws, "seed": seed, "levels": risks}).encode()


def layout_svg(plan: str, number: int) -> bytes:
    """A plan's layout as a drawing, by its number. Raises IndexError when the plan has none of this number."""
    from optimiser.writing.drawing.svg import layout_svg as drawn

    found = _plan(plan)
    place = next((k for k, (mine, _) in enumerate(found.numbered_layouts) if mine == number), None)
    if place is None:
        raise IndexError(f"there is no layout {number}")
    return drawn(found, place).encode()


def elevation_svg(plan: str, run: str) -> bytes:
    """A run drawn to scale. Raises KeyError when the plan's project has no such run."""
    from optimiser.writing.drawing.svg import run_elevation_svg

    return run_elevation_svg(_plan(plan), run).encode()


def cutting_sheets(plan: str, printing: Printing) -> bytes:
    """The sheets that the crew cuts from, as PDF. Raises ValueError for an unknown level."""
    from optimiser.writing.crew.cutting_sheets import cutting_sheets_pdf

    return cutting_sheets_pdf(_plan(plan), printing.paper, **_for_the_crew(printing))


def labels(plan: str, printing: Printing) -> bytes:
    """Labels to stick on pieces, as PDF. Raises ValueError for an unknown level."""
    from optimiser.writing.crew.labels import labels_pdf

    return labels_pdf(
        _plan(plan),
        printing.paper,
        **_for_the_crew(printing),
        address=printing.address,
        order=printing.label_order,
    )


def _for_the_crew(printing: Printing) -> dict[str, Any]:
    return {
        "levels": printing.levels,
        "revision": printing.printed_revision,
        "with_nominal": printing.with_nominal,
    }


def office_workbook(plan: str, printing: Printing) -> bytes:
    """What stands behind the order, for the office: from pieces to money, with patterns, waste, proofs and the order as
    it is sent."""
    from optimiser.writing.office.workbook import office_xlsx

    found = _plan(plan)
    return office_xlsx(found, printing.paper, _sent(found, printing))


def deliveries_csv(plan: str, printing: Printing = DRAFT) -> bytes:
    """What comes together: a row a delivery."""
    from optimiser.writing.supplier.csv import deliveries_csv as written

    return _with_revision(written(_plan(plan)), printing)


def deliveries_ics(plan: str, printing: Printing = DRAFT) -> bytes:
    """The deliveries and order dates for a calendar."""
    from optimiser.writing.supplier.calendar import delivery_calendar

    said = _revision(printing)
    return delivery_calendar(
        _plan(plan), revision=said.get("revision"), superseded_by=said.get("superseded_by")
    )


def draft_deliveries_ics(plan: str) -> bytes:
    """As `deliveries_ics`, of a plan that is not issued: every entry says that it is a draft."""
    from optimiser.writing.supplier.calendar import delivery_calendar

    return delivery_calendar(_plan(plan), draft=True)


def remeasure_sheet(plan: str, printing: Printing) -> bytes:
    """The questions to the plan's survey, as a PDF to measure again with, of all levels."""
    from optimiser.model.question import SurveyQuestions
    from optimiser.writing.crew.remeasure_sheet import remeasure_pdf

    made = _plan(plan)
    asked = SurveyQuestions(
        name=made.project.project.name,
        readings=len(made.project.gaps),
        questions=made.questions,
        notes=made.project.reading_notes,
    )
    return remeasure_pdf(asked, printing.paper)


def order_json(plan: Plan) -> str:
    """The order as JSON: whose it is, its lines, deliveries and total, which levels are firm, what loads and storage
    cost, what stands on site, and what the limits make impossible."""
    from optimiser.writing.words import limits_not_kept

    heading = plan.project.project.model_dump(mode="json")
    order = plan.order.model_dump(mode="json", by_alias=True)
    deliveries = [delivery.model_dump(mode="json", by_alias=True) for delivery in plan.deliveries]
    besides = plan.model_dump(
        mode="json", by_alias=True, include={"levels", "forecast", "delivery_costs", "on_site", "cautions"}
    )
    return json.dumps(
        {
            "project": heading,
            **order,
            "deliveries": deliveries,
            **besides,
            "limits_not_kept": limits_not_kept(plan),
        }
    )


def _plan(text: str) -> Plan:
    from optimiser.model.plan import Plan

    return Plan.model_validate_json(text)


def _json(plan: Plan, printing: Printing) -> bytes:
    return json.dumps({**json.loads(order_json(plan)), **_revision(printing)}).encode()


def sent_order(
    plan: Plan, issued: Sequence[Mapping[str, Any]], superseded_by: int | None = None
) -> PurchaseOrder:
    """The order as it is sent. `issued` are the project's revisions, as `api.orders.schemas.IssuedOrder`, the first one
    first; the last of them is the one that is sent, and replaces the one before. None of them: a draft of the plan's.
    `superseded_by` is the newest revision where that is a later one.
    """
    from optimiser.model.order import Order
    from optimiser.ordering.purchase_order import Issue, purchase_order, purchase_order_of

    sent: PurchaseOrder | None = None
    for one in issued:
        order = Order.model_validate_json(json.dumps(one["order"]))
        before = sent if sent is not None and sent.currency == order.currency else None
        day = date.fromisoformat(one["issued_at"][:10])
        sent = purchase_order_of(plan.project, order, Issue(one["revision"], day, before))
    if sent is None:
        return purchase_order(plan)
    return sent.model_copy(update={"superseded_by": superseded_by})


def _sent(plan: Plan, printing: Printing) -> PurchaseOrder:
    newest = int(printing.superseded_by) if printing.superseded_by else None
    return sent_order(plan, [json.loads(one) for one in printing.issued], newest)


def _csv(plan: Plan, printing: Printing) -> bytes:
    from optimiser.writing.supplier.csv import order_csv

    return order_csv(_sent(plan, printing)).encode()


def _with_revision(text: str, printing: Printing) -> bytes:
    """The rows of a csv, those of an issued order with its revision and the one that superseded it."""
    more = _revision(printing)
    if not more:
        return text.encode()
    written = io.StringIO(newline="")
    rows = csv.reader(io.StringIO(text, newline=""))
    out = csv.writer(written)
    out.writerow([*next(rows), *more])
    out.writerows([*row, *more.values()] for row in rows)
    return written.getvalue().encode()


def _revision(printing: Printing) -> dict[str, int | None]:
    """What an issued order says of its revision; nothing of a draft."""
    if not printing.revision:
        return {}
    newest = printing.superseded_by
    return {"revision": int(printing.revision), "superseded_by": int(newest) if newest else None}


def _xlsx(plan: Plan, printing: Printing) -> bytes:
    from optimiser.writing.supplier.workbook import order_xlsx

    return order_xlsx(_sent(plan, printing), printing.paper)


def _pdf(plan: Plan, printing: Printing) -> bytes:
    from optimiser.writing.supplier.pdf import order_pdf

    return order_pdf(_sent(plan, printing), printing.paper, printing.record)


def _ubl(plan: Plan, printing: Printing) -> bytes:
    from optimiser.writing.supplier.ubl import order_ubl

    return order_ubl(_sent(plan, printing))


_WRITERS: dict[str, Callable[[Plan, Printing], bytes]] = {
    "json": _json,
    "csv": _csv,
    "xlsx": _xlsx,
    "pdf": _pdf,
    "xml": _ubl,
}
