"""The next revision of an order that was sent: all that was placed, and what the plan of the rest orders beyond it."""

from __future__ import annotations

from decimal import Decimal
from functools import cache

import pytest

from optimiser.errors.problems import CannotBeDone
from optimiser.model.plan import Plan
from optimiser.model.project import PriceBreak, Project
from optimiser.model.record import Event, Record
from optimiser.ordering.purchase_order import purchase_order
from optimiser.planning.plan import plan
from optimiser.replanning.on_top import as_order, order_on_top, ordered_on_record
from optimiser.replanning.replan import replan
from tests.builders.job import JobOnSite
from tests.builders.levels import week, weekly


def house() -> Project:
    """Two levels a week apart, each of four boards in packs of two at 100.00."""
    return weekly(storeys=2)


@cache
def placed() -> Plan:
    return plan(house(), advise=False)


@cache
def after_a_loss() -> Plan:
    """All is ordered as placed, and two boards are lost: a pack more."""
    job = JobOnSite()
    job.order_all(placed())
    job.write("delivered", code="B-120", quantity=4, level="L1")
    job.write("scrapped", code="B-120", quantity=2)
    return replan(placed(), job.record)


def boards(lines: object) -> list[tuple[str, int, Decimal]]:
    return [(one.level, one.packs, one.amount) for one in lines if one.code == "B-120"]  # type: ignore[attr-defined]


def test_an_order_that_was_sent_is_read_line_by_line_as_it_was_placed() -> None:
    sent = purchase_order(placed())
    read = as_order(sent)
    assert read.total == placed().order.total == sum(line.amount for line in read.lines)
    assert boards(read.lines) == boards(line for line in placed().order.lines if line.packs)


def test_packs_of_a_level_on_two_truckloads_are_one_line() -> None:
    sent = purchase_order(placed())
    (load, *_) = sent.truckloads
    twice = sent.model_copy(update={"truckloads": (load, load)})
    once = {
        (line.level, line.code): line
        for line in as_order(sent.model_copy(update={"truckloads": (load,)})).lines
    }
    for line in as_order(twice).lines:
        one = once[line.level, line.code]
        assert (line.packs, line.amount) == (2 * one.packs, 2 * one.amount)


def test_what_the_plan_of_the_rest_lacks_stands_on_top_of_what_was_placed() -> None:
    rest = after_a_loss()
    assert [(packs, amount) for _, packs, amount in boards(rest.order.lines) if packs] == [
        (1, Decimal("100.00"))
    ]
    whole = order_on_top(rest, purchase_order(placed()), house())
    assert whole.total == placed().order.total + Decimal("100.00")
    assert sum(packs for _, packs, _ in boards(whole.lines)) == 5


def test_what_is_on_record_as_ordered_is_told_by_level() -> None:
    assert ordered_on_record(after_a_loss())["B-120"] == {"L1": 4, "L2": 4}


def test_an_order_of_more_than_the_record_knows_of_is_refused() -> None:
    """Eight boards were placed, and the record tells of the four of one level."""
    job = JobOnSite()
    job.order_all(placed())
    events = [event for event in job.events if (event.level, event.code) != ("L2", "B-120")]
    rest = replan(placed(), job.record.model_copy(update={"events": tuple(events)}))
    with pytest.raises(CannotBeDone) as refused:
        order_on_top(rest, purchase_order(placed()), house())
    assert refused.value.reasons == (
        "B-120: 8 were ordered, 4 are on record as ordered; record what was ordered, then plan the rest again",
    )


def test_what_a_price_break_brought_forward_keeps_its_day_and_price_in_the_revision() -> None:
    """All boards come with the first level at the price of four packs; a week later two of them would not have it."""
    together = weekly(
        storeys=2, price_breaks=(PriceBreak(code="B-120", from_packs=4, price=Decimal("80.00")),)
    )
    first = plan(together, advise=False)
    job = JobOnSite()
    job.order_all(first)
    whole = order_on_top(replan(first, job.record), purchase_order(first), together)
    own = {(line.level, line.deliver_on, line.price) for line in first.order.lines if line.code == "B-120"}
    assert {(line.level, line.deliver_on, line.price) for line in whole.lines if line.code == "B-120"} == own


def half_measured() -> Project:
    """The house, whose upper level is not measured yet."""
    house_now = house()
    gaps = tuple(
        gap.model_copy(update={"basis": "nominal", "tolerance_mm": 2}) if gap.run == "L2-N" else gap
        for gap in house_now.gaps
    )
    return house_now.model_copy(update={"gaps": gaps})


def test_what_was_a_forecast_is_firm_in_the_revision_after_its_level_is_measured() -> None:
    first = plan(half_measured(), advise=False)
    sent = purchase_order(first)
    assert {line.status for line in sent.lines if "L2" in line.packs_for} == {"forecast"}
    job = JobOnSite()
    job.order_all(first)
    rest = replan(first, job.record, house())
    whole = order_on_top(rest, sent, first.project)
    assert {(line.status, line.measure_by) for line in whole.lines} == {("firm", None)}


def test_a_level_that_is_needed_later_has_its_lines_delivered_later_in_the_revision() -> None:
    job = JobOnSite()
    job.order_all(placed())
    levels = tuple(
        level.model_copy(update={"needed_on": week(3)}) if level.level == "L2" else level
        for level in house().levels
    )
    rest = replan(placed(), job.record, house().model_copy(update={"levels": levels}))
    whole = order_on_top(rest, purchase_order(placed()), house())
    assert {line.level: line.deliver_on for line in whole.lines} == {"L1": week(1), "L2": week(3)}


def test_a_level_that_was_moved_two_plans_ago_is_moved_in_the_first_revision_that_is_sent() -> None:
    """The plan in between was not sent, so the supplier knows the old day still."""
    job = JobOnSite()
    job.order_all(placed())
    levels = tuple(
        level.model_copy(update={"needed_on": week(3)}) if level.level == "L2" else level
        for level in house().levels
    )
    between = replan(placed(), job.record, house().model_copy(update={"levels": levels}))
    rest = replan(between, job.record)
    whole = order_on_top(rest, purchase_order(placed()), between.project)
    assert {line.level: line.deliver_on for line in whole.lines} == {"L1": week(1), "L2": week(3)}


def test_a_forecast_counts_as_ordered_and_the_refusal_says_so() -> None:
    """Only the firm level was recorded, as if its forecast had not been sent."""
    first = plan(half_measured(), advise=False)
    job = JobOnSite()
    job.order_all(first)
    firm = tuple(event for event in job.events if event.level == "L1")
    rest = replan(first, job.record.model_copy(update={"events": firm}))
    sent = purchase_order(first)
    forecast = sum(
        line.packs * line.per_pack
        for line in sent.lines
        if line.code == "B-120" and line.status == "forecast"
    )
    with pytest.raises(CannotBeDone) as refused:
        order_on_top(rest, sent, first.project)
    assert refused.value.reasons[0] == (
        f"B-120: {4 + forecast} were ordered, {forecast} of them as a forecast, 4 are on record as ordered; record"
        " what was ordered, forecast lines too, then plan the rest again"
    )


def confirmed(boards_of_upper_level: int) -> Plan:
    """The plan for the rest after the supplier confirmed so many of the four boards of the upper level."""
    job = JobOnSite()
    job.order_all(placed())
    events = [
        event.model_copy(update={"quantity": boards_of_upper_level})
        if (event.level, event.code) == ("L2", "B-120")
        else event
        for event in job.events
    ]
    return replan(placed(), job.record.model_copy(update={"events": tuple(events)}))


@pytest.mark.parametrize("number", [2, 3])
def test_what_the_supplier_did_not_confirm_is_not_placed_twice(number: int) -> None:
    """What is missing is ordered anew; the order is of four boards a level as before. A pack of which one board is
    confirmed stays a pack, so one board more comes of it."""
    whole = order_on_top(confirmed(number), purchase_order(placed()), house())
    assert sum(packs for _, packs, _ in boards(whole.lines)) == (4 if number == 2 else 5)
    assert whole.total == sum(line.amount for line in whole.lines)


def test_what_was_taken_back_is_no_more_in_the_next_revision() -> None:
    """The order of the upper level's boards is taken back, so they are ordered anew, once."""
    job = JobOnSite()
    job.order_all(placed())
    events = [
        event.model_copy(update={"id": f"o{place}"}) if event.event == "ordered" else event
        for place, event in enumerate(job.events)
    ]
    (gone,) = (event.id for event in events if (event.level, event.code) == ("L2", "B-120"))
    back = Event(at=events[-1].at, event="undone", undoes=gone)
    rest = replan(placed(), Record(events=(*events, back)))
    beyond = sum(packs for _, packs, _ in boards(rest.order.lines))
    whole = order_on_top(rest, purchase_order(placed()), house())
    assert sum(packs for _, packs, _ in boards(whole.lines)) == 2 + beyond
