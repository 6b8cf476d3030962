"""Column pricing: what it finds improves, and whatever values it is given prove a bound that no plan beats."""

from __future__ import annotations

from fractions import Fraction
from random import Random

import numpy as np
import pytest

from optimiser.cutting.demand import prepare
from optimiser.cutting.master import BoardColumn, Master, StripColumn
from optimiser.cutting.pricing import SCALE, area_values, piece_values, price, slot_duals
from optimiser.cutting.problem import Board, CuttingProblem, Objective, Offcut, Piece
from optimiser.cutting.solve import solve
from tests.cutting.test_master import problem_of


def test_values_by_area_prove_the_area_and_a_solo_piece_counts_over_the_whole_strip() -> None:
    """Eight strips of 300: three to a board, each worth the strip's whole length."""
    master = Master(prepare(problem_of((1000, 300, 8))))
    assert price(master, *area_values(master), None).bound == Fraction(8, 3)


@pytest.mark.parametrize("offcuts", [(), (Offcut(id="F", length_mm=1100, width_mm=450),)])
def test_no_values_prove_nothing_and_find_nothing(offcuts: tuple[Offcut, ...]) -> None:
    master = Master(prepare(problem_of((400, 300, 8), offcuts=offcuts)))
    nothing = np.zeros(master.rows)
    types, solo = piece_values(master, nothing)
    priced = price(master, types, solo, slot_duals(master, nothing), nothing)
    assert priced.bound == 0
    assert priced.columns == []


def test_where_only_the_bound_is_wanted_no_column_is_made() -> None:
    offcuts = (Offcut(id="F", length_mm=1100, width_mm=450),)
    master = Master(prepare(problem_of((400, 300, 8), offcuts=offcuts)))
    assert price(master, *area_values(master), None).columns == []


def test_of_all_pairs_that_a_tapered_piece_can_make_the_one_that_gains_most_is_added() -> None:
    """Twelve tapers make 78 pairs, nearly alike."""
    pieces = tuple(
        Piece(
            id=f"T{k}", length_mm=400, width_min_mm=200 + k, width_max_mm=1000, width_start_mm=150, width_end_mm=200 + k
        )
        for k in range(12)
    )  # fmt: skip
    board = Board(length_mm=1200, width_mm=1000)
    demand = prepare(CuttingProblem(boards=(board,), pieces=pieces, objective=Objective.FEWEST_BOARDS))
    family = demand.families[0]
    pairs = [c for c, component in enumerate(family.components) if len(component.types) == 2]
    master = Master(demand)
    types, solo = area_values(master)
    priced = price(master, types * SCALE // 1_200_000, solo, [np.zeros(len(family.widths))])
    strips = [column for column in priced.columns if isinstance(column, StripColumn)]
    paired = [strip for strip in strips if any(c in pairs for c, _ in strip.pairs)]
    assert len(pairs) > 60
    assert {t for strip in paired for c, _ in strip.pairs for t in family.components[c].types} == set(
        range(12)
    )
    assert len(paired) <= 12 + len(family.widths)


def test_prices_below_nothing_count_as_nothing() -> None:
    master = Master(prepare(problem_of((400, 300, 8))))
    types, _ = piece_values(master, np.full(master.rows, -1.0))
    assert types.tolist() == [0]


@pytest.mark.parametrize("seed", range(6))
def test_any_values_prove_a_bound_that_no_plan_beats(seed: int) -> None:
    """Drawn at random, with an offcut in every other problem: the better half of the values proves something."""
    random = Random(f"values {seed}")
    offcuts = (Offcut(id="F", length_mm=1100, width_mm=450),) if seed % 2 else ()
    problem = problem_of(
        *(
            (random.randint(300, 1200), 80 + 40 * k + random.randint(0, 39), random.randint(1, 6))
            for k in range(5)
        ),
        offcuts=offcuts,
    )
    demand = prepare(problem)
    master = Master(demand)
    least = solve(problem, waiting=False)
    assert least.optimal
    for _ in range(20):
        duals = np.array([random.random() / 9 for _ in range(master.rows)])
        types, solo = piece_values(master, duals)
        assert 0 <= price(master, types, solo, None).bound <= least.cost


def test_a_strip_worth_more_than_its_slot_and_a_board_worth_more_than_it_costs_are_found() -> None:
    """A piece at a fifth of a board: three in a strip of a slot at half a board; two such slots at 0.6 fill a board."""
    demand = prepare(problem_of((400, 450, 8)))
    master = Master(demand)
    duals = np.zeros(master.rows)
    duals[master.row_of_type[0]] = 0.2
    duals[master.slot_row[0]] = 0.5
    types, solo = piece_values(master, duals)
    priced = price(master, types, solo, slot_duals(master, duals), duals)
    assert StripColumn(0, 0, ((0, 3),)) in priced.columns
    assert BoardColumn(0, ((0, 2),)) in priced.columns
    assert priced.board_worth == 2 * 3 * int(0.2 * SCALE)
    assert priced.bound == Fraction(8, 6)


def test_widths_of_which_no_piece_fills_a_strip_alone_are_worth_nothing_by_themselves() -> None:
    """A price on every slot: only the width of the piece that nothing fits beside has a value of its own."""
    demand = prepare(problem_of((1000, 300, 7), (400, 200, 5), (500, 450, 2)))
    master = Master(demand)
    duals = np.zeros(master.rows)
    family = demand.families[0]
    duals[master.slot_row[0] : master.slot_row[0] + len(family.widths)] = 0.25
    _, solo = piece_values(master, duals)
    assert dict(zip(family.widths.tolist(), solo[0].tolist(), strict=True)) == {
        200: 0,
        300: SCALE // 4,
        450: 0,
    }
