"""The order as XML: valid by the OASIS schemas, complete, and silent about what nobody knows."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree

from optimiser.model.money import money_text, total_of
from optimiser.model.plan import Plan
from optimiser.writing.supplier.ubl import CAC, CBC, NO_DATE, order_ubl, unit_code
from tests.builders.order_document import read, schema
from tests.builders.plans_by_hand import small_plan, tower

NAMES = {"cac": CAC, "cbc": CBC}


def words(document: Any, path: str) -> list[str]:
    """The texts at a path."""
    return [found.text for found in document.xpath(path, namespaces=NAMES)]


def without_dates(plan: Plan) -> Plan:
    """The plan with no date on any line."""
    lines = tuple(line.model_copy(update={"deliver_on": None, "order_by": None}) for line in plan.order.lines)
    return plan.model_copy(update={"order": plan.order.model_copy(update={"lines": lines})})


@pytest.mark.parametrize("plan", [small_plan(), without_dates(small_plan()), tower(3, 2, 5000)])
def test_an_order_is_valid_ubl(plan: Plan) -> None:
    document = read(order_ubl(plan))
    ordered = [line for line in plan.order.lines if line.packs]
    assert len(words(document, "cac:OrderLine/cac:LineItem/cbc:ID")) == len(ordered)
    assert words(document, "cbc:LineCountNumeric") == [f"{len(ordered)}"]


def test_the_schema_does_refuse_what_is_no_order() -> None:
    document = etree.fromstring(order_ubl(small_plan()))
    document.remove(document.find(f"{{{CBC}}}IssueDate"))
    assert not schema().validate(document)


def test_each_line_says_how_many_packs_when_and_for_how_much() -> None:
    plan = small_plan()
    document = read(order_ubl(plan))
    lines = document.xpath("cac:OrderLine/cac:LineItem", namespaces=NAMES)
    for item, line in zip(lines, [line for line in plan.order.lines if line.packs], strict=True):
        quantity = item.find(f"{{{CBC}}}Quantity")
        assert (quantity.text, quantity.get("unitCode")) == (f"{line.packs}", unit_code(line.pack_name))
        assert words(item, "cac:Item/cac:SellersItemIdentification/cbc:ID") == [line.code]
        assert words(item, "cbc:LineExtensionAmount") == [money_text(line.amount)]
        assert words(item, "cac:Price/cbc:PriceAmount") == [money_text(line.price)]
        assert item.xpath("string(cac:Price/cbc:BaseQuantity/@unitCode)", namespaces=NAMES) == unit_code(
            line.pack_name
        )
        assert words(item, "cac:Delivery/cac:RequestedDeliveryPeriod/*") == [f"{line.deliver_on}"] * 2
        assert words(item, "cac:Delivery/cac:DeliveryAddress/cac:AddressLine/cbc:Line") == [
            "Gate 3, Harbour Lane 9, Newport; crane hours 07:00-11:00"
        ]
        assert words(item, "cbc:PartialDeliveryIndicator") == ["false"]


def test_the_lines_add_up_to_the_total() -> None:
    document = read(order_ubl(tower(4, 3, 6000)))
    amounts = [
        Decimal(text) for text in words(document, "cac:OrderLine/cac:LineItem/cbc:LineExtensionAmount")
    ]
    (total,) = words(document, "cac:AnticipatedMonetaryTotal/cbc:PayableAmount")
    assert money_text(total_of(amounts)) == total
    assert document.xpath("//*[@currencyID != 'AUD']") == []


def test_a_line_that_earlier_packs_cover_is_noted_and_not_ordered() -> None:
    notes = " ".join(words(read(order_ubl(small_plan())), "cbc:Note"))
    assert "K-110 for L02 (8)" in notes
    assert "A-8 for L02 (8)" in notes


def test_the_parties_and_the_reference_are_the_projects() -> None:
    document = read(order_ubl(small_plan()))
    assert words(document, "cbc:ID") == ["HL9-0042"]
    assert words(document, "cac:BuyerCustomerParty//cbc:Name") == ["Northwall Facades"]
    assert words(document, "cac:SellerSupplierParty//cbc:Name") == ["Ostrava Wool & Board"]


def test_the_issue_date_is_given_or_the_first_date_to_order_by_or_said_to_be_unknown() -> None:
    assert words(read(order_ubl(small_plan(), issued_on=date(2027, 1, 5))), "cbc:IssueDate") == ["2027-01-05"]
    assert words(read(order_ubl(small_plan())), "cbc:IssueDate") == ["2027-02-01"]
    document = read(order_ubl(without_dates(small_plan())))
    assert words(document, "cbc:IssueDate") == [f"{NO_DATE}"]
    assert any("unknown" in note for note in words(document, "cbc:Note"))
    assert words(document, "//cac:RequestedDeliveryPeriod") == []


def test_an_order_of_nothing_is_refused_in_plain_words() -> None:
    plan = small_plan()
    lines = tuple(line.model_copy(update={"packs": 0, "amount": 0}) for line in plan.order.lines)
    with pytest.raises(ValueError, match="nothing is ordered"):
        order_ubl(plan.model_copy(update={"order": plan.order.model_copy(update={"lines": lines})}))


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
    read(order_ubl(small_plan(name=name, order_reference=reference, deliver_to=address)))


def test_a_forecast_line_says_that_it_may_change_and_by_when_it_is_measured() -> None:
    document = read(order_ubl(small_plan()))
    lines = document.xpath("cac:OrderLine/cac:LineItem", namespaces=NAMES)
    notes = [" ".join(line.xpath("cbc:Note/text()", namespaces=NAMES)) for line in lines]
    levels = [line.xpath("string(cac:Delivery/cbc:ID)", namespaces=NAMES) for line in lines]
    for level, note in zip(levels, notes, strict=True):
        assert ("Forecast: the level is not measured yet" in note) == (level == "L02")
        assert ("It is measured by 2027-02-22." in note) == (level == "L02")
        assert ("for tolerances" in note) == (level == "L02")
