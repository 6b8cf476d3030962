"""Runs as arrays, and what of such arrays the kernels could not bear."""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

import numpy as np

from optimiser.kernels.patterns import Ints, Values
from optimiser.kernels.reference.gap_line import GapLine


class RunTables(NamedTuple):
    """Runs as arrays of int64 mm. A `*_start` array of runs + 1 entries says where each run's part of the arrays
    beside it begins; knots (measured positions) are ascending, at least one a run; mullions are ascending; a run has
    at least one board."""

    length: Values
    knot_start: Values
    knot_at: Values
    knot_gap: Values
    mullion_start: Values
    mullion_at: Values
    board_start: Values
    board_length: Values
    board_width: Values


def check_positions(where: str, starts: Values, positions: Values, least_step: int) -> None:
    """Raises ValueError where the positions of a part are not ascending by at least a step."""
    steps = np.diff(positions)
    begins = starts[1:-1]
    steps[begins[(begins > 0) & (begins < len(positions))] - 1] = least_step  # from one part to the next
    if (steps < least_step).any():
        raise ValueError(f"{where} is not ascending")


def parts(starts: Values | Ints, values: Values | Ints) -> list[list[int]]:
    """The values of each part; `starts` says where each begins, and the last where all end."""
    bounds, listed = starts.tolist(), values.tolist()
    return [listed[a:b] for a, b in pairwise(bounds)]


def gap_lines(starts: Values, at: Values, gap: Values) -> list[GapLine]:
    """The gap line of each run, of its knots' positions and gaps in mm."""
    return [GapLine(*line) for line in zip(parts(starts, at), parts(starts, gap), strict=True)]
