"""The order that is sent: lines that add up, a section a truckload, numbers that stay, taxes, revisions."""

from __future__ import annotations

from collections import Counter
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimiser.model.money import money_text, total_of
from optimiser.model.order import Order, OrderLine
from optimiser.model.plan import Plan
from optimiser.model.purchase_order import PurchaseOrder
from optimiser.ordering.delivery_days import grams_of
from optimiser.ordering.purchase_order import Issue, purchase_order, purchase_order_of
from optimiser.ordering.truckload_lines import with_true_prices
from optimiser.ordering.truckloads import dealt_out
from tests.builders import plans_by_hand
from tests.builders.forecast import forecast_plan
from tests.builders.small_plan import small_plan
from tests.builders.supplier_job import (
    FIRST_ISSUED,
    first_order,
    second_order,
    second_plan,
    supplier_job,
    supplier_plan,
)

ORDERS = [
    first_order(),
    second_order(),
    purchase_order(forecast_plan()),
    purchase_order(small_plan()),
    purchase_order(plans_by_hand.small_plan()),
    purchase_order(plans_by_hand.tower(4, 3, 6000)),
]


@pytest.mark.parametrize("order", ORDERS)
def test_packs_times_price_is_the_amount_of_every_line_and_all_of_them_are_the_sum(
    order: PurchaseOrder,
) -> None:
    for line in order.lines:
        assert line.packs * line.price == line.amount
        assert sum(line.packs_for.values()) == line.packs > 0
    assert total_of(load.amount for load in order.truckloads) == order.subtotal
    assert order.amount_of("firm") + order.amount_of("forecast") == order.subtotal
    assert order.subtotal + order.tax == order.total


@pytest.mark.parametrize("made", [supplier_plan(), second_plan(), forecast_plan(), small_plan()])
def test_it_orders_what_the_plan_orders_to_the_cent(made: Plan) -> None:
    order = purchase_order(made)
    assert order.subtotal == made.order.total
    wanted: Counter[tuple[str, str, str]] = Counter()
    for line in made.order.lines:
        if line.packs:
            wanted[line.level, line.code, line.status] += line.packs
    sent: Counter[tuple[str, str, str]] = Counter()
    for sent_line in order.lines:
        for level, packs in sent_line.packs_for.items():
            sent[level, sent_line.code, sent_line.status] += packs
    assert sent == wanted


def test_price_breaks_stand_beside_the_list_price() -> None:
    broken = [line for line in first_order().lines if line.price != line.list_price]
    assert {line.code for line in broken} == {"B-120", "B-90", "K-120"}
    assert {line.from_packs for line in broken} == {2}
    assert all(line.from_packs is None for line in first_order().lines if line.price == line.list_price)


def test_a_section_a_truckload_within_its_pallets_and_payload() -> None:
    made, order = supplier_plan(), first_order()
    limits = made.project.delivery_limits
    assert limits is not None
    assert [load.number for load in order.truckloads] == list(range(1, len(order.truckloads) + 1))
    assert len(order.truckloads) == sum(delivery.trucks or 1 for delivery in made.deliveries)
    assert any(load.loads > 1 for load in order.truckloads), "a day of several trucks"
    for load in order.truckloads:
        assert load.trucks == 1
        assert load.pallets is not None
        assert load.pallets <= (limits.truck_pallets or 0)
        packs = Counter[str]()
        for line in load.lines:
            packs[line.code] += line.packs
        assert grams_of(made.project, packs) <= (limits.truck_payload_kg or 0) * 1000


def test_packs_that_no_dealing_fits_on_so_many_trucks_are_left_to_the_supplier() -> None:
    """Three packs of 150 kg weigh as much as two payloads of 225 kg, but no two of them fit on one truck."""
    project = supplier_job()
    heavy = project.model_copy(
        update={
            "deliveries": (
                project.deliveries[0].model_copy(update={"truck_pallets": 9, "truck_payload_kg": 225}),
            ),
            "products": tuple(
                product.model_copy(update={"weight_kg": Decimal("37.5")})
                if product.code == "B-120"
                else product
                for product in project.products
            ),
        }
    )
    limits = heavy.delivery_limits
    assert limits is not None
    assert dealt_out(heavy, limits, {"B-120": 3}, 2) is None
    assert dealt_out(heavy, limits, {"B-120": 3}, 3) == ({"B-120": 1}, {"B-120": 1}, {"B-120": 1})
    line = next(line for line in supplier_plan().order.lines if line.code == "B-120")
    three = line.model_copy(update={"packs": 3, "price": line.price, "amount": 3 * line.price})
    (load,) = purchase_order_of(heavy, Order(lines=(three,), total=three.amount, currency="AUD")).truckloads
    assert (load.trucks, load.loads) == (2, 1)


def test_firm_lines_stand_before_those_that_are_a_forecast_and_these_have_their_day() -> None:
    for load in first_order().truckloads:
        statuses = [line.status for line in load.lines]
        assert statuses == sorted(statuses, key=("firm", "forecast").index)
    days = {level.level: level.measure_by for level in supplier_plan().levels}
    for line in first_order().lines:
        if line.status == "forecast":
            assert line.confirm_by == min(days[level] for level in line.levels)  # type: ignore[type-var]
        else:
            assert line.confirm_by is None


def test_tax_is_rounded_once_a_rate() -> None:
    taxes = {tax.rate: (tax.taxable, tax.tax) for tax in first_order().taxes}
    tape = total_of(line.amount for line in first_order().lines if line.kind == "tape")
    rest = first_order().subtotal - tape
    assert taxes == {
        Decimal("0.055"): (tape, Decimal("0.54")),  # 5.5 % of 9.90 is 0.5445
        Decimal("0.10"): (rest, (rest / 10).quantize(Decimal("0.01"), "ROUND_HALF_UP")),
    }
    plain = purchase_order(small_plan())
    assert (plain.taxes, plain.tax, plain.total) == ((), 0, plain.subtotal)


class TestRevision:
    def test_it_has_its_own_name_and_day_and_says_what_it_replaces(self) -> None:
        first, second = first_order(), second_order()
        assert (first.document, first.revision, first.replaces) == ("QY-3", 1, None)
        assert (second.document, second.revision) == ("QY-3-R2", 2)
        assert second.issued_on != first.issued_on == FIRST_ISSUED
        assert second.replaces == second.original == first.as_replaced
        third = purchase_order(second_plan(), Issue(None, date(2027, 2, 1), second))
        assert (third.document, third.revision) == ("QY-3-R3", 3)
        assert third.replaces == second.as_replaced
        assert third.original == first.as_replaced

    def test_lines_keep_their_numbers_and_no_number_is_given_twice(self) -> None:
        first, second = first_order(), second_order()
        assert [line.number for line in first.lines] == list(range(1, len(first.lines) + 1))
        before = {line.number: line for line in first.lines}
        numbers = [line.number for line in (*second.lines, *second.cancelled)]
        assert len(set(numbers)) == len(numbers)
        assert set(before) <= set(numbers), "every line is told of"
        for line in second.lines:
            assert line.change in ("added", "revised", "unchanged")
            if line.number in before:
                assert line.code == before[line.number].code
            else:
                assert line.change == "added"
                assert line.number > len(first.lines)
        assert {line.change for line in second.cancelled} == {"cancelled"}

    def test_an_order_that_changes_nothing_says_so_of_every_line(self) -> None:
        again = purchase_order(supplier_plan(), Issue(2, date(2027, 2, 1), first_order()))
        assert {line.change for line in again.lines} == {"unchanged"}
        assert again.cancelled == ()
        assert again.total == first_order().total

    def test_the_number_of_a_cancelled_line_is_not_given_again(self) -> None:
        third = purchase_order(supplier_plan(), Issue(3, date(2027, 2, 1), second_order()))
        gone = {line.number for line in second_order().cancelled}
        assert not gone & {line.number for line in third.lines}

    def test_another_currency_cannot_replace_it(self) -> None:
        order = supplier_plan().order.model_copy(update={"currency": "EUR"})
        with pytest.raises(ValueError, match="is in AUD, this one in EUR"):
            purchase_order_of(supplier_job(), order, Issue(2, None, first_order()))


def line_of(packs: int, price: str, amount: str) -> OrderLine:
    base = next(line for line in supplier_plan().order.lines if line.code == "B-120")
    return base.model_copy(update={"packs": packs, "price": Decimal(price), "amount": Decimal(amount)})


@pytest.mark.parametrize(("issued_on", "name"), [(date(2027, 3, 1), "-S20270301"), (None, "-S")])
def test_a_supplementary_order_is_not_called_as_the_one_that_it_comes_on_top_of(
    issued_on: date | None, name: str
) -> None:
    first = first_order()
    on_top = purchase_order(supplier_plan(), Issue(issued_on=issued_on, besides={"B-120": {"L01": 4}}))
    assert (on_top.reference, on_top.document) == (first.reference, f"{first.document}{name}")


@pytest.mark.parametrize("price", ["212.00", "204.35"])
def test_packs_bought_at_two_prices_are_two_lines(price: str) -> None:
    """5 packs in list and 3 at the break: 5 x 212.00 + 3 x 204.35, whichever of them the line says."""
    parts = with_true_prices(supplier_job(), line_of(8, price, "1673.05"))
    assert {(part.packs, money_text(part.price)) for part in parts} == {(5, "212.00"), (3, "204.35")}


@settings(max_examples=100, deadline=None)
@given(st.integers(1, 500), st.integers(0, 10**6))
def test_any_amount_is_told_in_true_prices(packs: int, cents: int) -> None:
    line = line_of(packs, "212.00", money_text(Decimal(cents) / 100))
    parts = with_true_prices(supplier_job(), line)
    assert sum(part.packs for part in parts) == packs
    assert total_of(part.packs * part.price for part in parts) == line.amount
    assert all(part.packs * part.price == part.amount for part in parts)


def test_what_has_no_day_comes_level_by_level() -> None:
    made = plans_by_hand.small_plan()
    lines = tuple(line.model_copy(update={"deliver_on": None, "order_by": None}) for line in made.order.lines)
    order = purchase_order_of(made.project, made.order.model_copy(update={"lines": lines}))
    assert [load.deliver_on for load in order.truckloads] == [None, None]
    assert [load.levels for load in order.truckloads] == [("L01",), ("L02",)]
    assert order.order_by is None


def test_it_reads_itself_back() -> None:
    for order in ORDERS:
        assert PurchaseOrder.model_validate_json(order.model_dump_json()) == order
        assert PurchaseOrder.model_validate(order.model_dump()) == order


def test_what_is_ordered_is_said_in_words() -> None:
    said = {line.code: line.description for line in first_order().lines}
    assert said["B-120"] == "board 1200 x 1000 x 120 mm, 4 in a pallet"
    assert said["K-110"] == "bracket 110 mm, 25 in a box"
    assert said["T-1"] == "tape, 25 m roll"
    made = supplier_plan()
    products = tuple(
        product.model_copy(update={"supplier": "Edge Fixings"}) if product.code == "T-1" else product
        for product in made.project.products
    )
    elsewhere = made.model_copy(update={"project": made.project.model_copy(update={"products": products})})
    assert "tape, 25 m roll, from Edge Fixings" in {
        line.description for line in purchase_order(elsewhere).lines
    }


def test_an_order_to_one_of_several_suppliers_has_its_products_alone() -> None:
    made = supplier_plan()
    own = made.project.project.supplier
    products = tuple(
        product.model_copy(update={"supplier": "Edge Fixings"}) if product.kind == "bracket" else product
        for product in made.project.products
    )
    project = made.project.model_copy(update={"products": products})
    orders = [
        purchase_order_of(project, made.order, Issue(1, FIRST_ISSUED, sold_by=supplier))
        for supplier in (own, "Edge Fixings")
    ]
    assert [order.supplier.name for order in orders] == [own, "Edge Fixings"]
    assert {line.kind for line in orders[1].lines} == {"bracket"}
    assert "bracket" not in {line.kind for line in orders[0].lines}
    assert total_of(order.subtotal for order in orders) == made.order.total
    assert not any("from " in line.description for order in orders for line in order.lines)
    with pytest.raises(ValueError, match="nobody of the name Nobody sells a product"):
        purchase_order_of(project, made.order, Issue(sold_by="Nobody"))
