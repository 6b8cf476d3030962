"""`order.ubl.xml`: the order for the supplier's computer, an OASIS UBL 2.1 Order.

Universal Business Language 2.1, OASIS Standard, 4 November 2013; unit codes of UN/ECE Recommendation 20, with
packages from Recommendation 21 (an X before its code). One line an item and delivery. Nothing is stated that
the plan does not know: taxes, terms and party identifiers are left to the buyer.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from xml.etree import ElementTree

from optimiser.model.money import money_text
from optimiser.model.plan import OrderLine, Plan
from optimiser.model.products import Product, length_column_mm
from optimiser.writing.drawing.shapes import without_control_characters
from optimiser.writing.words import forecast_in_words

ORDER = "urn:oasis:names:specification:ubl:schema:xsd:Order-2"
CAC = "urn:oasis:names:specification:ubl:schema:xsd:CommonAggregateComponents-2"
CBC = "urn:oasis:names:specification:ubl:schema:xsd:CommonBasicComponents-2"

PACKAGE = "XPK"
UNIT_CODES = {
    "piece": "H87",
    "each": "H87",
    "metre": "MTR",
    "meter": "MTR",
    "m": "MTR",
    "roll": "XRO",
    "box": "XBX",
    "pallet": "XPX",
    "package": PACKAGE,
    "pack": PACKAGE,
}
"""Pack names to UN/ECE codes; any other pack is a package."""

NO_DATE = date(1970, 1, 1)
"""Stands as the issue date, with a note, where neither the caller nor the plan knows a date: UBL demands one."""


def unit_code(pack_name: str) -> str:
    """The UN/ECE unit code of a pack: 'Boxes' or 'box of 50' -> 'XBX'; a package where the name tells nothing."""
    name = pack_name.partition(" of ")[0].strip().lower()
    for singular in (name, name.removesuffix("s"), name.removesuffix("es")):
        if singular in UNIT_CODES:
            return UNIT_CODES[singular]
    return PACKAGE


def orders_anything(plan: Plan) -> bool:
    """Whether any line orders a pack."""
    return any(line.packs > 0 for line in plan.order.lines)


def order_ubl(plan: Plan, *, issued_on: date | None = None) -> bytes:
    """The order as a UBL 2.1 document in UTF-8.

    `issued_on`: the day of issue. Without it the earliest date by which something must be ordered stands, else
    the earliest delivery, else 1970-01-01, and a note says so. Lines without packs, all covered by earlier
    deliveries, order nothing: they are left out and named in a note. Raises ValueError when no line is left,
    because an Order without a line is not valid UBL.
    """
    ordered = [line for line in plan.order.lines if line.packs > 0]
    if not orders_anything(plan):
        raise ValueError(
            "nothing is ordered: every line is covered by earlier packs or stock, so there is no UBL order"
        )
    for prefix, space in (("", ORDER), ("cac", CAC), ("cbc", CBC)):
        ElementTree.register_namespace(prefix, space)
    heading = plan.project.project
    currency = plan.order.currency
    issue, issue_note = _issue_date(plan, issued_on)
    root = ElementTree.Element(f"{{{ORDER}}}Order")
    _basic(root, "UBLVersionID", "2.1")
    _basic(root, "ID", heading.order_reference or "no order reference")
    _basic(root, "IssueDate", issue.isoformat())
    for note in (*_notes(plan), *([issue_note] if issue_note else [])):
        _basic(root, "Note", note)
    _basic(root, "DocumentCurrencyCode", currency)
    _basic(root, "LineCountNumeric", f"{len(ordered)}")
    if heading.name:
        _basic(_aggregate(root, "ProjectReference"), "ID", heading.name)
    _party(_aggregate(root, "BuyerCustomerParty"), heading.buyer)
    _party(_aggregate(root, "SellerSupplierParty"), heading.supplier)
    total = _aggregate(root, "AnticipatedMonetaryTotal")
    _amount(total, "LineExtensionAmount", plan.order.total, currency)
    _amount(total, "PayableAmount", plan.order.total, currency)
    products = {product.code: product for product in plan.project.products}
    for number, line in enumerate(ordered, start=1):
        _line(root, number, line, products.get(line.code), heading.deliver_to, currency)
    ElementTree.indent(root)
    return bytes(ElementTree.tostring(root, encoding="UTF-8", xml_declaration=True))


def _issue_date(plan: Plan, issued_on: date | None) -> tuple[date, str]:
    if issued_on is not None:
        return issued_on, ""
    order_by = [line.order_by for line in plan.order.lines if line.packs > 0 and line.order_by is not None]
    if order_by:
        return min(order_by), "The issue date is the earliest date by which something must be ordered."
    deliver_on = [
        line.deliver_on for line in plan.order.lines if line.packs > 0 and line.deliver_on is not None
    ]
    if deliver_on:
        return min(deliver_on), "The issue date is that of the earliest delivery."
    return NO_DATE, f"The issue date {NO_DATE} stands for an unknown one: the plan has no dates."


def _notes(plan: Plan) -> Iterable[str]:
    yield (
        "Prices are those of the buyer's price list, for one pack, without taxes. The tested detail, local code and"
        " a licensed practitioner decide what may be built."
    )
    if plan.project.project.deliver_to:
        yield f"Deliver to: {plan.project.project.deliver_to}"
    yield from forecast_in_words(plan)
    carried = [
        f"{line.code} for {line.level} ({line.quantity})" for line in plan.order.lines if line.packs == 0
    ]
    if carried:
        yield f"Not ordered here, because earlier packs of this order cover them: {', '.join(carried)}."


def _line(
    root: ElementTree.Element,
    number: int,
    line: OrderLine,
    product: Product | None,
    deliver_to: str,
    currency: str,
) -> None:
    unit = unit_code(line.pack_name)
    item = _aggregate(_aggregate(root, "OrderLine"), "LineItem")
    _basic(item, "ID", f"{number}")
    what_for = "breakage and loss" if line.status == "firm" else "tolerances"
    allowance = f" and {line.allowance} for {what_for}" if line.allowance else ""
    _basic(
        item,
        "Note",
        f"For level {line.level}: {line.needed} needed{allowance}; {line.per_pack} in a pack, what earlier packs"
        " left over is used first.",
    )
    if line.status == "forecast":
        when = f" It is measured by {line.measure_by}." if line.measure_by else ""
        _basic(item, "Note", f"Forecast: the level is not measured yet, and its quantity may change.{when}")
    if not line.price:
        _basic(item, "Note", "No price is known: to be confirmed by the supplier.")
    _basic(item, "Quantity", f"{line.packs}", unitCode=unit)
    _amount(item, "LineExtensionAmount", line.amount, currency)
    _basic(item, "PartialDeliveryIndicator", "false")
    delivery = _aggregate(item, "Delivery")
    _basic(delivery, "ID", line.level)
    if deliver_to:
        address = _aggregate(_aggregate(delivery, "DeliveryAddress"), "AddressLine")
        _basic(address, "Line", deliver_to)
    if line.deliver_on is not None:
        period = _aggregate(delivery, "RequestedDeliveryPeriod")
        _basic(period, "StartDate", line.deliver_on.isoformat())
        _basic(period, "EndDate", line.deliver_on.isoformat())
    if line.price:
        price = _aggregate(item, "Price")
        _amount(price, "PriceAmount", line.price, currency)
        _basic(price, "BaseQuantity", "1", unitCode=unit)
    goods = _aggregate(item, "Item")
    _basic(goods, "Description", item_in_words(line, product))
    _basic(goods, "PackSizeNumeric", f"{line.per_pack}")
    _basic(goods, "Name", line.code)
    _basic(_aggregate(goods, "SellersItemIdentification"), "ID", line.code)


def item_in_words(line: OrderLine, product: Product | None) -> str:
    """What a line orders: 'board 1200 x 1000 x 120 mm, 4 in a pallet'."""
    sizes: list[str] = []
    if product is not None:
        given = (length_column_mm(product), product.width_mm, product.thickness_mm)
        sizes = [f"{size}" for size in given if size is not None]
    size = f" {' x '.join(sizes)} mm" if sizes else ""
    if f"{line.per_pack}" in line.pack_name.split():
        pack = line.pack_name  # 'box of 50' says it already
    elif line.per_pack == 1:
        pack = f"by the {line.pack_name or 'piece'}"
    else:
        pack = f"{line.per_pack} in a {line.pack_name or 'pack'}"
    return f"{line.kind}{size}, {pack}"


def _party(parent: ElementTree.Element, name: str) -> None:
    """A party by its name; UBL forbids empty elements, so a missing one is said to be missing."""
    party = _aggregate(_aggregate(parent, "Party"), "PartyName")
    _basic(party, "Name", name or "not stated")


def _aggregate(parent: ElementTree.Element, name: str) -> ElementTree.Element:
    return ElementTree.SubElement(parent, f"{{{CAC}}}{name}")


def _basic(parent: ElementTree.Element, name: str, text: str, **attributes: str) -> None:
    child = ElementTree.SubElement(parent, f"{{{CBC}}}{name}", attributes)
    child.text = without_control_characters(text).strip() or "not stated"


def _amount(parent: ElementTree.Element, name: str, amount: Decimal, currency: str) -> None:
    _basic(parent, name, money_text(amount), currencyID=currency)
