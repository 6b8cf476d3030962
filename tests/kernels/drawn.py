"""Small random inputs of the kernels: they go where ties, last resorts and edges are."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from hypothesis import strategies as st

from optimiser.kernels import bindings
from optimiser.kernels.bindings import AccessoryRules, Arranged, BoardLimits, LayoutRules, RunTables
from optimiser.kernels.patterns import Ints, Values
from optimiser.kernels.reference.arrangement import NEVER, CostWeights


def ints(values: list[int]) -> Ints:
    return np.array(values, dtype=np.int32)


def longs(values: list[int]) -> Values:
    return np.array(values, dtype=np.int64)


class Components(NamedTuple):
    """Pieces to cut, a column each."""

    lengths: list[int]
    width_min: list[int]
    width_max: list[int]
    bounds: list[int]
    values: list[int]


@st.composite
def components(draw: st.DrawFn, most: int = 6) -> Components:
    rows = draw(
        st.lists(
            st.tuples(
                st.integers(1, 14),
                st.integers(1, 8),
                st.integers(0, 4),
                st.sampled_from((0, 1, 1, 2, 3, 7, 9)),
                st.sampled_from((0, 1, 5, 5, 10, 17, 40)),
            ),
            min_size=1,
            max_size=most,
        )
    )
    lengths, lows, windows, bounds, values = (list(column) for column in zip(*rows, strict=True))
    beside = draw(st.sampled_from((0, 0, 20)))  # wide ones: little is wasted where a strip is widened
    lows = [low + beside for low in lows]
    return Components(lengths, lows, [a + b for a, b in zip(lows, windows, strict=True)], bounds, values)


class Rearranging(NamedTuple):
    """What is dealt out anew, and for how many steps; `before` is never changed."""

    components: bindings.Components
    boards: BoardLimits
    numbers: Ints
    weights: CostWeights
    share: int
    moves: int
    temperature: float
    cooling: float
    before: Arranged

    def by(self, rearrange: Callable[..., int], best_cost: int = 1 << 62) -> tuple[int, list[list[int]]]:
        """The best cost and all that is left, by the kernel or by its reference."""
        arranged = Arranged(*(array.copy() for array in self.before))
        best = rearrange(*self[:4], 100, *self[4:8], arranged, best_cost)
        return best, [array.tolist() for array in arranged]


@st.composite
def rearrangings(draw: st.DrawFn, most: int = 16) -> Rearranging:
    """Up to `most` components on up to six boards, some overfull, some empty, some alike and some not."""
    ranks = draw(st.integers(1, 5))
    rows = draw(
        st.lists(
            st.tuples(
                st.sampled_from((10, 10, 10, 5, 4, 7)),  # length of at most 10
                st.one_of(st.sampled_from((8, 18, 28)), st.integers(8, 40)),  # full to the mm, and not
                st.sampled_from((0, 0, 6, 30)),  # window
                st.sampled_from((1, 1, 1, 2)),
                st.integers(0, ranks - 1),
                st.sampled_from((0, 0, 0, 1, 2)),  # stages until its last
                st.sampled_from((-1, -1, -1, 1, 2)),  # codes
            ),
            min_size=1,
            max_size=most,
        )
    )
    length, low, window, pieces, first, span, codes = (list(column) for column in zip(*rows, strict=True))
    last = [min(ranks - 1, a + b) for a, b in zip(first, span, strict=True)]
    count = draw(st.integers(1, 6))
    one_kerf = draw(st.booleans())
    limits = [
        (
            draw(st.sampled_from((100, 100, 100, 60, 400))),
            draw(st.sampled_from((10, 10, 10, 12, 7))),
            2 if one_kerf else draw(st.sampled_from((2, 2, 2, 0))),
            draw(st.sampled_from((-NEVER, -NEVER, -NEVER, 1))),
            draw(st.sampled_from((NEVER, NEVER, NEVER, 5))),
            draw(st.sampled_from((NEVER, NEVER, NEVER, 0, 1, 3))),
            draw(st.sampled_from((1, 1, 2))),
            draw(st.sampled_from((0, 0, 5))),
        )
        for _ in range(count)
    ]
    strips = draw(st.lists(st.integers(0, len(rows) - 1), min_size=len(rows), max_size=len(rows)))
    if draw(st.booleans()):  # a strip each
        strips = list(range(len(rows)))
    sharing = [c for c in range(len(rows)) if length[c] < 10]
    partners = [
        [other for other in sharing if other != c] if c in sharing and draw(st.integers(0, 4)) else []
        for c in range(len(rows))
    ]
    starts = [0]
    for of in partners:
        starts.append(starts[-1] + len(of))
    numbers = sorted(draw(st.sets(st.integers(0, 12), min_size=ranks, max_size=ranks)))
    return Rearranging(
        bindings.Components(
            *map(ints, (length, low, [a + b for a, b in zip(low, window, strict=True)], pieces, first, last)),
            longs(codes),
            *map(ints, (sharing, starts, [other for of in partners for other in of])),
        ),
        BoardLimits(
            *map(ints, list(zip(*limits, strict=True))[:6]), *map(longs, list(zip(*limits, strict=True))[6:])
        ),
        ints(numbers),
        CostWeights(
            *(draw(st.sampled_from((0, 1, 16))) for _ in range(3)), draw(st.sampled_from((0, 2, 16)))
        ),
        draw(st.sampled_from((0, 30, 100))),
        draw(st.integers(0, 40)),
        draw(st.sampled_from((0.5, 8.0, 60.0, 5000.0))),
        draw(st.sampled_from((1.0, 0.9))),
        Arranged(
            ints(strips),
            ints(draw(st.lists(st.integers(0, count - 1), min_size=len(rows), max_size=len(rows)))),
            ints([0] * len(rows)),
            ints([0] * len(rows)),
            np.array([draw(st.integers(1, 2**64 - 1))], dtype=np.uint64),
        ),
    )


@st.composite
def layout_rules(draw: st.DrawFn) -> LayoutRules:
    least, greatest = draw(
        st.sampled_from(((110, 115), (105, 120), (110, 112), (100, 130), (111, 111), (100, 200)))
    )
    piece_min = draw(st.integers(1, 14))
    return LayoutRules(
        rate_unit=100,
        rate_min=least,
        rate_max=greatest,
        gap_min=24,
        gap_max=100,
        piece_min=piece_min,
        shortest=draw(st.sampled_from((-(-piece_min // 10), -(-piece_min // 3)))),
        clearance=draw(st.integers(0, 6)),
        taper_step=draw(st.sampled_from((1, 1, 3, 5))),
        taper_max=draw(st.sampled_from((0, 2, 5, 30, 1000))),
    )


@st.composite
def run_tables(
    draw: st.DrawFn, longest: int = 90, gaps: tuple[int, int] = (22, 100), mullions: int = 5
) -> RunTables:
    """One or two runs of up to `longest` mm and boards of up to 25 mm: level, wandering, steep and stepping gaps."""
    columns: list[list[int]] = [[] for _ in range(9)]
    (
        length,
        knot_start,
        knot_at,
        knot_gap,
        mullion_start,
        mullion_at,
        board_start,
        board_length,
        board_width,
    ) = columns
    for start in (knot_start, mullion_start, board_start):
        start.append(0)
    for _ in range(draw(st.integers(1, 2))):
        end = draw(st.integers(1, longest))
        length.append(end)
        at = sorted(draw(st.sets(st.integers(0, end), min_size=1, max_size=5)))
        swing = draw(st.sampled_from((0, 1, 3, 8, 20, 60)))
        base = draw(st.integers(*gaps))
        knot_at += at
        knot_gap += [max(10, base + draw(st.integers(-swing, swing))) for _ in at]
        mullion_at += sorted(draw(st.sets(st.integers(0, end), max_size=mullions)))
        sizes = draw(
            st.lists(
                st.tuples(st.integers(3, 25), st.sampled_from((40, 70, 100, 200))), min_size=1, max_size=3
            )
        )
        board_length += [size[0] for size in sizes]
        board_width += [size[1] for size in sizes]
        knot_start.append(len(knot_at))
        mullion_start.append(len(mullion_at))
        board_start.append(len(board_length))
    return RunTables(*map(longs, columns))


@st.composite
def piece_costs(draw: st.DrawFn) -> Values:
    """A table of 1 to 30 lengths by 1 to 140 widths, at random or by area."""
    shape = draw(st.integers(1, 30)), draw(st.integers(1, 140))
    if draw(st.booleans()):
        return np.outer(np.arange(shape[0]), np.arange(shape[1])).astype(np.int64)
    generator = np.random.default_rng(draw(st.integers(0, 2**32)))
    return generator.integers(0, draw(st.sampled_from((3, 1000))), shape, dtype=np.int64)


@st.composite
def accessory_rules(draw: st.DrawFn) -> AccessoryRules:
    target = draw(st.integers(60, 90))
    low, high = target - draw(st.integers(0, 40)), target + draw(st.integers(0, 40))
    return AccessoryRules(
        clearance=draw(st.sampled_from((0, 1, 3, 8, 15))),
        end_distance=draw(st.sampled_from((0, 5, 20, 30))),
        spacing=draw(st.sampled_from((1, 10, 25, 60))),
        insertion_unit=100,
        insertion_low=low,
        insertion_high=high,
        insertion_target=target,
        tape_lap=draw(st.sampled_from((0, 50))),
        tape_faces=draw(st.integers(0, 2)),
    )
