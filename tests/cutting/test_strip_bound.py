"""Strips in whole numbers prove what the fractional program cannot."""

from __future__ import annotations

from random import Random

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings

from benchmarks.instances.facade import facade
from optimiser.cutting.demand import prepare
from optimiser.cutting.kernels import Values
from optimiser.cutting.problem import Board, CuttingProblem, Objective, Piece
from optimiser.cutting.strip_bound import applies, no_plan_with, strips_fit, values_of_widths
from tests.builders.brute_force import minimum_by_trying_everything
from tests.builders.tiny_cutting_problems import tiny_cutting_problems


def problem(*pieces: tuple[int, int], width: int = 1000) -> CuttingProblem:
    """Pieces of (length, width) on boards 1200 long."""
    return CuttingProblem(
        boards=(Board(length_mm=1200, width_mm=width),),
        objective=Objective.FEWEST_BOARDS,
        pieces=tuple(
            Piece(id=f"P{k}", length_mm=length, width_min_mm=across, width_max_mm=across)
            for k, (length, across) in enumerate(pieces)
        ),
    )


def test_pieces_need_as_many_strips_as_their_lengths_fill_in_whole_numbers() -> None:
    """Two of 500 share a strip of 1200, so three need two strips of 400, which one board holds."""
    demand = prepare(problem((500, 400), (500, 400), (500, 400)))
    assert applies(demand)
    widths = demand.families[0].widths.astype(np.int64)
    values, worths = values_of_widths(demand, widths)
    assert worths == (800,)  # two strips of 400 are the most that a board holds
    assert strips_fit(demand, values, 800, 1.0) is True
    assert strips_fit(demand, values, 799, 1.0) is False
    assert not no_plan_with(demand, (1,), widths, 1.0)


def test_strips_in_whole_numbers_need_one_board_more() -> None:
    demand = prepare(problem(*[(500, 400)] * 5))  # three strips, two on a board
    assert no_plan_with(demand, (1,), demand.families[0].widths.astype(np.int64), 1.0)
    assert not no_plan_with(demand, (2,), demand.families[0].widths.astype(np.int64), 1.0)


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(tiny_cutting_problems())
def test_what_is_proved_is_true(posed: CuttingProblem) -> None:
    demand = prepare(posed)
    if not posed.counts_boards or not applies(demand):
        return
    least = minimum_by_trying_everything(posed).boards
    widths = demand.families[0].widths.astype(np.int64)
    assert not no_plan_with(demand, (least,), widths, 1.0)
    assert not no_plan_with(demand, (least,), np.ones(len(widths), np.int64), 1.0)


def test_it_is_not_asked_where_boards_of_another_length_count() -> None:
    posed = problem((500, 400))
    other = posed.model_copy(
        update={"boards": (*posed.boards, Board(code="B", length_mm=2400, width_mm=600))}
    )
    assert applies(prepare(posed))
    assert not applies(prepare(other))
    assert not applies(prepare(facade("XL", 1)))


def test_boards_of_several_widths_hold_what_each_holds() -> None:
    """Three strips of 400 lie on one board of 1000 and one of 600 (two and one), not on two of 600."""
    posed = problem(*[(500, 400)] * 5)
    posed = posed.model_copy(
        update={"boards": (*posed.boards, Board(code="narrow", length_mm=1200, width_mm=600))}
    )
    demand = prepare(posed)
    widths = demand.families[0].widths.astype(np.int64)
    assert applies(demand)
    assert values_of_widths(demand, widths)[1] == (800, 400)
    assert no_plan_with(demand, (0, 2), widths, 1.0)
    assert no_plan_with(demand, (1, 0), widths, 1.0)
    assert not no_plan_with(demand, (1, 1), widths, 1.0)


@pytest.mark.parametrize("most", [0, 400, 799])
def test_less_than_the_strips_take_never_fits(most: int) -> None:
    demand = prepare(problem((500, 400), (500, 400), (500, 400)))
    values, _ = values_of_widths(demand, demand.families[0].widths.astype(np.int64))
    assert strips_fit(demand, values, most, 1.0) is False


def least_worth_of_strips(posed: CuttingProblem, value_of: dict[int, int]) -> int:
    """Every division of the pieces into strips, each as wide as its widest piece."""
    kerf = posed.boards[0].kerf_mm

    def fits(strip: list[Piece]) -> bool:
        width = max(piece.width_min_mm for piece in strip)
        return sum(piece.length_mm + kerf for piece in strip) <= 1200 + kerf and all(
            width <= piece.width_max_mm for piece in strip
        )

    def least(rest: list[Piece], strips: list[list[Piece]]) -> int:
        if not rest:
            return sum(value_of[max(piece.width_min_mm for piece in strip)] for strip in strips)
        piece, *others = rest
        ways = [least(others, [*strips, [piece]])]
        for k, strip in enumerate(strips):
            joined = [*strip, piece]
            if fits(joined):
                ways.append(least(others, [*strips[:k], joined, *strips[k + 1 :]]))
        return min(ways)

    return least(list(posed.pieces), [])


def most_of_strips(values: Values, widths: list[int], kerf: int, room: int) -> int:
    """The most that strips side by side on a board are worth, kerfs between them."""
    return max(
        (
            int(value) + most_of_strips(values, widths, kerf, room - width - kerf)
            for value, width in zip(values, widths, strict=True)
            if width <= room
        ),
        default=0,
    )


@pytest.mark.parametrize("seed", range(12))
def test_the_least_that_strips_are_worth_is_that_of_the_best_division_of_the_pieces(seed: int) -> None:
    random = Random(f"strips {seed}")
    posed = CuttingProblem(
        boards=(Board(length_mm=1200, width_mm=1000, kerf_mm=random.choice([0, 30, 60])),),
        objective=Objective.FEWEST_BOARDS,
        pieces=tuple(
            Piece(
                id=f"P{k}",
                length_mm=random.choice([280, 300, 400, 560, 600, 1100]),
                width_min_mm=(width := random.randint(220, 300)),
                width_max_mm=width + random.choice([0, 20, 60]),
            )
            for k in range(6)
        ),
    )
    demand = prepare(posed)
    widths = demand.families[0].widths.tolist()
    given = np.array([random.randint(1, 50) for _ in widths], dtype=np.int64)
    values, worths = values_of_widths(demand, given)
    assert values.tolist() == [int(given[: k + 1].max()) for k in range(len(widths))]
    kerf = posed.boards[0].kerf_mm
    assert worths == (most_of_strips(values, widths, kerf, 1000),)
    least = least_worth_of_strips(posed, dict(zip(widths, values.tolist(), strict=True)))
    assert strips_fit(demand, values, least, 5.0) is True
    assert strips_fit(demand, values, least - 1, 5.0) is False
