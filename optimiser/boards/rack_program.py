"""The levels to come as a linear program in which the rack has room for so many remainders.

A column is a board that is opened at a level, or an offcut that is at hand, with the strips that this level and later
ones take from it; until the last of them it stands on the rack as one remainder. Rows: the strips of each level and
width, the room on the rack between one level and the next, and the offcuts. Strips are those of boards of one size; how
pieces share a strip is settled before. The price of a place on the rack then says which remainders are worth one.
Columns are generated (Gilmore and Gomory, Operations Research 13, 1965) by `opening_prices`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import highspy
import numpy as np

from optimiser.boards.opening_prices import Strips, WorthByRoom
from optimiser.cutting.master import Floats
from optimiser.cutting.quiet_highs import QuietHighs

NEARLY = 5e-4  # of a board: what a column must save to be worth adding
MOST_ROUNDS = 150
LEVELS_WITH_MORE_COLUMNS = 4  # the first ones: a column for each of their widths, since they are rounded soon


@dataclass(frozen=True)
class Opening:
    """A board (`offcut` None) or an offcut, by its index, opened at a level, and the strips that are cut from it."""

    offcut: int | None
    level: int
    strips: Strips

    @property
    def opened_now(self) -> bool:
        """Whether strips of the first level are cut from it."""
        return self.strips[0][0] == 0

    @property
    def waits(self) -> bool:
        """Whether it stands on the rack after the first level."""
        return self.level == 0 and self.strips[-1][0] > 0


class RackProgram:
    """`wanted[level][width]`: how many strips each level needs, the first being cut now. Widths and rooms in mm, each
    with a kerf: those of a board and of the offcuts. At most `room` remainders from each level to the next."""

    def __init__(
        self,
        wanted: Sequence[Mapping[int, int]],
        board: int,
        offcuts: Sequence[int],
        room: int,
        out_of_time: Callable[[], bool] = lambda: False,
    ) -> None:
        self.wanted = tuple(dict(strips) for strips in wanted)
        self.board = board
        self.offcuts = tuple(offcuts)
        self.room = room
        self.out_of_time = out_of_time
        self.columns: list[Opening] = []
        self.index: dict[Opening, int] = {}
        self.left = dict(self.wanted[0])  # strips of the first level that are not fixed to a board yet
        self._row_of: dict[tuple[int, int], int] = {}
        lower: list[float] = []
        for level, strips in enumerate(self.wanted):
            for width in sorted(strips):
                self._row_of[level, width] = len(lower)
                lower.append(strips[width])
        demands = len(lower)
        self._first_place = demands
        self._first_offcut = demands + len(self.wanted) - 1
        self._rows = self._first_offcut + len(self.offcuts)
        upper = [highspy.kHighsInf] * demands + [float(room)] * (len(self.wanted) - 1) + [1.0] * len(offcuts)
        lower += [-highspy.kHighsInf] * (self._rows - demands)
        self._solver = QuietHighs()
        self._solver.setOptionValue("presolve", "off")
        self._solver.addRows(
            self._rows,
            np.array(lower),
            np.array(upper),
            0,
            np.zeros(self._rows, np.int32),
            np.zeros(0, np.int32),
            np.zeros(0),
        )
        self.add(
            Opening(None, level, ((level, width, min(strips[width], board // width)),))
            for level, strips in enumerate(self.wanted)
            for width in strips
        )

    def add(self, columns: Iterable[Opening]) -> int:
        """Adds the columns that are not there yet; how many were new."""
        before = len(self.columns)
        for column in columns:
            if column in self.index:
                continue
            self.index[column] = len(self.columns)
            self.columns.append(column)
            rows = self._entries(column)
            self._solver.addCol(
                1.0 if column.offcut is None else 0.0,
                0.0,
                highspy.kHighsInf,
                len(rows),
                np.array(list(rows), np.int32),
                np.array(list(rows.values())),
            )
        return len(self.columns) - before

    def _entries(self, column: Opening) -> dict[int, float]:
        rows = {self._row_of[level, width]: float(number) for level, width, number in column.strips}
        rows |= {self._first_place + level: 1.0 for level in range(column.level, column.strips[-1][0])}
        if column.offcut is not None:
            rows[self._first_offcut + column.offcut] = 1.0
        return rows

    def solve(self, most_rounds: int = MOST_ROUNDS) -> float:
        """Generates columns until none is worth it, in at most so many rounds or until time is out; what is bought, in
        boards, of which all but what is fixed may be parts."""
        for _ in range(most_rounds):
            self._run()
            if self.out_of_time() or not self.add(self._worth_adding()):
                break
        self._run()
        return float(self._solver.getInfo().objective_function_value)

    def _run(self) -> None:
        """Raises RuntimeError where the program has no solution, which cannot be: every strip may have its board."""
        self._solver.run_or_raise()
        if self._solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            raise RuntimeError("the linear program of the rack was not solved")

    def values(self) -> Floats:
        """How often each column is used in the last solution."""
        return np.array(self._solver.getSolution().col_value, dtype=np.float64)

    def dearest_place(self) -> float:
        """What one more place on the rack, from any level to the next, would save in the last solution, in boards."""
        duals = np.array(self._solver.getSolution().row_dual, dtype=np.float64)
        return max((-duals[self._first_place : self._first_offcut]).tolist(), default=0.0)

    def fix(self, column: int, least: int) -> None:
        """From now on the column is used at least so often; 0: as it was."""
        self._solver.changeColBounds(column, float(least), highspy.kHighsInf)

    def _worth_adding(self) -> Iterator[Opening]:
        duals = np.array(self._solver.getSolution().row_dual, dtype=np.float64)
        wanted = [self.left, *self.wanted[1:]]
        price = [
            {width: float(duals[self._row_of[level, width]]) for width in strips}
            for level, strips in enumerate(self.wanted)
        ]
        place = (-duals[self._first_place : self._first_offcut]).tolist()
        worth = WorthByRoom.of(wanted, price, place, max([self.board, *self.offcuts]))
        for level, value in enumerate(worth.value):
            if value[self.board] > 1 + NEARLY:
                strips = worth.strips(level, self.board)
                if strips[0][0] == level:
                    yield Opening(None, level, strips)
        for level in range(min(LEVELS_WITH_MORE_COLUMNS, len(wanted))):
            for width, most in wanted[level].items():
                if most and price[level][width] + worth.value[level][self.board - width] > 1 + NEARLY:
                    strips = _with_one(worth.strips(level, self.board - width), level, width)
                    if sum(number for at, of, number in strips if (at, of) == (level, width)) <= most:
                        yield Opening(None, level, strips)
        for offcut, room in enumerate(self.offcuts):
            levels = range(len(wanted)) if room == self.board else (0,)  # a whole board stands on no rack
            for level in levels:
                if worth.value[level][room] > NEARLY - duals[self._first_offcut + offcut]:
                    yield Opening(offcut, level, worth.strips(level, room))


def _with_one(strips: Strips, level: int, width: int) -> Strips:
    number = {(at, of): count for at, of, count in strips}
    number[level, width] = number.get((level, width), 0) + 1
    return tuple((at, of, count) for (at, of), count in sorted(number.items()))
