"""The quick count of boards: the solver's own heuristic where there is no stock, and never below a proved bound."""

from __future__ import annotations

import random
from decimal import Decimal

import numpy as np
import pytest

from optimiser.boards.problems import board_families
from optimiser.cutting.columns import complete
from optimiser.cutting.demand import prepare
from optimiser.cutting.problem import CuttingProblem
from optimiser.joints.layout import laid_by_strips, lay_out, run_arrays
from optimiser.model.project import Board, Detail, Gap, Level, Project, Run, Stock
from optimiser.simulation.heuristic_bias import excess_of, measured_bias
from optimiser.simulation.quick_cutting import QuickCutting


def building(
    seed: int, *, stock: tuple[Stock, ...] = (), boards: tuple[str, ...] = ("B",), **detail: object
) -> Project:
    draws = random.Random(seed)
    runs, gaps = [], []
    for level in range(3):
        for number in range(4):
            run, length = f"L{level}-{number}", draws.randrange(3_000, 15_000)
            runs.append(Run(run=run, level=f"L{level}", length_mm=length, board=boards))
            nominal = draws.choice((90, 120, 150))
            gaps += [
                Gap(run=run, at_mm=at, gap_mm=nominal + draws.randrange(-6, 7))
                for at in range(0, length, 1500)
            ]
    return Project(
        detail=Detail(**detail),
        products=(
            Board(code="B", length_mm=1200, width_mm=1000, price="50.00"),
            Board(code="C", length_mm=1200, width_mm=600, price="32.00"),
        ),
        levels=[Level(level=f"L{level}", sequence=level) for level in range(3)],
        runs=runs,
        gaps=gaps,
        stock=stock,
    )


def pieces_of(project: Project):  # type: ignore[no-untyped-def]
    return laid_by_strips(project, run_arrays(project)).pieces_only()


def problem_of(project: Project) -> CuttingProblem:
    (family,) = board_families(project, lay_out(project).pieces, "whole")
    return family.problem


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("detail", [{"trim": True}, {"trim": False, "kerf_mm": 3}])
def test_without_stock_it_is_the_solvers_own_first_answer(seed: int, detail: dict[str, object]) -> None:
    project = building(seed, **detail)
    found = QuickCutting.of(project, "whole").boards_for(pieces_of(project))
    demand = prepare(problem_of(project), pairs=False)
    assert found.tolist() == [complete(demand, []).cost, 0]


def test_levels_apart_never_take_fewer_boards_than_all_together_in_sum() -> None:
    project = building(1)
    apart = QuickCutting.of(project, "level")
    groups = [rows for _, rows in apart.groups(pieces_of(project))]
    assert len(groups) == 3
    assert sum(len(rows.rows) for rows in groups) == len(pieces_of(project).rows)
    forecast = QuickCutting.of(project, "whole", frozenset({"L1"}))
    assert len(list(forecast.groups(pieces_of(project)))) == 2


def test_stock_is_used_before_boards_are_bought() -> None:
    project = building(2)
    without = QuickCutting.of(project, "whole").boards_for(pieces_of(project))[0]
    whole = Stock(code="B", length_mm=1200, width_mm=1000, quantity=3)
    with_stock = QuickCutting.of(building(2, stock=(whole,)), "whole").boards_for(pieces_of(project))[0]
    assert with_stock == without - 3
    plenty = Stock(code="B", length_mm=1200, width_mm=1000, quantity=500)
    assert QuickCutting.of(building(2, stock=(plenty,)), "whole").boards_for(pieces_of(project))[0] == 0
    other = Stock(code="C", length_mm=1200, width_mm=600, quantity=9)  # no run is cut from it
    assert QuickCutting.of(building(2, stock=(other,)), "whole").boards_for(pieces_of(project))[0] == without
    narrow = Stock(code="B", length_mm=1200, width_mm=40, quantity=9)  # too narrow for any strip
    assert QuickCutting.of(building(2, stock=(narrow,)), "whole").boards_for(pieces_of(project))[0] == without


def test_of_several_boards_the_cheapest_by_area_that_takes_the_piece_is_used() -> None:
    project = building(3, boards=("C", "B"))
    assert (
        QuickCutting.of(project, "whole").boards_for(pieces_of(project)).tolist()[1] == 0
    )  # B: 41.67 a m2, C: 44.44
    dear = tuple(
        product.model_copy(update={"price": Decimal("90.00")}) if product.code == "B" else product
        for product in project.products
    )
    changed = project.model_copy(update={"products": dear})
    assert QuickCutting.of(changed, "whole").boards_for(pieces_of(project)).tolist()[0] == 0


@pytest.mark.parametrize("seed", range(4))
def test_the_excess_over_the_proved_bound_is_never_negative(seed: int) -> None:
    project = building(seed, stock=(Stock(code="B", length_mm=1200, width_mm=1000, quantity=3),))
    pieces = pieces_of(project)
    cutting = QuickCutting.of(project, "whole")
    quick, bound = excess_of(cutting, pieces, pieces)
    assert (quick >= bound).all()
    assert bound[0] > cutting.boards_for(pieces)[0] - 3  # stock is left out of the bound


def test_the_bias_is_the_mean_excess_and_takes_off_whole_boards_only() -> None:
    cutting = QuickCutting.of(building(0), "whole")
    found = [(np.array([12, 0]), np.array([10, 0])), (np.array([11, 0]), np.array([10, 0]))]
    bias = measured_bias(cutting, found)
    assert bias.boards == {"B": 1.5}
    assert bias.corrected == {"B": 1}
    assert bias.fraction == pytest.approx(0.15)
