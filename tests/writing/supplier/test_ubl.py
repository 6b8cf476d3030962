"""The order as XML: valid by the OASIS schemas, complete, and silent about what nobody knows."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree

from optimiser.model.money import money_text
from optimiser.model.plan import Plan
from optimiser.model.purchase_order import PurchaseOrder
from optimiser.model.ubl_names import CAC, CBC, unit_code
from optimiser.ordering.purchase_order import Issue, purchase_order
from optimiser.writing.supplier.ubl import NO_DATE, order_ubl
from tests.builders.order_document import read, schema
from tests.builders.plans_by_hand import small_plan, tower
from tests.builders.supplier_job import first_order, second_order, second_plan

NAMES = {"cac": CAC, "cbc": CBC}


def words(document: Any, path: str) -> list[str]:
    """The texts at a path."""
    return [found.text for found in document.xpath(path, namespaces=NAMES)]


def without_dates(plan: Plan) -> Plan:
    """The plan with no date on any line."""
    lines = tuple(line.model_copy(update={"deliver_on": None, "order_by": None}) for line in plan.order.lines)
    return plan.model_copy(update={"order": plan.order.model_copy(update={"lines": lines})})


def sent(plan: Plan, issued_on: date | None = None) -> PurchaseOrder:
    return purchase_order(plan, Issue(issued_on=issued_on))


@pytest.mark.parametrize(
    "order",
    [
        sent(small_plan()),
        sent(without_dates(small_plan())),
        sent(tower(3, 2, 5000)),
        first_order(),
        second_order(),
    ],
)
def test_an_order_is_valid_ubl(order: PurchaseOrder) -> None:
    document = read(order_ubl(order))
    count = len(order.lines) + len(order.cancelled)
    assert len(words(document, "cac:OrderLine/cac:LineItem/cbc:ID")) == count
    assert words(document, "cbc:LineCountNumeric") == [f"{count}"]


def test_the_schemas_do_refuse_what_is_no_order() -> None:
    for order in (first_order(), second_order()):
        document = etree.fromstring(order_ubl(order))
        document.remove(document.find(f"{{{CBC}}}IssueDate"))
        assert not schema(etree.QName(document).localname).validate(document)


def test_each_line_says_how_many_packs_when_and_for_how_much() -> None:
    order = first_order()
    items = read(order_ubl(order)).xpath("cac:OrderLine/cac:LineItem", namespaces=NAMES)
    placed = [(load, line) for load in order.truckloads for line in load.lines]
    for item, (load, line) in zip(items, placed, strict=True):
        quantity = item.find(f"{{{CBC}}}Quantity")
        assert (quantity.text, quantity.get("unitCode")) == (f"{line.packs}", unit_code(line.pack_name))
        assert words(item, "cac:Item/cac:SellersItemIdentification/cbc:ID") == [line.code]
        assert words(item, "cbc:LineExtensionAmount") == [money_text(line.amount)]
        assert words(item, "cac:Price/cbc:PriceAmount") == [money_text(line.price)]
        assert words(item, "cac:Delivery/cbc:ID") == [f"{load.number}"]
        assert words(item, "cac:Delivery/cac:RequestedDeliveryPeriod/*") == [
            f"{load.deliver_on}", "07:00:00", f"{load.deliver_on}", "11:00:00",
        ]  # fmt: skip
        assert words(item, "cac:Delivery/cac:DeliveryAddress/cac:AddressLine/cbc:Line") == [
            "Quarry Yard (invented)"
        ]
        weight = words(item, "cac:Delivery/cac:Shipment/cbc:NetWeightMeasure")
        assert weight == ([] if line.weight_kg is None else [format(line.weight_kg, "f")])
        listed = words(item, "cac:PricingReference/cac:AlternativeConditionPrice/cbc:PriceAmount")
        assert listed == ([] if line.list_price == line.price else [money_text(line.list_price)])
        assert words(item, "cac:Item/cac:AdditionalItemProperty/cbc:Value") == [line.status]
    assert read(order_ubl(order)).xpath("//*[@currencyID != 'AUD']") == []


def test_the_parties_the_terms_and_the_tax_are_the_projects() -> None:
    document = read(order_ubl(first_order()))
    assert words(document, "cbc:ID") == ["QY-3"]
    assert words(document, "cac:BuyerCustomerParty//cac:PartyName/cbc:Name") == ["Buyer (invented)"]
    assert words(document, "cac:SellerSupplierParty//cac:PostalAddress/cbc:CityName") == ["Oldbridge"]
    assert words(document, "cac:SellerSupplierParty//cac:PartyTaxScheme/cbc:CompanyID") == ["11 000 000 002"]
    assert words(document, "cac:QuotationDocumentReference/cbc:ID") == ["Q-2027-041"]
    assert words(document, "cac:PaymentTerms/cbc:Note") == ["30 days from the end of the month"]
    assert words(document, "cac:TaxTotal/cac:TaxSubtotal/cac:TaxCategory/cbc:Percent") == ["5.5", "10"]


class TestAChange:
    def test_it_is_an_order_change_with_its_own_id_day_and_number_that_refers_to_the_first_order(
        self,
    ) -> None:
        first, second = read(order_ubl(first_order())), read(order_ubl(second_order()))
        assert etree.QName(first).localname == "Order"
        assert etree.QName(second).localname == "OrderChange"
        assert words(second, "cbc:ID") == ["QY-3-R2"] != words(first, "cbc:ID")
        assert words(second, "cbc:IssueDate") == ["2027-01-25"] != words(first, "cbc:IssueDate")
        assert words(second, "cbc:SequenceNumberID") == ["2"]
        assert words(second, "cac:OrderReference/cbc:ID") == words(first, "cbc:ID")
        assert words(second, "cac:OrderReference/cbc:IssueDate") == words(first, "cbc:IssueDate")

    def test_a_third_revision_refers_to_the_first_order_and_to_the_change_that_it_replaces(self) -> None:
        order = purchase_order(second_plan(), Issue(3, date(2027, 2, 1), second_order()))
        third = read(order_ubl(order))
        assert words(third, "cbc:ID") == ["QY-3-R3"]
        assert words(third, "cac:OrderReference/cbc:ID") == ["QY-3"]
        assert words(third, "cac:AdditionalDocumentReference/cbc:ID") == ["QY-3-R2"]

    def test_each_line_says_what_becomes_of_it(self) -> None:
        document = read(order_ubl(second_order()))
        items = document.xpath("cac:OrderLine/cac:LineItem", namespaces=NAMES)
        status = {words(item, "cbc:ID")[0]: words(item, "cbc:LineStatusCode")[0] for item in items}
        said = {"added": "Added", "revised": "Revised", "cancelled": "Cancelled", "unchanged": "NoStatus"}
        order = second_order()
        assert status == {f"{line.number}": said[line.change] for line in (*order.lines, *order.cancelled)}
        for item in items:
            if words(item, "cbc:LineStatusCode") == ["Cancelled"]:
                assert words(item, "cbc:Quantity") == ["0"]
                assert words(item, "cbc:LineExtensionAmount") == ["0.00"]


def test_the_issue_date_is_given_or_the_first_date_to_order_by_or_said_to_be_unknown() -> None:
    given = read(order_ubl(sent(small_plan(), date(2027, 1, 5))))
    assert words(given, "cbc:IssueDate") == ["2027-01-05"]
    assert words(read(order_ubl(sent(small_plan()))), "cbc:IssueDate") == ["2027-02-01"]
    document = read(order_ubl(sent(without_dates(small_plan()))))
    assert words(document, "cbc:IssueDate") == [f"{NO_DATE}"]
    assert any("unknown" in note for note in words(document, "cbc:Note"))
    assert words(document, "//cac:RequestedDeliveryPeriod") == []


def test_an_order_of_nothing_is_refused_in_plain_words() -> None:
    plan = small_plan()
    lines = tuple(line.model_copy(update={"packs": 0, "amount": 0}) for line in plan.order.lines)
    nothing = plan.model_copy(update={"order": plan.order.model_copy(update={"lines": lines})})
    with pytest.raises(ValueError, match="nothing is ordered"):
        order_ubl(sent(nothing))
    cancelling = purchase_order(nothing, Issue(2, date(2027, 1, 6), sent(plan, date(2027, 1, 5))))
    items = read(order_ubl(cancelling)).xpath("cac:OrderLine/cac:LineItem", namespaces=NAMES)
    assert {words(item, "cbc:LineStatusCode")[0] for item in items} == {"Cancelled"}


@pytest.mark.parametrize(
    ("pack", "code"),
    [
        ("box", "XBX"),
        ("Boxes", "XBX"),
        ("pallet", "XPX"),
        ("rolls", "XRO"),
        ("piece", "H87"),
        ("box of 50", "XBX"),
        ("pallet layer of 4", "XPK"),
        ("crate", "XPK"),
        ("", "XPK"),
    ],
)
def test_packs_have_unece_codes(pack: str, code: str) -> None:
    assert unit_code(pack) == code


@settings(max_examples=30, deadline=None)
@given(st.text(max_size=40), st.text(max_size=40), st.text(max_size=40))
def test_any_words_make_valid_xml(name: str, reference: str, address: str) -> None:
    read(order_ubl(sent(small_plan(name=name, order_reference=reference, deliver_to=address))))


def test_a_forecast_line_says_that_it_may_change_and_by_when_it_is_confirmed() -> None:
    document = read(order_ubl(sent(small_plan())))
    for item in document.xpath("cac:OrderLine/cac:LineItem", namespaces=NAMES):
        note = " ".join(words(item, "cbc:Note"))
        forecast = words(item, "cac:Item/cac:AdditionalItemProperty/cbc:Value") == ["forecast"]
        assert ("Forecast: not firm yet" in note) == ("by 2027-02-22" in note) == forecast
        assert ("Packs by level: L02" in note) == forecast
