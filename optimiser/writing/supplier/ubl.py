"""`order.ubl.xml`: the order for the supplier's computer, an OASIS UBL 2.1 Order; an OrderChange where it replaces one.

Universal Business Language 2.1, OASIS Standard, 4 November 2013. A line an item and truckload, at the price that is
paid, with what it is in list. An OrderChange has its own id and day of issue, its number in the sequence, and refers to
the first order; every line says what becomes of it (LineStatusCode; its words are from memory of the standard's code
list). Nothing is stated that the project does not know.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from xml.etree import ElementTree

from optimiser.model.money import money_text
from optimiser.model.parties import Party
from optimiser.model.purchase_order import OrderedLine, PurchaseOrder, Replaced, Truckload
from optimiser.model.ubl_names import CAC, CBC, document_namespace, unit_code
from optimiser.writing.drawing.shapes import without_control_characters
from optimiser.writing.supplier.words import change_in_words, forecast_of, price_in_words, revised_in_words

NO_DATE = date(1970, 1, 1)
"""Stands as the issue date, with a note, where neither the caller nor the plan knows a date: UBL demands one."""

_LINE_STATUS = {"added": "Added", "revised": "Revised", "cancelled": "Cancelled", "unchanged": "NoStatus"}


def orders_anything(order: PurchaseOrder) -> bool:
    """Whether any line orders a pack, or a revision cancels one."""
    return bool(order.lines or order.cancelled)


def order_ubl(order: PurchaseOrder) -> bytes:
    """The order as a UBL 2.1 document in UTF-8: an Order, or an OrderChange where it replaces one.

    Without a day of issue the earliest date by which something must be ordered stands, else the earliest delivery,
    else 1970-01-01, and a note says so. Raises ValueError when there is no line, because UBL has no order without one.
    """
    if not orders_anything(order):
        raise ValueError(
            "nothing is ordered: every line is covered by earlier packs or stock, so there is no UBL order"
        )
    kind = "Order" if order.replaces is None else "OrderChange"
    space = document_namespace(kind)
    for prefix, name in (("", space), ("cac", CAC), ("cbc", CBC)):
        ElementTree.register_namespace(prefix, name)
    issue, issue_note = _issue_date(order)
    root = ElementTree.Element(f"{{{space}}}{kind}")
    _basic(root, "UBLVersionID", "2.1")
    _basic(root, "ID", order.document)
    _basic(root, "IssueDate", issue.isoformat())
    if order.replaces is not None:
        _basic(root, "SequenceNumberID", f"{order.revision}")
    for note in (*_notes(order), *([issue_note] if issue_note else [])):
        _basic(root, "Note", note)
    _basic(root, "DocumentCurrencyCode", order.currency)
    _basic(root, "LineCountNumeric", f"{len(order.lines) + len(order.cancelled)}")
    _references(root, order)
    _party(_aggregate(root, "BuyerCustomerParty"), order.buyer, order.tax_name)
    _party(_aggregate(root, "SellerSupplierParty"), order.supplier, order.tax_name)
    if order.payment_terms:
        _basic(_aggregate(root, "PaymentTerms"), "Note", order.payment_terms)
    _taxes(root, order)
    _total(root, order)
    for load in order.truckloads:
        for line in load.lines:
            _line(root, order, load, line)
    for line in order.cancelled:
        _line(root, order, None, line)
    ElementTree.indent(root)
    return bytes(ElementTree.tostring(root, encoding="UTF-8", xml_declaration=True))


def _issue_date(order: PurchaseOrder) -> tuple[date, str]:
    if order.issued_on is not None:
        return order.issued_on, ""
    if order.order_by is not None:
        return order.order_by, "The issue date is the earliest date by which something must be ordered."
    days = [load.deliver_on for load in order.truckloads if load.deliver_on is not None]
    if days:
        return min(days), "The issue date is that of the earliest delivery."
    return NO_DATE, f"The issue date {NO_DATE} stands for an unknown one: the plan has no dates."


def _notes(order: PurchaseOrder) -> Iterable[str]:
    yield (
        "Prices are for one pack, before tax. The tested detail, local code and a licensed practitioner decide what may"
        " be built."
    )
    if any(line.status == "forecast" for line in order.lines):
        yield forecast_of(order)
    if order.unloading:
        yield f"Unloading: {order.unloading}"
    if order.replaces is not None:
        yield change_in_words(order)


def _references(root: ElementTree.Element, order: PurchaseOrder) -> None:
    """The documents that this one rests on, in the order that each kind of document has them in."""
    if order.original is not None:
        reference = _aggregate(root, "OrderReference")
        _basic(reference, "ID", order.original.document)
        _issued(reference, order.original)
    if order.supplier_reference:
        _basic(_aggregate(root, "QuotationDocumentReference"), "ID", order.supplier_reference)
    if order.replaces is not None and order.replaces != order.original:
        replaced = _aggregate(root, "AdditionalDocumentReference")
        _basic(replaced, "ID", order.replaces.document)
        _issued(replaced, order.replaces)
        _basic(replaced, "DocumentType", "order change that this one replaces")
    if order.contract_reference:
        _basic(_aggregate(root, "Contract"), "ID", order.contract_reference)
    if order.project and order.replaces is None:  # an OrderChange has no ProjectReference
        _basic(_aggregate(root, "ProjectReference"), "ID", order.project)


def _issued(reference: ElementTree.Element, document: Replaced) -> None:
    if document.issued_on is not None:
        _basic(reference, "IssueDate", document.issued_on.isoformat())


def _taxes(root: ElementTree.Element, order: PurchaseOrder) -> None:
    if not order.taxed:
        return
    total = _aggregate(root, "TaxTotal")
    _amount(total, "TaxAmount", order.tax, order.currency)
    for tax in order.taxes:
        part = _aggregate(total, "TaxSubtotal")
        _amount(part, "TaxableAmount", tax.taxable, order.currency)
        _amount(part, "TaxAmount", tax.tax, order.currency)
        _tax_category(_aggregate(part, "TaxCategory"), tax.rate, order.tax_name)


def _tax_category(category: ElementTree.Element, rate: Decimal, tax_name: str) -> None:
    _basic(category, "Percent", format((rate * 100).normalize(), "f"))
    _tax_scheme(category, tax_name)


def _tax_scheme(parent: ElementTree.Element, tax_name: str) -> None:
    _basic(_aggregate(parent, "TaxScheme"), "Name", tax_name or "tax")


def _total(root: ElementTree.Element, order: PurchaseOrder) -> None:
    total = _aggregate(root, "AnticipatedMonetaryTotal")
    _amount(total, "LineExtensionAmount", order.subtotal, order.currency)
    if order.taxed:
        _amount(total, "TaxExclusiveAmount", order.subtotal, order.currency)
        _amount(total, "TaxInclusiveAmount", order.total, order.currency)
    _amount(total, "PayableAmount", order.total, order.currency)


def _line(root: ElementTree.Element, order: PurchaseOrder, load: Truckload | None, line: OrderedLine) -> None:
    unit = unit_code(line.pack_name)
    item = _aggregate(_aggregate(root, "OrderLine"), "LineItem")
    _basic(item, "ID", f"{line.number}")
    for note in _notes_of_line(line, load, order.currency):
        _basic(item, "Note", note)
    if line.change:
        _basic(item, "LineStatusCode", _LINE_STATUS[line.change])
    _basic(item, "Quantity", f"{line.packs}", unitCode=unit)
    _amount(item, "LineExtensionAmount", line.amount, order.currency)
    _basic(item, "PartialDeliveryIndicator", "false")
    if load is not None:
        _delivery(_aggregate(item, "Delivery"), order, load, line)
    if line.list_price != line.price:
        listed = _aggregate(_aggregate(item, "PricingReference"), "AlternativeConditionPrice")
        _amount(listed, "PriceAmount", line.list_price, order.currency)
        _basic(listed, "BaseQuantity", "1", unitCode=unit)
        _basic(listed, "PriceType", "list price before price breaks")
    if line.price:
        price = _aggregate(item, "Price")
        _amount(price, "PriceAmount", line.price, order.currency)
        _basic(price, "BaseQuantity", "1", unitCode=unit)
    goods = _aggregate(item, "Item")
    _basic(goods, "Description", line.description)
    _basic(goods, "PackSizeNumeric", f"{line.per_pack}")
    _basic(goods, "Name", line.code)
    _basic(_aggregate(goods, "SellersItemIdentification"), "ID", line.code)
    if line.tax_rate is not None:
        _tax_category(_aggregate(goods, "ClassifiedTaxCategory"), line.tax_rate, order.tax_name)
    status = _aggregate(goods, "AdditionalItemProperty")
    _basic(status, "Name", "status")
    _basic(status, "Value", line.status)


def _notes_of_line(line: OrderedLine, load: Truckload | None, currency: str) -> Iterable[str]:
    if line.packs_for:
        yield "Packs by level: " + ", ".join(f"{level} {packs}" for level, packs in line.packs_for.items())
    if line.status == "forecast":
        when = f" Its quantity is confirmed by {line.confirm_by}." if line.confirm_by else ""
        yield f"Forecast: not firm yet, and its quantity may change.{when}"
    if words := price_in_words(line, currency):
        yield words
    if load is not None and (words := revised_in_words(line, load.deliver_on, currency)):
        yield words
    if not line.price:
        yield "No price is known: to be confirmed by the supplier."


def _delivery(
    delivery: ElementTree.Element, order: PurchaseOrder, load: Truckload, line: OrderedLine
) -> None:
    _basic(delivery, "ID", f"{load.number}")
    to = order.deliver_to
    if to.lines:
        _address(_aggregate(delivery, "DeliveryAddress"), to, to.name)
    if load.deliver_on is not None:
        period = _aggregate(delivery, "RequestedDeliveryPeriod")
        _basic(period, "StartDate", load.deliver_on.isoformat())
        if order.delivery_from:
            _basic(period, "StartTime", f"{order.delivery_from:%H:%M:%S}")
        _basic(period, "EndDate", load.deliver_on.isoformat())
        if order.delivery_until:
            _basic(period, "EndTime", f"{order.delivery_until:%H:%M:%S}")
    if to.contact or to.telephone or to.email:
        party = _aggregate(delivery, "DeliveryParty")
        _basic(_aggregate(party, "PartyName"), "Name", to.name or "not stated")
        _contact(party, to)
    shipment = _aggregate(delivery, "Shipment")
    _basic(shipment, "ID", f"truckload {load.number}")
    if order.unloading:
        _basic(shipment, "HandlingInstructions", order.unloading)
    if line.weight_kg is not None:
        _basic(shipment, "NetWeightMeasure", format(line.weight_kg, "f"), unitCode="KGM")


def _party(parent: ElementTree.Element, party: Party, tax_name: str) -> None:
    """A party; UBL forbids empty elements, so a missing name is said to be missing."""
    found = _aggregate(parent, "Party")
    _basic(_aggregate(found, "PartyName"), "Name", party.name or "not stated")
    if party.address or party.place:
        _address(_aggregate(found, "PostalAddress"), party, "")
    if party.tax_number:
        scheme = _aggregate(found, "PartyTaxScheme")
        _basic(scheme, "CompanyID", party.tax_number)
        _tax_scheme(scheme, tax_name)
    _contact(found, party)


def _contact(parent: ElementTree.Element, party: Party) -> None:
    given = (("Name", party.contact), ("Telephone", party.telephone), ("ElectronicMail", party.email))
    if any(value for _, value in given):
        contact = _aggregate(parent, "Contact")
        for name, value in given:
            if value:
                _basic(contact, name, value)


def _address(address: ElementTree.Element, party: Party, first_line: str) -> None:
    for name, value in (
        ("StreetName", party.address), ("CityName", party.city), ("PostalZone", party.postcode),
    ):  # fmt: skip
        if value:
            _basic(address, name, value)
    if first_line:
        _basic(_aggregate(address, "AddressLine"), "Line", first_line)
    if party.country:
        _basic(_aggregate(address, "Country"), "IdentificationCode", party.country)


def _aggregate(parent: ElementTree.Element, name: str) -> ElementTree.Element:
    return ElementTree.SubElement(parent, f"{{{CAC}}}{name}")


def _basic(parent: ElementTree.Element, name: str, text: str, **attributes: str) -> None:
    child = ElementTree.SubElement(parent, f"{{{CBC}}}{name}", attributes)
    child.text = without_control_characters(text).strip() or "not stated"


def _amount(parent: ElementTree.Element, name: str, amount: Decimal, currency: str) -> None:
    _basic(parent, name, money_text(amount), currencyID=currency)
