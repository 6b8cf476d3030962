"""What may be cut at the price of the fewest boards, where boards come in packs."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from optimiser.cutting.demand import Demand, prepare
from optimiser.cutting.paid_anyway import paid_anyway
from optimiser.cutting.problem import CuttingProblem
from optimiser.cutting.second_aim import Budget
from optimiser.cutting.solve import solve


def demand_of(*boards: dict[str, object]) -> Demand:
    piece = {"id": "P", "length_mm": 600, "width_min_mm": 165, "width_max_mm": 172}
    return prepare(CuttingProblem.model_validate({"boards": boards, "pieces": [piece]}))


def packs_of_four(bought: Mapping[str, int]) -> Budget:
    return Budget(boards={code: -(-count // 4) * 4 for code, count in bought.items()})


@pytest.mark.parametrize(("fewest", "in_whole_packs"), [(1, 4), (4, 4), (5, 8), (146, 148)])
def test_boards_of_one_size_may_fill_the_packs_of_the_fewest(fewest: int, in_whole_packs: int) -> None:
    demand = demand_of({"code": "B", "length_mm": 1200, "width_mm": 1000})
    ((price, source),) = ((source.price, source) for source in demand.sources if source.available is None)
    enough = paid_anyway(demand, packs_of_four)
    assert enough(fewest * price) == in_whole_packs * source.price


def test_a_board_that_no_pack_limits_may_cost_no_more_than_the_bound() -> None:
    demand = demand_of({"code": "B", "length_mm": 1200, "width_mm": 1000})
    assert paid_anyway(demand, lambda bought: Budget())(7) == 7


def test_of_several_sizes_nothing_is_known_without_their_mixture() -> None:
    sizes = (
        {"code": name, "length_mm": 1200, "width_mm": width, "price_cents": width}
        for name, width in (("B", 1000), ("C", 600))
    )
    assert paid_anyway(demand_of(*sizes), packs_of_four)(1600) == 1600


def test_a_board_is_not_exchanged_for_a_cheaper_one_whose_pack_is_not_paid_for() -> None:
    size = {"length_mm": 1200, "width_mm": 1000}
    narrow = {"length_mm": 200, "width_min_mm": 28, "width_max_mm": 28}
    problem = CuttingProblem.model_validate(
        {
            "boards": [{"code": "B", "price_cents": 50, **size}, {"code": "C", "price_cents": 33, **size}],
            "pieces": [
                {"id": "first", "stage": 1, "boards": ["B"], **narrow},
                {"id": "second", "stage": 2, "boards": ["B", "C"], **narrow},
            ],
            "objective": "least_cost",
        }
    )
    found = solve(problem, budget=packs_of_four)
    assert found.boards_by_code == {"B": 2}
    assert found.waiting is not None
    assert found.waiting.piece_stages == 0
