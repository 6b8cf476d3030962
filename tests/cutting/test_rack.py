"""A rack of distinct offcuts: every offcut is cut by a whole pattern, chosen together with the boards."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
from hypothesis import given, settings

from benchmarks.instances.real_projects import facade_with_rack
from optimiser.checking import broken_rules_of_result
from optimiser.cutting.columns import complete, offcut_columns
from optimiser.cutting.demand import prepare
from optimiser.cutting.master import Master, OffcutColumn
from optimiser.cutting.pricing import area_values, price
from optimiser.cutting.problem import Board, CuttingProblem, Objective, Offcut, Piece
from optimiser.cutting.rack import best_patterns, filled_rack, pieces_in
from optimiser.cutting.residual import Residual
from optimiser.cutting.solve import solve
from tests.builders.tiny_cutting_problems import tiny_cutting_problems

BOARD = Board(length_mm=1200, width_mm=1000)


def problem(*offcuts: tuple[int, int], pieces: tuple[tuple[int, int, int], ...]) -> CuttingProblem:
    """Offcuts of (length, width), pieces of (length, width, quantity)."""
    return CuttingProblem(
        boards=(BOARD,),
        objective=Objective.FEWEST_BOARDS,
        pieces=tuple(
            Piece(id=f"P{k}", length_mm=length, width_min_mm=width, width_max_mm=width, quantity=count)
            for k, (length, width, count) in enumerate(pieces)
        ),
        offcuts=tuple(
            Offcut(id=f"F{k}", length_mm=length, width_mm=width) for k, (length, width) in enumerate(offcuts)
        ),
    )


def test_each_offcut_that_is_left_is_filled_once_and_no_other() -> None:
    """Two alike, of three strips each: one pattern for the one that is left, none for the one that is not."""
    demand = prepare(problem((700, 300), (700, 300), pieces=((690, 100, 9),)))
    first, second = (s for group in demand.racks for s in group.sources)
    area = np.array([kind.length * kind.width_min for kind in demand.types], dtype=np.int64)
    needed = np.array([kind.demand for kind in demand.types], dtype=np.int64)
    ((source, pattern),) = filled_rack(demand, area, needed, {second: 1})
    assert source == second != first
    assert sum(copies for _, _, copies in pattern) == 3


def test_an_offcut_is_cut_by_its_most_valuable_pattern() -> None:
    posed = problem((700, 300), pieces=((600, 150, 5), (300, 100, 9), (690, 300, 1)))
    demand = prepare(posed)
    (group,) = demand.racks
    area = np.array([kind.length * kind.width_min for kind in demand.types], dtype=np.int64)
    worths, patterns = best_patterns(demand, group, area)
    assert worths == [690 * 300]
    without = np.where(area == 690 * 300, 0, area)
    worths, patterns = best_patterns(demand, group, without)
    assert worths == [2 * 600 * 150]  # six of 300 x 100 are as much
    held = pieces_in(demand, group.sources[0], patterns[0])
    assert sum(int(without[t]) * count for t, count in held.items()) == worths[0]


def test_offcuts_filled_together_take_no_more_of_a_type_than_is_needed() -> None:
    posed = problem((700, 300), (700, 310), (700, 320), pieces=((600, 150, 3), (300, 100, 2), (1200, 200, 4)))
    demand = prepare(posed)
    needed = np.array([kind.demand for kind in demand.types], dtype=np.int64)
    area = np.array([kind.length * kind.width_min for kind in demand.types], dtype=np.int64)
    left = {s: 1 for group in demand.racks for s in group.sources}
    taken: Counter[int] = Counter()
    for source, pattern in filled_rack(demand, area, needed, left):
        taken.update(pieces_in(demand, source, pattern))
    assert all(count <= demand.types[t].demand for t, count in taken.items())
    assert [int(count) for count in needed] == [kind.demand - taken[t] for t, kind in enumerate(demand.types)]
    assert sum(taken.values()) == 5  # all but the four that are longer than the offcuts


def test_the_offcut_that_wastes_least_is_cut_first() -> None:
    """A single piece, that either would hold."""
    demand = prepare(problem((600, 300), (1100, 400), pieces=((590, 290, 1),)))
    ((source, _),) = filled_rack(
        demand,
        np.array([590 * 290], dtype=np.int64),
        np.array([1], dtype=np.int64),
        {s: 1 for group in demand.racks for s in group.sources},
    )
    assert demand.sources[source].width == 300


def test_what_fits_no_offcut_is_plain_demand_for_strips() -> None:
    demand = prepare(problem((700, 300), pieces=((1200, 200, 4), (600, 200, 1))))
    assert [home is not None for home in demand.collapsed] == [kind.length == 1200 for kind in demand.types]
    assert len(demand.rack) == 1


@settings(max_examples=100, deadline=None)
@given(tiny_cutting_problems())
def test_what_offcuts_leave_and_the_offcuts_make_the_whole_plan(posed: CuttingProblem) -> None:
    """A plan of the rest, with the offcuts that were settled, covers every piece of the whole problem."""
    demand = prepare(posed)
    plan = complete(demand, [])
    residual = Residual(demand, offcut_columns(demand, plan))
    rest = plan if residual.left is None else complete(residual.left, [])
    whole = residual.whole(rest)
    assert whole is not None
    assert whole.cost <= plan.cost or residual.left is not None
    covered: Counter[int] = Counter()
    for strip, times in whole.strips:
        for c, copies in strip.pairs:
            for t in demand.families[strip.family].components[c].types:
                covered[t] += copies * times
    assert all(covered[t] >= kind.demand for t, kind in enumerate(demand.types))


@settings(max_examples=100, deadline=None)
@given(tiny_cutting_problems())
def test_an_offcut_is_worth_no_less_than_what_a_plan_cuts_from_it(posed: CuttingProblem) -> None:
    """The bound counts on it: the most that an offcut can hold is never below what it does hold."""
    demand = prepare(posed)
    master = Master(demand)
    types, solo = area_values(master)
    most = {
        s: worth
        for group in demand.racks
        for s, worth in zip(group.sources, best_patterns(demand, group, types)[0], strict=True)
    }
    for column in offcut_columns(demand, complete(demand, [])):
        held = pieces_in(demand, column.source, column.strips)
        assert sum(int(types[t]) * count for t, count in held.items()) <= most[column.source]
    assert price(master, types, solo, None).bound >= 0


def test_a_pattern_of_an_offcut_is_the_same_in_slots_and_strips() -> None:
    demand = prepare(problem((700, 300), pieces=((600, 150, 5), (300, 100, 9))))
    (group,) = demand.racks
    column = OffcutColumn(group.sources[0], ((1, ((0, 1),), 2),))
    board, strips = column.as_slots(demand)
    assert board.pairs == ((1, 2),)
    assert [(strip.width, strip.pairs, copies) for strip, copies in strips] == [(1, ((0, 1),), 2)]
    entries = Master(demand).entries(column)
    assert sorted(entries.values()) == [1.0, 2.0]  # one offcut, two pieces


@pytest.mark.slow
@pytest.mark.parametrize(
    ("size", "seed", "offcuts", "carry"), [("S", 1, 150, None), ("M", 3, 150, None), ("M", 1, 600, 3)]
)
def test_a_full_rack_is_used_to_within_a_board_of_the_bound(
    size: str, seed: int, offcuts: int, carry: int | None
) -> None:
    """M with 150 distinct offcuts took 97 boards against a bound of 83, and with 600 no bound at all was proved."""
    posed = facade_with_rack(size, seed, offcuts, carry)
    result = solve(posed, waiting=False)
    assert broken_rules_of_result(result, posed) == []
    assert result.boards <= result.lower_bound + 1
