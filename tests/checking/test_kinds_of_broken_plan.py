"""More than sixty kinds of broken plan, each a sound plan with one thing wrong, and what the judge must say of it.

A kind is a rule: two lines of the judge that differ only in names and numbers are of one kind. Beside the tables of
`test_plans` and `test_forecasts` this one breaks what a plan says of its record, of days and truckloads, of money, of
the floor of the site, of junctions and moved brackets, and what a replan hands on.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from decimal import Decimal

import pytest

from optimiser.checking import broken_rules_of_plan
from optimiser.model.plan import Plan
from tests.builders.broken_plans import (
    Broken,
    at_hand,
    begun,
    carried,
    closed,
    discarded_and_at_hand,
    in_loads,
    later,
    limited,
    more,
    more_whole_boards,
    opened_number,
    opened_twice,
    piece,
    priced,
    ripped,
    silent,
    stacked,
    to,
    told_too,
    two_of_a_number,
    undone,
    unsaid,
)
from tests.builders.checking_examples import REMOVED, changed, plan_with
from tests.checking.test_forecasts import FAULTS as OF_FORECASTS
from tests.checking.test_forecasts import made as with_a_forecast
from tests.checking.test_plans import FAULTS as OF_PLANS

LINE, DELIVERY, COSTS = ("order", "lines", 0), ("deliveries", 0), ("delivery_costs",)

BROKEN: dict[str, Broken] = {
    # the record
    "no record of what is done": Broken(
        begun, to([], "record", "events"), "the plan has no record that says so"
    ),
    "fitted, and nobody says so": Broken(
        begun, unsaid("fitted"), "no event on record says so of it or of its level"
    ),
    "fitted is taken back": Broken(
        begun, undone("fitted"), "no event on record says so of it or of its level"
    ),
    "a fitted piece is planned again": Broken(
        begun,
        piece("fitted", "status", "planned"),
        "the record says that it is fitted, but the plan does not keep it",
    ),
    "a cut piece is cut again": Broken(
        begun, piece("cut", "status", "planned"), "the record says that it is cut, but the plan cuts it again"
    ),
    "a piece counts that is scrapped": Broken(
        begun,
        told_too("scrapped", "fitted"),
        "the record says that it is scrapped, but the plan still counts on it",
    ),
    "a board is forgotten": Broken(
        begun, to(REMOVED, "job", "cut_boards", 0), "but no opened board says that it was cut from it"
    ),
    "a board is opened twice": Broken(begun, opened_twice, "it is opened 2 times"),
    "a piece of two boards": Broken(
        begun, opened_twice, "2 boards say that it was cut from them, but it is one piece"
    ),
    "a number that is taken": Broken(begun, opened_number, "a board of that number is opened already"),
    "two boards of a number": Broken(begun, two_of_a_number, "2 layouts have that number"),
    "a board that was never bought": Broken(
        begun, to(False, "job", "cut_boards", 0, "bought"), "so bought must be True"
    ),
    "an opened board's scrap": Broken(
        begun, more(7, "job", "cut_boards", 0, "scrap_mm2"), "mm2 must be its pieces, remainders and scrap"
    ),
    "more at hand than the stock has": Broken(begun, at_hand(quantity=9), "the stock has"),
    "something at hand is of another size": Broken(begun, at_hand(width_mm=9), "but at hand is"),
    "discarded and at hand": Broken(begun, discarded_and_at_hand, "it is discarded, but it is at hand"),
    "more whole boards than came": Broken(begun, more_whole_boards, "99 whole boards are said to be at hand"),
    "supplied: ordered": Broken(begun, more(1, "job", "supplied", 0, "ordered"), "ordered must be"),
    "supplied: delivered": Broken(begun, more(1, "job", "supplied", 0, "delivered"), "delivered must be"),
    "supplied: lost": Broken(begun, more(1, "job", "supplied", 0, "lost"), "lost must be"),
    "supplied: used": Broken(begun, more(1, "job", "supplied", 0, "used"), "used must be"),
    "supplied: usable": Broken(begun, more(-1, "job", "supplied", 0, "usable"), "usable must be"),
    "supplied: not listed": Broken(
        begun, to(REMOVED, "job", "supplied", 0), "it must be listed once, but is listed 0 times"
    ),
    "supplied: no such product": Broken(
        begun, to("X", "job", "supplied", 0, "code"), "the project has no such product"
    ),
    "a delivery nobody wrote down": Broken(begun, unsaid("delivered"), "delivered must be"),
    "an order nobody wrote down": Broken(begun, unsaid("ordered"), "ordered must be"),
    # days, loads and trucks
    "it comes after it is needed": Broken(in_loads, later(70, *LINE, "deliver_on"), "but is needed on"),
    "it comes on no crane day": Broken(in_loads, later(-1, *LINE, "deliver_on"), "which is no crane day"),
    "it has no day": Broken(in_loads, to(None, *LINE, "deliver_on"), "it has no day of delivery"),
    "ordered on the wrong day": Broken(in_loads, later(1, *LINE, "order_by"), "order_by must be"),
    "a truckload more": Broken(in_loads, more(1, *DELIVERY, "trucks"), "trucks must be"),
    "a pallet less": Broken(in_loads, more(-1, *DELIVERY, "pallets"), "pallets must be"),
    "a level of a load": Broken(in_loads, to(["L1"], *DELIVERY, "levels"), "levels must be"),
    "packs of a load": Broken(
        in_loads, to(3, *DELIVERY, "packs", "B-120"), "packs of B-120, but the delivery"
    ),
    "a load dropped": Broken(in_loads, to(REMOVED, *DELIVERY), "but 0 deliveries bring them"),
    "loads out of order": Broken(
        in_loads, lambda t: {"deliveries": t["deliveries"][::-1]}, "must stand in the order of their days"
    ),
    "a load on a day without packs": Broken(
        in_loads, later(1, *DELIVERY, "deliver_on"), "the order has no packs for that day"
    ),
    "storage broken in silence": Broken(limited, silent, "of board stand on site, more than"),
    "minimum order broken in silence": Broken(limited, silent, "less than the minimum order"),
    # money of deliveries
    "a price": Broken(in_loads, to("90.00", *LINE, "price"), "price must be 100.00, that for"),
    "an amount": Broken(in_loads, to("1.00", *LINE, "amount"), "amount must be"),
    "goods": Broken(priced, to("0.01", *COSTS, "goods"), "goods must be"),
    "loads": Broken(priced, more(1, *COSTS, "loads"), "loads must be"),
    "cost of loads": Broken(priced, to("0.01", *COSTS, "delivery"), "delivery must be"),
    "cost of storage": Broken(priced, to("0.01", *COSTS, "storage"), "storage must be"),
    "area and weeks of storage": Broken(
        priced,
        lambda t: {
            "delivery_costs.storage_m2_weeks": str(
                Decimal(t["delivery_costs"]["storage_m2_weeks"]) + Decimal("0.002")
            )
        },
        "storage_m2_weeks must be",
    ),
    "sum": Broken(priced, to("0.01", *COSTS, "total"), "total must be"),
    "a bound above the sum": Broken(priced, to("99999.00", *COSTS, "lower_bound"), "is above the sum"),
    "proved with a gap": Broken(priced, to("1.00", *COSTS, "lower_bound"), "optimal must be False"),
    "waiting that has no price": Broken(
        priced, to("1.00", *COSTS, "waiting"), "waiting must be what carrying costs"
    ),
    "no sum": Broken(priced, to(None, *COSTS), "but no sum is told"),
    "a sum of nothing": Broken(
        limited,
        lambda _: {"delivery_costs": priced().model_dump(mode="json")["delivery_costs"]},
        "but a sum is told",
    ),
    # the floor of the site
    "a day on site is left out": Broken(stacked, to(REMOVED, "on_site", 0), "it must tell of the"),
    "levels on site": Broken(stacked, to([], "on_site", 0, "levels"), "levels must be"),
    "area on site": Broken(stacked, to(9, "on_site", 0, "face_mm2"), "face_mm2 must be"),
    "floor that is taken": Broken(stacked, to(9, "on_site", 0, "floor_mm2"), "floor_mm2 must be"),
    "weight on site": Broken(stacked, to("1", "on_site", 0, "weight_kg"), "weight_kg must be"),
    "load on the floor": Broken(
        stacked, to("1", "on_site", 0, "floor_load_kg_m2"), "floor_load_kg_m2 must be"
    ),
    "a floor that is too weak": Broken(
        stacked, to(False, "on_site", 0, "floor_load_kept"), "floor_load_kept must be"
    ),
    # edges, brackets, thin rips, what waits
    "a junction left out": Broken(closed, to(REMOVED, "junctions", 0), "but it is not listed so"),
    "a junction's tape": Broken(closed, more(1, "junctions", 0, "tape_mm"), "is listed, but is not"),
    "a moved bracket left out": Broken(closed, to(REMOVED, "brackets_moved", 0), "but is not listed so"),
    "a moved bracket made up": Broken(closed, more(1, "brackets_moved", 0, "at_mm"), "but none stands so"),
    "a moved bracket without a mend": Broken(
        closed, to("", "brackets_moved", 0, "mend"), "must say what would mend it"
    ),
    "a thin rip in silence": Broken(ripped, to(REMOVED, "thin_rips", 0), "but it is not listed"),
    "a thin rip made up": Broken(ripped, more(1, "thin_rips", 0, "width_mm"), "but it does not"),
    "what carrying costs": Broken(carried, to("2.00", "carrying", "carrying"), "carrying must be"),
    "deliveries that a remainder waits": Broken(
        carried, more(1, "carrying", "remainder_stages"), "remainder_stages must be"
    ),
    "no sum of carrying": Broken(carried, to(None, "carrying"), "tells no sum of boards and carrying"),
}


def judged(fault: str) -> list[str]:
    """What the judge says of a broken plan."""
    case = BROKEN[fault]
    tables = case.sound().model_dump(mode="json")
    return broken_rules_of_plan(Plan.model_validate(changed(tables, case.change(tables))))


@pytest.mark.parametrize(
    "sound", sorted({case.sound for case in BROKEN.values()}, key=lambda one: one.__name__)
)
def test_the_plans_are_sound_before_they_are_broken(sound: Callable[[], Plan]) -> None:
    tables = sound().model_dump(mode="json")
    assert broken_rules_of_plan(Plan.model_validate(tables)) == []


@pytest.mark.parametrize("fault", BROKEN)
def test_one_thing_broken_is_found_and_named(fault: str) -> None:
    broken = judged(fault)
    assert any(BROKEN[fault].told in line for line in broken), broken


def rule(line: str) -> str:
    """A line of the judge without its names and numbers."""
    return re.sub(r"\S*[\dA-Z]\S*|'[^']*'", "#", line)


@pytest.mark.slow
def test_far_more_than_sixty_kinds_are_told_apart() -> None:
    told: set[str] = set()
    for changes, words in OF_PLANS.values():
        told |= {rule(line) for line in broken_rules_of_plan(plan_with(changes)) if words in line}
    for change, words in OF_FORECASTS.values():
        tables = changed(with_a_forecast().model_dump(mode="json"), change())
        told |= {rule(line) for line in broken_rules_of_plan(Plan.model_validate(tables)) if words in line}
    of_plans = len(told)
    for fault, case in BROKEN.items():
        told |= {rule(line) for line in judged(fault) if case.told in line}
    assert of_plans >= 60
    assert len(told) - of_plans >= 40
