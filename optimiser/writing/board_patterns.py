"""Layouts that are cut alike, gathered level by level: what the crew cuts in one go."""

from __future__ import annotations

from dataclasses import dataclass

from optimiser.writing.board_cuts import BoardCuts, board_cuts, grouping_key
from optimiser.writing.plan_index import PlanIndex


@dataclass(frozen=True, slots=True)
class Pattern:
    """One way to cut, for every board that is cut so. `boards` are numbered through their level."""

    number: int
    level: str
    first_board: int
    boards: tuple[BoardCuts, ...]

    @property
    def cuts(self) -> BoardCuts:
        """The layout that stands for all."""
        return self.boards[0]

    @property
    def count(self) -> int:
        """How many boards are cut so."""
        return len(self.boards)


def patterns_by_level(index: PlanIndex) -> dict[str, list[Pattern]]:
    """Each level's patterns, those of most boards first, offcuts of the stock last; levels in delivery order.

    A layout belongs to the level with which its board is delivered.
    """
    groups: dict[str, dict[tuple[object, ...], list[BoardCuts]]] = {level.level: {} for level in index.levels}
    for layout in index.plan.layouts:
        here = groups.get(index.level_of(layout))
        if here is not None:
            cuts = board_cuts(index, layout)
            here.setdefault(grouping_key(cuts), []).extend([cuts] * layout.repeat)
    found: dict[str, list[Pattern]] = {}
    for level, by_key in groups.items():
        ordered = sorted(by_key.values(), key=lambda boards: (boards[0].offcut, boards[0].code, -len(boards)))
        patterns: list[Pattern] = []
        first = 1
        for number, boards in enumerate(ordered, start=1):
            patterns.append(Pattern(number, level, first, tuple(boards)))
            first += len(boards)
        found[level] = patterns
    return found


def places_of_pieces(patterns: dict[str, list[Pattern]]) -> dict[str, tuple[str, int, str]]:
    """Where each piece is cut: (level, board number, place on the board), in the order of cutting."""
    return {
        piece.id: (level, pattern.first_board + offset, piece.place)
        for level, here in patterns.items()
        for pattern in here
        for offset, cuts in enumerate(pattern.boards)
        for piece in cuts.pieces
    }
