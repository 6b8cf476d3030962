"""How many boards laid-out pieces take, by the constructive heuristic alone, in a millisecond or two.

For the tolerance simulation, which cuts a building thousands of times. The same strips and boards as the solver's
first answer (`optimiser.cutting.heuristic`), without names, patterns or proof; how far it lies above the proved bound
is measured beside every use.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from optimiser.cutting.heuristic import TOLERANCES
from optimiser.joints.arrays import TAPERED, Integers, LaidArrays
from optimiser.kernels.bindings import count_boards
from optimiser.model.money import cents_of
from optimiser.model.plan import Staging
from optimiser.model.project import Board, Project

WIDEST = 1 << 30


@dataclass(frozen=True)
class QuickCutting:
    """What stays the same from draw to draw.

    `choice[rank, run]` is the index in `boards` of the run's rank-th board, cheapest by area first, or -1. `kerf_mm`
    and `trim` are those of each board's detail. `group[run]`: only pieces of one group share boards. `stock[board]`:
    (width, quantity) of boards and offcuts on site that are as long as the board.
    """

    boards: tuple[Board, ...]
    kerf_mm: tuple[int, ...]
    trim: tuple[bool, ...]
    choice: Integers
    group: Integers
    stock: tuple[tuple[tuple[int, int], ...], ...]

    @classmethod
    def of(cls, project: Project, staging: Staging, forecast: frozenset[str] = frozenset()) -> QuickCutting:
        """`forecast` names the levels whose pieces are never cut ahead (see `optimiser.boards.forecast_levels`).

        With staging 'carry' a delivery counts as cut by itself: how many boards too many that gives shows beside the
        plan (`HeuristicBias.above_plan`).
        """
        boards = project.boards
        index = {board.code: place for place, board in enumerate(boards)}
        ranks = max(len(run.board) for run in project.runs)
        choice = np.full((ranks, len(project.runs)), -1, np.int64)
        sequence = project.building.sequence_of_level
        group: list[int] = []
        for number, run in enumerate(project.runs):
            cheapest = sorted({index[code] for code in run.board}, key=lambda b: _price_an_area(boards[b]))
            choice[: len(cheapest), number] = cheapest
            apart = staging != "whole" or run.level in forecast
            group.append(1 + sequence[run.level] if apart else 0)
        stock = tuple(
            tuple(
                sorted(
                    (
                        (item.width_mm, item.quantity)
                        for item in project.stock
                        if item.code == board.code and item.length_mm == board.length_mm
                    ),
                    reverse=True,
                )
            )
            for board in boards
        )
        rules = [project.building.cutting_rules_of(board.code) for board in boards]
        kerf, trim = tuple(rule.kerf_mm for rule in rules), tuple(rule.trim for rule in rules)
        return cls(boards, kerf, trim, choice, np.array(group, dtype=np.int64), stock)

    @property
    def number_of_groups(self) -> int:
        """How many groups of runs there are whose pieces may share boards."""
        return len(np.unique(self.group))

    def boards_for(self, pieces: LaidArrays) -> Integers:
        """Boards bought of each of `boards` for laid pieces (`LaidArrays.pieces_only`).

        Raises MemoryError when the kernel finds no memory.
        """
        bought = np.zeros(len(self.boards), np.int64)
        stock: dict[int, tuple[Integers, Integers]] = {}
        for board, rows in self.groups(pieces):
            if board not in stock:
                widths = np.array([width for width, _ in self.stock[board]], dtype=np.int64)
                left = np.array([quantity for _, quantity in self.stock[board]], dtype=np.int64)
                stock[board] = widths, left
            bought[board] += self._count(board, rows, *stock[board])
        return bought

    def groups(self, pieces: LaidArrays) -> Iterator[tuple[int, LaidArrays]]:
        """The pieces that may share boards, each group with the index of the board that it is cut from."""
        length = pieces.to_mm - pieces.from_mm
        chosen = np.full(len(length), -1, np.int64)
        sizes = np.array([board.size for board in self.boards])
        for by_run in self.choice:
            option = by_run[pieces.run]
            fits = (option >= 0) & (sizes[option, 0] >= length) & (sizes[option, 1] >= pieces.width_min)
            chosen = np.where((chosen < 0) & fits, option, chosen)
        group = self.group[pieces.run]
        for board in np.unique(chosen[chosen >= 0]).tolist():
            mine = chosen == board
            for one in np.unique(group[mine]).tolist():
                yield board, LaidArrays(pieces.rows[mine & (group == one)])

    def _count(self, board: int, pieces: LaidArrays, stock_width: Integers, stock_left: Integers) -> int:
        """Boards for pieces that may share them; uses up the stock."""
        width_max = pieces.width_max.copy()
        width_max[(pieces.kind == TAPERED) | self.trim[board]] = WIDEST
        return count_boards(
            pieces.to_mm - pieces.from_mm,
            np.ascontiguousarray(pieces.width_min),
            width_max,
            self.boards[board].size,
            self.kerf_mm[board],
            stock_width,
            stock_left,
            np.array(TOLERANCES, dtype=np.int64),
        )


def _price_an_area(board: Board) -> tuple[float, int]:
    return cents_of(board.price) / board.per_pack / board.size.area_mm2, -board.width_mm
