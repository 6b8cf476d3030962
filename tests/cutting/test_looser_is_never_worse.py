"""Whoever may do more never pays more: more sizes, more time."""

from __future__ import annotations

from itertools import chain, combinations
from random import Random

import pytest

from benchmarks.instances.real_projects import facade_in_sizes
from optimiser.checking import broken_rules_of_result
from optimiser.cutting.problem import Board, CuttingProblem, Objective, Piece
from optimiser.cutting.residual import with_codes
from optimiser.cutting.solve import solve

SIZES = ((1200, 1000, 5300), (1200, 600, 3300), (1000, 600, 2800))


def problem_of_sizes(seed: int) -> CuttingProblem:
    """25 to 40 pieces, most of a length that only some of two or three sizes take."""
    random = Random(f"sizes {seed}")
    number = random.randint(2, 3)
    boards = tuple(
        Board(
            code=f"B{k}",
            length_mm=random.choice((1000, 1200, 2400)),
            width_mm=random.choice((600, 1000, 1200)),
            price_cents=random.randint(2000, 9000),
        )
        for k in range(number)
    )
    longest = max(board.length_mm for board in boards)
    pieces = []
    for k in range(random.randint(25, 40)):
        width = random.randint(70, 290)
        length = random.choice((random.randint(300, 1000), min(1000, longest), min(1200, longest)))
        pieces.append(
            Piece(id=f"P{k}", length_mm=length, width_min_mm=width, width_max_mm=width + width // 12)
        )
    return CuttingProblem(boards=boards, pieces=tuple(pieces), objective=Objective.LEAST_COST)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(5))
def test_more_sizes_never_cost_more_than_any_choice_of_them(seed: int) -> None:
    problem = problem_of_sizes(seed)
    result = solve(problem, waiting=False)
    assert broken_rules_of_result(result, problem) == []
    codes = [board.code for board in problem.boards]
    for chosen in chain.from_iterable(combinations(codes, number) for number in range(1, len(codes))):
        part = with_codes(problem, chosen)
        if part is not None:
            alone = solve(part, waiting=False)
            assert result.cost <= alone.cost
            assert result.cost_bound <= alone.cost


def test_two_sizes_of_a_facade_cost_no_more_than_the_cheaper_alone() -> None:
    """Two sizes were bought for more than the cheaper size alone would have cost, with a bound 9 % below."""
    problem = facade_in_sizes("S", 3, SIZES[:2])
    both = solve(problem, waiting=False)
    for size in SIZES[:2]:
        assert both.cost <= solve(facade_in_sizes("S", 3, (size,)), waiting=False).cost


def test_a_problem_with_fewer_codes_keeps_what_its_pieces_allow() -> None:
    problem = problem_of_sizes(1)
    codes = [board.code for board in problem.boards]
    part = with_codes(problem, codes[:1])
    if part is not None:
        assert [board.code for board in part.boards] == codes[:1]
        assert len(part.pieces) == len(problem.pieces)
    only = problem.model_copy(
        update={"pieces": (problem.pieces[0].model_copy(update={"boards": (codes[0],)}),)}
    )
    assert with_codes(only, codes[1:]) is None
    kept = with_codes(only, codes[:1])
    assert kept is not None
    assert kept.pieces[0].boards == (codes[0],)
