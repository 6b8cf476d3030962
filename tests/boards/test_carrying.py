"""A price on keeping remainders: boards in whole packs and carrying in one sum, with one proved bound."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from math import ceil

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from optimiser.boards.carrying import CarryPrice, least_sum
from optimiser.boards.problems import board_families
from optimiser.checking import broken_rules_of_plan
from optimiser.cutting.problem import CuttingProblem, CuttingResult
from optimiser.cutting.solve import solve
from optimiser.errors.problems import CannotBeDone
from optimiser.joints.layout import lay_out
from optimiser.model.order import Carrying
from optimiser.model.plan import Plan
from optimiser.model.project import Board, DeliveryLimits, Gap, Heading, Project, Run
from optimiser.planning.plan import plan
from tests.builders.every_cutting import Cutting, every_cutting
from tests.builders.levels import building, weekly
from tests.builders.tiny_buildings import tiny_buildings


def two_on_a_board(**heading: object) -> Project:
    """Two levels of one piece of half a board each, a board at 53.00."""
    base = building(storeys=2, gap_mm=300, length_mm=1200)
    return base.model_copy(update={"project": Heading(name="invented", **heading)})  # type: ignore[arg-type]


def told(made: Plan) -> Carrying:
    assert made.carrying is not None
    return made.carrying


def test_without_a_price_there_is_no_sum() -> None:
    made = plan(two_on_a_board())
    assert made.carrying is None
    assert made.boards["B-120"].count == 1


def test_a_low_price_keeps_the_remainder_and_a_high_one_buys_a_second_board() -> None:
    cheap, dear = (told(plan(two_on_a_board(carry_cost=price))) for price in ("52.99", "53.01"))
    assert (cheap.boards, cheap.remainder_stages, cheap.total) == (Decimal("53.00"), 1, Decimal("105.99"))
    assert (dear.boards, dear.remainder_stages, dear.total) == (Decimal("106.00"), 0, Decimal("106.00"))
    assert cheap.lower_bound <= cheap.total
    assert dear.lower_bound <= dear.total


def test_a_price_given_for_one_plan_goes_before_that_of_the_project() -> None:
    project = two_on_a_board(carry_cost="1.00")
    assert plan(project, carry_cost=Decimal("60.00")).boards["B-120"].count == 2
    assert plan(project).boards["B-120"].count == 1


def test_a_board_in_a_pack_that_is_paid_for_anyway_is_free() -> None:
    """Two boards in a pack: a second board costs nothing, so nothing waits however little waiting costs."""
    base = two_on_a_board()
    products = tuple(
        item.model_copy(update={"per_pack": 2}) if isinstance(item, Board) else item for item in base.products
    )
    found = told(plan(base.model_copy(update={"products": products}), carry_cost=Decimal("0.01")))
    assert (found.boards, found.remainder_stages, found.total) == (Decimal("53.00"), 0, Decimal("53.00"))
    assert found.optimal


def test_carrying_joins_the_sum_of_deliveries() -> None:
    limits = (DeliveryLimits(delivery_cost=Decimal("5.00")),)
    made = plan(two_on_a_board(carry_cost="0.10").model_copy(update={"deliveries": limits}))
    assert made.delivery_costs is not None
    costs = made.delivery_costs
    assert costs.waiting == told(made).carrying == Decimal("0.10")
    assert costs.total == costs.goods + costs.delivery + Decimal("0.10")


def test_limited_carrying_is_compared_with_no_carrying_by_the_sum() -> None:
    project = two_on_a_board(max_carry_stages=1)
    assert told(plan(project, carry_cost=Decimal("90.00"))).remainder_stages == 0
    assert told(plan(project, carry_cost=Decimal("9.00"))).remainder_stages == 1


def test_a_nominal_level_is_never_cut_ahead_so_it_carries_nothing() -> None:
    base = two_on_a_board(carry_cost="1.00")
    gaps = (base.gaps[0], base.gaps[1].model_copy(update={"basis": "nominal"}))
    found = told(plan(base.model_copy(update={"gaps": gaps})))
    assert (found.boards, found.remainder_stages, found.optimal) == (Decimal("106.00"), 0, True)


def test_several_sizes_and_carrying_are_one_sum() -> None:
    """Half-wide boards at a little over half the price: no remainder waits once waiting costs more than that."""
    base = two_on_a_board()
    half = Board(code="B-HALF", length_mm=1200, width_mm=500, price=Decimal("30.00"))
    runs = tuple(run.model_copy(update={"board": ("B-120", "B-HALF")}) for run in base.runs)
    both = base.model_copy(update={"products": (*base.products, half), "runs": runs})
    cheap, dear = (told(plan(both, carry_cost=Decimal(price))) for price in ("6.99", "7.01"))
    assert (cheap.total, dear.total) == (Decimal("59.99"), Decimal("60.00"))


@pytest.mark.parametrize(
    ("price", "asked"),
    [
        ("9.00", [None, None, None]),  # the sum, the fewest packs, and nothing waiting: one board is cheapest
        ("90.00", [None, None, {"B-120": 2}, None]),  # two are: with the least waiting in as many packs too
    ],
)
def test_the_least_waiting_in_as_many_packs_is_asked_for_where_those_are_not_the_fewest(
    price: str, asked: list[dict[str, int] | None]
) -> None:
    project = two_on_a_board()
    carry_price = CarryPrice.of(project, Decimal(price))
    assert carry_price is not None
    (family,) = board_families(project, lay_out(project).pieces, "whole")
    told: list[Mapping[str, int] | None] = []

    def search(
        problem: CuttingProblem, seconds: float | None, at_most: Mapping[str, int] | None
    ) -> CuttingResult:
        told.append(at_most)
        return solve(problem)

    found = least_sum(carry_price, family, family.problem, search)
    assert told == asked
    assert found.boards == (2 if price == "90.00" else 1)


@pytest.mark.parametrize("price", ["-1.00", "1.005", "much"])
def test_what_is_no_amount_of_money_is_refused(price: str) -> None:
    with pytest.raises(CannotBeDone, match="carry_cost"):
        plan(two_on_a_board(), carry_cost=price)  # type: ignore[arg-type]


def test_a_board_without_a_price_cannot_be_set_against_carrying() -> None:
    base = two_on_a_board(carry_cost="1.00")
    free = tuple(
        item.model_copy(update={"price": Decimal(0)}) if isinstance(item, Board) else item
        for item in base.products
    )
    with pytest.raises(CannotBeDone, match=r"B-120 has no price: give it one in the products"):
        plan(base.model_copy(update={"products": free}))


def paid(project: Project, found: Cutting) -> Fraction:
    """Whole packs with their allowance."""
    rate = Fraction(project.allowance[0].fraction) if project.allowance else Fraction(0)  # type: ignore[arg-type]
    total = Fraction(0)
    for code, count in found.boards:
        board = project.building.boards[code]
        total += ceil(Fraction(count + ceil(count * rate), board.per_pack)) * Fraction(board.price)
    return total


@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
@given(tiny_buildings(), st.integers(0, 20_000))
def test_no_cutting_comes_to_less_than_the_bound_nor_to_more_than_the_plans_at_hand(
    project: Project, cents: int
) -> None:
    price = Decimal(cents) / 100
    found = told(plan(project, carry_cost=price))
    every = every_cutting(project)
    least = min(paid(project, one) + Fraction(price) * one.remainder_stages for one in every)
    nothing_waits = min(paid(project, one) for one in every if not one.remainder_stages)
    assert found.lower_bound <= least <= found.total <= nothing_waits
    plain = plan(project)
    packs = sum(count.packs * project.building.boards[code].price for code, count in plain.boards.items())
    assert found.total <= packs + price * plain.waiting.remainder_stages


# -- the judge


@pytest.mark.parametrize(
    ("change", "line"),
    [
        ({"remainder_stages": 7}, "carrying: remainder_stages must be 1, but is 7"),
        ({"boards": Decimal("52.00")}, "carrying: boards must be 53.00, but is 52.00"),
        ({"carrying": Decimal("2.00")}, "carrying: carrying must be 9.00, but is 2.00"),
        ({"total": Decimal("63.00")}, "carrying: total must be 62.00, but is 63.00"),
        ({"lower_bound": Decimal("62.01")}, "carrying: the lower bound 62.01 is above the sum 62.00"),
        ({"optimal": True}, "carrying: optimal must be False, but is True"),
    ],
)
def test_the_judge_derives_the_sum_again(change: dict[str, object], line: str) -> None:
    made = plan(two_on_a_board(carry_cost="9.00"))
    wrong = made.model_copy(update={"carrying": told(made).model_copy(update=change)})
    assert any(broken.startswith(line) for broken in broken_rules_of_plan(wrong))


def test_the_judge_wants_the_sum_where_the_project_has_a_price() -> None:
    made = plan(two_on_a_board(carry_cost="9.00"))
    assert "tells no sum" in "\n".join(broken_rules_of_plan(made.model_copy(update={"carrying": None})))


def test_the_judge_wants_no_cost_of_waiting_in_the_deliveries_without_a_price() -> None:
    made = plan(weekly(delivery_cost="5.00"))
    assert made.delivery_costs is not None
    costs = made.delivery_costs.model_copy(update={"waiting": Decimal("1.00")})
    lines = broken_rules_of_plan(made.model_copy(update={"delivery_costs": costs}))
    assert any(line.startswith("delivery_costs: waiting must be what carrying costs") for line in lines)


def test_a_longer_building_is_planned_with_a_price() -> None:
    """Pieces shorter than their board, so that strips wait too: the judge counts both kinds of remainders."""
    base = building(storeys=3, length_mm=2_000)
    runs = (*base.runs, Run(run="L3-S", level="L3", length_mm=1_500, board=("B-120",)))
    gaps = (*base.gaps, Gap(run="L3-S", at_mm=0, gap_mm=160))
    made = plan(base.model_copy(update={"runs": runs, "gaps": gaps}), carry_cost=Decimal("0.50"))
    assert told(made).remainder_stages == made.waiting.remainder_stages > 0
