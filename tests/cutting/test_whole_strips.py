"""Whole strips, then boards: a plan with so many boards, or a proof that there is none."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings

from benchmarks.instances.real_projects import facade_in_sizes, facade_with_rack
from benchmarks.open_groups import MIXTURES, carried
from optimiser.checking import broken_rules_of_result
from optimiser.cutting.demand import Demand, prepare
from optimiser.cutting.problem import Board, CuttingProblem, Objective, Piece
from optimiser.cutting.solve import solve
from optimiser.cutting.strip_program import applies
from optimiser.cutting.whole_strips import WholeStrips
from tests.builders.brute_force import minimum_by_trying_everything
from tests.builders.tiny_cutting_problems import tiny_cutting_problems

WIDE = Board(code="wide", length_mm=1200, width_mm=1000)
SHORT = Board(code="short", length_mm=1000, width_mm=600)


def problem(*pieces: tuple[int, int], boards: tuple[Board, ...] = (WIDE,)) -> CuttingProblem:
    """Pieces of (length, width)."""
    return CuttingProblem(
        boards=boards,
        objective=Objective.FEWEST_BOARDS,
        pieces=tuple(
            Piece(id=f"P{k}", length_mm=length, width_min_mm=across, width_max_mm=across)
            for k, (length, across) in enumerate(pieces)
        ),
    )


def asked(demand: Demand) -> WholeStrips:
    """With no prices but the widths themselves."""
    return WholeStrips(demand, [family.widths.astype(np.int64) for family in demand.families])


def test_strips_in_whole_numbers_need_one_board_more() -> None:
    demand = prepare(problem(*[(500, 400)] * 5))  # three strips, two on a board
    assert asked(demand).fit((1,), 1.0).fits is False
    answer = asked(demand).fit((2,), 1.0)
    assert answer.fits is True
    assert answer.plan is not None
    assert answer.plan.cost == 2


def test_boards_of_two_lengths_take_what_fits_their_length() -> None:
    """Two pieces of 1100 x 500 fill a long board, one of 900 x 600 a short one; a long one takes no more beside it."""
    demand = prepare(problem((1100, 500), (1100, 500), (900, 600), boards=(WIDE, SHORT)))
    for boards, fits in (((1, 1), True), ((1, 0), False), ((0, 3), False), ((1, 9), True), ((2, 0), True)):
        assert asked(demand).fit(boards, 1.0).fits is fits, boards


def test_no_piece_joins_a_strip_of_a_board_that_it_may_not_be_cut_from() -> None:
    """The piece of 500 x 300 that only short boards may serve shares no strip of a long one, though it would fit."""
    posed = problem((600, 300), (500, 300), boards=(WIDE, SHORT))
    either, short = posed.pieces
    posed = posed.model_copy(update={"pieces": (either, short.model_copy(update={"boards": ("short",)}))})
    demand = prepare(posed)
    assert asked(demand).fit((1, 0), 1.0).fits is False
    answer = asked(demand).fit((1, 1), 1.0)
    assert answer.plan is not None
    assert asked(demand).fit((0, 1), 1.0).fits is True


def test_what_strips_break_is_learned_for_every_number_of_boards() -> None:
    """By their widths three strips of 650 and one of 40 could lie on two boards; no board takes two of 650."""
    demand = prepare(problem((700, 650), (700, 650), (700, 650), (700, 40)))
    questions = asked(demand)
    before = len(questions.conditions)
    assert questions.fit((2,), 1.0).fits is False
    learned = len(questions.conditions)
    assert learned > before
    assert questions.fit((1,), 1.0).fits is False
    assert len(questions.conditions) == learned
    assert questions.fit((3,), 1.0).fits is True


def test_no_effort_and_no_time_settle_nothing() -> None:
    demand = prepare(problem(*[(500, 400)] * 5))
    assert asked(demand).fit((2,), 0.0).fits is None
    assert asked(demand).fit((2,), 1.0, lambda: 0.0).fits is None


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(tiny_cutting_problems())
def test_what_is_answered_is_true(posed: CuttingProblem) -> None:
    demand = prepare(posed)
    if not posed.pieces or not posed.counts_boards or not applies(demand) or len(demand.sources) > 1:
        return
    least = minimum_by_trying_everything(posed).boards
    for boards, otherwise in ((least, False), (least - 1, True)):
        answer = asked(demand).fit((boards,), 1.0)
        assert answer.fits is not otherwise
        if answer.plan is not None:
            assert answer.plan.cost <= boards


@pytest.mark.parametrize("seed", range(6))
def test_of_two_sizes_the_least_cost_is_that_of_the_cheapest_numbers_that_fit(seed: int) -> None:
    """Small facades on two sizes: what is proved to be too few never has a plan, and the plan keeps all rules."""
    posed = facade_in_sizes("S", seed + 1, MIXTURES["1200x1000 and 1000x600"])
    few = posed.model_copy(update={"pieces": posed.pieces[:18]})
    result = solve(few, waiting=False)
    assert broken_rules_of_result(result, few) == []
    demand = prepare(few)
    questions = asked(demand)
    price = [source.price for source in demand.sources]
    bought = int(result.cost / few.unit)
    for boards in product(range(6), range(10)):
        if sum(n * p for n, p in zip(boards, price, strict=True)) < bought:
            assert questions.fit(boards, 1.0).fits is not True, "a plan that costs less"


@pytest.mark.parametrize(
    ("mixture", "seed", "cost"),
    [
        ("1200x1000 and 1000x600", 8, 113_400),  # 115,300 before, bound 113,100
        ("1200x1000 and 2400x1200", 2, 122_700),  # 123,100 before, bound 121,200
    ],
)
def test_two_lengths_of_board_are_proved(mixture: str, seed: int, cost: int) -> None:
    posed = facade_in_sizes("S", seed, MIXTURES[mixture])
    result = solve(posed, waiting=False)
    assert broken_rules_of_result(result, posed) == []
    assert (result.cost, result.optimal) == (cost, True)


def test_it_is_asked_where_all_is_bought_and_carried_freely() -> None:
    assert applies(prepare(problem((500, 400), boards=(WIDE, SHORT))))
    assert not applies(prepare(carried("S", 1, 1)))
    assert not applies(prepare(facade_with_rack("S", 1, 20, None)))
