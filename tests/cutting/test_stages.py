"""Which board each delivery opens first, where boards alike may serve any."""

from __future__ import annotations

from optimiser.cutting.demand import prepare
from optimiser.cutting.problem import Board, CuttingProblem, Objective, Piece
from optimiser.cutting.stages import Place, _Alike, _best, assign_stages


def test_the_board_of_which_the_stage_needs_the_largest_share_is_opened() -> None:
    """One piece of type 0 is needed: of four such places a quarter, of one beside another type's a half."""
    four, two = _Alike(((0, 4),), 4, 0, [0]), _Alike(((0, 1), (1, 1)), 2, 0, [1])
    assert _best({0: 1}, {0: [four, two], 1: [two]}, 1) is two
    assert _best({0: 4}, {0: [four, two], 1: [two]}, 1) is four


def test_a_board_that_is_there_later_is_not_opened_yet() -> None:
    late, now = _Alike(((0, 1),), 1, 2, [0]), _Alike(((0, 2),), 2, 0, [1])
    assert _best({0: 1}, {0: [late, now]}, 1) is now
    assert _best({0: 1}, {0: [late, now]}, 2) is late


def test_each_delivery_gets_the_boards_that_its_own_pieces_fill_and_every_piece_one_place() -> None:
    """Two alike a board: the first delivery has three of them, the second one, so one board serves both."""
    piece = {"length_mm": 1200, "width_min_mm": 500, "width_max_mm": 500}
    problem = CuttingProblem(
        boards=(Board(length_mm=1200, width_mm=1000),),
        objective=Objective.FEWEST_BOARDS,
        pieces=(Piece(id="first", quantity=3, stage=1, **piece), Piece(id="second", stage=2, **piece)),
    )
    demand = prepare(problem)
    (kind,) = range(len(demand.types))
    boards = [[Place(kind, 0)] * 2 for _ in range(2)]
    assert sorted(assign_stages(demand, boards)) == [[0, 0], [0, 1]]
