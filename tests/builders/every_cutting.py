"""Every way to cut the full-length pieces of a tiny building, tried one by one: nothing of the solver."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from typing import NamedTuple

from optimiser.joints.layout import lay_out
from optimiser.model.project import Project


class Cutting(NamedTuple):
    """Boards of each code, what waits in pieces times deliveries, and remainders times deliveries."""

    boards: tuple[tuple[str, int], ...]
    piece_stages: int
    remainder_stages: int


def every_cutting(project: Project) -> set[Cutting]:
    """All of them, where every piece is as long as its board, so that a strip holds one, and each run names one board.

    A board waits as one remainder from its first delivery to its last.
    """
    by_code: dict[str, list[tuple[int, int]]] = {}
    for piece in lay_out(project).pieces:
        (code,) = piece.boards
        assert piece.length_mm == project.building.boards[code].length_mm
        stage = project.building.stage_of_level[piece.level]
        by_code.setdefault(code, []).append((stage, piece.width_min_mm))
    found = []
    for code, pieces in sorted(by_code.items()):
        width = project.building.boards[code].width_mm
        found.append(
            {
                (
                    (code, len(boards)),
                    sum(stage - min(board)[0] for board in boards for stage, _ in board),
                    sum(max(board)[0] - min(board)[0] for board in boards),
                )
                for boards in _divisions(pieces, width)
            }
        )
    return {
        Cutting(tuple(one[0] for one in each), sum(one[1] for one in each), sum(one[2] for one in each))
        for each in product(*found)
    }


def _divisions(pieces: list[tuple[int, int]], width: int) -> Iterator[list[list[tuple[int, int]]]]:
    """Every division of (stage, width) among boards that are wide enough."""
    if not pieces:
        yield []
        return
    first, *rest = pieces
    for boards in _divisions(rest, width):
        yield [[first], *boards]
        for index, board in enumerate(boards):
            if sum(one for _, one in board) + first[1] <= width:
                yield [*boards[:index], [first, *board], *boards[index + 1 :]]
