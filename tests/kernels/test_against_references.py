"""Every compiled kernel gives what its readable reference gives, exactly, ties included."""

from __future__ import annotations

from fractions import Fraction
from functools import partial
from random import Random

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from optimiser.kernels import bindings, loading
from optimiser.kernels.bindings import AccessoryRules, LayoutRules, RunTables
from optimiser.kernels.patterns import Values
from optimiser.kernels.reference import boards, brackets, knapsacks
from optimiser.kernels.reference.strip_ways import ways_one_by_one
from tests.kernels.drawn import (
    Components,
    Rearranging,
    accessory_rules,
    components,
    ints,
    layout_rules,
    longs,
    piece_costs,
    rearrangings,
    run_tables,
)
from tests.kernels.rearranged import of_the_trades_sizes

one_by_one = partial(bindings.rearrange_by_reference, ways=ways_one_by_one)


def test_strips_and_boards_of_the_trades_sizes_are_alike() -> None:
    """Boards of 1200 x 1000 mm, pieces 200 to 1200 mm long whose windows are some 5 % wide."""
    for seed in range(150):
        random = Random(seed)
        pieces = []
        for _ in range(random.randrange(4, 40)):
            low = random.choice((90, 165, 240)) + random.randrange(0, 12)
            pieces.append((random.choice((300, 400, 500, 600, 1200)), low, low + random.randrange(0, 12)))
        lengths, lows, highs = (list(column) for column in zip(*sorted(pieces, reverse=True), strict=True))
        columns, tolerance, kerf = (
            (lengths, lows, highs),
            random.choice((100, 300, 1000)),
            random.choice((0, 3)),
        )
        strip_of, widths = bindings.form_strips(*map(ints, columns), 1200, min(lengths), tolerance)
        formed = boards.form_strips(*columns, 1200, min(lengths), tolerance)
        assert (strip_of.tolist(), widths.tolist()) == formed
        stock = [600, 250], [random.randrange(3), random.randrange(3)]
        left = longs(stock[1])
        count = bindings.count_boards(
            *map(longs, columns), (1200, 1000), kerf, longs(stock[0]), left, longs([tolerance, 300])
        )
        expected = boards.count_boards(*columns, (1200, 1000), kerf, *stock, [tolerance, 300])
        assert (count, left.tolist()) == expected


def test_accessories_of_the_trades_sizes_are_alike() -> None:
    """Pieces of up to 1200 mm along runs of 12 m, mullions close and wide apart, brackets every 5 or 10 mm of reach."""
    for seed in range(40):
        random = Random(seed)
        end = 12_000
        pitch = random.choice((120, 250, 400, 900))
        mullions = sorted({random.randrange(end) for _ in range(end // pitch)})
        at = [0, *sorted(random.sample(range(1, end), 8))]
        swing = random.choice((0, 4, 12))
        gap = [160 + 2 * random.randrange(-swing, swing + 1) for _ in at]
        runs = RunTables(
            length=longs([end]),
            knot_start=longs([0, len(at)]),
            knot_at=longs(at),
            knot_gap=longs(gap),
            mullion_start=longs([0, len(mullions)]),
            mullion_at=longs(mullions),
            board_start=longs([0, 1]),
            board_length=longs([1200]),
            board_width=longs([1000]),
        )
        joints = [0, *sorted(random.sample(range(1, end), 14)), end]
        rows = np.zeros((len(joints) - 1, bindings.ROW_WIDTH), np.int64)
        rows[:, 2], rows[:, 3] = joints[:-1], joints[1:]
        rules = AccessoryRules(random.choice((40, 75)), 300, 600, 100, 65, 85, 75, 50, 1)
        reaches = longs(random.sample(range(95, 150, random.choice((5, 10))), 5))
        size, stand, joints_found, tape_mm = bindings.count_accessories(rows, runs, rules, reaches)
        expected = bindings.count_by_reference(rows, runs, rules, reaches)
        assert (size.tolist(), stand.tolist()) == (expected[0].tolist(), expected[1].tolist())
        assert (joints_found, tape_mm) == expected[2:]


@settings(max_examples=300, deadline=None)
@given(components(), st.integers(0, 40), st.sampled_from((None, 0, 5, 30)))
def test_strips_are_priced_alike(drawn: Components, capacity: int, slot_value: int | None) -> None:
    widths = sorted(set(drawn.width_min) | {max(drawn.width_max)})
    slots = None if slot_value is None else [slot_value + w for w in range(len(widths))]
    patterns, own_width = bindings.price_strips(
        *map(ints, drawn[:4]),
        longs(drawn.values),
        ints(widths),
        capacity,
        None if slots is None else longs(slots),
    )
    best, expected, own = knapsacks.price_strips(*drawn, widths, capacity, slots)
    assert patterns.best.tolist() == best
    assert own_width.tolist() == own
    assert [patterns.pairs(k) for k in range(len(expected))] == expected


@settings(max_examples=300, deadline=None)
@given(components(), st.integers(0, 40))
def test_nothing_is_lost_with_components_that_others_of_their_length_outdo(
    drawn: Components, capacity: int
) -> None:
    widths = sorted(set(drawn.width_min) | {max(drawn.width_max)})
    best, _, _ = knapsacks.price_strips(*drawn, widths, capacity, None)
    for width, value in zip(widths, best, strict=True):
        every = [
            parcel
            for i, length in enumerate(drawn.lengths)
            if drawn.values[i] > 0 and drawn.width_min[i] <= width <= drawn.width_max[i]
            for parcel in knapsacks.parcels_of(i, length, drawn.values[i], drawn.bounds[i], capacity)
        ]
        assert value == knapsacks.Knapsack.solved(every, capacity).best[capacity]


@settings(max_examples=300, deadline=None)
@given(components(8), st.integers(0, 40))
def test_boards_are_priced_alike(drawn: Components, capacity: int) -> None:
    patterns = bindings.price_boards(ints(drawn.lengths), ints(drawn.bounds), longs(drawn.values), capacity)
    best, expected = knapsacks.price_boards(drawn.lengths, drawn.bounds, drawn.values, capacity)
    assert patterns.best.tolist() == best
    assert [patterns.pairs(k) for k in range(len(expected))] == expected


@settings(max_examples=300, deadline=None)
@given(
    components(8),
    st.integers(0, 3),
    st.lists(st.tuples(st.integers(1, 40), st.integers(1, 40)), min_size=0, max_size=5),
)
def test_offcuts_are_priced_alike(drawn: Components, kerf: int, sizes: list[tuple[int, int]]) -> None:
    widths = sorted(set(drawn.width_min))
    bounds = [1 + width % 3 for width in widths]
    lengths, across = [length for length, _ in sizes], [width for _, width in sizes]
    best, rows = bindings.price_offcuts(
        ints(drawn.lengths),
        ints(drawn.width_min),
        ints(drawn.width_max),
        ints(drawn.bounds),
        longs(drawn.values),
        ints(widths),
        ints(bounds),
        kerf,
        ints(lengths),
        ints(across),
    )
    expected = knapsacks.price_offcuts(*drawn, widths, bounds, kerf, lengths, across)
    assert best.tolist() == expected.best
    assert [tuple(row) for row in rows.tolist()] == expected.rows


@settings(max_examples=300, deadline=None)
@given(components(14), st.integers(14, 45), st.integers(1, 6), st.sampled_from((0, 100, 300, 1000)))
def test_strips_are_formed_alike(drawn: Components, capacity: int, shortest: int, tolerance: int) -> None:
    columns = drawn.lengths, drawn.width_min, drawn.width_max
    strip_of, widths = bindings.form_strips(*map(ints, columns), capacity, shortest, tolerance)
    assert (strip_of.tolist(), widths.tolist()) == boards.form_strips(*columns, capacity, shortest, tolerance)


@settings(max_examples=300, deadline=None)
@given(st.dictionaries(st.integers(1, 90), st.integers(0, 40), min_size=1, max_size=8), st.integers(20, 300))
def test_boards_are_filled_alike(demand: dict[int, int], capacity: int) -> None:
    """A strip wider than the board included: it has a board to itself."""
    widths, counts = sorted(demand), [demand[width] for width in sorted(demand)]
    made = bindings.fill_boards(ints(widths), ints(counts), capacity)
    assert made == boards.fill_boards(widths, counts, capacity)


@settings(max_examples=200, deadline=None)
@given(
    components(20),
    st.tuples(st.integers(14, 45), st.integers(12, 60)),
    st.integers(0, 2),
    st.lists(st.tuples(st.integers(1, 30), st.integers(0, 4)), max_size=3),
    st.lists(st.sampled_from((0, 100, 300, 1000)), min_size=1, max_size=3),
)
def test_boards_are_counted_alike(
    drawn: Components,
    board: tuple[int, int],
    kerf: int,
    stock: list[tuple[int, int]],
    tolerances: list[int],
) -> None:
    columns = drawn.lengths, drawn.width_min, drawn.width_max
    stock_width, stock_left = ([item[place] for item in stock] for place in (0, 1))
    left = longs(stock_left)
    count = bindings.count_boards(
        *map(longs, columns), board, kerf, longs(stock_width), left, longs(tolerances)
    )
    expected = boards.count_boards(*columns, board, kerf, stock_width, stock_left, tolerances)
    assert (count, left.tolist()) == expected


@settings(max_examples=400, deadline=None)
@given(rearrangings(), st.sampled_from((1 << 62, 300, 0)))
def test_boards_are_rearranged_alike(drawn: Rearranging, best_cost: int) -> None:
    """To the last draw: the arrangement, the best one, its cost, and the state of the random numbers. By the kernel, by
    its reference with all ways at once, and by the reference that tries one way after the other."""
    expected = drawn.by(one_by_one, best_cost)
    assert drawn.by(bindings.rearrange_by_reference, best_cost) == expected
    assert drawn.by(bindings.rearrange, best_cost) == expected


def test_boards_of_the_trades_sizes_are_rearranged_alike() -> None:
    """Boards of 1000 mm full of strips for four levels, more strips than are dealt out at once, halves that share."""
    for seed in range(6):
        drawn = of_the_trades_sizes(seed, moves=10)
        expected = drawn.by(one_by_one)
        assert drawn.by(bindings.rearrange_by_reference) == expected
        assert drawn.by(bindings.rearrange) == expected


def test_many_steps_with_boards_of_the_trades_sizes_are_alike() -> None:
    for seed in range(6, 12):
        drawn = of_the_trades_sizes(seed, moves=1500)._replace(cooling=0.998)
        assert drawn.by(bindings.rearrange) == drawn.by(bindings.rearrange_by_reference)


def test_the_last_overfull_boards_are_taken_alike() -> None:
    """Of a hundred boards one or none is overfull, so that it is taken more often."""
    for seed in range(3):
        drawn = of_the_trades_sizes(seed, moves=40, pieces=700)
        capacity = drawn.boards.capacity + 200  # none is overfull
        capacity[seed] -= 700
        assert len(capacity) > 64
        few = drawn._replace(boards=drawn.boards._replace(capacity=capacity))
        assert few.by(bindings.rearrange) == few.by(bindings.rearrange_by_reference)


def by_reference(
    runs: RunTables, rules: LayoutRules, cost: Values | None = None, pieces_first: bool = False
) -> list[list[int]]:
    rows: list[list[int]] = bindings.lay_out_by_reference(runs, rules, cost, pieces_first).tolist()
    return rows


@settings(max_examples=500, deadline=None)
@given(run_tables(), layout_rules())
def test_runs_are_laid_out_alike_and_leaping_changes_nothing(runs: RunTables, rules: LayoutRules) -> None:
    expected = by_reference(runs, rules)
    assert bindings.lay_out_runs(runs, rules).tolist() == expected
    step_by_step = rules._replace(every_millimetre=True)
    assert bindings.lay_out_runs(runs, step_by_step).tolist() == expected


@settings(max_examples=300, deadline=None)
@given(run_tables(), layout_rules(), piece_costs(), st.booleans())
def test_runs_are_laid_out_by_price_alike(
    runs: RunTables, rules: LayoutRules, cost: Values, pieces_first: bool
) -> None:
    rows = bindings.lay_out_runs(runs, rules, cost, pieces_first).tolist()
    assert rows == by_reference(runs, rules, cost, pieces_first)


def test_no_price_makes_more_pieces_tapered_than_must_be() -> None:
    """Three boards' length less 3 mm, a steep slope in the middle: a joint on it makes two tapers, one at either end of
    it one."""
    runs = RunTables(
        length=longs([33]),
        knot_start=longs([0, 4]),
        knot_at=longs([0, 9, 21, 33]),
        knot_gap=longs([50, 50, 64, 64]),
        mullion_start=longs([0, 0]),
        mullion_at=longs([]),
        board_start=longs([0, 1]),
        board_length=longs([12]),
        board_width=longs([100]),
    )
    rules = LayoutRules(100, 110, 115, 24, 100, 3, 1, 0, 1, 30)
    for seed in range(40):
        cost = np.random.default_rng(seed).integers(0, 1000, (13, 70), dtype=np.int64)
        rows = bindings.lay_out_runs(runs, rules, cost, True).tolist()
        assert rows == by_reference(runs, rules, cost, True)
        assert [row[1] for row in rows] == [0, 1, 0]


@settings(max_examples=300, deadline=None)
@given(
    run_tables(longest=200, gaps=(50, 75), mullions=25),
    st.lists(st.integers(1, 120), min_size=1, max_size=8),
    accessory_rules(),
    st.lists(st.integers(30, 70), max_size=12),
)
def test_accessories_are_counted_alike(
    runs: RunTables, lengths: list[int], rules: AccessoryRules, reaches: list[int]
) -> None:
    """Pieces of any lengths, now and then with a stretch left open between them."""
    rows = []
    for run, end in enumerate(runs.length.tolist()):
        at = 0
        for number, length in enumerate(lengths):
            to = min(end, at + length)
            if to > at and number % 4 != 3:
                rows.append([run, 0, at, to, *[0] * 6])
            at = to
    table = np.array(rows, dtype=np.int64).reshape(-1, bindings.ROW_WIDTH)
    size, stand, joints, tape_mm = bindings.count_accessories(table, runs, rules, longs(reaches))
    expected = bindings.count_by_reference(table, runs, rules, longs(reaches))
    assert size.tolist() == expected[0].tolist()
    assert stand.tolist() == expected[1].tolist()
    assert (joints, tape_mm) == expected[2:]


def test_the_widest_gap_between_two_brackets_counts_for_the_size() -> None:
    """155 mm at the brackets, 160 mm between: of 116 mm, the nearest to 75 % at them, and 118 mm only the latter is
    73 % of the gap all along."""
    runs = RunTables(
        length=longs([1200]),
        knot_start=longs([0, 3]),
        knot_at=longs([0, 600, 1200]),
        knot_gap=longs([150, 160, 150]),
        mullion_start=longs([0, 0]),
        mullion_at=longs([]),
        board_start=longs([0, 1]),
        board_length=longs([1200]),
        board_width=longs([1000]),
    )
    rules = AccessoryRules(75, 300, 600, 100, 73, 85, 75, 50, 1)
    row = longs([0, 0, 0, 1200, *[0] * 6]).reshape(1, -1)
    size, stand, _, _ = bindings.count_accessories(row, runs, rules, longs([116, 118]))
    assert (size.tolist(), stand.tolist()) == ([1], [2])


def test_the_reference_of_the_bracket_rule_gives_the_trades_own_example() -> None:
    """1200 mm: 300 and 900; a gap of 150 mm: the 110 mm size (common practice, no source)."""
    assert brackets.bracket_positions(1200, (), brackets.Standing(75, 300, 600)) == (300, 900)
    gap = Fraction(150), Fraction(150)
    insertion = brackets.Insertion(Fraction(7, 10), Fraction(17, 20), Fraction(3, 4))
    assert brackets.bracket_size(gap, gap, (100, 110, 115, 120), insertion) == 1


def test_the_compiled_kernels_are_what_is_compared() -> None:
    assert all(loading.compiled_library(name) is not None for name in loading.LIBRARIES)
