"""order.pdf: who, what, when and for how much; a forecast apart; a revision says what it changes."""

from __future__ import annotations

import io
from datetime import date

import pypdf
import pytest

from optimiser.model.plan import Plan
from optimiser.model.purchase_order import PurchaseOrder
from optimiser.ordering.purchase_order import Issue, purchase_order
from optimiser.writing.supplier.pdf import order_pdf
from tests.builders import plans_by_hand
from tests.builders.small_plan import small_plan
from tests.builders.supplier_job import first_order, second_order


def words_of(order: PurchaseOrder, paper: str = "A4") -> str:
    pages = pypdf.PdfReader(io.BytesIO(order_pdf(order, paper))).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def draft(plan: Plan) -> str:
    return words_of(purchase_order(plan))


def test_it_names_the_parties_the_sums_and_the_days() -> None:
    text = draft(plans_by_hand.small_plan())
    for expected in (
        "Order HL9-0042",
        "Draft, not issued",
        "Northwall Facades",
        "Ostrava Wool & Board",
        "Gate 3, Harbour Lane 9, Newport",
        "Total AUD, before tax 740.40",
        "Truckload 1 of 2 · Monday 2027-02-22",
        "Truckload 2 of 2 · Monday 2027-03-15",
        "Terms (payment, freight, acceptance, returns)",
        "For the buyer",
    ):
        assert expected in text


def test_a_forecast_stands_apart_from_what_is_firm() -> None:
    order = first_order()
    text = words_of(order)
    firm, forecast = (order.amount_of(status) for status in ("firm", "forecast"))
    assert firm > 0
    assert forecast > 0
    assert (
        f"Firm lines {firm:,.2f} Forecast lines {forecast:,.2f} Subtotal before tax {firm + forecast:,.2f}"
        in text
    )
    load = order.truckloads[0]
    of_load = {
        status: sum(line.amount for line in load.lines if line.status == status)
        for status in ("firm", "forecast")
    }
    first = text[text.index("Truckload 1 of 3") : text.index("Truckload 2 of 3")]
    upper, lower = first.split("Forecast, not firm yet; confirmed by 2027-02-08")
    assert f"together, before tax {of_load['firm']:,.2f}" in upper
    assert f"together, before tax {of_load['forecast']:,.2f}" in lower
    assert f"Truckload together: {sum(of_load.values()):,.2f} before tax" in lower
    number = sum(line.status == "forecast" for line in order.lines)
    assert (
        f"Forecast: {number} lines for levels that are not measured yet, AUD {forecast:,.2f} before tax."
        in text
    )


def test_forecast_lines_of_several_days_are_not_all_said_to_be_confirmed_by_the_first() -> None:
    order = first_order()
    load = order.truckloads[0]
    days = iter((date(2027, 2, 8), date(2027, 2, 22)))
    lines = tuple(
        line.model_copy(update={"confirm_by": next(days, line.confirm_by)})
        if line.status == "forecast"
        else line
        for line in load.lines
    )
    text = words_of(order.model_copy(update={"truckloads": (load.model_copy(update={"lines": lines}),)}))
    assert "Forecast, not firm yet; confirmed by 2027-02-08, 2027-02-22" in text


def test_an_order_that_is_all_firm_says_nothing_of_forecasts() -> None:
    text = draft(small_plan())
    assert "orecast" not in text
    assert "Order summary" in text


def test_an_order_of_nothing_says_so() -> None:
    made = plans_by_hand.small_plan()
    lines = tuple(line.model_copy(update={"packs": 0, "amount": 0}) for line in made.order.lines)
    nothing = made.model_copy(update={"order": made.order.model_copy(update={"lines": lines})})
    assert "Nothing is to be ordered" in draft(nothing)
    assert "Nothing is to be ordered" not in draft(made)


def test_a_missing_price_or_date_is_left_to_the_supplier() -> None:
    plan = plans_by_hand.small_plan()
    lines = tuple(
        line.model_copy(update={"price": 0, "amount": 0, "deliver_on": None, "order_by": None})
        for line in plan.order.lines
    )
    text = draft(plan.model_copy(update={"order": plan.order.model_copy(update={"lines": lines})}))
    assert "to confirm" in text
    assert "day to be agreed" in text


def test_the_revision_its_day_and_what_it_replaces_stand_at_the_top() -> None:
    first, second = first_order(), second_order()
    text = words_of(second, "Letter")
    assert "Order QY-3-R2 Revision 2, issued 2027-01-25; replaces QY-3 of 2027-01-11" in text
    assert "It replaces QY-3 whole:" in text
    assert first.total != second.total
    assert f"The total was AUD {first.total:,.2f} and is AUD {second.total:,.2f}." in text
    assert "Before: 2 packs, on 2027-03-15, a forecast." in text
    assert "Cancelled lines" in text
    issued = words_of(purchase_order(small_plan(), Issue(issued_on=date(2027, 1, 20))))
    assert "Issued 2027-01-20" in issued


def test_terms_that_are_given_are_printed_and_leave_no_room_to_write_others() -> None:
    text = words_of(first_order())
    assert "Payment 30 days from the end of the month" in text
    assert "Unloading By the site's crane at gate 2" in text
    assert "written in by the buyer" not in text


def test_a_price_break_is_told_beside_the_list_price() -> None:
    assert "B-120: price from 2 packs in a delivery on: 204.35 a pack instead of 212.00." in words_of(
        first_order()
    )


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_nothing_is_printed_outside_the_margins_or_below_9_points_but_feet_and_box_titles(paper: str) -> None:
    reader = pypdf.PdfReader(io.BytesIO(order_pdf(second_order(), paper)))
    small: set[str] = set()
    for page in reader.pages:
        width = float(page.mediabox.width)

        def look(
            text: str, cm: list[float], tm: list[float], font: object, size: float, width: float = width
        ) -> None:
            if text.strip():
                assert 30 <= cm[4] + tm[4] <= width - 30
                if size < 9:
                    small.add(text.strip().split(" ")[0])

        page.extract_text(visitor_text=look)
    assert small <= {"Buyer", "Supplier", "Deliver", "The", "page"}


def test_equal_orders_give_equal_bytes() -> None:
    assert order_pdf(first_order()) == order_pdf(first_order())
