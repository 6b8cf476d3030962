"""A large rack begins at the prices of its pieces without it: a bound that holds, better than that by area."""

from __future__ import annotations

import pytest

from benchmarks.instances.real_projects import facade_with_rack
from optimiser.cutting.columns import complete
from optimiser.cutting.demand import prepare
from optimiser.cutting.generation import MORE_THAN_ANY_COST, ColumnGeneration
from optimiser.cutting.heuristic import TOLERANCES
from optimiser.cutting.master import OffcutColumn
from optimiser.cutting.rack_start import begin_without_rack


def generation_of(size: str, offcuts: int) -> ColumnGeneration:
    demand = prepare(facade_with_rack(size, 1, offcuts, None))
    return ColumnGeneration(demand, complete(demand, [], TOLERANCES[:1]))


def never() -> bool:
    return False


@pytest.mark.slow
@pytest.mark.parametrize(("size", "offcuts"), [("S", 20), ("M", 150)])
def test_the_bound_holds_and_the_linear_program_ends_at_the_same_value(size: str, offcuts: int) -> None:
    usual, begun = generation_of(size, offcuts), generation_of(size, offcuts)
    begin_without_rack(begun, None, never)
    value = usual.run(lambda: MORE_THAN_ANY_COST, never)
    assert begun.bound <= value + 1e-6
    assert begun.run(lambda: MORE_THAN_ANY_COST, never) == pytest.approx(value, rel=1e-4)


def test_the_bound_is_at_once_better_than_by_area() -> None:
    begun = generation_of("S", 20)
    by_area = begun.bound
    begin_without_rack(begun, None, never)
    assert begun.bound > by_area


def test_there_are_patterns_of_the_rack_before_the_first_solve() -> None:
    begun = generation_of("S", 20)
    before = set(begun.master.columns)
    begin_without_rack(begun, None, never)
    assert any(isinstance(column, OffcutColumn) for column in {*begun.master.columns} - before)


def test_out_of_time_it_begins_as_usual() -> None:
    begun = generation_of("S", 20)
    columns, bound = len(begun.master.columns), begun.bound
    begin_without_rack(begun, None, lambda: True)
    assert (len(begun.master.columns), begun.bound) == (columns, bound)
