"""Several suppliers for one need: the cheapest split, against trying everything, and what each price needs to win."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimiser.model.money import cents_of
from optimiser.model.offer import Offer, OfferedPrice
from optimiser.ordering.supplier_comparison import compare_suppliers
from optimiser.ordering.supplier_offers import (
    Needs,
    Steps,
    Supplier,
    needs_of,
    own_offer,
    share,
    suppliers_of,
)
from optimiser.ordering.supplier_split import Purchase, Split, cheapest_split, freight_of
from tests.builders.forecast import forecast_plan
from tests.builders.supplier_job import supplier_job, supplier_plan

ON = date(2027, 1, 11)


# -- trying everything


def every_split(needs: Needs, suppliers: Sequence[Supplier]) -> Iterator[tuple[Purchase, ...]]:
    """Every way to bring what is needed that keeps the rules, as they are said and not as they are solved."""
    places = [
        (supplier, code, place)
        for code in needs.by_then
        for supplier in suppliers
        if code in supplier.steps
        for place in range(len(needs.days))
        if supplier.steps[code].in_time[place]
    ]
    most = [
        (needs.room_by_then[code][-1] + 9) // supplier.steps[code].per_pack for supplier, code, _ in places
    ]
    for packs in product(*(range(number + 1) for number in most)):
        bought = []
        for (supplier, code, place), number in zip(places, packs, strict=True):
            cents = supplier.steps[code].cents(number)
            if cents is None:
                break
            if number:
                bought.append(Purchase(supplier.name, code, place, number, cents // number))
        else:
            if _enough(needs, suppliers, bought) and _least_orders_kept(suppliers, bought):
                yield tuple(bought)


def _enough(needs: Needs, suppliers: Sequence[Supplier], bought: Sequence[Purchase]) -> bool:
    by_name = {supplier.name: supplier for supplier in suppliers}
    for code, by_then in needs.by_then.items():
        sizes = [supplier.steps[code].per_pack for supplier in suppliers if code in supplier.steps]
        if not sizes:
            return False
        for place, wanted in enumerate(by_then):
            there = sum(
                one.packs * by_name[one.supplier].steps[code].per_pack
                for one in bought
                if one.code == code and one.delivery <= place
            )
            if not wanted <= there < needs.room_by_then[code][place] + max(sizes):
                return False
    return True


def _least_orders_kept(suppliers: Sequence[Supplier], bought: Sequence[Purchase]) -> bool:
    for supplier in suppliers:
        own = [one.cents for one in bought if one.supplier == supplier.name]
        if own and sum(own) < supplier.minimum_cents:
            return False
    return True


def cents_of_all(suppliers: Sequence[Supplier], bought: Sequence[Purchase]) -> int:
    return sum(one.cents for one in bought) + sum(freight_of(supplier, bought) for supplier in suppliers)


def brute(needs: Needs, suppliers: Sequence[Supplier]) -> int | None:
    return min((cents_of_all(suppliers, one) for one in every_split(needs, suppliers)), default=None)


@st.composite
def tiny_cases(draw: st.DrawFn) -> tuple[Needs, tuple[Supplier, ...]]:
    """One or two products, one or two deliveries, one or two suppliers with small packs."""
    codes = ("A", "B")[: draw(st.integers(1, 2))]
    days = tuple(date(2027, 3, day) for day in range(1, 1 + draw(st.integers(1, 2))))
    by_then, room = {}, {}
    for code in codes:
        steps = [draw(st.integers(0, 3)) for _ in days]
        steps[0] += 1
        by_then[code] = tuple(sum(steps[: place + 1]) for place in range(len(days)))
        more = draw(st.integers(0, 1))
        room[code] = tuple(min(by_then[code][-1], number + more) for number in by_then[code])
    suppliers = []
    for name in ("S", "T")[: draw(st.integers(1, 2))]:
        offered = {}
        for code in codes:
            if draw(st.integers(0, 4)) == 0:
                continue
            first = draw(st.integers(100, 300))
            prices = [(draw(st.sampled_from((1, 1, 1, 2))), first)]
            if draw(st.booleans()):
                prices.append((prices[0][0] + 1, first - draw(st.integers(1, 80))))
            offered[code] = Steps(
                per_pack=draw(st.integers(1, 3)),
                prices=tuple(prices),
                in_time=tuple(draw(st.integers(0, 5)) > 0 for _ in days),
                lead_days=5,
            )
        suppliers.append(
            Supplier(
                name=name,
                reference="",
                steps=offered,
                minimum_cents=draw(st.sampled_from((0, 0, 400))),
                freight_cents=draw(st.sampled_from((0, 0, 90))),
                free_from_cents=draw(st.sampled_from((None, 500))),
            )
        )
    return Needs(days, by_then, room), tuple(suppliers)


@settings(max_examples=60, deadline=None)
@given(tiny_cases())
def test_the_cheapest_split_is_the_cheapest_of_all(case: tuple[Needs, tuple[Supplier, ...]]) -> None:
    needs, suppliers = case
    wanted = brute(needs, suppliers)
    found = cheapest_split(needs, suppliers)
    if wanted is None:
        assert found is None
        return
    assert found is not None
    assert found.cents == found.least_cents == wanted
    assert found.proved
    assert cents_of_all(suppliers, found.purchases) == found.cents
    assert _enough(needs, suppliers, found.purchases)
    assert _least_orders_kept(suppliers, found.purchases)


def test_the_plans_own_prices_alone_cost_no_more_than_the_plan() -> None:
    for made in (supplier_plan(), forecast_plan()):
        needs = needs_of(made)
        suppliers = suppliers_of(made.project, needs, (own_offer(made.project),), ON)
        found = cheapest_split(needs, suppliers)
        assert found is not None
        limits = made.project.delivery_limits
        assert limits is not None
        freight = cents_of(limits.delivery_cost or Decimal(0)) * len(made.deliveries)
        assert found.cents <= cents_of(made.order.total) + freight
        bought = {
            code: sum(one.packs for one in found.purchases if one.code == code) for code in needs.by_then
        }
        ordered = dict.fromkeys(needs.by_then, 0)
        for line in made.order.lines:
            ordered[line.code] += line.packs
        assert bought == ordered


# -- offers for an invented job


def price(code: str, amount: str, **more: object) -> OfferedPrice:
    return OfferedPrice(code=code, price=Decimal(amount), **more)  # type: ignore[arg-type]


NORTHERN = Offer(
    supplier="Northern Wool", currency="AUD", reference="NW-77",
    prices=(price("B-120", "208.00"), price("B-120", "190.00", from_packs=3), price("B-90", "97.00", lead_days=2)),
)  # fmt: skip
FIXINGS = Offer(
    supplier="Edge Fixings", currency="AUD", freight=Decimal(25),
    prices=(price("K-110", "50.00"), price("K-120", "50.00"), price("A-1", "30.00"), price("T-1", "9.00")),
)  # fmt: skip


class TestComparison:
    def test_the_cheapest_split_buys_where_it_pays_freight_included(self) -> None:
        found = compare_suppliers(supplier_plan(), (NORTHERN, FIXINGS), ON)
        best = found.best
        assert best is not None
        assert best.proved
        assert best.packs_of("Northern Wool", "B-120") == 3
        assert best.packs_of("Edge Fixings", "K-110") == 3, "of the first delivery, whose freight is paid"
        assert best.freight == {"Supplier (invented) (as planned)": 2 * 4000, "Edge Fixings": 2500}
        own, *_ = found.wholes
        assert own.split is not None
        assert best.cents + own.more_cents == own.split.cents
        assert own.more_cents > 0

    def test_what_each_price_needs_to_win_is_enough_and_no_more_than_that(self) -> None:
        """Where each pack costs so much less, all of it is bought there at no more than the cheapest split; one cent
        less of a fall, and it is not."""
        made = supplier_plan()
        found = compare_suppliers(made, (NORTHERN, FIXINGS), ON)
        assert found.best is not None
        looked_at = 0
        for option in found.products:
            if option.split is None or option.chosen or not option.fall_cents:
                continue
            looked_at += 1
            for fall, wins in ((option.fall_cents, True), (option.fall_cents - 1, False)):
                cheaper = tuple(
                    replace(s, steps={**s.steps, option.code: _cheaper(s.steps[option.code], fall)})
                    if s.name == option.supplier
                    else s
                    for s in found.suppliers
                )
                there = cheapest_split(found.needs, cheaper, {option.code: option.supplier})
                assert there is not None
                assert (there.cents <= found.best.cents) == wins, option
        assert looked_at > 2

    def test_a_supplier_alone_tells_what_it_lacks_or_what_it_costs_more(self) -> None:
        found = compare_suppliers(supplier_plan(), (NORTHERN, FIXINGS), ON)
        northern = next(whole for whole in found.wholes if whole.supplier == "Northern Wool")
        assert northern.split is None
        assert northern.why_not.startswith("offers no K-100, K-110")

    def test_prices_count_only_on_the_days_on_which_they_hold(self) -> None:
        dated = Offer(
            supplier="Northern Wool",
            currency="AUD",
            prices=(
                price("B-120", "150.00", valid_until=date(2027, 1, 31)),
                price("B-120", "250.00", valid_from=date(2027, 2, 1)),
            ),
        )
        before = compare_suppliers(supplier_plan(), (dated,), date(2027, 1, 31))
        after = compare_suppliers(supplier_plan(), (dated,), date(2027, 2, 1))
        assert before.best is not None
        assert after.best is not None
        assert before.best.packs_of("Northern Wool", "B-120") == 3
        assert after.best.packs_of("Northern Wool", "B-120") == 0

    def test_what_comes_too_late_cannot_be_bought_and_that_is_told(self) -> None:
        late = Offer(supplier="Slow", currency="AUD", prices=(price("B-120", "1.00", lead_days=60),))
        found = compare_suppliers(supplier_plan(), (late,), ON)
        (option,) = (one for one in found.products if (one.supplier, one.code) == ("Slow", "B-120"))
        assert option.split is None
        assert option.why_not.startswith("not in time for 2027-03-01")
        assert "(60 working days)" in option.why_not

    def test_an_order_that_nobody_can_bring_says_what_is_missing(self) -> None:
        made = supplier_plan()
        nobody = made.model_copy(
            update={
                "project": made.project.model_copy(
                    update={
                        "products": tuple(
                            p.model_copy(update={"price": Decimal(0)}) if p.code == "B-90" else p
                            for p in made.project.products
                        ),
                        "price_breaks": (),
                    }
                )
            }
        )
        found = compare_suppliers(nobody, (), ON)
        assert found.best is None
        assert found.missing == ("B-90: nobody offers it",)
        too_late = compare_suppliers(made, (), date(2027, 3, 14))
        assert too_late.best is None
        assert any("not in time for 2027-03-01" in words for words in too_late.missing)

    def test_other_currencies_and_two_offers_of_one_supplier_are_refused(self) -> None:
        with pytest.raises(ValueError, match="Northern Wool offers in EUR, the project is in AUD"):
            compare_suppliers(supplier_plan(), (NORTHERN.model_copy(update={"currency": "EUR"}),), ON)
        with pytest.raises(ValueError, match="Northern Wool has two offers"):
            compare_suppliers(supplier_plan(), (NORTHERN, NORTHERN), ON)

    def test_the_projects_supplier_is_not_counted_twice(self) -> None:
        own = supplier_job().project.supplier
        found = compare_suppliers(
            supplier_plan(), (NORTHERN.model_copy(update={"supplier": own}), FIXINGS), ON
        )
        assert [supplier.name for supplier in found.suppliers] == [own, "Edge Fixings"]


def _cheaper(steps: Steps, fall: int) -> Steps:
    return replace(steps, prices=tuple((packs, cents - fall) for packs, cents in steps.prices))


@pytest.mark.parametrize(
    ("part", "whole", "rate"), [(1, 3, "0.3334"), (1, 4, "0.25"), (7, 7, "1"), (0, 5, "0"), (5, 0, "0")]
)
def test_a_share_is_rounded_up_so_that_a_fall_of_it_is_enough(part: int, whole: int, rate: str) -> None:
    assert share(part, whole) == Decimal(rate)


def test_two_steps_at_one_price_lose_no_packs() -> None:
    """From five packs on the price is what it was: three packs of one delivery and five of the next are all bought."""
    needs = Needs((date(2027, 3, 1), date(2027, 3, 8)), {"A": (3, 8)}, {"A": (3, 8)})
    seller = Supplier("S", "", {"A": Steps(1, ((1, 100), (5, 100)), (True, True), 0)})
    split = cheapest_split(needs, [seller])
    assert split is not None
    assert (split.packs_of("S", "A"), split.cents, split.proved) == (8, 800, True)


def test_packs_of_a_split() -> None:
    split = Split((Purchase("S", "A", 0, 2, 100), Purchase("S", "A", 1, 3, 90)), {"S": 50}, 520, 520)
    assert (split.packs_of("S", "A"), split.goods_cents, split.proved) == (5, 470, True)
