"""Boards of the trade's sizes to be dealt out anew, as the planner gives them."""

from __future__ import annotations

from random import Random

import numpy as np

from optimiser.kernels import bindings
from optimiser.kernels.bindings import Arranged, BoardLimits
from optimiser.kernels.reference.arrangement import NEVER, CostWeights
from tests.kernels.drawn import Rearranging, ints, longs


def of_the_trades_sizes(seed: int, moves: int = 60, pieces: int = 70) -> Rearranging:
    """Pieces for four levels on boards of 1200 x 1000 mm, nearly full and some a little beyond, in any order."""
    random = Random(seed)
    kerf = random.choice((0, 3))
    rows = []
    for _ in range(pieces):
        low, stage = random.choice((60, 110, 165)) + random.randrange(15), random.randrange(4)
        rows.append((random.choice((1200, 1200, 500)) + kerf, low, low + 12, 1, stage, stage))
    board_of, used = [], [0]
    for row in rows:
        if used[-1] > 1000 - 80:
            used.append(0)
        used[-1] += row[1] + kerf
        board_of.append(len(used) - 1)
    count = len(used)
    sharing = [c for c, row in enumerate(rows) if row[0] < 1200]
    partners = [[other for other in sharing if other != c] if c in sharing else [] for c in range(len(rows))]
    starts = np.cumsum([0, *map(len, partners)])
    return Rearranging(
        bindings.Components(
            *(ints(list(column)) for column in zip(*rows, strict=True)),
            longs([-1] * len(rows)),
            ints(sharing),
            ints(starts.tolist()),
            ints([other for of in partners for other in of]),
        ),
        BoardLimits(
            *(ints([value] * count) for value in (1000 + kerf, 1200 + kerf, kerf, -NEVER, NEVER, NEVER)),
            longs([1] * count),
            longs([0] * count),
        ),
        ints([1, 2, 3, 5]),
        CostWeights(16, 1, 0, 4),
        25,
        moves,
        30.0,
        0.97,
        Arranged(
            ints(list(range(len(rows)))),
            ints(board_of),
            ints([0] * len(rows)),
            ints([0] * len(rows)),
            np.array([seed * 2 + 1], dtype=np.uint64),
        ),
    )
