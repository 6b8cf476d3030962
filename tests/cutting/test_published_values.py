"""The solver against published optima, in process and through the command line in a process of its own.

One-dimensional cutting stock is board cutting with pieces as long as the board. Each case names its source.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from optimiser.checking import broken_rules_of_result
from optimiser.cutting.problem import CuttingProblem, CuttingResult
from optimiser.cutting.solve import solve

COMMAND = Path(sys.executable).with_name("barrier-orders")
LENGTH_MM = 1200


@dataclass(frozen=True)
class Published:
    """A one-dimensional problem, the value of its linear programme rounded up, and its optimum in boards."""

    source: str
    capacity: int
    sizes: tuple[int, ...]
    demands: tuple[int, ...]
    linear_bound: int
    boards: int

    def as_json(self) -> dict[str, Any]:
        """The problem as `barrier-orders cut` reads it."""
        return {
            "board": {"length_mm": LENGTH_MM, "width_mm": self.capacity},
            "pieces": [_piece(size, demand) for size, demand in zip(self.sizes, self.demands, strict=True)],
        }


def _piece(size: int, demand: int) -> dict[str, Any]:
    width = {"width_min_mm": size, "width_max_mm": size}
    return {"id": f"W{size}", "length_mm": LENGTH_MM, **width, "quantity": demand}


PUBLISHED = (
    Published(
        "paper-machine example of Wikipedia's article 'Cutting stock problem'; LP value 72.9167",
        5600,
        (1380, 1520, 1560, 1710, 1820, 1880, 1930, 2000, 2050, 2100, 2140, 2150, 2200),
        (22, 25, 12, 14, 18, 18, 20, 10, 12, 14, 16, 18, 20),
        73,
        73,
    ),
    Published(
        "V. Chvátal, Linear Programming (1983), chapter 13; LP value 452.25",
        100,
        (45, 36, 31, 14),
        (97, 610, 395, 211),
        453,
        453,
    ),
    Published(
        "W. Winston, Operations Research, the cutting-stock example (memory); LP value 18.333",
        17,
        (3, 5, 9),
        (25, 20, 15),
        19,
        19,
    ),
    Published(
        "R. Fourer, D. Gay and B. Kernighan, AMPL, cut.dat (memory); LP value 46.25",
        110,
        (20, 45, 50, 55, 75),
        (48, 35, 24, 10, 8),
        47,
        47,
    ),
    Published(
        "the bin-packing example bpp.mod of GLPK (memory); LP value 3",
        100,
        (50, 60, 30, 70, 40),
        (2, 1, 1, 1, 1),
        3,
        3,
    ),
    Published(
        "T. Gau and G. Wäscher, CUTGEN1, EJOR 84 (1995) 572-579: the first instance of m 10, L 1000,"
        " v 0.375-0.625, average demand 50, seed 1994; LP and integer optimum 394",
        1000,
        (577, 570, 544, 539, 526, 512, 504, 459, 446, 378),
        (63, 64, 85, 84, 54, 20, 24, 31, 48, 27),
        394,
        394,
    ),
)
SEVERAL_STOCKS = {
    # P. C. Gilmore and R. E. Gomory, 'A linear programming approach to the cutting-stock problem', Operations
    # Research 9 (1961) 849-859: stocks of several sizes and costs (memory); the least cost is 170.
    "boards": [
        {"code": f"S{size}", "length_mm": LENGTH_MM, "width_mm": size, "price_cents": cost}
        for size, cost in ((5, 6), (6, 7), (9, 10))
    ],
    "pieces": [_piece(size, demand) for size, demand in ((2, 20), (3, 10), (4, 20))],
}


def in_process(problem: dict[str, Any], _folder: Path) -> CuttingResult:
    return solve(CuttingProblem.model_validate(problem), time_limit=20, seed=0)


def through_the_command(problem: dict[str, Any], folder: Path) -> CuttingResult:
    path = folder / "problem.json"
    path.write_text(json.dumps(problem), encoding="utf-8")
    done = subprocess.run(
        [COMMAND, "cut", path, "--time-limit", "20"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return CuttingResult.model_validate_json(done.stdout)


Cut = Callable[[dict[str, Any], Path], CuttingResult]
both_ways = pytest.mark.parametrize(
    "cut", [in_process, pytest.param(through_the_command, marks=pytest.mark.slow)]
)


@both_ways
@pytest.mark.parametrize("case", PUBLISHED, ids=lambda case: case.source.split(";")[0].split(",")[0])
def test_a_published_one_dimensional_optimum_is_reached_and_proved(
    cut: Cut, case: Published, tmp_path: Path
) -> None:
    result = cut(case.as_json(), tmp_path)
    assert result.boards == case.boards
    assert case.linear_bound <= result.lower_bound <= case.boards
    assert result.optimal
    assert broken_rules_of_result(result, CuttingProblem.model_validate(case.as_json())) == []


@both_ways
def test_the_paper_machine_example_wastes_1640_of_408800(cut: Cut, tmp_path: Path) -> None:
    """Wikipedia, 'Cutting stock problem': 73 master rolls, trim loss 1640 of 408 800."""
    case = PUBLISHED[0]
    result = cut(case.as_json(), tmp_path)
    bought = sum(layout.repeat for layout in result.layouts) * case.capacity
    used = sum(layout.repeat * strip.width_mm for layout in result.layouts for strip in layout.strips)
    assert (bought, bought - used) == (408_800, 1640)


@both_ways
def test_several_stock_sizes_at_least_cost(cut: Cut, tmp_path: Path) -> None:
    result = cut(SEVERAL_STOCKS, tmp_path)
    assert result.cost_cents == 170
    assert result.lower_bound_cents == 170
    assert result.optimal
    prices = {board["code"]: board["price_cents"] for board in SEVERAL_STOCKS["boards"]}
    assert result.boards_by_code is not None
    assert sum(prices[code] * count for code, count in result.boards_by_code.items()) == 170
    assert broken_rules_of_result(result, CuttingProblem.model_validate(SEVERAL_STOCKS)) == []
