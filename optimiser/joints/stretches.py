"""The stretches of the runs that can be laid out, with all that decides their joint layouts, millimetre by millimetre.

For the bound over every joint layout: here nothing is chosen yet.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from optimiser.joints.arrays import NO_LAYOUT, OUT_OF_RANGE, Integers, shortest_piece_mm, starts
from optimiser.joints.layout import lay_out_arrays, run_arrays
from optimiser.kernels.least_priced import SpanRules, StretchTables, least_priced_layouts
from optimiser.kernels.patterns import Ints
from optimiser.kernels.reference.least_priced import PARTS
from optimiser.model.project import Detail, Project, Run
from optimiser.survey.compression import WidthRates
from optimiser.survey.gap_line import GapAlongRun

NEVER = np.iinfo(np.int32).max


@dataclass(frozen=True)
class Stretches:
    """Stretches of runs within the tested range of gaps: `run` is each one's index, `tables` what the kernel takes,
    `rules` those of their detail."""

    run: tuple[int, ...]
    tables: StretchTables
    rules: SpanRules

    @property
    def widest(self) -> int:
        """The greatest of the least cut widths anywhere, in mm."""
        return int(self.tables.least.max(initial=0))

    @property
    def least_paid(self) -> int:
        """The least width that any piece pays for, in mm: a tapered one its mean, rounded down."""
        return max(1, int(self.tables.least.min(initial=self.widest)) - 1)

    @property
    def may_taper(self) -> bool:
        """Whether any piece could be tapered: over the longest board somewhere no single width serves."""
        longest = int(self.tables.board_length.max(initial=0))
        return self.rules.taper_max > 0 and any(
            _uneven(self.tables.least[start:stop], self.tables.greatest[start:stop], longest)
            for start, stop in pairwise(self.tables.point_start.tolist())
        )

    def every(self, step_mm: int) -> Stretches:
        """The same with joints at multiples of a step from either end only, and where they just may be beside a
        mullion: fewer layouts, to look for a good one."""
        joint = np.zeros_like(self.tables.joint)
        first = self.tables.point_start
        for start, stop in zip(first[:-1].tolist(), first[1:].tolist(), strict=True):
            allowed = self.tables.joint[start:stop]
            here = joint[start:stop]
            here[::step_mm] = 1
            here[::-1][::step_mm] = 1
            here[1:] |= allowed[1:] > allowed[:-1]
            here[:-1] |= allowed[:-1] > allowed[1:]
            here &= allowed
        return replace(self, tables=self.tables._replace(joint=joint))

    def any_number_of_pieces(self) -> Stretches:
        """The same with as many pieces as one likes."""
        return replace(self, tables=self.tables._replace(pieces=np.zeros_like(self.tables.pieces)))

    def least_priced(self, price: Integers) -> tuple[Integers, Integers]:
        """`least_priced_layouts` at `price[table, width, length]`."""
        return least_priced_layouts(self.tables, price, self.rules)


def stretches_of(project: Project, runs: Sequence[Run], table_of_run: Sequence[int]) -> Stretches:
    """The stretches of `runs`, all by one detail, each with as many pieces as its layout of the fewest joints has.

    `table_of_run`: which price table a run's pieces are paid by. Raises ValueError for oversize rates with more than
    nine decimals.
    """
    detail = project.building.detail_of(runs[0].run)
    arrays = run_arrays(project.with_runs(tuple(runs)))
    spans = _spans(lay_out_arrays(arrays, detail).rows)
    parts = [_positions(project, runs[run], from_mm, to_mm, detail) for run, from_mm, to_mm, _ in spans]
    knots = [
        _measured_from(GapAlongRun.of(project.building.gaps[runs[run].run]), from_mm, to_mm)
        for run, from_mm, to_mm, _ in spans
    ]
    boards = [slice(*arrays.board_start[run : run + 2].tolist()) for run, *_ in spans]
    tables = StretchTables(
        point_start=starts([len(part[0]) for part in parts]),
        least=_joined([part[0] for part in parts]),
        greatest=_joined([part[1] for part in parts]),
        joint=_joined([part[2] for part in parts]),
        need=_joined([part[3] for part in parts]),
        cap=_joined([part[4] for part in parts]),
        next_knot=_joined([part[5] for part in parts]),
        knot_start=starts([len(part.at_mm) for part in knots]),
        knot_at=np.array([at for part in knots for at in part.at_mm], dtype=np.int64),
        knot_gap=np.array([gap for part in knots for gap in part.gap_mm], dtype=np.int64),
        board_start=starts([part.stop - part.start for part in boards]),
        board_length=np.concatenate([arrays.board_length[part] for part in boards]),
        board_width=np.concatenate([arrays.board_width[part] for part in boards]),
        pieces=np.array([count for *_, count in spans], dtype=np.int64),
        table_of=np.array([table_of_run[run] for run, *_ in spans], dtype=np.int64),
    )
    rates = WidthRates.of(detail)
    rules = SpanRules(
        rates.unit,
        rates.least,
        rates.greatest,
        detail.piece_length_min_mm,
        shortest_piece_mm(detail),
        detail.taper_max_mm,
    )
    return Stretches(tuple(run for run, *_ in spans), tables, rules)


def _joined(parts: list[NDArray[np.int64]]) -> NDArray[np.int32]:
    return np.concatenate(parts).astype(np.int32)


def _spans(rows: Integers) -> list[tuple[int, int, int, int]]:
    """(run, from, to, pieces) of the stretches between those that are out of range."""
    found: list[tuple[int, int, int, int]] = []
    for run, kind, from_mm, to_mm in rows[:, :4].tolist():
        if kind == OUT_OF_RANGE:
            continue
        one = int(kind != NO_LAYOUT)
        if found and found[-1][0] == run and found[-1][2] == from_mm:
            found[-1] = (run, found[-1][1], to_mm, found[-1][3] + one)
        else:
            found.append((run, from_mm, to_mm, one))
    return [span for span in found if span[3]]


def _positions(project: Project, run: Run, from_mm: int, to_mm: int, detail: Detail) -> tuple[Integers, ...]:
    """Least and greatest cut width, whether a joint may be, the limits of a tapered piece's edge, and the next measured
    position: at every millimetre."""
    rates = WidthRates.of(detail)
    gap = GapAlongRun.of(project.building.gaps[run.run])
    numerator, denominator = _gaps(gap, from_mm, to_mm)
    if int(numerator.max()) * PARTS * rates.greatest > np.iinfo(np.int64).max:
        numerator = numerator.astype(object)  # rates of many decimals: Python's integers
    least = -(-numerator * rates.least // (denominator * rates.unit))
    greatest = numerator * rates.greatest // (denominator * rates.unit)
    joint = np.ones(len(least), dtype=np.int64)
    clear = detail.joint_to_mullion_min_mm
    for mullion in run.mullions_mm:
        joint[max(0, mullion - clear + 1 - from_mm) : max(0, mullion + clear - from_mm)] = 0
    joint[[0, -1]] = 1
    need = PARTS * numerator * rates.least // (denominator * rates.unit)
    cap = -(-PARTS * numerator * rates.greatest // (denominator * rates.unit))
    knots = np.array([*gap.at_mm, NEVER], dtype=np.int64)
    here = np.arange(from_mm, to_mm + 1)
    following = knots[np.searchsorted(knots[:-1], here, side="right")]
    return least, greatest, joint, need, cap, np.where(following < NEVER, following - from_mm, NEVER)


def _measured_from(gap: GapAlongRun, from_mm: int, to_mm: int) -> GapAlongRun:
    """The measured gaps over [from_mm, to_mm] by position from its start, the last one before and the first one beyond
    among them; constant before the first and after the last."""
    rows = list(zip(gap.at_mm, gap.gap_mm, strict=True))
    if rows[0][0] > from_mm:
        rows.insert(0, (from_mm, rows[0][1]))
    if rows[-1][0] < to_mm:
        rows.append((to_mm, rows[-1][1]))
    first = max(number for number, (at, _) in enumerate(rows) if at <= from_mm)
    last = min(number for number, (at, _) in enumerate(rows) if at >= to_mm)
    here = rows[first : last + 1]
    return GapAlongRun(tuple(at - from_mm for at, _ in here), tuple(size for _, size in here))


def _gaps(gap: GapAlongRun, from_mm: int, to_mm: int) -> tuple[Integers, Integers]:
    """The gap at every whole millimetre as numerators and denominators."""
    at = np.array([-1, *gap.at_mm, max(to_mm, gap.at_mm[-1]) + 1], dtype=np.int64)
    size = np.array([gap.gap_mm[0], *gap.gap_mm, gap.gap_mm[-1]], dtype=np.int64)
    x = np.arange(from_mm, to_mm + 1, dtype=np.int64)
    k = np.searchsorted(at, x, side="right") - 1
    return size[k] * (at[k + 1] - x) + size[k + 1] * (x - at[k]), at[k + 1] - at[k]


def _uneven(least: Ints, greatest: Ints, length: int) -> bool:
    """Whether no single width serves some span of this length (a shorter stretch: all of it)."""
    places = min(length, len(least) - 1) + 1
    return bool((_sliding_max(least, places) > -_sliding_max(-greatest, places)).any())


def _sliding_max(values: Ints, window: int) -> Ints:
    """The greatest of each `window` values that follow one another."""
    found, length = values, 1
    while 2 * length <= window:
        found = np.maximum(found[:-length], found[length:])
        length *= 2
    rest = window - length
    return np.maximum(found[: len(found) - rest], found[rest:])
