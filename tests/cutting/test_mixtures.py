"""How many boards of each size can hold all pieces: conditions in whole numbers, and the cheapest that keep them."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings

from benchmarks.instances.real_projects import facade_in_sizes
from optimiser.cutting.columns import complete
from optimiser.cutting.demand import prepare
from optimiser.cutting.generation import ColumnGeneration
from optimiser.cutting.mixtures import Mixture, Mixtures, bound_by_mixtures
from optimiser.cutting.pricing import Priced
from optimiser.cutting.problem import Board, CuttingProblem, Objective, Piece
from tests.builders.brute_force import minimum_by_trying_everything
from tests.builders.tiny_cutting_problems import tiny_cutting_problems

WIDE = Board(code="wide", length_mm=1200, width_mm=1000, price_cents=53)
NARROW = Board(code="narrow", length_mm=1200, width_mm=600, price_cents=33)
SHORT = Board(code="short", length_mm=800, width_mm=1000, price_cents=20)


def problem(*boards: Board, width: int = 500, quantity: int = 5) -> CuttingProblem:
    """Full-length pieces of one width."""
    piece = Piece(id="P", length_mm=1200, width_min_mm=width, width_max_mm=width, quantity=quantity)
    return CuttingProblem(boards=boards, pieces=(piece,), objective=Objective.LEAST_COST)


def condition(worth: int, wide: int, narrow: int) -> Priced:
    """All pieces are worth so much, and a board holds at most so much of it."""
    return Priced([], Fraction(0), wide, worth=worth, worths={"wide": wide, "narrow": narrow})


def bound_of(posed: CuttingProblem) -> tuple[int, Mixtures]:
    demand = prepare(posed)
    start = complete(demand, [])
    generation = ColumnGeneration(demand, start)
    generation.run(lambda: start.cost, lambda: False)
    mixtures = Mixtures(demand, start.cost)
    return bound_by_mixtures(generation, mixtures, lambda: False), mixtures


def test_the_cheapest_numbers_that_keep_a_condition() -> None:
    """10 a wide board and 6 a narrow one: 25 need three wide (159), two and one (139), one and three (152), ..."""
    mixtures = Mixtures(prepare(problem(WIDE, NARROW)), 200)
    assert mixtures.codes == ("wide", "narrow")
    mixtures.note(condition(25, 10, 6))
    assert mixtures.cheapest() == Mixture((2, 1), 139)
    assert mixtures.possible({"wide": 2, "narrow": 1})
    assert not mixtures.possible({"wide": 2})
    assert not mixtures.possible({"wide": 1, "narrow": 2})


def test_a_second_condition_forbids_what_the_first_allowed() -> None:
    """Only wide boards count for it: three of them at least."""
    mixtures = Mixtures(prepare(problem(WIDE, NARROW)), 200)
    mixtures.note(condition(25, 10, 6))
    mixtures.note(condition(25, 10, 0))
    assert mixtures.cheapest() == Mixture((3, 0), 159)


def test_numbers_proved_too_few_are_followed_by_the_next_cheapest() -> None:
    mixtures = Mixtures(prepare(problem(WIDE, NARROW)), 200)
    mixtures.note(condition(25, 10, 6))
    mixtures.forbid(Mixture((2, 1), 139))
    assert mixtures.cheapest() == Mixture((1, 3), 152)
    mixtures.forbid(Mixture((1, 3), 152))
    assert mixtures.cheapest() == Mixture((3, 0), 159)


def test_none_below_the_cost_is_none() -> None:
    mixtures = Mixtures(prepare(problem(WIDE, NARROW)), 139)
    mixtures.note(condition(25, 10, 6))
    assert mixtures.cheapest() is None


def test_the_first_code_is_one_that_takes_every_piece() -> None:
    """The cheapest by area takes no full length, so the others are counted by it."""
    demand = prepare(problem(SHORT, WIDE))
    assert Mixtures.can_tell(demand, 1000)
    assert Mixtures(demand, 1000).codes[0] == "wide"


def test_one_size_is_not_asked_nor_free_boards_nor_a_great_many() -> None:
    assert not Mixtures.can_tell(prepare(problem(WIDE)), 1000)
    free = NARROW.model_copy(update={"price_cents": 0})
    assert not Mixtures.can_tell(prepare(problem(WIDE, free)), 1000)
    assert not Mixtures.can_tell(prepare(problem(WIDE, NARROW)), 10**9)


@pytest.mark.parametrize(
    ("quantity", "cost"),
    [(4, 106), (5, 139), (6, 159), (7, 192)],
    ids=["two wide", "and a narrow one", "three wide", "and a narrow one again"],
)
def test_pieces_of_half_a_wide_board(quantity: int, cost: int) -> None:
    """A wide board holds two, a narrow one, so by the piece 26.50 and 33: the linear bound of five is 132.50."""
    bound, _ = bound_of(problem(WIDE, NARROW, quantity=quantity))
    assert bound == cost


def test_the_bound_of_a_facade_is_above_that_of_the_linear_program() -> None:
    posed = facade_in_sizes("S", 1, ((1200, 1000, 5300), (1200, 600, 3300)))
    demand = prepare(posed)
    start = complete(demand, [])
    generation = ColumnGeneration(demand, start)
    generation.run(lambda: start.cost, lambda: False)
    linear = generation.lower_bound
    mixtures = Mixtures(demand, start.cost)
    assert linear < bound_by_mixtures(generation, mixtures, lambda: False) <= start.cost
    assert not generation.master.limited, "the master is as it was"
    assert generation.rounded_up_bound(generation.master.solve()) == linear


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(tiny_cutting_problems())
def test_what_is_proved_is_true(posed: CuttingProblem) -> None:
    """No tiny problem of several sizes costs less than the bound."""
    demand = prepare(posed)
    start = complete(demand, [])
    if not start.cost or not Mixtures.can_tell(demand, start.cost):
        return
    generation = ColumnGeneration(demand, start)
    generation.run(lambda: start.cost, lambda: False)
    bound = bound_by_mixtures(generation, Mixtures(demand, start.cost), lambda: False)
    assert bound * posed.unit <= minimum_by_trying_everything(posed).cost_cents
