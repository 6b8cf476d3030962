"""Which left-overs later levels can use: of their board, large enough for one of their pieces, near enough."""

from __future__ import annotations

import pytest

from optimiser.boards.usable_offcuts import usable_left_over
from optimiser.model.planned_boards import PlannedLeftOver
from optimiser.model.project import Heading, Project
from tests.builders.levels import building
from tests.builders.plans_by_hand import piece


def left(length_mm: int, width_mm: int, stage: int = 10, code: str = "B-120") -> PlannedLeftOver:
    return PlannedLeftOver(length_mm=length_mm, width_mm=width_mm, stage=stage, code=code)


# L1 and L2 have a narrow piece and a wide one, L3 a short one, L4 none at all.
PIECES = (
    piece("L1-N-001", "L1-N", 0, 1200, 165),
    piece("L2-N-001", "L2-N", 0, 1200, 165),
    piece("L2-N-002", "L2-N", 1200, 2400, 400),
    piece("L3-N-001", "L3-N", 0, 600, 200),
)


def project(carry: int | None = None) -> Project:
    return building(storeys=4, project=Heading(name="invented", max_carry_stages=carry))


def served(item: PlannedLeftOver, carry: int | None = None) -> list[tuple[str, ...]]:
    return [found.serves for found in usable_left_over(project(carry), PIECES, (item,))]


@pytest.mark.parametrize(
    ("length_mm", "width_mm", "levels"),
    [
        (1200, 165, ["L2"]),  # one of its two pieces is enough
        (1200, 164, []),
        (1199, 199, []),
        (1199, 400, ["L3"]),
        (600, 200, ["L3"]),
        (600, 199, []),
        (599, 900, []),
        (1200, 400, ["L2", "L3"]),  # L1 is cut by then, and L4 has no piece
    ],
)
def test_a_left_over_serves_every_later_level_of_which_it_holds_a_piece(
    length_mm: int, width_mm: int, levels: list[str]
) -> None:
    assert served(left(length_mm, width_mm)) == ([tuple(levels)] if levels else [])


def test_it_serves_only_later_levels_as_far_as_it_may_be_carried() -> None:
    assert served(left(1200, 400, stage=20)) == [("L3",)]
    assert served(left(1200, 400, stage=30)) == []
    assert served(left(1200, 400), carry=1) == [("L2",)]
    assert served(left(1200, 400), carry=2) == [("L2", "L3")]
    assert served(left(600, 200), carry=1) == []


def test_it_serves_only_pieces_that_may_be_cut_from_its_board() -> None:
    assert served(left(1200, 400, code="B-99")) == []


def test_they_stand_in_the_order_of_delivery_and_the_largest_first() -> None:
    items = [left(600, 900, 20), left(1200, 300), left(600, 800), left(1200, 400), left(1200, 200, 40)]
    found = usable_left_over(project(), PIECES, items)
    assert [(item.level, item.stage, item.length_mm, item.width_mm) for item in found] == [
        ("L1", 10, 1200, 400),
        ("L1", 10, 600, 800),
        ("L1", 10, 1200, 300),
        ("L2", 20, 600, 900),
    ]


def test_of_levels_delivered_together_the_first_leaves_it() -> None:
    two = project()
    levels = tuple(
        level.model_copy(update={"sequence": 10}) if level.level == "L2" else level for level in two.levels
    )
    (found,) = usable_left_over(two.model_copy(update={"levels": levels}), PIECES, [left(600, 900)])
    assert (found.level, found.serves) == ("L1", ("L3",))
