"""The joint layout of many runs in one call of the compiled kernel, on plain integer arrays.

This is the lean way in: the tolerance simulation lays out a whole building thousands of times and never needs
names or reasons. `optimiser.joints.layout` wraps it for a project. What the kernel does is written to be read
in `kernels/reference/`, how it does it quickly in `kernels/joints.c`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, fields, replace
from itertools import accumulate

import numpy as np
from numpy.typing import NDArray

from optimiser.kernels.bindings import ROW_WIDTH, LayoutRules, RunTables, lay_out_runs
from optimiser.kernels.reference.joint_layout import NO_LAYOUT, OUT_OF_RANGE, PIECE, TAPERED
from optimiser.model.project import Detail
from optimiser.survey.compression import WidthRates

Integers = NDArray[np.int64]

__all__ = [
    "NO_LAYOUT",
    "OUT_OF_RANGE",
    "PIECE",
    "ROW_WIDTH",
    "TAPERED",
    "Details",
    "Integers",
    "LaidArrays",
    "PieceValue",
    "RunArrays",
    "groups_of",
    "laid_in_parts",
    "lay_out_arrays",
    "shortest_piece_mm",
    "starts",
]

Details = Detail | Sequence[Detail]
"""The one detail of all runs, or each run's own, in their order."""

SHORTEST_PART = 10
"""A last-resort piece is at least this part of `piece_length_min_mm`: a sliver of mineral wool can be neither cut nor
compressed, so such a place is reported instead (common practice, no source)."""


@dataclass(frozen=True)
class RunArrays:
    """Runs as arrays of int64 millimetres. A `*_start` array of runs + 1 entries says where each run's part of
    the arrays beside it begins. Knots are the measured positions, ascending, at least one a run; mullions are
    ascending. A run's boards are the sizes that may serve it, at least one, on a curved edge no longer than a piece of
    it may be. `joins` is the index of the run that begins where a run ends, -1 for an open end; None: all ends are.
    """

    length: Integers
    knot_start: Integers
    knot_at: Integers
    knot_gap: Integers
    mullion_start: Integers
    mullion_at: Integers
    board_start: Integers
    board_length: Integers
    board_width: Integers
    joins: Integers | None = None

    def with_gaps(self, knot_gap: Integers) -> RunArrays:
        """The same runs with other gaps at the same knots (a draw of the simulation)."""
        return replace(self, knot_gap=knot_gap)

    def tables(self) -> RunTables:
        """As the kernels take them."""
        return RunTables(*(np.ascontiguousarray(getattr(self, name)) for name in RunTables._fields))

    def only(self, runs: Sequence[int]) -> RunArrays:
        """The runs of these indices, in their order; where they join others is left out."""
        found: dict[str, Integers] = {"length": self.length[list(runs)]}
        for part in ("knot", "mullion", "board"):
            begin: Integers = getattr(self, f"{part}_start")
            rows = np.concatenate([np.arange(begin[run], begin[run + 1]) for run in runs])
            found[f"{part}_start"] = starts([int(begin[run + 1] - begin[run]) for run in runs])
            for column in fields(self):
                if column.name.startswith(f"{part}_") and not column.name.endswith("_start"):
                    found[column.name] = getattr(self, column.name)[rows]
        return RunArrays(**found)


@dataclass(frozen=True)
class LaidArrays:
    """Rows in order of run and position; they tile every run. One int64 column each:

    `run` (index), `kind` (PIECE, TAPERED, OUT_OF_RANGE: gap beyond the tested range, NO_LAYOUT: no piece can be
    placed), `from_mm`, `to_mm`, `gap_min` (rounded down), `gap_max` (rounded up), the window `width_min` and
    `width_max` (a tapered piece: its wider end, twice), `width_start`, `width_end` (the least cut widths; equal
    unless tapered). For rows that are no pieces only run, kind, from_mm and to_mm mean anything.
    """

    rows: Integers

    run = property(lambda self: self.rows[:, 0])
    kind = property(lambda self: self.rows[:, 1])
    from_mm = property(lambda self: self.rows[:, 2])
    to_mm = property(lambda self: self.rows[:, 3])
    gap_min = property(lambda self: self.rows[:, 4])
    gap_max = property(lambda self: self.rows[:, 5])
    width_min = property(lambda self: self.rows[:, 6])
    width_max = property(lambda self: self.rows[:, 7])
    width_start = property(lambda self: self.rows[:, 8])
    width_end = property(lambda self: self.rows[:, 9])

    def pieces_only(self) -> LaidArrays:
        """Without the rows that are no pieces."""
        return LaidArrays(self.rows[self.rows[:, 1] <= TAPERED])


@dataclass(frozen=True)
class PieceValue:
    """An extra cost of a piece by its length and least width: `cost[length_mm, width_min_mm]`, int64, any unit.

    Meant for the dual prices of the cutting master, plus whatever a joint and its brackets cost. Lengths and
    widths beyond the table take its last row or column. With `fewest_pieces_first` the cost only chooses among
    layouts of the fewest pieces and, of these, the fewest tapered ones; without, more pieces are taken where they
    cost less in sum.
    """

    cost: Integers
    fewest_pieces_first: bool = True


def starts(counts: list[int]) -> Integers:
    """The `*_start` array for parts of these sizes: [2, 3] -> [0, 2, 5]."""
    return np.fromiter(accumulate(counts, initial=0), dtype=np.int64, count=len(counts) + 1)


def shortest_piece_mm(detail: Detail) -> int:
    """The length of the shortest piece that is laid in the last resort, in mm, rounded up."""
    return -(-detail.piece_length_min_mm // SHORTEST_PART)


def groups_of(details: Details, runs: int) -> Iterator[tuple[Detail, list[int]]]:
    """Each detail with the indices of the runs that are built by it, in order of first use."""
    if isinstance(details, Detail):
        yield details, list(range(runs))
        return
    found: dict[int, tuple[Detail, list[int]]] = {}
    for run, detail in enumerate(details):
        found.setdefault(id(detail), (detail, []))[1].append(run)
    yield from found.values()


def lay_out_arrays(
    runs: RunArrays,
    detail: Details,
    piece_value: PieceValue | None = None,
    taper_step_mm: int = 1,
    every_millimetre: bool = False,
) -> LaidArrays:
    """Divides every run into pieces; see `optimiser.joints.layout.lay_out` for the rules and the order of aims.

    `detail`: of all runs, or of each. `taper_step_mm`: tapered pieces start and end at multiples of it (or at a
    stretch's end). 1 is exact; 50 is far quicker on strongly wandering gaps at the price of a piece now and then,
    which suits simulation.
    `every_millimetre` visits each position instead of leaping over those where nothing changes: the same
    values, slowly, as a check. Raises ValueError for a rate with too many decimals or arrays that do not fit
    together, TypeError for arrays of another dtype than int64, MemoryError when the kernel finds no memory,
    RuntimeError for a fault of the kernel.
    """
    groups = list(groups_of(detail, len(runs.length)))
    if len(groups) == 1:
        return LaidArrays(_laid(runs, groups[0][0], piece_value, taper_step_mm, every_millimetre))
    return laid_in_parts(
        (indices, _laid(runs.only(indices), one, piece_value, taper_step_mm, every_millimetre))
        for one, indices in groups
    )


def laid_in_parts(parts: Iterable[tuple[Sequence[int], Integers]]) -> LaidArrays:
    """Runs that were laid out in parts, in order of run: each part's rows with the indices of its runs among all."""
    found = [np.empty((0, ROW_WIDTH), np.int64)]
    for indices, rows in parts:
        rows[:, 0] = np.array(indices, dtype=np.int64)[rows[:, 0]]
        found.append(rows)
    together = np.concatenate(found)
    return LaidArrays(together[np.argsort(together[:, 0], kind="stable")])


def _laid(
    runs: RunArrays,
    detail: Detail,
    piece_value: PieceValue | None,
    taper_step_mm: int,
    every_millimetre: bool,
) -> Integers:
    """The kernel's rows of runs that are built by one detail."""
    rates = WidthRates.of(detail)
    rules = LayoutRules(
        rate_unit=rates.unit,
        rate_min=rates.least,
        rate_max=rates.greatest,
        gap_min=detail.gap_min_mm,
        gap_max=detail.gap_max_mm,
        piece_min=detail.piece_length_min_mm,
        shortest=shortest_piece_mm(detail),
        clearance=detail.joint_to_mullion_min_mm,
        taper_step=taper_step_mm,
        taper_max=detail.taper_max_mm,
        every_millimetre=every_millimetre,
    )
    if piece_value is None:
        return lay_out_runs(runs.tables(), rules)
    cost = np.ascontiguousarray(piece_value.cost)
    return lay_out_runs(runs.tables(), rules, cost, piece_value.fewest_pieces_first)
