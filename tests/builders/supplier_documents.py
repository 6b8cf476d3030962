"""What a supplier sends, in UBL 2.1, judged by the schemas of OASIS before it is given to a test. All invented."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from lxml import etree

from optimiser.model.ubl_names import CAC, CBC, document_namespace
from tests.builders.order_document import read

PARTY = "<cac:Party><cac:PartyName><cbc:Name>{}</cbc:Name></cac:PartyName></cac:Party>"


def _document(kind: str, body: str) -> bytes:
    content = (
        f'<{kind} xmlns="{document_namespace(kind)}" xmlns:cac="{CAC}" xmlns:cbc="{CBC}">{body}</{kind}>'
    ).encode()
    read(content)
    return content


def order_response(
    lines: Iterable[Mapping[str, Any]] = (),
    *,
    code: str = "AP",
    to: str = "QY-3",
    document: str = "OR-11",
    note: str = "",
) -> bytes:
    """A response; a line has `line`, `quantity`, and where they are said `unit`, `day`, `price`, `status`."""
    body = [
        f"<cbc:ID>{document}</cbc:ID><cbc:IssueDate>2027-01-13</cbc:IssueDate><cbc:IssueTime>09:30:00</cbc:IssueTime>",
        f"<cbc:OrderResponseCode>{code}</cbc:OrderResponseCode>",
        f"<cbc:Note>{note}</cbc:Note>" if note else "",
        f"<cac:OrderReference><cbc:ID>{to}</cbc:ID></cac:OrderReference>",
        f"<cac:SellerSupplierParty>{PARTY.format('Supplier (invented)')}</cac:SellerSupplierParty>",
        f"<cac:BuyerCustomerParty>{PARTY.format('Buyer (invented)')}</cac:BuyerCustomerParty>",
    ]
    for number, line in enumerate(lines, start=1):
        unit = f' unitCode="{line["unit"]}"' if "unit" in line else ""
        status = f"<cbc:LineStatusCode>{line['status']}</cbc:LineStatusCode>" if "status" in line else ""
        promised = (
            f"<cac:Delivery><cac:PromisedDeliveryPeriod><cbc:StartDate>{line['day']}</cbc:StartDate>"
            "</cac:PromisedDeliveryPeriod></cac:Delivery>"
            if "day" in line
            else ""
        )
        price = (
            f'<cac:Price><cbc:PriceAmount currencyID="AUD">{line["price"]}</cbc:PriceAmount></cac:Price>'
            if "price" in line
            else ""
        )
        quantity = f"<cbc:Quantity{unit}>{line['quantity']}</cbc:Quantity>" if "quantity" in line else ""
        body.append(
            f"<cac:OrderLine><cac:LineItem><cbc:ID>{number}</cbc:ID>{status}{quantity}{promised}{price}"
            f"<cac:Item/></cac:LineItem>"
            f"<cac:OrderLineReference><cbc:LineID>{line['line']}</cbc:LineID></cac:OrderLineReference></cac:OrderLine>"
        )
    return _document("OrderResponse", "".join(body))


def despatch_advice(
    lines: Iterable[Mapping[str, Any]], *, document: str = "DA-5", arrives: str | None = "2027-03-01"
) -> bytes:
    """A despatch advice; a line has `line`, `quantity`, and where they are said `unit`, `code`, `outstanding` and the
    `order` that it is of."""
    delivery = (
        "<cac:Shipment><cbc:ID>1</cbc:ID><cac:Delivery><cac:EstimatedDeliveryPeriod>"
        f"<cbc:EndDate>{arrives}</cbc:EndDate></cac:EstimatedDeliveryPeriod></cac:Delivery></cac:Shipment>"
        if arrives
        else ""
    )
    body = [
        f"<cbc:ID>{document}</cbc:ID><cbc:IssueDate>2027-02-26</cbc:IssueDate>",
        "<cac:OrderReference><cbc:ID>QY-3</cbc:ID></cac:OrderReference>",
        f"<cac:DespatchSupplierParty>{PARTY.format('Supplier (invented)')}</cac:DespatchSupplierParty>",
        f"<cac:DeliveryCustomerParty>{PARTY.format('Buyer (invented)')}</cac:DeliveryCustomerParty>",
        delivery,
    ]
    for number, line in enumerate(lines, start=1):
        unit = f' unitCode="{line["unit"]}"' if "unit" in line else ""
        code = (
            f"<cac:SellersItemIdentification><cbc:ID>{line['code']}</cbc:ID></cac:SellersItemIdentification>"
            if "code" in line
            else ""
        )
        of = (
            f"<cac:OrderReference><cbc:ID>{line['order']}</cbc:ID></cac:OrderReference>"
            if "order" in line
            else ""
        )
        outstanding = (
            f'<cbc:OutstandingQuantity unitCode="XPX">{line["outstanding"]}</cbc:OutstandingQuantity>'
            "<cbc:OutstandingReason>next week</cbc:OutstandingReason>"
            if "outstanding" in line
            else ""
        )
        body.append(
            f"<cac:DespatchLine><cbc:ID>{number}</cbc:ID>"
            f"<cbc:DeliveredQuantity{unit}>{line['quantity']}</cbc:DeliveredQuantity>{outstanding}"
            f"<cac:OrderLineReference><cbc:LineID>{line['line']}</cbc:LineID>{of}</cac:OrderLineReference>"
            f"<cac:Item>{code}</cac:Item></cac:DespatchLine>"
        )
    return _document("DespatchAdvice", "".join(body))


def quotation(prices: Iterable[Mapping[str, Any]], *, currency: str = "AUD", freight: str = "") -> bytes:
    """A quotation that holds in February 2027; a price has `code` and `price`, and where they are said `base`,
    `from_packs`, `per_pack`."""
    charge = (
        "<cac:AllowanceCharge><cbc:ChargeIndicator>true</cbc:ChargeIndicator>"
        f'<cbc:Amount currencyID="{currency}">{freight}</cbc:Amount></cac:AllowanceCharge>'
        if freight
        else ""
    )
    body = [
        "<cbc:ID>Q-9</cbc:ID><cbc:IssueDate>2027-01-20</cbc:IssueDate>",
        f"<cbc:PricingCurrencyCode>{currency}</cbc:PricingCurrencyCode>",
        "<cac:ValidityPeriod><cbc:StartDate>2027-02-01</cbc:StartDate>"
        "<cbc:EndDate>2027-02-28</cbc:EndDate></cac:ValidityPeriod>",
        f"<cac:SellerSupplierParty>{PARTY.format('Northern Wool (invented)')}</cac:SellerSupplierParty>",
        charge,
        f'<cac:QuotedMonetaryTotal><cbc:PayableAmount currencyID="{currency}">0</cbc:PayableAmount>'
        "</cac:QuotedMonetaryTotal>",
    ]
    for number, price in enumerate(prices, start=1):
        least = (
            f'<cbc:MinimumQuantity unitCode="XPX">{price["from_packs"]}</cbc:MinimumQuantity>'
            if "from_packs" in price
            else ""
        )
        base = f"<cbc:BaseQuantity>{price['base']}</cbc:BaseQuantity>" if "base" in price else ""
        size = (
            f"<cbc:PackSizeNumeric>{price['per_pack']}</cbc:PackSizeNumeric>" if "per_pack" in price else ""
        )
        body.append(
            f"<cac:QuotationLine><cbc:ID>{number}</cbc:ID><cac:LineItem><cbc:ID>{number}</cbc:ID>{least}"
            f'<cac:Price><cbc:PriceAmount currencyID="{currency}">{price["price"]}</cbc:PriceAmount>{base}</cac:Price>'
            f"<cac:Item>{size}<cac:SellersItemIdentification><cbc:ID>{price['code']}</cbc:ID>"
            "</cac:SellersItemIdentification></cac:Item></cac:LineItem></cac:QuotationLine>"
        )
    return _document("Quotation", "".join(body))


def catalogue(lines: Iterable[Mapping[str, Any]]) -> bytes:
    """A catalogue; a line has `code` and `prices`, each with `price`, and where they are said `from_packs`, `lead`,
    `since`, `until`."""
    body = [
        "<cbc:ID>C-2027</cbc:ID><cbc:IssueDate>2027-01-02</cbc:IssueDate>",
        "<cac:ProviderParty><cac:PartyName><cbc:Name>Northern Wool (invented)</cbc:Name></cac:PartyName>"
        "</cac:ProviderParty><cac:ReceiverParty><cac:PartyName><cbc:Name>Buyer (invented)</cbc:Name></cac:PartyName>"
        "</cac:ReceiverParty>",
    ]
    for number, line in enumerate(lines, start=1):
        places = []
        for price in line["prices"]:
            lead = (
                f'<cbc:LeadTimeMeasure unitCode="DAY">{price["lead"]}</cbc:LeadTimeMeasure>'
                if "lead" in price
                else ""
            )
            least = (
                f"<cbc:MinimumQuantity>{price['from_packs']}</cbc:MinimumQuantity>"
                if "from_packs" in price
                else ""
            )
            period = (
                f"<cac:ValidityPeriod><cbc:StartDate>{price['since']}</cbc:StartDate>"
                f"<cbc:EndDate>{price['until']}</cbc:EndDate></cac:ValidityPeriod>"
                if "since" in price
                else ""
            )
            places.append(
                f"<cac:RequiredItemLocationQuantity>{lead}{least}"
                f'<cac:Price><cbc:PriceAmount currencyID="AUD">{price["price"]}</cbc:PriceAmount>{period}</cac:Price>'
                "</cac:RequiredItemLocationQuantity>"
            )
        body.append(
            f"<cac:CatalogueLine><cbc:ID>{number}</cbc:ID>{''.join(places)}"
            f"<cac:Item><cac:SellersItemIdentification><cbc:ID>{line['code']}</cbc:ID>"
            "</cac:SellersItemIdentification></cac:Item></cac:CatalogueLine>"
        )
    return _document("Catalogue", "".join(body))


def without(content: bytes, path: str) -> bytes:
    """The document without the first element at a path."""
    document = etree.fromstring(content)
    found = document.find(path, {"cac": CAC, "cbc": CBC})
    assert found is not None
    parent = found.getparent()
    assert parent is not None
    parent.remove(found)
    return bytes(etree.tostring(document))
