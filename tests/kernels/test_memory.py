"""Whichever allocation fails, a kernel says so or is right all the same, changes nothing and keeps nothing."""

from __future__ import annotations

import ctypes
from collections.abc import Callable

import numpy as np
import pytest

from optimiser.kernels import bindings, loading
from optimiser.kernels.bindings import AccessoryRules, LayoutRules, RunTables
from optimiser.kernels.loading import LIBRARIES
from tests.kernels.building import COMPILER, build
from tests.kernels.drawn import ints, longs
from tests.kernels.rearranged import of_the_trades_sizes

HEADER = "tests/kernels/failing_allocation.h"
pytestmark = pytest.mark.skipif(COMPILER is None, reason="needs a C compiler")


@pytest.fixture(scope="module")
def libraries(
    tmp_path_factory: pytest.TempPathFactory, pytestconfig: pytest.Config
) -> dict[str, ctypes.CDLL]:
    folder = tmp_path_factory.mktemp("failing")
    flags = ["-O1", "-include", str(pytestconfig.rootpath / HEADER)]
    build(folder, flags)
    return {name: ctypes.CDLL(str(folder / f"_{name}.so")) for name in LIBRARIES}


@pytest.fixture(autouse=True)
def _bound(libraries: dict[str, ctypes.CDLL], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(loading, "compiled_library", libraries.get)


def try_every_failure(library: ctypes.CDLL, call: Callable[[], object]) -> tuple[int, int]:
    """(allocations of a call, failures that were said): each allocation fails once, alone."""
    library.allocations_made.restype = library.allocations_kept.restype = ctypes.c_int64
    library.fail_allocation.argtypes = [ctypes.c_int64]
    library.fail_allocation(-1)
    expected = call()
    allocations = int(library.allocations_made())
    assert library.allocations_kept() == 0
    said = 0
    for number in range(allocations):
        library.fail_allocation(number)
        try:
            assert call() == expected
        except MemoryError:
            said += 1
        assert library.allocations_kept() == 0, f"allocation {number} fails"
    library.fail_allocation(-1)
    return allocations, said


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("trials", [(1000, 100, 300), (300,)])
def test_counted_boards_and_their_stock(
    libraries: dict[str, ctypes.CDLL], seed: int, trials: tuple[int, ...]
) -> None:
    """A later tolerance without memory is no reason to answer by an earlier one with the stock unused."""
    random = np.random.default_rng(seed)
    lengths, low = random.integers(200, 900, 60), random.integers(80, 300, 60)
    high, stock_width = low + random.integers(0, 30, 60), longs([900, 400, 250])
    tolerances = longs(list(trials))
    given = longs([2, 3, 1])

    def count() -> tuple[int, list[int]]:
        left = given.copy()
        try:
            boards = bindings.count_boards(lengths, low, high, (1200, 1000), 0, stock_width, left, tolerances)
        except MemoryError:
            assert left.tolist() == given.tolist()
            raise
        return boards, left.tolist()

    assert count()[1] != given.tolist()
    allocations, said = try_every_failure(libraries["draws"], count)
    assert allocations > 10
    assert said > 6


def test_counted_accessories(libraries: dict[str, ctypes.CDLL]) -> None:
    runs = RunTables(
        *(map(longs, ([5000], [0, 1], [0], [150], [0, 4], [290, 900, 1500, 2700], [0, 1], [1200], [1000])))
    )
    rows = np.zeros((4, bindings.ROW_WIDTH), np.int64)
    rows[:, 2], rows[:, 3] = [0, 500, 1700, 2900], [500, 1700, 2900, 5000]
    rules = AccessoryRules(75, 300, 600, 100, 70, 85, 75, 50, 1)

    def count() -> object:
        size, stand, joints, tape_mm = bindings.count_accessories(rows, runs, rules, longs([110, 120]))
        return size.tolist(), stand.tolist(), joints, tape_mm

    allocations, said = try_every_failure(libraries["draws"], count)
    assert allocations == said > 6


@pytest.mark.parametrize("by_price", [False, True])
def test_laid_out_runs(libraries: dict[str, ctypes.CDLL], by_price: bool) -> None:
    at = list(range(0, 40_000, 450))
    gaps = [150 + (17 * k * k) % 23 for k in range(len(at))]
    runs = RunTables(
        *map(
            longs,
            ([40_000], [0, len(at)], at, gaps, [0, 2], [1200, 3000], [0, 2], [1200, 900], [1000, 1000]),
        )
    )
    rules = LayoutRules(100, 110, 115, 25, 400, 300, 30, 100, 50, 30)
    cost = np.arange(1201 * 201, dtype=np.int64).reshape(1201, 201) % 97 if by_price else None
    allocations, said = try_every_failure(
        libraries["joints"], lambda: bindings.lay_out_runs(runs, rules, cost).tolist()
    )
    assert allocations == said > 10


def test_priced_and_filled_boards(libraries: dict[str, ctypes.CDLL]) -> None:
    widths, demand, values = ints([165, 172, 180, 240]), ints([9, 4, 7, 2]), longs([10, 12, 14, 20])

    def call() -> object:
        patterns = bindings.price_boards(widths, demand, values, 1000)
        strips, own = bindings.price_strips(
            widths, widths, widths, demand, values, widths, 1000, longs([0] * 4)
        )
        formed = bindings.form_strips(ints([900, 600, 300]), *[ints([165] * 3)] * 2, 1200, 300, 1000)
        return (
            [patterns.pairs(k) for k in range(5)],
            [strips.pairs(k) for k in range(8)],
            own.tolist(),
            [column.tolist() for column in formed],
            bindings.fill_boards(widths, demand, 1000),
        )

    allocations, said = try_every_failure(libraries["cutting"], call)
    assert allocations > 10
    assert said > 5


def test_rearranged_boards(libraries: dict[str, ctypes.CDLL]) -> None:
    drawn = of_the_trades_sizes(1, moves=300)
    arranged = bindings.Arranged(*(array.copy() for array in drawn.before))

    def call() -> object:
        for array, before in zip(arranged, drawn.before, strict=True):
            array[:] = before
        try:
            best = bindings.rearrange(*drawn[:4], 100, *drawn[4:8], arranged, 1 << 62)
        except MemoryError:
            assert [array.tolist() for array in arranged] == [array.tolist() for array in drawn.before]
            raise
        return best, [array.tolist() for array in arranged]

    allocations, said = try_every_failure(libraries["rearranging"], call)
    assert allocations == said == 3
