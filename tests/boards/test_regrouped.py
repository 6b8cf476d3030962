"""A level's strips put on boards anew with a view to the levels to come."""

from __future__ import annotations

import random

import pytest

from optimiser.boards.regrouped import Regrouping
from optimiser.boards.view_ahead import left_of
from optimiser.checking import broken_rules_of_result
from optimiser.cutting.outcome import Solved, result_of
from optimiser.cutting.problem import Board, CuttingProblem, CuttingResult, Objective, Offcut, Piece
from optimiser.cutting.solve import solve
from optimiser.model.sizes import Size

BOARD = Board(length_mm=1200, width_mm=1000)


def cheapest(problem: CuttingProblem) -> CuttingResult:
    return solve(problem, waiting=False)


def pieces(name: str, widths: list[int], stage: int, length: int = 1200) -> tuple[Piece, ...]:
    return tuple(
        Piece(id=f"{name}{n}", length_mm=length, width_min_mm=w, width_max_mm=w + 5, stage=stage)
        for n, w in enumerate(widths)
    )


def problem(
    *own: Piece, offcuts: tuple[Offcut, ...] = (), boards: tuple[Board, ...] = (BOARD,)
) -> CuttingProblem:
    return CuttingProblem(boards=boards, pieces=own, offcuts=offcuts, objective=Objective.FEWEST_BOARDS)


def regrouping_of(
    own: CuttingProblem, later: tuple[Piece, ...], room: int = 20, seconds: float | None = None
) -> Regrouping:
    found = Regrouping.of(own, cheapest(own), later, room, seconds)
    assert found is not None
    return found


def regrouped(
    own: CuttingProblem, later: tuple[Piece, ...], room: int = 20, seconds: float | None = None
) -> CuttingResult:
    layouts = regrouping_of(own, later, room, seconds).layouts(0)
    return result_of(own, [Solved(layouts=layouts)], 0.0)


def test_narrow_strips_are_spread_over_boards_that_wide_ones_will_fill() -> None:
    own, later = problem(*pieces("p", [300] * 3, 1)), pieces("s", [700] * 3, 2)
    assert cheapest(own).boards == 1
    found = regrouped(own, later)
    assert sorted(left_of(own, found)[0]) == [Size(1200, 700)] * 3


def test_no_more_boards_are_opened_ahead_than_the_rack_has_room_for() -> None:
    own, later = problem(*pieces("p", [300] * 3, 1)), pieces("s", [700] * 3, 2)
    found = regrouped(own, later, room=1)
    assert found.boards == 2
    assert sorted(left_of(own, found)[0]) == [Size(1200, 400), Size(1200, 700)]


def test_the_saw_takes_its_kerf_between_what_is_cut_and_what_is_left() -> None:
    sawn = (Board(length_mm=1200, width_mm=1000, kerf_mm=5),)
    own = problem(*pieces("p", [300], 1), boards=sawn)
    found = regrouped(own, pieces("s", [695], 2))
    assert left_of(own, found)[0] == [Size(1200, 695)]
    assert regrouping_of(own, pieces("s", [695], 2)).to_buy([Size(1200, 695)]) == pytest.approx(0)
    assert regrouping_of(own, pieces("s", [695], 2)).to_buy([Size(1200, 694)]) == pytest.approx(1)


def test_what_later_levels_buy_is_counted_with_the_rooms_on_the_rack() -> None:
    own, later = problem(*pieces("p", [300] * 3, 1)), pieces("s", [700] * 3, 2)
    assert regrouping_of(own, later).to_buy([Size(1200, 700)] * 3) == pytest.approx(0)
    assert regrouping_of(own, later, room=2).to_buy([Size(1200, 700)] * 3) == pytest.approx(1)
    assert regrouping_of(own, later).to_buy([]) == pytest.approx(3)


def test_the_rack_is_short_where_another_place_would_save_boards() -> None:
    own, later = problem(*pieces("p", [300] * 3, 1)), pieces("s", [700] * 3, 2)
    assert regrouping_of(own, later, room=1).rack_is_short()
    assert not regrouping_of(own, later, room=4).rack_is_short()


def test_it_is_for_one_size_of_board_and_one_stage() -> None:
    two_sizes = (BOARD, Board(code="wide", length_mm=1200, width_mm=1200))
    later = pieces("s", [700], 3)
    for own in (
        problem(*pieces("p", [300], 1), boards=two_sizes),
        problem(*pieces("p", [300], 1), *pieces("q", [300], 2)),
    ):
        assert Regrouping.of(own, cheapest(own), later, 20, None) is None


@pytest.mark.parametrize("seconds", [None, 0.0])
@pytest.mark.parametrize("seed", range(6))
def test_every_strip_of_the_level_is_cut_as_before_with_or_without_time(
    seed: int, seconds: float | None
) -> None:
    draw = random.Random(seed)

    def drawn(name: str, stage: int, number: int) -> list[Piece]:
        widths = [draw.randint(60, 300) for _ in range(number)]
        return [
            piece.model_copy(update={"length_mm": draw.choice((1200, 1100, draw.randint(300, 1000)))})
            for piece in pieces(name, widths, stage)
        ]

    offcuts = tuple(
        Offcut(id=f"r{n}", length_mm=draw.choice((1200, 700)), width_mm=draw.randint(100, 700), quantity=2)
        for n in range(3)
    )
    own = problem(*drawn("p", 1, 20), offcuts=offcuts)
    later = (*drawn("s", 2, 20), *drawn("t", 3, 20))
    plain = cheapest(own)
    found = regrouped(own, later, 3, seconds)
    assert not broken_rules_of_result(found, own)
    strips = [
        sorted(strip.model_dump_json() for layout in of.layouts for strip in layout.strips * layout.repeat)
        for of in (plain, found)
    ]
    assert strips[0] == strips[1]


def test_equal_input_and_seed_give_equal_layouts() -> None:
    own = problem(*pieces("p", [150 + 7 * n for n in range(15)], 1))
    later = (
        *pieces("s", [140 + 9 * n for n in range(15)], 2),
        *pieces("t", [130 + 4 * n for n in range(15)], 3),
    )
    assert regrouped(own, later, 4).layouts == regrouped(own, later, 4).layouts
