"""With everything on order a plan of the rest has no delivery of its own, and says which are still to come."""

from __future__ import annotations

import pytest

from optimiser.checking import check
from optimiser.model.plan import Plan
from optimiser.model.record import Record
from optimiser.planning.plan import plan
from optimiser.replanning.replan import replan
from tests.builders.job import JobOnSite, of_level
from tests.builders.levels import week, weekly


@pytest.fixture(scope="module")
def placed() -> Plan:
    """A plan of three levels, a week apart."""
    return plan(weekly(storeys=3), advise=False)


def told(made: Plan) -> list[str]:
    return [warning for warning in made.warnings if "not on record as delivered" in warning]


def test_what_is_ordered_and_did_not_come_yet_is_told_by_level_and_day(placed: Plan) -> None:
    job = JobOnSite()
    job.order_all(placed)
    job.deliver(placed, "L1")
    rest = replan(placed, job.record)
    assert (rest.deliveries, check(rest)) == ((), ())
    (warning,) = told(rest)
    assert warning.startswith("Nothing more must be ordered. On order, and not on record as delivered")
    assert f"what is for L2 (needed on {week(2)}), L3 (needed on {week(3)})." in warning


def test_beside_an_order_it_is_told_without_saying_that_nothing_is_ordered(placed: Plan) -> None:
    job = JobOnSite()
    job.order_all(placed)
    job.write("scrapped", code="B-120", quantity=4)
    rest = replan(placed, job.record)
    assert any(line.packs for line in rest.order.lines)
    assert told(rest)[0].startswith("On order, and not on record as delivered: what is for L1")


def test_a_level_that_is_cut_waits_for_nothing_whether_or_not_its_goods_were_written_down(
    placed: Plan,
) -> None:
    job = JobOnSite()
    job.order_all(placed)
    job.cut_and_fit(of_level(placed, "L1"))
    assert "L1" not in told(replan(placed, job.record))[0]
    for level in ("L2", "L3"):
        job.cut_and_fit(of_level(placed, level))
    assert told(replan(placed, job.record)) == []


def test_where_nothing_is_ordered_or_all_came_nothing_is_told(placed: Plan) -> None:
    assert told(replan(placed, Record())) == []
    job = JobOnSite()
    job.order_all(placed)
    for level in ("L1", "L2", "L3"):
        job.deliver(placed, level)
    assert told(replan(placed, job.record)) == []
