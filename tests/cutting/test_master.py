"""The linear master on problems small enough to be solved by hand."""

from __future__ import annotations

import pytest

from optimiser.cutting.columns import complete
from optimiser.cutting.demand import Demand, prepare
from optimiser.cutting.generation import MORE_THAN_ANY_COST, ColumnGeneration
from optimiser.cutting.master import BoardColumn, CascadeColumn, Master, OffcutColumn, StripColumn
from optimiser.cutting.problem import Board, CuttingProblem, Objective, Offcut, Piece
from optimiser.cutting.rack import best_patterns

BOARD = Board(length_mm=1200, width_mm=1000)


def problem_of(*pieces: tuple[int, int, int], offcuts: tuple[Offcut, ...] = ()) -> CuttingProblem:
    """Pieces as (length, width, quantity), on boards of 1200 x 1000."""
    return CuttingProblem(
        boards=(BOARD,),
        pieces=tuple(
            Piece(id=f"P{k}", length_mm=length, width_min_mm=width, width_max_mm=width, quantity=quantity)
            for k, (length, width, quantity) in enumerate(pieces)
        ),
        offcuts=offcuts,
        objective=Objective.FEWEST_BOARDS,
    )


def solved(demand: Demand) -> ColumnGeneration:
    start = complete(demand, [])
    generation = ColumnGeneration(demand, start)
    generation.run(lambda: MORE_THAN_ANY_COST, lambda: False)
    return generation


def test_a_piece_too_long_to_share_is_plain_demand_for_slots() -> None:
    """Its row is the slot's own: the strips that it needs, and none of its type."""
    demand = prepare(problem_of((1000, 300, 7), (400, 300, 5)))
    master = Master(demand)
    alone, sharing = (
        next(t for t, kind in enumerate(demand.types) if kind.solo is solo) for solo in (True, False)
    )
    assert master.row_of_type[alone] == -1
    assert master.row_of_type[sharing] >= 0
    assert master.solo_demand[0].tolist() == [7]
    assert master.right[master.slot_row[0]] == 7


def test_what_a_column_puts_into_each_row() -> None:
    demand = prepare(problem_of((400, 200, 9), (400, 300, 5)))
    master = Master(demand)
    first = master.slot_row[0]
    family = demand.families[0]
    narrow, wide = family.index_of_width[200], family.index_of_width[300]
    held = family.single_component[next(t for t, kind in enumerate(demand.types) if kind.width_min == 300)]
    assert master.entries(BoardColumn(0, ((narrow, 2), (wide, 2)))) == {
        first + narrow: 2.0,
        first + wide: 2.0,
    }
    row = master.row_of_type[family.components[held].types[0]]
    assert master.entries(StripColumn(0, wide, ((held, 3),))) == {first + wide: -1.0, row: 3.0}
    assert master.entries(CascadeColumn(0, wide)) == {first + wide: -1.0, first + wide - 1: 1.0}


def test_a_column_is_added_once_and_costs_its_board() -> None:
    demand = prepare(problem_of((1000, 300, 7)))
    master = Master(demand)
    board = BoardColumn(0, ((0, 3),))
    before = len(master.columns)
    assert master.add([board, board]) == 1
    assert master.add([board]) == 0
    assert len(master.columns) == before + 1
    assert master.costs[-1] == 1


def test_without_boards_there_is_no_solution() -> None:
    assert Master(prepare(problem_of((1000, 300, 7)))).solve() == float("inf")


@pytest.mark.parametrize(
    ("pieces", "value"),
    [
        (((1000, 300, 7),), 7 / 3),  # three strips across, one piece in each
        (((400, 300, 7),), 7 / 9),  # and three in each
        (((1000, 600, 4), (1000, 400, 2)), 4.0),  # the narrow ones lie beside the wide ones
        (((1000, 600, 2), (1000, 400, 6)), 2 + 4 / 2),
    ],
)
def test_the_value_of_boards_that_may_be_cut_in_part(
    pieces: tuple[tuple[int, int, int], ...], value: float
) -> None:
    generation = solved(prepare(problem_of(*pieces)))
    assert generation.master.solve() == pytest.approx(value)
    assert float(generation.bound) == pytest.approx(value, abs=1e-6)


def test_a_wide_slot_serves_a_narrow_strip() -> None:
    demand = prepare(problem_of((1000, 300, 2), (1000, 250, 1)))
    master = Master(demand)
    wide = demand.families[0].index_of_width[300]
    master.add([BoardColumn(0, ((wide, 3),))])
    assert master.solve() == pytest.approx(1.0)


def test_columns_fixed_from_below_stay_in_the_solution_until_they_are_free_again() -> None:
    generation = solved(prepare(problem_of((1000, 300, 7))))
    master = generation.master
    board = next(k for k, column in enumerate(master.columns) if isinstance(column, BoardColumn))
    free = master.solve()
    master.set_lower_bounds([board], [5.0])
    assert master.solve() >= 5.0
    master.set_lower_bounds([board], [0.0])
    assert master.solve() == pytest.approx(free)


def test_an_offcut_is_cut_by_one_whole_pattern_as_often_as_there_are_such() -> None:
    """Two offcuts of three strips each: of eight strips two are left, which is 2/3 of a board."""
    demand = prepare(
        problem_of((1000, 300, 8), offcuts=(Offcut(id="F1", length_mm=1100, width_mm=900, quantity=2),))
    )
    generation = solved(demand)
    assert generation.master.solve() == pytest.approx(2 / 3)
    values = generation.master.values()
    used = [
        (column, value)
        for column, value in zip(generation.master.columns, values, strict=True)
        if isinstance(column, OffcutColumn) and value > 1e-6
    ]
    assert sum(value for _, value in used) == pytest.approx(2.0)
    (group,) = demand.racks
    types = generation.worths
    assert types is not None
    worths, patterns = best_patterns(demand, group, types)
    assert worths[0] > 0
    assert sum(copies for _, _, copies in patterns[0]) == 3


def test_every_solve_of_the_master_is_work() -> None:
    """Counted by iterations, so that it is the same on every machine."""
    works = []
    for _ in range(2):
        master = Master(prepare(problem_of((400, 200, 9), (400, 300, 5), (1000, 350, 3))))
        generation = solved(master.demand)
        assert generation.master.work > 0
        works.append(generation.master.work)
    assert works[0] == works[1]
