"""Strips in whole numbers: what they are worth at the least, and what boards can hold of them."""

from __future__ import annotations

from random import Random

import numpy as np
import pytest

from optimiser.cutting.demand import Demand, prepare
from optimiser.cutting.kernels import Values
from optimiser.cutting.problem import Board, CuttingProblem, Objective, Piece
from optimiser.cutting.strip_conditions import Condition, broken_condition
from optimiser.cutting.strip_program import StripPatterns, applies, strip_patterns, strips_formed


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


def strips_fit(demand: Demand, values: Values, most: int) -> bool | None:
    """Whether strips of the first family can be worth no more than `most`."""
    worths = (most, *[0] * (len(demand.sources) - 1))
    boards = (1, *[0] * (len(demand.sources) - 1))
    return strips_formed(StripPatterns(demand), [Condition(0, values, worths)], boards, 5.0).possible


def test_pieces_need_as_many_strips_as_their_lengths_fill_in_whole_numbers() -> None:
    """Two of 500 share a strip of 1200, so three need two strips of 400, which one board holds."""
    demand = prepare(problem((500, 400), (500, 400), (500, 400)))
    assert applies(demand)
    condition = Condition.of(demand, 0, demand.families[0].widths.astype(np.int64))
    assert condition.most == (800,)  # two strips of 400 are the most that a board holds
    assert strips_fit(demand, condition.values, 800) is True
    assert strips_fit(demand, condition.values, 799) is False


def test_the_strips_hold_every_piece_once() -> None:
    demand = prepare(problem((500, 400), (500, 380), (650, 390), (1200, 300)))
    formed = strips_formed(StripPatterns(demand), [], (4,), 1.0)
    held = sorted(t for strip in formed.strips for t in strip.types)
    assert held == sorted(t for t, kind in enumerate(demand.types) for _ in range(kind.demand))
    for strip in formed.strips:
        assert sum(demand.types[t].length for t in strip.types) <= 1200
        assert demand.families[0].widths[strip.width] == max(demand.types[t].width_min for t in strip.types)


def test_every_pattern_of_a_strip_is_told_once() -> None:
    """Two of 500 and one of 400: alone, in pairs; three would be 1400 long."""
    demand = prepare(problem((500, 300), (500, 300), (400, 300)))
    patterns = [pattern.types for pattern in strip_patterns(demand, 0)]
    assert sorted(patterns) == [(0,), (0, 0), (0, 1), (1,)]


def test_no_wider_piece_joins_and_none_that_may_not_be_as_wide() -> None:
    demand = prepare(problem((500, 300), (500, 299)))
    assert sorted(pattern.types for pattern in strip_patterns(demand, 0)) == [(0,), (1,)]


def test_strips_that_leave_most_room_are_the_narrowest() -> None:
    """400 and 300 share a strip of 400; by themselves they take 700."""
    posed = problem((500, 400), (500, 300))
    wide, narrow = posed.pieces
    posed = posed.model_copy(update={"pieces": (wide, narrow.model_copy(update={"width_max_mm": 400}))})
    demand = prepare(posed)
    formed = strips_formed(StripPatterns(demand), [], (2,), 1.0, roomy=True)
    assert [strip.types for strip in formed.strips] == [(0, 1)]


def test_a_condition_says_what_boards_of_each_source_hold() -> None:
    """Three strips of 400 lie on one board of 1000 and one of 600 (two and one), not on two of 600."""
    posed = problem(*[(500, 400)] * 5)
    posed = posed.model_copy(
        update={"boards": (*posed.boards, Board(code="narrow", length_mm=1200, width_mm=600))}
    )
    demand = prepare(posed)
    condition = Condition.of(demand, 0, demand.families[0].widths.astype(np.int64))
    assert applies(demand)
    assert condition.most == (800, 400)
    assert (condition.held_by((0, 2)), condition.worth_of({0: 3})) == (800, 1200)


def test_strips_that_no_boards_take_even_in_fractions_break_a_condition() -> None:
    """Three strips of 501 need three boards of 1000, though they are but half as wide in all."""
    demand = prepare(problem((700, 501), (700, 501), (700, 501)))
    assert broken_condition(demand, 0, (3,), {0: 3}) is None
    broken = broken_condition(demand, 0, (2,), {0: 3})
    assert broken is not None
    assert broken.worth_of({0: 3}) > broken.held_by((2,))
    assert broken.worth_of({0: 2}) <= broken.held_by((2,))


def test_no_strips_break_nothing() -> None:
    assert broken_condition(prepare(problem((700, 501))), 0, (0,), {}) is None


@pytest.mark.parametrize("most", [0, 400, 799])
def test_less_than_the_strips_take_never_fits(most: int) -> None:
    demand = prepare(problem((500, 400), (500, 400), (500, 400)))
    assert strips_fit(demand, demand.families[0].widths.astype(np.int64), most) is False


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
    condition = Condition.of(demand, 0, given)
    values = condition.values
    assert values.tolist() == [int(given[: k + 1].max()) for k in range(len(widths))]
    kerf = posed.boards[0].kerf_mm
    assert condition.most == (most_of_strips(values, widths, kerf, 1000),)
    least = least_worth_of_strips(posed, dict(zip(widths, values.tolist(), strict=True)))
    assert strips_fit(demand, values, least) is True
    assert strips_fit(demand, values, least - 1) is False
