"""The compiled inner loops against the same thing written plainly."""

from itertools import product

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from optimiser.cutting.attainable import Attainable
from optimiser.cutting.kernels import fill_boards, form_strips, price_boards, price_strips


def ints(values: list[int]) -> "np.ndarray[tuple[int], np.dtype[np.int32]]":
    return np.array(values, dtype=np.int32)


def longs(values: list[int]) -> "np.ndarray[tuple[int], np.dtype[np.int64]]":
    return np.array(values, dtype=np.int64)


items = st.lists(
    st.tuples(
        st.integers(1, 12), st.integers(1, 6), st.integers(0, 3), st.integers(1, 3), st.integers(0, 50)
    ),
    min_size=1,
    max_size=5,
)  # length, width_min, window, bound, value


def best_by_trying(sizes: list[int], bounds: list[int], values: list[int], capacity: int) -> int:
    return max(
        sum(n * value for n, value in zip(counts, values, strict=True))
        for counts in product(*(range(bound + 1) for bound in bounds))
        if sum(n * size for n, size in zip(counts, sizes, strict=True)) <= capacity
    )


@settings(max_examples=150, deadline=None)
@given(items, st.integers(1, 30))
def test_the_strip_knapsack_is_exact_for_every_width(
    drawn: list[tuple[int, int, int, int, int]], capacity: int
) -> None:
    lengths, lows, windows, bounds, values = (list(column) for column in zip(*drawn, strict=True))
    highs = [low + window for low, window in zip(lows, windows, strict=True)]
    widths = sorted(set(lows))
    patterns, _ = price_strips(
        ints(lengths), ints(lows), ints(highs), ints(bounds), longs(values), ints(widths), capacity, None
    )
    for w, width in enumerate(widths):
        usable = [bound if lows[i] <= width <= highs[i] else 0 for i, bound in enumerate(bounds)]
        assert patterns.best[w] == best_by_trying(lengths, usable, values, capacity)
        pairs = patterns.pairs(w)
        assert sum(values[i] * n for i, n in pairs) == patterns.best[w]
        assert sum(lengths[i] * n for i, n in pairs) <= capacity
        assert all(n <= usable[i] for i, n in pairs)


@settings(max_examples=150, deadline=None)
@given(items, st.integers(1, 30))
def test_the_board_knapsack_is_exact_and_each_forced_pattern_holds_its_width(
    drawn: list[tuple[int, int, int, int, int]], capacity: int
) -> None:
    sizes = sorted({size for size, *_ in drawn})
    bounds = [1 + size % 3 for size in sizes]
    values = [drawn[k % len(drawn)][4] for k in range(len(sizes))]
    patterns = price_boards(ints(sizes), ints(bounds), longs(values), capacity)
    assert patterns.best[0] == best_by_trying(sizes, bounds, values, capacity)
    for k in range(len(sizes) + 1):
        pairs = dict(patterns.pairs(k))
        assert sum(sizes[i] * n for i, n in pairs.items()) <= capacity
        assert all(n <= bounds[i] for i, n in pairs.items())
        assert not pairs or k == 0 or (k - 1) in pairs


@settings(max_examples=150, deadline=None)
@given(st.dictionaries(st.integers(1, 40), st.integers(1, 30), min_size=1, max_size=6), st.integers(40, 130))
def test_filled_boards_cover_every_strip_once_and_fit(demand: dict[int, int], capacity: int) -> None:
    widths = sorted(demand)
    made = dict.fromkeys(widths, 0)
    for pairs, repeat in fill_boards(ints(widths), ints([demand[w] for w in widths]), capacity):
        assert sum(widths[k] * n for k, n in pairs) <= capacity
        for k, n in pairs:
            made[widths[k]] += n * repeat
    assert made == demand


@settings(max_examples=150, deadline=None)
@given(items, st.integers(12, 40), st.sampled_from([0, 100, 1000]))
def test_formed_strips_fit_their_length_and_every_window(
    drawn: list[tuple[int, int, int, int, int]], capacity: int, tolerance: int
) -> None:
    drawn = sorted(drawn, reverse=True)
    lengths = [length for length, *_ in drawn]
    lows = [low for _, low, *_ in drawn]
    highs = [low + window for _, low, window, *_ in drawn]
    strip_of, strip_width = form_strips(
        ints(lengths), ints(lows), ints(highs), capacity, min(lengths), tolerance
    )
    for strip, width in enumerate(strip_width.tolist()):
        members = [i for i, of in enumerate(strip_of.tolist()) if of == strip]
        assert members
        assert sum(lengths[i] for i in members) <= capacity
        assert width == max(lows[i] for i in members)
        assert all(width <= highs[i] for i in members)


@settings(max_examples=200, deadline=None)
@given(
    st.lists(st.integers(1, 12), min_size=1, max_size=3),
    st.lists(st.integers(0, 3), min_size=3, max_size=3),
    st.integers(0, 8),
    st.integers(0, 60),
)
def test_the_attainable_cost_is_the_least_of_all_combinations(
    prices: list[int], floors: list[int], fewest: int, bound: int
) -> None:
    floors = floors[: len(prices)]
    least = Attainable(tuple(prices), tuple(floors), fewest).least(bound)
    most = bound + fewest + 4
    expected = min(
        cost
        for counts in product(
            *(
                range(floor, max(floor, most // price + 9) + 1)
                for floor, price in zip(floors, prices, strict=True)
            )
        )
        if sum(counts) >= fewest
        and (cost := sum(n * price for n, price in zip(counts, prices, strict=True))) >= bound
    )
    assert least == expected
