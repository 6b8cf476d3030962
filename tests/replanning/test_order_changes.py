"""From order to order: quantities, days and prices of every delivery's line, each with its cause, and what may be
dropped."""

from __future__ import annotations

import random
from datetime import date, timedelta
from decimal import Decimal

import pytest

from optimiser.model.plan import Plan
from optimiser.model.project import Gap, Level, PriceBreak, Project
from optimiser.planning.plan import plan
from optimiser.replanning.causes import Reasons
from optimiser.replanning.changes import OrderChange, order_changes
from optimiser.replanning.replan import replan
from optimiser.replanning.supplement import order_with
from tests.builders.job import JobOnSite, measured_again, of_level
from tests.builders.levels import building, weekly

FIRST = date(2027, 3, 1)


def house() -> Project:
    """Three levels a week apart; boards are ordered ten working days ahead."""
    project = building(storeys=3, length_mm=14_400)
    return project.model_copy(
        update={
            "levels": tuple(
                Level(level=f"L{n}", sequence=10 * n, needed_on=FIRST + timedelta(weeks=n - 1))
                for n in (1, 2, 3)
            ),
            "products": tuple(
                product.model_copy(update={"lead_days": 10}) if product.kind == "board" else product
                for product in project.products
            ),
        }
    )


@pytest.fixture(scope="module")
def before() -> Plan:
    return plan(house())


def ordered(made: Plan) -> JobOnSite:
    job = JobOnSite()
    job.order_all(made)
    return job


def change(changes: tuple[OrderChange, ...], level: str, code: str = "B-120") -> OrderChange:
    return next(one for one in changes if (one.level, one.code) == (level, code))


def wider(project: Project, level: str, gap_mm: int) -> Project:
    """The survey with all gaps of a level measured as so many mm."""
    runs = {run.run for run in project.runs if run.level == level}
    gaps = tuple(
        Gap(run=gap.run, at_mm=gap.at_mm, gap_mm=gap_mm) if gap.run in runs else gap for gap in project.gaps
    )
    return project.model_copy(update={"gaps": gaps})


def test_nothing_changes_where_nothing_happened(before: Plan) -> None:
    after = replan(before, ordered(before).record)
    assert not any(one.changes or one.causes for one in order_changes(after, before))


def test_the_rest_of_a_pack_that_was_not_confirmed_is_not_said_to_be_cut_otherwise() -> None:
    """Of a pack of two boards the supplier confirmed one; the other is still to be ordered, as it was before."""
    packs = tuple(
        product.model_copy(update={"per_pack": 2}) if product.kind == "board" else product
        for product in house().products
    )
    first = plan(house().model_copy(update={"products": packs}))
    record = ordered(first).record
    less = tuple(
        event.model_copy(update={"quantity": 1}) if (event.level, event.code) == ("L1", "B-120") else event
        for event in record.events
    )
    after = replan(first, record.model_copy(update={"events": less}))
    again = change(order_changes(after, first), "L1")
    assert (again.packs, again.causes) == (1, ())


def test_what_a_price_break_brought_forward_keeps_its_day_in_the_difference() -> None:
    """Boards of both levels come together for the price of four packs, a week before the second level needs them."""
    together = weekly(
        storeys=2, price_breaks=(PriceBreak(code="B-120", from_packs=4, price=Decimal("80.00")),)
    )
    first = plan(together, advise=False)
    assert len({line.deliver_on for line in first.order.lines if line.code == "B-120"}) == 1
    changes = order_changes(replan(first, ordered(first).record), first)
    assert not any(one.changes or one.causes for one in changes)


def test_a_level_needed_on_a_sunday_changes_no_day_from_replan_to_replan() -> None:
    project = house()
    levels = tuple(
        level.model_copy(update={"needed_on": date(2027, 3, 14)}) if level.level == "L3" else level
        for level in project.levels
    )
    first = plan(project.model_copy(update={"levels": levels}), advise=False)
    record = ordered(first).record
    second = replan(first, record)
    assert not any(one.changes or one.causes for one in order_changes(replan(second, record), second))


def test_a_moved_day_is_a_change_with_its_cause(before: Plan) -> None:
    moved = house().model_copy(
        update={
            "levels": tuple(
                level.model_copy(update={"needed_on": FIRST + timedelta(weeks=6)})
                if level.level == "L3"
                else level
                for level in house().levels
            )
        }
    )
    after = replan(before, ordered(before).record, moved)
    found = change(order_changes(after, before), "L3")
    assert found.changes
    assert (found.deliver_on_before, found.deliver_on) == (
        FIRST + timedelta(weeks=2),
        FIRST + timedelta(weeks=6),
    )
    assert found.causes == ("date",)
    assert not change(order_changes(after, before), "L1").changes


def test_a_new_price_is_a_change_with_its_cause(before: Plan) -> None:
    dearer = house().model_copy(
        update={
            "products": tuple(
                product.model_copy(update={"price": Decimal("60.00")}) if product.kind == "board" else product
                for product in house().products
            )
        }
    )
    after = replan(before, ordered(before).record, dearer)
    found = change(order_changes(after, before), "L1")
    assert (found.price_before, found.price) == (Decimal("53.00"), Decimal("60.00"))
    assert found.causes == ("price",)


def test_wider_gaps_are_ordered_because_of_the_survey(before: Plan) -> None:
    after = replan(before, ordered(before).record, wider(house(), "L2", 190))
    found = change(order_changes(after, before), "L2")
    assert found.ordered_now > 0
    assert "survey" in found.causes
    assert found.ordered_before == sum(
        line.packs * line.per_pack
        for line in before.order.lines
        if (line.level, line.code) == ("L2", "B-120")
    )


def test_lost_boards_are_ordered_again_because_of_damage(before: Plan) -> None:
    job = ordered(before)
    job.deliver(before, "L1")
    job.write("scrapped", code="B-120", quantity=2)
    after = replan(before, job.record)
    found = [one for one in order_changes(after, before) if one.code == "B-120" and one.ordered_now]
    assert sum(one.ordered_now for one in found) >= 1
    assert all(one.causes == ("damage",) for one in found)


def test_a_spoilt_piece_is_ordered_again_by_its_id(before: Plan) -> None:
    job = ordered(before)
    job.deliver(before, "L1")
    spoilt = of_level(before, "L1")[0]
    job.write("cut", piece=spoilt.id)
    job.write("scrapped", piece=spoilt.id)
    after = replan(before, job.record)
    again = next(p for p in after.pieces if (p.run, p.from_mm) == (spoilt.run, spoilt.from_mm))
    assert again.status == "planned"
    assert spoilt.id in {name for board in after.job.cut_boards for name in board.pieces}


def test_the_line_that_replaces_damaged_pieces_names_them_once(before: Plan) -> None:
    job = ordered(before)
    job.deliver(before, "L1")
    pieces = of_level(before, "L1")
    job.cut_and_fit(pieces)
    for piece in pieces:
        job.write("scrapped", piece=piece.id)
    after = replan(before, job.record)
    found = order_changes(after, before)
    named = [name for one in found for name in one.damaged]
    assert sorted(named) == sorted(piece.id for piece in pieces)
    assert all("damage" in one.causes and one.code == "B-120" for one in found if one.damaged)


def test_a_loss_is_named_by_the_first_delivery_that_can_replace_it(before: Plan) -> None:
    """Whichever line is given first."""
    job = ordered(before)
    piece = of_level(before, "L1")[0]
    job.write("cut", piece=piece.id)
    job.write("scrapped", piece=piece.id)
    reasons = Reasons.of(before, replan(before, job.record))
    boards = {level: (level, "B-120") for level in ("L1", "L2", "L3")}
    assert reasons.damaged([boards["L3"], boards["L1"], boards["L2"]]) == {boards["L1"]: (piece.id,)}
    assert reasons.damaged([boards["L3"], boards["L2"]]) == {boards["L2"]: (piece.id,)}
    assert reasons.damaged([("L1", "K-110")]) == {}  # a bracket replaces no board


def test_an_order_on_top_has_the_new_days_and_is_firm_where_it_is_measured_now(before: Plan) -> None:
    nominal = house().model_copy(
        update={
            "gaps": tuple(
                gap.model_copy(update={"basis": "nominal", "tolerance_mm": 5})
                if gap.run.startswith("L3")
                else gap
                for gap in house().gaps
            )
        }
    )
    placed = plan(nominal).order
    day = FIRST + timedelta(weeks=6)
    later = house().model_copy(
        update={
            "levels": tuple(
                level.model_copy(update={"needed_on": day}) if level.level == "L3" else level
                for level in house().levels
            )
        }
    )
    nothing = placed.model_copy(update={"lines": (), "total": Decimal("0.00")})
    found = order_with(placed, nothing, (), later, nominal)
    for old, new in zip(placed.lines, found.lines, strict=True):
        if old.level == "L3":
            assert (old.status, new.status, new.measure_by) == ("forecast", "firm", None)
            assert new.deliver_on == day
            assert new.order_by is not None
            assert old.order_by is not None
            assert new.order_by > old.order_by
        else:
            assert new == old


def narrower(before: Plan) -> Plan:
    """L3 is measured much narrower once all is ordered: boards are left over."""
    return replan(before, ordered(before).record, wider(house(), "L3", 60))


def test_what_is_needed_for_nothing_can_be_dropped_while_it_need_not_be_ordered_yet(before: Plan) -> None:
    after = narrower(before)
    found = change(order_changes(after, before, today=date(2027, 2, 1)), "L3")
    assert found.ordered_now < 0
    assert found.amount == found.packs * found.price < 0
    assert found.order_by is not None
    late = order_changes(after, before, today=found.order_by + timedelta(days=1))
    assert change(late, "L3").ordered_now == 0


def test_dropping_must_save_more_than_a_changed_order_costs(before: Plan) -> None:
    after = narrower(before)
    early = date(2027, 2, 1)
    saved = -sum(one.amount for one in order_changes(after, before, today=early) if one.packs < 0)
    kept = order_changes(after, before, today=early, change_cost=saved)
    assert all(one.packs >= 0 for one in kept)
    dropped = order_changes(after, before, today=early, change_cost=saved - Decimal("0.01"))
    assert any(one.packs < 0 for one in dropped)


def test_what_was_delivered_is_never_dropped(before: Plan) -> None:
    job = ordered(before)
    for level in ("L1", "L2", "L3"):
        job.deliver(before, level)
    after = replan(before, job.record, wider(house(), "L3", 60))
    assert all(one.packs >= 0 for one in order_changes(after, before, today=date(2027, 2, 1)))


def test_dropping_leaves_enough_for_every_need(before: Plan) -> None:
    after = narrower(before)
    job = JobOnSite(list(after.record.events))
    for one in order_changes(after, before, today=date(2027, 2, 1)):
        if one.packs < 0:
            told = next(
                event
                for event in after.record.events
                if (event.event, event.level, event.code) == ("ordered", one.level, one.code)
            )
            job.write("undone", undoes=told.id)
            if one.ordered_before + one.ordered_now:
                job.write(
                    "ordered", code=one.code, level=one.level, quantity=one.ordered_before + one.ordered_now
                )
    again = replan(after, job.record)
    still = {(line.level, line.code): line.packs for line in after.order.lines if line.packs}
    assert {(line.level, line.code): line.packs for line in again.order.lines if line.packs} == still


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_what_was_ordered_is_told_to_the_line_whatever_is_measured(before: Plan, seed: int) -> None:
    job = ordered(before)
    after = replan(before, job.record, measured_again(house(), "L2", random.Random(seed), 6))
    told = {(one.level, one.code): one.ordered_before for one in order_changes(after, before)}
    for event in job.events:
        assert told[event.level, event.code] == event.quantity
