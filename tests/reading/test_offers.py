"""Offers of suppliers: quotation, catalogue and csv, their faults with place and mend, their prices in a project."""

from __future__ import annotations

from contextlib import suppress
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimiser.errors.problems import UnusableInput
from optimiser.model.offer import Offer, OfferedPrice
from optimiser.model.project import PriceBreak
from optimiser.ordering.offered_prices import with_prices
from optimiser.reading import project_from_json
from optimiser.reading.offers import offers_of
from tests.builders.supplier_documents import catalogue, quotation, without
from tests.builders.supplier_job import supplier_job

CSV = (
    "supplier,reference,currency,code,price,from_packs,per_pack,lead_days,valid_from,valid_until,minimum_order,freight\r\n"
    "Northern Wool,Q-9,AUD,B-120,205.00,,4,10,2027-02-01,2027-02-28,1500,60\r\n"
    "Northern Wool,,AUD,B-120,199.50,10,4,10,2027-02-01,2027-02-28,,\r\n"
    "Southern Wool,S-1,AUD,B-120,210.00,,,,,,,\r\n"
)


def test_a_csv_file_has_the_offers_of_several_suppliers() -> None:
    northern, southern = offers_of(CSV.encode(), "offers.csv")
    assert northern == Offer(
        supplier="Northern Wool",
        reference="Q-9",
        currency="AUD",
        minimum_order=Decimal(1500),
        freight=Decimal(60),
        prices=tuple(
            OfferedPrice(
                code="B-120", price=Decimal(price), from_packs=packs, per_pack=4, lead_days=10,
                valid_from=date(2027, 2, 1), valid_until=date(2027, 2, 28),
            )
            for price, packs in (("205.00", 1), ("199.50", 10))
        ),
    )  # fmt: skip
    assert (southern.supplier, southern.minimum_order, len(southern.prices)) == ("Southern Wool", None, 1)


def test_a_quotation_has_prices_breaks_packs_freight_and_its_period() -> None:
    (offer,) = offers_of(
        quotation(
            [
                {"code": "B-120", "price": "205.00", "per_pack": 4},
                {"code": "B-120", "price": "1995.00", "base": 10, "from_packs": 10},
            ],
            freight="60.00",
        ),
        "quotation.xml",
    )
    assert (offer.supplier, offer.reference, offer.currency) == ("Northern Wool (invented)", "Q-9", "AUD")
    assert offer.freight == Decimal("60.00")
    assert [(price.price, price.from_packs, price.per_pack) for price in offer.prices] == [
        (Decimal("205.00"), 1, 4),
        (Decimal("199.50"), 10, None),
    ]
    assert {(price.valid_from, price.valid_until) for price in offer.prices} == {
        (date(2027, 2, 1), date(2027, 2, 28))
    }
    assert offer.valid_on(date(2027, 2, 28)) == offer.prices
    assert offer.valid_on(date(2027, 3, 1)) == ()


def test_a_catalogue_has_lead_times_and_prices_by_date() -> None:
    (offer,) = offers_of(
        catalogue(
            [
                {
                    "code": "K-110",
                    "prices": [
                        {"price": "59.00", "lead": 5, "since": "2027-01-01", "until": "2027-02-28"},
                        {"price": "62.00", "lead": 5, "since": "2027-03-01", "until": "2027-12-31"},
                        {"price": "60.00", "from_packs": 4, "since": "2027-03-01", "until": "2027-12-31"},
                    ],
                }
            ]
        ),
        "catalogue.xml",
    )
    assert offer.currency == "AUD"
    assert [price.price for price in offer.valid_on(date(2027, 2, 1))] == [Decimal("59.00")]
    assert [(p.price, p.from_packs) for p in offer.valid_on(date(2027, 3, 1))] == [
        (Decimal("62.00"), 1),
        (Decimal("60.00"), 4),
    ]
    assert offer.prices[0].lead_days == 5


@pytest.mark.parametrize(
    ("content", "fault"),
    [
        (b"supplier,currency,code\r\nA,AUD,B-120\r\n", "price"),
        (b"supplier,currency,code,price\r\nA,AUD,B-120,12.345\r\n", "offers, row 2, price = 12.345: must be an amount"),
        (b"supplier,currency,code,price\r\nA,AUD,B-120,1\r\nA,AUD,B-120,2\r\n", "row 3, price = 2.00: B-120 has another"
         " price from 1 pack on for the same days; keep one of the two"),
        (b"supplier,currency,code,price,freight\r\nA,AUD,B-120,1,5\r\nA,AUD,B-90,1,6\r\n", "row 3, freight = 6"),
        (b"supplier,currency,code,price,valid_from,valid_until\r\nA,AUD,B-120,1,2027-03-01,2027-02-01\r\n",
         "valid_from (2027-03-01) is after valid_until (2027-02-01)"),
        (b"supplier,currency,code,price\r\n", "nothing is filled in"),
        (without(quotation([{"code": "B-120", "price": "1.00"}]), "cac:QuotationLine"),
         "Quotation: offers nothing; ask the supplier for prices"),
        (quotation([{"code": "B-120", "price": "10.00", "base": 3}]), "is no whole number of cents a pack"),
        (without(quotation([{"code": "B-120", "price": "10.00"}]), "cac:QuotationLine/cac:LineItem/cac:Price"),
         "Quotation/QuotationLine[1]/LineItem[1], PriceAmount: is missing"),
        (catalogue([{"code": "B-120", "prices": []}]), "CatalogueLine[1], RequiredItemLocationQuantity: has no price"),
        (catalogue([{"code": "B-120", "prices": [{"price": "1.00", "lead": "2.5"}]}]),
         "LeadTimeMeasure = 2.5: is no whole number of days or weeks; ask the supplier"),
        (quotation([{"code": "B-120", "price": "10.00", "per_pack": "2.5"}]),
         "PackSizeNumeric = 2.5: is no whole number in a pack; ask the supplier"),
        (b"<a/>", "holds <a>, not a UBL Quotation or Catalogue"),
    ],
)  # fmt: skip
def test_what_cannot_be_used_is_told_with_its_place_and_its_mend(content: bytes, fault: str) -> None:
    with pytest.raises(UnusableInput) as refused:
        offers_of(content, "offer")
    assert any(fault in line for line in refused.value.lines()), refused.value.lines()


class TestPricesInAProject:
    def test_prices_packs_lead_times_and_breaks_are_taken_over(self) -> None:
        project = supplier_job()
        northern, _ = offers_of(CSV.encode(), "offers.csv")
        found = with_prices(project, northern, date(2027, 2, 10))
        board = found.project.product("B-120")
        assert (board.price, board.lead_days, board.supplier) == (Decimal(205), 10, "Northern Wool")
        breaks = [row for row in found.project.price_breaks if row.code == "B-120"]
        assert breaks == [PriceBreak(code="B-120", from_packs=10, price=Decimal("199.50"))]
        assert [row for row in found.project.price_breaks if row.code != "B-120"] == [
            row for row in project.price_breaks if row.code != "B-120"
        ]
        assert found.project.product("B-90") == project.product("B-90")
        assert found.changed == (
            "B-120: price 212.00 to 205.00; lead_days 15 to 10; supplier nothing to Northern Wool; price breaks"
            " 199.50 from 10 packs",
        )
        again = project_from_json(found.project.model_dump(mode="json", by_alias=True))
        assert again == found.project

    def test_what_does_not_hold_on_the_day_or_is_unknown_is_left_aside(self) -> None:
        project = supplier_job()
        northern, _ = offers_of(CSV.encode(), "offers.csv")
        late = with_prices(project, northern, date(2027, 3, 1))
        assert late.project == project
        assert late.left_aside == ("B-120: no price holds on 2027-03-01",)
        strange = northern.model_copy(update={"prices": (OfferedPrice(code="Z-1", price=Decimal(1)),)})
        assert with_prices(project, strange, date(2027, 2, 1)).left_aside == (
            "Z-1: no product of the project",
        )

    def test_more_packs_at_a_dearer_price_are_left_aside(self) -> None:
        offer = Offer(
            supplier="X",
            currency="AUD",
            prices=(
                OfferedPrice(code="B-120", price=Decimal(200)),
                OfferedPrice(code="B-120", price=Decimal(201), from_packs=5),
            ),
        )
        found = with_prices(supplier_job(), offer, date(2027, 2, 1))
        assert not [row for row in found.project.price_breaks if row.code == "B-120"]
        assert found.left_aside == ("B-120: from 5 packs on dearer than fewer",)

    def test_another_currency_is_refused(self) -> None:
        offer = Offer(supplier="X", currency="EUR", prices=())
        with pytest.raises(ValueError, match="X offers in EUR, the project is in AUD"):
            with_prices(supplier_job(), offer, date(2027, 2, 1))


@settings(max_examples=150, deadline=None)
@given(
    st.sampled_from((quotation([{"code": "B-120", "price": "205.00", "base": 1}]), CSV.encode())),
    st.integers(0, 10**6),
    st.binary(max_size=6),
    st.integers(0, 8),
)
def test_a_damaged_offer_is_read_or_refused_and_never_more(
    content: bytes, at: int, more: bytes, less: int
) -> None:
    at %= len(content)
    with suppress(UnusableInput):
        offers_of(content[:at] + more + content[at + less :], "offer")
