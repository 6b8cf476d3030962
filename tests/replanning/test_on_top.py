"""The next revision of an order that was sent: all that was placed, and what the plan of the rest orders beyond it."""

from __future__ import annotations

from decimal import Decimal
from functools import cache

import pytest

from optimiser.errors.problems import CannotBeDone
from optimiser.model.plan import Plan
from optimiser.model.project import Project
from optimiser.ordering.purchase_order import purchase_order
from optimiser.planning.plan import plan
from optimiser.replanning.on_top import as_order, order_on_top, ordered_on_record
from optimiser.replanning.replan import replan
from tests.builders.job import JobOnSite
from tests.builders.levels import weekly


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
    whole = order_on_top(rest, purchase_order(placed()))
    assert whole.total == placed().order.total + Decimal("100.00")
    assert sum(packs for _, packs, _ in boards(whole.lines)) == 5


def test_what_is_on_record_as_ordered_is_told_by_level() -> None:
    assert ordered_on_record(after_a_loss())["B-120"] == {"L1": 4, "L2": 4}


def test_an_order_of_more_than_the_record_knows_of_is_refused() -> None:
    """Eight boards were placed, and the record tells of six."""
    job = JobOnSite()
    job.order_all(placed())
    events = [
        event.model_copy(update={"quantity": 2}) if (event.level, event.code) == ("L2", "B-120") else event
        for event in job.events
    ]
    rest = replan(placed(), job.record.model_copy(update={"events": tuple(events)}))
    with pytest.raises(CannotBeDone) as refused:
        order_on_top(rest, purchase_order(placed()))
    assert refused.value.reasons == (
        "B-120: 8 were ordered, 6 are on record as ordered; record what was ordered, then plan the rest again",
    )
