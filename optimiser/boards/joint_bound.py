"""A lower bound on the boards of every joint layout: not of the pieces given, but of the building.

At the prices of `joint_prices` no board can hold pieces worth more than it costs, whatever pieces they are. So the
cheapest layout of each stretch, a shortest path over all its joint positions, is paid for by any plan, and the sum
bounds the boards of every layout of as few joints, whatever the tapers, or of any layout. The prices come from a linear
program over patterns and layouts, by column generation; any prices prove a bound, so where the program stops is a
matter of time only.

Left aside, so that the bound can only be lower: limits on carrying, the greatest width of a piece's window, the
whole-millimetre ends of a tapered piece.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from optimiser.boards.joint_master import JointMaster
from optimiser.boards.joint_prices import LengthFunctions, Sheet, SheetGroup
from optimiser.cutting.master import Floats
from optimiser.cutting.problem import CuttingProblem
from optimiser.joints.arrays import Integers
from optimiser.joints.stretches import Stretches, stretches_of
from optimiser.model.project import Project, Run

SCALE = 10**7  # parts of the dearest board to which prices are rounded down
STEP_MM = 24  # between the joints that are tried while prices are sought
CLOSE = 5e-4  # part of the program's value within which the bound need not rise
MOST_ITERATIONS = 16  # a count, not a clock: equal projects give equal bounds
MIX = 0.5  # of the best prices so far with the program's latest (Wentges, Int. Trans. Opl. Res. 4, 1997)
POSITIONS_A_SECOND = 1_000_000  # of the exact evaluation, at the least: only to keep within a time limit

Steps = list[Integers]
"""f_k of every group of boards, [k, width], in parts of the dearest board."""


@dataclass(frozen=True)
class Evaluation:
    """What prices prove, in units of the boards' prices, and a cheapest layout of each stretch (kernel rows)."""

    bound: Fraction
    rows: Integers


class JointBound:
    """The bound over the joint layouts of `runs`, which share the boards of `problem`.

    `fewest`: over the layouts of the fewest joints only. Raises ValueError for oversize rates with more than nine
    decimals.
    """

    def __init__(
        self, project: Project, runs: Sequence[Run], problem: CuttingProblem, *, fewest: bool = True
    ) -> None:
        codes_of_run = [tuple(sorted(set(run.board))) for run in runs]
        kinds = list(dict.fromkeys(codes_of_run))
        exact = stretches_of(project, runs, [kinds.index(codes) for codes in codes_of_run])
        self.exact = exact if fewest else exact.any_number_of_pieces()
        self.groups = _groups(problem, self.exact)
        self.tables = [
            [g for g, group in enumerate(self.groups) if set(group.codes) & set(codes)] for codes in kinds
        ]
        self.dearest = max(problem.solver_prices)
        self.longest = max(group.functions.length for group in self.groups)
        self._layouts: set[tuple[int, tuple[tuple[int, int, int], ...]]] = set()

    @property
    def positions(self) -> int:
        """How many joint positions the exact evaluation goes over."""
        return len(self.exact.tables.joint)

    def best(
        self,
        most_iterations: int = MOST_ITERATIONS,
        enough: Fraction | None = None,
        seconds_left: Callable[[], float] | None = None,
    ) -> Fraction:
        """The best bound found, in units of the boards' prices. More than `enough` is not asked for."""
        steps = self._seek(most_iterations, enough, seconds_left)
        return self.evaluate(self.exact, steps).bound

    def evaluate(self, stretches: Stretches, steps: Steps) -> Evaluation:
        """What the prices prove; a bound only if `stretches` has every joint position."""
        ratio: Fraction | None = None  # the least price of a unit of worth
        offcuts = 0
        for group, step in zip(self.groups, steps, strict=True):
            strips = group.strips(step)
            for sheet in group.sheets:
                worth = strips.fill(sheet).worth
                if sheet.available is not None:
                    offcuts += sheet.available * worth
                elif worth:
                    possible = Fraction(sheet.price, worth)
                    ratio = possible if ratio is None else min(ratio, possible)
        least, rows = stretches.least_priced(self._price_tables(steps))
        return Evaluation(max(Fraction(0), (ratio or Fraction(0)) * (int(least.sum()) - offcuts)), rows)

    def _price_tables(self, steps: Steps) -> Integers:
        """[table, width, length]: of each piece, the least that a board of its run asks."""
        by_group = self._by_group(steps)
        return np.array([np.min([by_group[g] for g in table], axis=0) for table in self.tables])

    def _by_group(self, steps: Steps) -> list[Integers]:
        never = 1 + max(
            int(step.sum()) * group.functions.unit for step, group in zip(steps, self.groups, strict=True)
        )
        return [
            group.price(step, self.exact.widest, self.longest, never)
            for group, step in zip(self.groups, steps, strict=True)
        ]

    def _seek(
        self, most_iterations: int, enough: Fraction | None, seconds_left: Callable[[], float] | None
    ) -> Steps:
        """The best prices found, over joints every few millimetres: the program's, or those by area."""
        coarse = self.exact.every(STEP_MM)
        best_steps = by_area = self._by_area()
        best = self.evaluate(coarse, by_area)
        master = JointMaster(self.groups, len(self.exact.run), self.dearest)
        for g, (group, step) in enumerate(zip(self.groups, by_area, strict=True)):
            strips = group.strips(step)
            for s, sheet in enumerate(group.sheets):
                master.add_patterns(g, s, strips.alike(sheet))
        self._add_columns(master, by_area, best)
        for _ in range(most_iterations):
            if (enough is not None and best.bound > enough - 1) or (seconds_left and seconds_left() <= 0):
                break
            value = master.solve() * self.dearest
            if value == float("inf") or float(best.bound) >= value * (1 - CLOSE):
                break
            latest = master.duals()
            mixed = [
                MIX * step / SCALE + (1 - MIX) * dual for step, dual in zip(best_steps, latest, strict=True)
            ]
            for tried in (mixed, latest):  # where the mixed prices find nothing new, the program's own
                steps = [_whole(f) for f in tried]
                found = self.evaluate(coarse, steps)
                if found.bound > best.bound:
                    best, best_steps = found, steps
                if self._add_columns(master, steps, found):
                    break
        return best_steps

    def _by_area(self) -> Steps:
        """f_0 in proportion to width, kerf included, and the price: a bound of area, at once."""
        found = []
        for group in self.groups:
            step = np.zeros((len(group.functions.worth), len(group.widths)), dtype=np.int64)
            kerf = group.functions.kerf
            part = min(
                Fraction(sheet.price * SCALE, self.dearest * (sheet.width + kerf))
                for sheet in group.sheets
                if sheet.available is None
            )
            step[0] = (group.widths + kerf) * int(part)
            found.append(step)
        return found

    def _add_columns(self, master: JointMaster, steps: Steps, found: Evaluation) -> int:
        """Adds patterns that are worth more than their price, and the cheapest layouts; how many were new."""
        new = 0
        for g, (group, step) in enumerate(zip(self.groups, steps, strict=True)):
            strips = group.strips(step)
            for s, sheet in enumerate(group.sheets):
                price = sheet.price * SCALE * group.functions.unit // self.dearest
                new += master.add_patterns(g, s, strips.fill(sheet, above=price).patterns)
        tables = self._by_group(steps)
        pieces: dict[int, list[tuple[int, int, int]]] = {}
        for stretch, from_mm, to_mm, width, _ in found.rows.tolist():
            allowed = self.tables[int(self.exact.tables.table_of[stretch])]
            group_index = min(allowed, key=lambda g: tables[g][width, to_mm - from_mm])
            group = self.groups[group_index]
            step_index = int(np.searchsorted(group.widths, width, side="right")) - 1
            if step_index >= 0:
                pieces.setdefault(stretch, []).append((group_index, step_index, to_mm - from_mm))
        layouts = {(stretch, tuple(here)) for stretch, here in pieces.items()} - self._layouts
        self._layouts |= layouts
        master.add_layouts(sorted(layouts))
        return new + len(layouts)


def _whole(steps: Floats) -> Integers:
    """Rounded down, and never falling with the width."""
    return np.maximum.accumulate(np.floor(steps * SCALE).astype(np.int64), axis=1)


def _groups(problem: CuttingProblem, stretches: Stretches) -> list[SheetGroup]:
    """Boards of one length and kerf together, with the offcuts of their codes."""
    widths = np.arange(stretches.least_paid, stretches.widest + 1, dtype=np.int64)
    boards = list(zip(problem.boards, problem.solver_prices, strict=True))
    groups = []
    for length, kerf in sorted({(board.length_mm, board.kerf_mm) for board, _ in boards}):
        here = [
            (board, price) for board, price in boards if (board.length_mm, board.kerf_mm) == (length, kerf)
        ]
        codes = tuple(board.code for board, _ in here)
        half = (stretches.rules.piece_min + length // 2) // 2  # between the least piece and half a board
        functions = LengthFunctions.of(
            length, kerf, tuple(t for t in (stretches.rules.piece_min, half) if 2 * t <= length)
        )
        sheets = [
            Sheet(board.code, board.width_mm, functions.held_by(length), price, None) for board, price in here
        ]
        sheets += [
            Sheet(offcut.id, offcut.width_mm, functions.held_by(offcut.length_mm), 0, offcut.quantity)
            for offcut in problem.offcuts
            if offcut.code in codes
        ]
        groups.append(SheetGroup(codes, functions, widths, tuple(sheets), stretches.may_taper))
    return groups


def can_be_bounded(problem: CuttingProblem) -> bool:
    """Whether every offcut is a part of one of the boards, no larger, as the prices need."""
    size = {board.code: board for board in problem.boards}
    return all(
        offcut.code in size
        and offcut.length_mm <= size[offcut.code].length_mm
        and offcut.width_mm <= size[offcut.code].width_mm
        for offcut in problem.offcuts
    )
