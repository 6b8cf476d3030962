"""From a plan's order to the one that is sent: parties, terms, truckloads, line numbers that stay, taxes, the revision.

The sum of all amounts is the plan's total, to the cent.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from optimiser.model.money import CENT, total_of
from optimiser.model.order import Order
from optimiser.model.parties import Party
from optimiser.model.plan import Plan
from optimiser.model.project import Project
from optimiser.model.purchase_order import OrderedLine, PurchaseOrder, TaxAtRate
from optimiser.ordering.line_numbers import numbered_lines
from optimiser.ordering.order import first_order_day
from optimiser.ordering.truckload_lines import truckloads_of
from optimiser.tables.amounts import WITHOUT_DECIMALS


@dataclass(frozen=True)
class Issue:
    """What an order is issued as: `revision` (None: a draft) on a day, and the revision that it `replaces`.

    One that replaces none, yet comes on top of others, says what is on record as ordered `besides` it, by code and
    level. `sold_by` names the supplier whose products alone are ordered (None: all, from the project's).
    """

    revision: int | None = None
    issued_on: date | None = None
    replaces: PurchaseOrder | None = None
    besides: dict[str, dict[str, int]] = field(default_factory=dict)
    sold_by: str | None = None


DRAFT = Issue()
NO_REFERENCE = "no order reference"


def purchase_order(plan: Plan, issue: Issue = DRAFT) -> PurchaseOrder:
    """The order of a plan as it is sent to the supplier."""
    return purchase_order_of(plan.project, plan.order, issue)


def purchase_order_of(project: Project, order: Order, issue: Issue = DRAFT) -> PurchaseOrder:
    """An order of a project's products as it is sent.

    Raises ValueError where it replaces an order in another currency, or where nobody of the name sells any product.
    """
    if issue.sold_by is not None:
        order = order_to(project, order, issue.sold_by)
    before = issue.replaces
    if before is not None and before.currency != order.currency:
        raise ValueError(f"the order that is replaced is in {before.currency}, this one in {order.currency}")
    heading = project.project
    reference = heading.order_reference
    revision = issue.revision
    if before is not None and revision is None:
        revision = (before.revision or 1) + 1
    truckloads = tuple(truckloads_of(project, order, _party_of(project, issue.sold_by).name))
    truckloads, cancelled, highest = numbered_lines(truckloads, before)
    lines = [line for truckload in truckloads for line in truckload.lines]
    subtotal = total_of(line.amount for line in lines)
    taxes = _taxes(lines, order.currency)
    tax = total_of(rate.tax for rate in taxes)
    return PurchaseOrder(
        reference=reference,
        document=_document_of(reference or NO_REFERENCE, revision, issue),
        revision=revision,
        issued_on=issue.issued_on,
        original=None if before is None else before.original or before.as_replaced,
        replaces=None if before is None else before.as_replaced,
        project=heading.name,
        currency=order.currency,
        buyer=project.party("buyer"),
        supplier=_party_of(project, issue.sold_by),
        deliver_to=project.party("deliver_to"),
        payment_terms=heading.payment_terms,
        contract_reference=heading.contract_reference,
        supplier_reference=heading.supplier_reference,
        delivery_from=heading.delivery_from,
        delivery_until=heading.delivery_until,
        unloading=heading.unloading,
        tax_name=heading.tax_name,
        truckloads=truckloads,
        cancelled=cancelled,
        taxes=taxes,
        subtotal=subtotal,
        tax=tax,
        total=subtotal + tax,
        highest_line=highest,
        ordered_besides=issue.besides,
        order_by=first_order_day(line for line in order.lines if line.packs),
    )


def suppliers_of_products(project: Project) -> dict[str, str]:
    """Who sells each product, by code: the project's supplier, or the product's own."""
    own = project.party("supplier").name
    return {product.code: product.supplier or own for product in project.products}


def order_to(project: Project, order: Order, supplier: str) -> Order:
    """The lines of an order that one supplier sells. Raises ValueError where nobody of the name sells any product."""
    sold_by = suppliers_of_products(project)
    if supplier not in sold_by.values():
        known = ", ".join(dict.fromkeys(sold_by.values()))
        raise ValueError(f"nobody of the name {supplier} sells a product of the project; there is {known}")
    lines = tuple(line for line in order.lines if sold_by.get(line.code) == supplier)
    return Order(lines=lines, total=total_of(line.amount for line in lines), currency=order.currency)


def _party_of(project: Project, supplier: str | None) -> Party:
    """The supplier of an order; of one that is not the project's only the name is known."""
    own = project.party("supplier")
    return own if supplier in (None, own.name) else Party(party="supplier", name=supplier or "")


def _document_of(reference: str, revision: int | None, issue: Issue) -> str:
    """The document's own name: PO-17; of a later revision PO-17-R2; of a supplementary order, which replaces none and
    must not be taken for the first, PO-17-S and its day: PO-17-S20270301."""
    if issue.replaces is not None:
        return f"{_first_document(issue.replaces)}-R{revision}"
    if not issue.besides:
        return reference
    return f"{reference}-S{issue.issued_on:%Y%m%d}" if issue.issued_on else f"{reference}-S"


def _first_document(order: PurchaseOrder) -> str:
    """The name of the first document of an order."""
    return order.original.document if order.original else order.document


def _taxes(lines: Sequence[OrderedLine], currency: str) -> tuple[TaxAtRate, ...]:
    """The tax by rate, each rounded once, halves up, on the sum of its lines (as EN 16931 does by category)."""
    unit = Decimal(1) if currency in WITHOUT_DECIMALS else CENT
    rates = sorted({line.tax_rate for line in lines if line.tax_rate is not None})
    found = []
    for rate in rates:
        taxable = total_of(line.amount for line in lines if line.tax_rate == rate)
        tax = (taxable * rate).quantize(unit, ROUND_HALF_UP)
        found.append(TaxAtRate(rate=rate, taxable=taxable, tax=tax))
    return tuple(found)
