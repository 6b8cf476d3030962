"""Brackets, joints and tape of a laid-out building in one call of the compiled kernel, on plain integer arrays.

The lean way in, beside `optimiser.joints.arrays`: the same counts as `optimiser.takeoff.brackets`, piece by piece,
without names, positions or reasons. The rules are those of `kernels.reference.brackets`, which both call;
the tested detail decides.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import lcm

import numpy as np

from optimiser.errors.problems import CannotBeDone
from optimiser.joints.arrays import Details, Integers, LaidArrays, RunArrays, groups_of
from optimiser.kernels.bindings import AccessoryRules, count_accessories
from optimiser.kernels.reference.brackets import NO_SIZE, NO_STAND, joint_tape
from optimiser.model.project import Detail

FINEST_INSERTION = 10**6  # an insertion's denominator: the kernel compares exactly in 128 bits up to here

__all__ = ["NO_SIZE", "NO_STAND", "AccessoryCounts", "accessory_counts"]


@dataclass(frozen=True)
class AccessoryCounts:
    """What a building needs. `size` and `brackets` are per piece: the index of its bracket size (NO_SIZE: none
    fits the gap, NO_STAND: none can stand clear of the mullions) and how many; `anchors` hold those that are there;
    `tape_mm` over all joints, those where runs meet included."""

    size: Integers
    brackets: Integers
    anchors: int
    joints: int
    tape_mm: int

    def by_size(self, sizes: int) -> Integers:
        """Brackets of each of the sizes, in their order."""
        fits = self.size >= 0
        weights = self.brackets[fits]
        return np.bincount(self.size[fits], weights=weights, minlength=sizes).astype(np.int64)

    @property
    def pieces_without(self) -> int:
        """Pieces for which there is no bracket."""
        return int((self.size < 0).sum())


def accessory_counts(
    runs: RunArrays, pieces: LaidArrays, detail: Details, reaches_mm: Sequence[int]
) -> AccessoryCounts:
    """Counts brackets, anchors, joints and tape of laid pieces (`LaidArrays.pieces_only`), junctions of runs included.

    `detail` is that of all runs, or of each; `reaches_mm` are the reaches of the bracket sizes on offer, in the
    catalogue's order. Raises CannotBeDone for insertion rates with more than six decimals, MemoryError when the kernel
    finds no memory.
    """
    reaches = np.array(reaches_mm, dtype=np.int64)
    size = np.full(len(pieces.rows), NO_SIZE, np.int64)
    brackets = np.zeros(len(pieces.rows), np.int64)
    anchors = joints = tape_mm = 0
    groups = list(groups_of(detail, len(runs.length)))
    for one, indices in groups:
        mine = np.isin(pieces.run, indices) if len(groups) > 1 else np.ones(len(pieces.rows), bool)
        rows = np.ascontiguousarray(pieces.rows[mine])
        counted = count_accessories(rows, runs.tables(), _rules(one), reaches)
        size[mine], brackets[mine] = counted[:2]
        anchors += int(counted[1][counted[0] >= 0].sum()) * one.anchors_per_bracket
        joints += counted[2]
        tape_mm += counted[3]
        met, taped = _junctions(runs, pieces, one, indices)
        joints += met
        tape_mm += taped
    return AccessoryCounts(size, brackets, anchors, joints, tape_mm)


def _junctions(
    runs: RunArrays, pieces: LaidArrays, detail: Detail, joining: Sequence[int]
) -> tuple[int, int]:
    """How many of the runs meet the one that they join, a piece on either side, and the tape over those joints."""
    if runs.joins is None or (runs.joins < 0).all():
        return 0, 0
    begun = frozenset(pieces.run[pieces.from_mm == 0].tolist())
    ended = frozenset(pieces.run[pieces.to_mm == runs.length[pieces.run]].tolist())
    met = [run for run in joining if run in ended and int(runs.joins[run]) in begun]  # -1 is no run
    gaps = [
        max(
            int(runs.knot_gap[runs.knot_start[run + 1] - 1]),
            int(runs.knot_gap[runs.knot_start[runs.joins[run]]]),
        )
        for run in met
    ]
    return len(met), sum(joint_tape(Fraction(gap), detail.tape_lap_mm, detail.tape_faces) for gap in gaps)


def _rules(detail: Detail) -> AccessoryRules:
    """A detail's rules as the kernel takes them. Raises CannotBeDone for insertion rates with too many decimals."""
    rates = [
        Fraction(rate)
        for rate in (detail.bracket_insertion_min, detail.bracket_insertion_max, detail.bracket_insertion)
    ]
    unit = lcm(*(rate.denominator for rate in rates))
    if unit > FINEST_INSERTION:
        raise CannotBeDone(["the bracket insertions of the detail have more than six decimals; round them"])
    low, high, target = (int(rate * unit) for rate in rates)
    return AccessoryRules(
        clearance=detail.bracket_to_mullion_min_mm,
        end_distance=detail.bracket_end_distance_mm,
        spacing=detail.bracket_spacing_max_mm,
        insertion_unit=unit,
        insertion_low=low,
        insertion_high=high,
        insertion_target=target,
        tape_lap=detail.tape_lap_mm,
        tape_faces=detail.tape_faces,
    )
