"""Goods against order: what came short, wrong or damaged, what that endangers, and how the levels stand."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest

from optimiser.model.plan import Plan
from optimiser.model.project import Allowance, Level
from optimiser.ordering.working_days import working_days_of
from optimiser.planning.plan import plan
from optimiser.replanning.receiving import ReceivedLine, endangered_levels, received_lines
from optimiser.replanning.replan import replan
from optimiser.replanning.standing import level_states
from optimiser.writing.terminal.replan_report import replan_lines
from tests.builders.job import JobOnSite, of_level
from tests.builders.levels import building

FIRST = date(2027, 3, 1)


@pytest.fixture(scope="module")
def before() -> Plan:
    """Three levels a week apart, each with boards of its own."""
    project = building(storeys=3, length_mm=14_400)
    levels = tuple(
        Level(level=f"L{n}", sequence=10 * n, needed_on=FIRST + timedelta(weeks=n - 1)) for n in (1, 2, 3)
    )
    return plan(project.model_copy(update={"levels": levels}))


def line(made: Plan, level: str, code: str = "B-120") -> ReceivedLine:
    return next(one for one in received_lines(made) if (one.level, one.code) == (level, code))


def boards_ordered(made: Plan, level: str) -> int:
    return sum(
        one.packs * one.per_pack for one in made.order.lines if (one.level, one.code) == (level, "B-120")
    )


def without_orders(made: Plan) -> Plan:
    """The plan as if it ordered nothing itself."""
    return made.model_copy(update={"order": made.order.model_copy(update={"lines": ()})})


def test_what_is_ordered_and_did_not_come_yet_is_on_order(before: Plan) -> None:
    job = JobOnSite()
    job.order_all(before)
    found = line(replan(before, job.record), "L2")
    assert (found.on_order, found.delivered, found.missing) == (boards_ordered(before, "L2"), 0, 0)


def test_what_a_delivery_did_not_bring_is_missing(before: Plan) -> None:
    job = JobOnSite()
    job.order_all(before)
    job.deliver(before, "L1", short=1)
    found = line(replan(before, job.record), "L1")
    assert (found.missing, found.on_order) == (1, 0)
    assert found.delivered == boards_ordered(before, "L1") - 1


def test_what_came_without_being_ordered_and_what_is_damaged_is_told(before: Plan) -> None:
    job = JobOnSite()
    job.order_all(before)
    job.deliver(before, "L1")
    job.write("delivered", code="B-120", quantity=2, level="L1")
    job.write("scrapped", code="B-120", quantity=1, level="L1")
    found = line(replan(before, job.record), "L1")
    assert (found.not_ordered, found.damaged) == (2, 1)


def test_what_came_for_no_level_serves_the_first_that_wait(before: Plan) -> None:
    job = JobOnSite()
    job.order_all(before)
    job.write("delivered", code="B-120", quantity=boards_ordered(before, "L1") + 1)
    after = replan(before, job.record)
    assert line(after, "L1").missing == 0
    assert line(after, "L2").delivered == 1


def test_nothing_is_endangered_while_all_comes_as_ordered(before: Plan) -> None:
    job = JobOnSite()
    job.order_all(before)
    job.deliver(before, "L1")
    assert endangered_levels(replan(before, job.record), FIRST) == ()


def test_a_missing_board_is_brought_forward_from_the_last_delivery_which_is_ordered_again(
    before: Plan,
) -> None:
    job = JobOnSite()
    job.order_all(before)
    job.deliver(before, "L1", short=1)
    found = endangered_levels(replan(before, job.record), FIRST)
    first, last = (one for one in found if one.code == "B-120")
    assert (first.level, first.short, first.needed_on, first.reorder) == ("L1", 1, FIRST, 0)
    assert [(part.level, part.quantity) for part in first.brought_forward] == [("L3", 1)]
    assert (last.level, last.short, last.brought_forward) == ("L3", 1, ())
    assert (last.reorder, last.reorder_by) == (1, FIRST + timedelta(weeks=2))


def test_what_the_plan_orders_helps_only_while_it_can_be_ordered_in_time(before: Plan) -> None:
    job = JobOnSite()
    job.order_all(before)
    job.deliver(before, "L1")
    job.write("scrapped", code="B-120", quantity=1, level="L1")
    after = replan(before, job.record)
    (own,) = (line for line in after.order.lines if line.packs and line.code == "B-120")
    assert own.order_by is not None
    assert [one for one in endangered_levels(after, own.order_by) if one.code == "B-120"] == []
    late = [one for one in endangered_levels(after, own.order_by + timedelta(days=1)) if one.code == "B-120"]
    assert late[0].level == own.level


def test_only_what_is_on_order_is_brought_forward_and_the_rest_is_told_by_when_it_would_come(
    before: Plan,
) -> None:
    job = JobOnSite()
    for one in before.order.lines:
        if one.level == "L1":
            job.write("ordered", code=one.code, level="L1", quantity=one.packs * one.per_pack)
    after = replan(before, job.record)
    (own,) = (
        line for line in after.order.lines if line.level == "L2" and line.packs and line.code == "B-120"
    )
    assert own.order_by is not None
    assert endangered_levels(after, own.order_by) == ()
    today = own.order_by + timedelta(days=1)
    (late,) = (one for one in endangered_levels(after, today) if one.code == "B-120")
    assert (late.level, late.brought_forward, late.reorder) == ("L2", (), late.short)
    assert late.comes_on == working_days_of("AU").after(today, before.project.product("B-120").lead_days)
    told = "\n".join(replan_lines(before, after, today))
    assert f"the day to order was {own.order_by}, ordered on {today} they come on {late.comes_on}." in told
    assert f"L2 is short of {late.short} B-120, needed on 2027-03-08: order" in told
    assert "L3 will be short of" in "\n".join(replan_lines(before, without_orders(after), own.order_by))


def test_what_the_plan_orders_too_late_for_its_own_level_serves_the_levels_that_it_comes_for() -> None:
    """A board of the first level was not confirmed, and what is ordered on its day comes a week later: one is brought
    forward from the last level, which has the one that comes then, so that nothing more is to be ordered."""
    project = building(storeys=3, length_mm=14_400)
    levels = tuple(
        Level(level=f"L{n}", sequence=10 * n, needed_on=FIRST + timedelta(weeks=n - 1)) for n in (1, 2, 3)
    )
    products = tuple(product.model_copy(update={"lead_days": 5}) for product in project.products)
    first = plan(project.model_copy(update={"levels": levels, "products": products}))
    job = JobOnSite()
    for line in first.order.lines:
        if line.packs:
            short = 1 if (line.level, line.code) == ("L1", "B-120") else 0
            number = line.packs * line.per_pack - short
            job.write("ordered", code=line.code, quantity=number, level=line.level)
            if line.level == "L1":
                job.write("delivered", code=line.code, quantity=number, level="L1")
    after = replan(first, job.record)
    (own,) = (line for line in after.order.lines if line.packs)
    assert (own.level, own.packs) == ("L1", 1)
    (only,) = endangered_levels(after, FIRST)
    assert (only.level, only.short, only.reorder) == ("L1", 1, 0)
    assert [(part.level, part.quantity) for part in only.brought_forward] == [("L3", 1)]


def test_what_did_not_come_on_its_day_is_told(before: Plan) -> None:
    job = JobOnSite()
    job.order_all(before)
    silent = replan_lines(before, replan(before, job.record), FIRST + timedelta(days=1))
    assert not any("have not come" in line for line in silent), "nobody writes deliveries down here"
    job.write("delivered", code="B-120", quantity=boards_ordered(before, "L1"), level="L1")
    after = replan(before, job.record)
    (anchors,) = (line for line in received_lines(after) if (line.level, line.code) == ("L1", "A-1"))
    told = f"Of A-1 for L1 {anchors.on_order} were due on {FIRST} and have not come."
    assert told not in replan_lines(before, after, FIRST)
    assert told in replan_lines(before, after, FIRST + timedelta(days=1))


def test_boards_that_are_kept_for_breakage_and_loss_are_told_beside_those_that_are_cut() -> None:
    """Who counts what stands on site and is to come finds all of them."""
    allowed = before_with_an_allowance()
    job = JobOnSite()
    job.order_all(allowed)
    after = replan(allowed, job.record)
    whole = sum(item.quantity for item in after.job.at_hand if item.kind == "on order")
    in_all = sum(boards_ordered(allowed, level) for level in ("L1", "L2", "L3"))
    assert in_all > whole
    told = f"Board at hand: {whole} whole on order. {in_all - whole} more for breakage and loss."
    assert told in replan_lines(allowed, after, FIRST)


def before_with_an_allowance() -> Plan:
    """Three levels of boards, and a tenth more for breakage and loss."""
    project = building(storeys=3, length_mm=14_400)
    return plan(project.model_copy(update={"allowance": (Allowance(kind="board", fraction=Decimal("0.1")),)}))


def test_boards_that_are_opened_are_counted_without_their_remainders() -> None:
    project = building(storeys=2, length_mm=3_000)
    made = plan(project)
    planned = made.boards["B-120"].count
    assert planned == 1
    job = JobOnSite()
    job.order_all(made)
    for level in ("L1", "L2"):
        job.deliver(made, level)
        job.cut_and_fit(of_level(made, level))
        made = replan(made, job.record)
    assert len(made.job.cut_boards) > planned
    (told,) = (one for one in replan_lines(made, made) if one.startswith("Done"))
    assert f"{planned} board opened, and 2 times a remainder or an offcut." in told


def test_levels_are_told_by_how_far_they_are(before: Plan) -> None:
    job = JobOnSite()
    job.order_all(before)
    job.deliver(before, "L1")
    pieces = of_level(before, "L1")
    job.cut_and_fit(pieces[1:])
    job.write("cut", piece=pieces[0].id)
    job.write("inspected", piece=pieces[1].id)
    job.write("inspected", piece=pieces[0].id)  # seen, but not fitted
    first, second, _ = level_states(replan(before, job.record))
    assert (first.planned, first.cut, first.fitted, first.inspected) == (0, 1, len(pieces) - 1, 1)
    assert (first.boards_delivered, first.boards_on_order) == (boards_ordered(before, "L1"), 0)
    assert (second.planned, second.fitted) == (len(of_level(before, "L2")), 0)
    assert second.boards_on_order == boards_ordered(before, "L2")


def test_an_inspected_level_counts_all_that_is_fitted_there(before: Plan) -> None:
    job = JobOnSite()
    job.cut_and_fit(of_level(before, "L1"))
    job.write("inspected", level="L1")
    first = level_states(replan(before, job.record))[0]
    assert first.inspected == first.fitted > 0
