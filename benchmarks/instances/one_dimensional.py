"""One-dimensional cutting stock as board cutting: pieces as long as the board, so only widths matter."""

from __future__ import annotations

from collections.abc import Iterable

from optimiser.cutting.problem import Board, CuttingProblem, Objective, Piece

PIECE_LENGTH_MM = 1200  # any length would do, as long as pieces and board share it


def one_dimensional(capacity: int, sizes_and_demands: Iterable[tuple[int, int]]) -> CuttingProblem:
    """The cutting problem of items (size, demand) packed into as few bins of `capacity` as possible.

    The capacity is the board's width in mm and a size the one width at which its pieces may be cut. Raises
    pydantic's ValidationError when a size exceeds the capacity.
    """
    return CuttingProblem(
        boards=(Board(length_mm=PIECE_LENGTH_MM, width_mm=capacity),),
        objective=Objective.FEWEST_BOARDS,
        pieces=tuple(
            Piece(
                id=f"{number:04d}",
                length_mm=PIECE_LENGTH_MM,
                width_min_mm=size,
                width_max_mm=size,
                quantity=demand,
            )
            for number, (size, demand) in enumerate(sizes_and_demands, start=1)
        ),
    )
