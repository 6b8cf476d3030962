"""Boards against waiting over all families of boards: the plans, their bounds, and which are shown."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from optimiser.errors.problems import CannotBeDone
from optimiser.model.project import Project
from optimiser.planning.plan import plan
from optimiser.studies.frontier import FrontierPoint, frontier
from tests.builders.every_cutting import Cutting, every_cutting
from tests.builders.levels import building
from tests.builders.tiny_buildings import tiny_buildings


def worth(project: Project, boards: tuple[tuple[str, int], ...]) -> Fraction:
    """Boards at the price of one."""
    products = project.building.boards
    return sum((Fraction(products[c].price) * n / products[c].per_pack for c, n in boards), Fraction(0))


def least_waiting(project: Project, cuttings: set[Cutting], point: FrontierPoint) -> int:
    """Of every cutting whose boards are worth no more."""
    most = worth(project, tuple(point.boards_by_code.items()))
    return min(one.piece_stages for one in cuttings if worth(project, one.boards) <= most)


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(tiny_buildings(), st.data())
def test_every_plan_of_a_tiny_building_waits_as_little_as_any_that_costs_as_much(
    project: Project, data: st.DataObject
) -> None:
    points, cuttings = frontier(project), every_cutting(project)
    fewest = min(sum(n for _, n in one.boards) for one in cuttings)
    assert [point.number for point in points] == [*range(1, len(points) + 1)]
    assert points[0].waiting.piece_stages == 0
    assert points[-1].boards == fewest
    waits = [point.waiting.piece_stages for point in points]
    assert waits == sorted(set(waits))
    for point in points:
        assert point.lower_bound == fewest
        least = least_waiting(project, cuttings, point)
        assert point.lower_bound_piece_stages <= least == point.waiting.piece_stages
    chosen = data.draw(st.sampled_from(points))
    made = plan(project, waiting_choice=chosen.number)
    assert {code: count.count for code, count in made.boards.items()} == chosen.boards_by_code
    assert {code: count.packs for code, count in made.boards.items()} == chosen.packs
    assert made.waiting.piece_stages == chosen.waiting.piece_stages
    assert made.waiting_choice == chosen.number


def test_of_those_that_pay_as_little_one_is_marked() -> None:
    """Three levels, two pieces each, six on a board: one to three boards. In packs of two the second is paid for
    with the first, so one board has no merit but that the other stays whole."""
    base = building(storeys=3)
    products = (base.products[0].model_copy(update={"per_pack": 2}), *base.products[1:])
    points = frontier(base.model_copy(update={"products": products}))
    assert [(p.boards, p.packs["B-120"], p.waiting.piece_stages, p.least_for_paid) for p in points] == [
        (3, 2, 0, True),
        (2, 1, 2, True),
        (1, 1, 6, False),
    ]


def test_where_only_some_choices_are_kept_both_ends_stay(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("optimiser.boards.frontier._MOST_KEPT", 1)
    points = frontier(building(storeys=3))
    assert [(p.boards, p.waiting.piece_stages) for p in points] == [(3, 0), (1, 6)]
    monkeypatch.setattr("optimiser.boards.frontier._MOST_KEPT", 3)
    assert [p.boards for p in frontier(building(storeys=3))] == [3, 2, 1]


def test_the_project_s_limit_on_carrying_holds_on_the_frontier() -> None:
    base = building(storeys=3)
    heading = base.project.model_copy(update={"max_carry_stages": 1})
    points = frontier(base.model_copy(update={"project": heading}))
    assert [(p.boards, p.waiting.piece_stages) for p in points] == [(3, 0), (2, 2)]


def test_staged_by_level_there_is_nothing_to_choose() -> None:
    (only,) = frontier(building(storeys=3), staging="level")
    assert (only.boards, only.waiting.piece_stages) == (3, 0)


def test_nominal_levels_are_in_every_plan_and_nothing_of_them_waits() -> None:
    base = building(storeys=3)
    gaps = (*base.gaps[:2], base.gaps[2].model_copy(update={"basis": "nominal"}))
    project = base.model_copy(update={"gaps": gaps})
    points = frontier(project)
    assert [(p.boards, p.waiting.piece_stages, p.packs) for p in points] == [(3, 0, {}), (2, 2, {})]
    assert plan(project, waiting_choice=1).boards["B-120"].count == 3


def test_boards_without_a_price_are_weighed_by_their_area() -> None:
    base = building(storeys=2)
    products = (base.products[0].model_copy(update={"price": 0}), *base.products[1:])
    points = frontier(base.model_copy(update={"products": products}))
    assert [(p.boards, p.paid, p.cost) for p in points] == [(2, 0, 0), (1, 0, 0)]


def test_a_number_that_the_frontier_does_not_have_is_refused() -> None:
    with pytest.raises(
        CannotBeDone, match="waiting choice 4: there are 3 plans from 1, where nothing waits, to 3"
    ):
        plan(building(storeys=3), waiting_choice=4)


@pytest.mark.parametrize("other", [{"carry_cost": "1.00"}, {"joint_rounds": 1}])
def test_a_number_is_not_taken_together_with_another_way_to_choose(other: dict[str, object]) -> None:
    with pytest.raises(CannotBeDone, match="give one of them"):
        plan(building(storeys=3), waiting_choice=1, **other)  # type: ignore[arg-type]
