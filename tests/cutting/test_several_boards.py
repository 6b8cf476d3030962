"""Boards of one length that nobody tells apart share their strips; where a piece forbids a board they do not."""

from optimiser.checking import broken_rules_of_result
from optimiser.cutting.demand import prepare
from optimiser.cutting.problem import Board, CuttingProblem, Objective, Piece
from optimiser.cutting.solve import solve

WIDE = Board(code="wide", length_mm=1200, width_mm=1000, price_cents=800)
NARROW = Board(code="narrow", length_mm=1200, width_mm=600, price_cents=500)
BOTH = ("narrow", "wide")


def problem(*pieces: tuple[int, int, tuple[str, ...]]) -> CuttingProblem:
    """Pieces as long as the boards: width, quantity, the codes that may serve them."""
    return CuttingProblem(
        boards=(WIDE, NARROW),
        pieces=tuple(
            Piece(id=f"P{number}", length_mm=1200, width_min_mm=w, width_max_mm=w, quantity=n, boards=codes)
            for number, (w, n, codes) in enumerate(pieces)
        ),
        objective=Objective.LEAST_COST,
    )


def test_the_last_board_is_the_smaller_one_where_that_will_do() -> None:
    posed = problem((250, 10, BOTH))
    result = solve(posed)
    assert result.boards_by_code == {"narrow": 1, "wide": 2}
    assert result.cost_cents == result.lower_bound_cents == 2100
    assert not broken_rules_of_result(result, posed)


def test_a_piece_too_wide_for_a_board_does_not_tell_the_boards_apart() -> None:
    posed = problem((250, 3, BOTH), (700, 1, ("wide",)))
    assert len(prepare(posed).families) == 1
    result = solve(posed)
    assert result.cost_cents == result.lower_bound_cents == 1300  # 700 + 250 and 250 + 250
    assert not broken_rules_of_result(result, posed)


def test_a_board_that_a_piece_forbids_serves_it_nowhere() -> None:
    posed = problem((250, 2, BOTH), (250, 2, ("narrow",)))
    assert len(prepare(posed).families) == 2
    result = solve(posed)
    assert result.cost_cents == result.lower_bound_cents == 1000  # all four in a wide board would be 800
    assert not broken_rules_of_result(result, posed)
