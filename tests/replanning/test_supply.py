"""What a job has of each product by its record, and what must be ordered beyond that."""

from __future__ import annotations

from collections import Counter
from decimal import Decimal

import pytest

from optimiser.model.needs import LevelNeeds
from optimiser.model.progress import Supplied
from optimiser.model.project import Allowance, Project
from optimiser.replanning.job_state import Happened
from optimiser.replanning.supply import Supply, supplied, whole_boards
from tests.builders.levels import building


def project(fraction: str = "0") -> Project:
    """Boards of one code, brackets, anchors, and rolls of 25 m of tape; an allowance on boards."""
    return building(allowance=(Allowance(kind="board", fraction=Decimal(fraction)),))


def board(ordered: int, *, delivered: int = 0, lost: int = 0, used: int = 0, fraction: str = "0") -> Supplied:
    state = Happened(
        ordered=Counter({"B-120": ordered}),
        delivered=Counter({"B-120": delivered}),
        lost=Counter({"B-120": lost}),
    )
    (found,) = supplied(project(fraction), {"B-120": used}, state)
    return found


@pytest.mark.parametrize(
    ("ordered", "lost", "used", "fraction", "usable"),
    [
        (8, 0, 0, "0", 8),
        (8, 1, 3, "0", 4),
        (8, 0, 8, "0", 0),  # all are used up
        (8, 0, 9, "0", 0),
        (8, 8, 0, "0", 0),
        (11, 0, 0, "0.1", 10),  # one of eleven is left for breakage
        (10, 0, 0, "0.1", 9),
        (1, 0, 0, "0.1", 0),
    ],
)
def test_what_is_neither_lost_nor_used_may_be_planned_with_less_the_allowance_on_it(
    ordered: int, lost: int, used: int, fraction: str, usable: int
) -> None:
    found = board(ordered, lost=lost, used=used, fraction=fraction)
    assert (found.ordered, found.lost, found.used, found.usable) == (ordered, lost, used, usable)


def test_what_is_used_has_come_and_what_has_come_was_ordered() -> None:
    assert board(8, delivered=2, used=5).delivered == 5
    assert board(3, delivered=5).ordered == 5
    assert supplied(project(), {}, Happened()) == ()


def test_a_roll_that_is_begun_counts_by_what_is_left_of_it() -> None:
    state = Happened(ordered=Counter({"T-1": 2}), delivered=Counter({"T-1": 1}))
    (tape,) = supplied(project(), {"T-1": 26_000}, state)
    assert (tape.ordered, tape.delivered, tape.used, tape.usable) == (2, 2, 26_000, 24_000)


def test_whole_boards_are_on_site_or_come_with_the_delivery_that_they_are_ordered_for() -> None:
    """Of ten ordered six have come: all four of L1 and two of L2's four; one is opened and one lost."""
    state = Happened(
        ordered=Counter({"B-120": 10}),
        ordered_for={"B-120": Counter({"L3": 2, "L1": 4, "L2": 4})},
        delivered=Counter({"B-120": 6}),
        lost=Counter({"B-120": 1}),
    )
    found = whole_boards(project(), supplied(project(), {"B-120": 1}, state), state)
    assert [(item.name, item.kind, item.level, item.quantity) for item in found] == [
        ("B-120 on site", "on site", "", 4),
        ("B-120 for L2", "on order", "L2", 2),
        ("B-120 for L3", "on order", "L3", 2),
    ]


def test_what_is_at_hand_serves_the_first_levels_and_only_the_rest_is_ordered() -> None:
    """Boards at hand are cut as such: what is needed of boards is beyond them, and what nothing is cut from serves what
    the simulation puts on top."""

    def has(code: str, usable: int) -> Supplied:
        return Supplied(code=code, ordered=usable, delivered=usable, lost=0, used=0, usable=usable)

    fitted = LevelNeeds({"L1": {"K-110": 1}})
    supply = Supply(project(), fitted, (has("B-120", 5), has("K-110", 6)), {"B-120": 2})
    needed = LevelNeeds({"L1": {"B-120": 1, "K-110": 5}, "L2": {"B-120": 2, "K-110": 4}, "L3": {"K-110": 3}})
    on_top = LevelNeeds({"L2": {"B-120": 1}, "L3": {"B-120": 4, "K-110": 1}})
    found = supply.beyond(needed, on_top)
    assert found.needed == LevelNeeds(
        {"L1": {"B-120": 1}, "L2": {"B-120": 2, "K-110": 2}, "L3": {"K-110": 3}}
    )
    assert found.on_top == LevelNeeds({"L1": {}, "L2": {}, "L3": {"B-120": 2, "K-110": 1}})
    assert [(item.code, item.spare) for item in found.supplied] == [("B-120", 0), ("K-110", 0)]
