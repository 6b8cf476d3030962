"""What a rival says about a problem."""

from __future__ import annotations

from dataclasses import dataclass

from optimiser.cutting.problem import Board, CuttingProblem


@dataclass(frozen=True)
class RivalOutcome:
    """Boards bought and a proved lower bound, where the rival gives them, and the seconds it took.

    `note` says what a reader of the table must know, such as a time limit that cut the rival short.
    """

    boards: int | None
    lower_bound: int | None
    seconds: float
    note: str = ""


def only_board(problem: CuttingProblem) -> Board:
    """The one board size of a problem that the rivals can take.

    Raises ValueError for several board sizes, offcuts or tapered pieces: the rivals are kept plain.
    """
    if len(problem.boards) != 1 or problem.offcuts or any(piece.tapered for piece in problem.pieces):
        raise ValueError("the rivals take one board size, no offcuts and no tapered pieces")
    return problem.boards[0]
