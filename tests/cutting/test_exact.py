"""The exact model's yes is a plan within the cost, its no a proof."""

from __future__ import annotations

from optimiser.cutting.demand import prepare
from optimiser.cutting.exact import Answer, applies, fits_within
from optimiser.cutting.problem import Board, CuttingProblem, Objective, Offcut, Piece
from tests.cutting.test_master import problem_of

EFFORT = 2.0


def test_as_many_boards_as_are_needed_and_not_one_less() -> None:
    """Strips of 600 and 400: two pairs make two boards; a third wide one needs a third."""
    demand = prepare(problem_of((1000, 600, 3), (1000, 400, 2)))
    assert fits_within(demand, 2, EFFORT) == Answer(False)
    answer = fits_within(demand, 3, EFFORT)
    assert answer.fits
    assert answer.plan is not None
    assert answer.plan.cost == 3


def test_pieces_share_a_strip_where_length_and_windows_allow() -> None:
    """Three of 400 fill 1200; with a kerf of 3 only two go in, and six need three strips of 333."""
    pieces = problem_of((400, 333, 9)).pieces
    for kerf, boards in ((0, 1), (3, 3)):
        problem = CuttingProblem(
            boards=(Board(length_mm=1200, width_mm=1000, kerf_mm=kerf),),
            pieces=pieces,
            objective=Objective.FEWEST_BOARDS,
        )
        demand = prepare(problem)
        found = [fits_within(demand, cost, EFFORT).fits for cost in range(1, boards + 1)]
        assert found == [False] * (boards - 1) + [True]


def test_a_window_joins_what_its_own_width_would_not() -> None:
    for widest, fits in ((949, False), (950, True)):
        pieces = (
            Piece(id="wide", length_mm=600, width_min_mm=950, width_max_mm=950),
            Piece(id="narrow", length_mm=600, width_min_mm=100, width_max_mm=widest),
        )
        problem = CuttingProblem(
            boards=(Board(length_mm=1200, width_mm=1000),), pieces=pieces, objective=Objective.FEWEST_BOARDS
        )
        answer = fits_within(prepare(problem), 1, EFFORT)
        assert answer.fits is fits


def test_an_offcut_costs_nothing_and_counts() -> None:
    offcuts = (Offcut(id="F", length_mm=1000, width_mm=600),)
    demand = prepare(problem_of((1000, 600, 2), offcuts=offcuts))
    assert fits_within(demand, 0, EFFORT).fits is False
    assert fits_within(demand, 1, EFFORT).fits is True


def test_it_is_asked_only_of_few_pieces_of_one_kerf_and_no_tapers() -> None:
    demand = prepare(problem_of((1000, 300, 5)))
    assert applies(demand, 2, 5)
    assert not applies(demand, 2, 4)
    tapered = Piece(
        id="T",
        length_mm=500,
        width_min_mm=120,
        width_max_mm=240,
        quantity=2,
        width_start_mm=120,
        width_end_mm=90,
    )
    problem = problem_of((1000, 300, 5))
    assert not applies(prepare(problem.model_copy(update={"pieces": (tapered,)})), 2, 5)
    unlike = (
        Board(code="A", length_mm=1200, width_mm=1000),
        Board(code="B", length_mm=1200, width_mm=900, kerf_mm=3),
    )
    assert not applies(prepare(problem.model_copy(update={"boards": unlike})), 2, 5)
