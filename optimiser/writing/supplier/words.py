"""What is said of the supplier's order in whole sentences."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from optimiser.model.purchase_order import OrderedLine, PurchaseOrder, TaxAtRate
from optimiser.tables.amounts import amount_text, grouped_money
from optimiser.tables.text import counted


def document_in_words(order: PurchaseOrder) -> str:
    """'Revision 2, issued 2027-01-20; replaces HL9-0042 of 2027-01-05', as far as it is known; of a supplementary order
    'Issued 2027-03-01; supplementary: on top of what is ordered already'."""
    if order.superseded_by is not None:
        newest = f"; superseded by revision {order.superseded_by}, do not deliver by this one"
    else:
        newest = ""
    if order.revision is None:
        said = "Draft, not issued" if order.issued_on is None else f"Issued {order.issued_on}"
    else:
        issued = f", issued {order.issued_on}" if order.issued_on else ""
        said = f"Revision {order.revision}{issued}"
    before = order.replaces
    if before is None:
        on_top = "; supplementary: on top of what is ordered already" if order.supplementary else ""
        return said + on_top + newest
    of = f" of {before.issued_on}" if before.issued_on else ""
    return f"{said}; replaces {before.document}{of}{newest}"


def change_in_words(order: PurchaseOrder) -> str:
    """What a revision changes: how many lines, and the total before and after; '' where it replaces none."""
    before = order.replaces
    if before is None:
        return ""
    lines = (*order.lines, *order.cancelled)
    counts = [
        f"{counted(number, 'line')} {change}"
        for change in ("added", "revised", "cancelled", "unchanged")
        if (number := sum(line.change == change for line in lines))
    ]
    return (
        f"It replaces {before.document} whole: {', '.join(counts) or 'no lines'}. The total was"
        f" {grouped_money(before.total, order.currency)} and is {grouped_money(order.total, order.currency)}."
    )


def price_in_words(line: OrderedLine, currency: str) -> str:
    """'Price from 30 packs in a delivery on: 106.40 a pack instead of 110.00.'; '' at the list price."""
    if line.price == line.list_price:
        return ""
    price, listed = amount_text(line.price, currency), amount_text(line.list_price, currency)
    if line.from_packs is None:
        return f"Price {price} a pack instead of {listed} in list."
    return f"Price from {line.from_packs:,} packs in a delivery on: {price} a pack instead of {listed}."


def revised_in_words(line: OrderedLine, deliver_on: date | None, currency: str) -> str:
    """'2 packs before; to come on 2027-03-15 before.': what a revision changes of a line; '' of one that it leaves."""
    was = line.before
    if was is None or line.change != "revised":
        return ""
    said = []
    if was.packs != line.packs:
        said.append(counted(was.packs, "pack"))
    if was.price != line.price:
        said.append(f"{amount_text(was.price, currency)} a pack")
    if was.deliver_on != deliver_on:
        said.append(f"on {was.deliver_on}" if was.deliver_on else "on a day to be agreed")
    if was.status != line.status:
        said.append("a forecast" if was.status == "forecast" else "firm")
    return f"Before: {', '.join(said)}."


def price_breaks_in_words(order: PurchaseOrder) -> tuple[str, ...]:
    """A sentence for each product and price that is not the list price."""
    found = {
        f"{line.code}: {words[0].lower()}{words[1:]}": None
        for line in order.lines
        if (words := price_in_words(line, order.currency))
    }
    return tuple(found)


def forecast_of(order: PurchaseOrder) -> str:
    """What the forecast lines mean; '' where all are firm."""
    lines = [line for line in order.lines if line.status == "forecast"]
    if not lines:
        return ""
    days = sorted({line.confirm_by for line in lines if line.confirm_by is not None})
    by = f" They are confirmed by {', '.join(str(day) for day in days)}." if days else ""
    return (
        f"Forecast: {counted(len(lines), 'line')} for levels that are not measured yet,"
        f" {grouped_money(order.amount_of('forecast'), order.currency)} before tax. Keep the delivery days for"
        f" them, and expect their quantities to change.{by}"
    )


def tax_in_words(order: PurchaseOrder, tax: TaxAtRate) -> str:
    """'GST 10 % of 658.60': one rate's tax and what it is of."""
    share = format((tax.rate * 100).normalize(), "f")
    return f"{order.tax_name or 'Tax'} {share} % of {amount_text(tax.taxable, order.currency)}"


def taxes_in_words(order: PurchaseOrder) -> tuple[tuple[str, str], ...]:
    """The sums below the lines, each with its amount: firm, forecast, subtotal, tax by rate, total."""
    currency = order.currency
    rows: list[tuple[str, str]] = []
    firm, forecast = order.amount_of("firm"), order.amount_of("forecast")
    if any(line.status == "forecast" for line in order.lines):
        rows += [
            ("Firm lines", amount_text(firm, currency)),
            ("Forecast lines", amount_text(forecast, currency)),
        ]
    if not order.taxed:
        return (*rows, (f"Total {currency}, before tax", amount_text(order.total, currency)))
    rows.append(("Subtotal before tax", amount_text(order.subtotal, currency)))
    rows += [(tax_in_words(order, tax), amount_text(tax.tax, currency)) for tax in order.taxes]
    return (*rows, (f"Total {currency}", amount_text(order.total, currency)))


def terms_in_words(order: PurchaseOrder) -> Sequence[tuple[str, str]]:
    """What is agreed, as far as the project says: payment, references, when a truck may come, unloading."""
    given = (
        ("Payment", order.payment_terms),
        ("Your quotation", order.supplier_reference),
        ("Contract", order.contract_reference),
        ("Trucks come", order.window),
        ("Unloading", order.unloading),
    )
    return [(name, value) for name, value in given if value]
