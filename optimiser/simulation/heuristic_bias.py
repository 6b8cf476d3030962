"""How far the quick count of boards lies above what a plan takes: above the proved bound, measured on a sample of
draws, and above the plan of the gaps as they stand.

For each draw of the sample, the same pieces in the same groups get a proved lower bound by column generation. Stock
on site is left out on both sides: it would blur the heuristic's own excess. The full solver meets each group's bound or
comes within a board of it, so the mean excess, rounded down, is what a plan saves over the quick count: on four draws
of a building of 900 pieces the corrected counts lay within two boards of the full solver's 80 to 82, a quarter of a
board below them on average.

Beside the plan of the gaps as they stand the quick count also shows what it does worse in every draw alike: levels
that are measured, and so never drawn, may carry from delivery to delivery in a plan, and stock of any size is used.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from pydantic import Field

from optimiser.cutting.problem import Board, CuttingProblem, Piece
from optimiser.cutting.solve import proved_bound
from optimiser.joints.arrays import TAPERED, LaidArrays
from optimiser.model.immutable import Immutable
from optimiser.simulation.quick_cutting import QuickCutting


class HeuristicBias(Immutable):
    """Mean boards that the quick count lies above the proved bound, by board code, and the sample it rests on.

    `above_plan` is how many boards it lies above the plan of the gaps as they stand (negative: below it).
    """

    sample: int
    boards: dict[str, float]
    bound: dict[str, float]
    above_plan: dict[str, int] = Field(default_factory=dict)

    @property
    def corrected(self) -> dict[str, int]:
        """Whole boards taken off every draw, by code: the mean above the bound, rounded down to stay on the safe side,
        or what the plan does better where that is more."""
        return {code: max(int(excess), self.above_plan.get(code, 0)) for code, excess in self.boards.items()}

    @property
    def fraction(self) -> float:
        """The excess of all codes together as a part of the bound."""
        bound = sum(self.bound.values())
        return sum(self.boards.values()) / bound if bound else 0.0


def excess_of(cutting: QuickCutting, pieces: LaidArrays, exact: LaidArrays) -> tuple[np.ndarray, np.ndarray]:
    """Boards of the quick count for `pieces`, and the proved bound for `exact`, each by board, without stock.

    Both are laid out from the same gaps; `exact` may be by the slower and exact layout.
    """
    without_stock = replace(cutting, stock=tuple(() for _ in cutting.boards))
    bound = np.zeros(len(cutting.boards), np.int64)
    for board, rows in without_stock.groups(exact):
        bound[board] += _bound(board, rows, cutting)
    return without_stock.boards_for(pieces), bound


def measured_bias(cutting: QuickCutting, found: Sequence[tuple[np.ndarray, np.ndarray]]) -> HeuristicBias:
    """The mean excess over a sample of `excess_of`."""
    quick = np.mean([boards for boards, _ in found], axis=0)
    bound = np.mean([bound for _, bound in found], axis=0)
    codes = [board.code for board in cutting.boards]
    used = [place for place in range(len(codes)) if bound[place] > 0]
    return HeuristicBias(
        sample=len(found),
        boards={codes[place]: float(max(0.0, quick[place] - bound[place])) for place in used},
        bound={codes[place]: float(bound[place]) for place in used},
    )


def _bound(place: int, pieces: LaidArrays, cutting: QuickCutting) -> int:
    """The least boards, those at `place` of the cutting's, for pieces that may share them: proved, and bounded by
    counts, not by time."""
    board = cutting.boards[place]
    width = board.width_mm
    counted: dict[tuple[int, int, int, int, int], int] = {}
    columns = (
        pieces.to_mm - pieces.from_mm,
        pieces.width_min,
        pieces.width_max,
        pieces.width_start,
        pieces.width_end,
    )
    for kind, *row in zip(pieces.kind.tolist(), *(column.tolist() for column in columns), strict=True):
        length, least, most, start, end = row
        key = (length, least, width, start, end) if kind == TAPERED else (length, least, most, 0, 0)
        counted[key] = counted.get(key, 0) + 1
    problem = CuttingProblem(
        boards=(
            Board(
                code=board.code,
                length_mm=board.length_mm,
                width_mm=width,
                kerf_mm=cutting.kerf_mm[place],
            ),
        ),
        pieces=tuple(
            Piece(
                id=str(number),
                length_mm=length,
                width_min_mm=least,
                width_max_mm=most,
                quantity=count,
                width_start_mm=start or None,
                width_end_mm=end or None,
            )
            for number, ((length, least, most, start, end), count) in enumerate(counted.items())
        ),
        trim=cutting.trim[place],
    )
    return int(proved_bound(problem))
