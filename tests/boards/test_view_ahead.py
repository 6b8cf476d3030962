"""Cuts of measured levels that leave what levels to come can use; nothing of those is cut."""

from __future__ import annotations

import random

import pytest

from optimiser.boards.view_ahead import (
    MOST_RACKED,
    Worth,
    left_of,
    room_on_the_rack,
    widest_remainders,
    with_view_ahead,
)
from optimiser.checking import broken_rules_of_result
from optimiser.cutting.problem import Board, CuttingProblem, CuttingResult, Objective, Offcut, Piece
from optimiser.cutting.solve import solve
from optimiser.model.sizes import Size

BOARD = Board(length_mm=1200, width_mm=1000)


def cheapest(problem: CuttingProblem, seconds: float | None) -> CuttingResult:
    return solve(problem, time_limit=seconds, waiting=False)


def pieces(name: str, widths: list[int], stage: int) -> tuple[Piece, ...]:
    """Pieces as long as the board."""
    return tuple(
        Piece(id=f"{name}{n}", length_mm=1200, width_min_mm=w, width_max_mm=w + 5, stage=stage)
        for n, w in enumerate(widths)
    )


def problem(*own: Piece, offcuts: tuple[Offcut, ...] = ()) -> CuttingProblem:
    return CuttingProblem(boards=(BOARD,), pieces=own, offcuts=offcuts, objective=Objective.FEWEST_BOARDS)


def test_a_wide_remainder_is_worth_what_fills_it_and_a_sliver_nothing() -> None:
    worth = Worth.of(problem(), pieces("s", [200] * 40, 2))
    assert worth.of_size(Size(1200, 199)) == pytest.approx(0)
    assert worth.of_size(Size(1200, 200)) == pytest.approx(0.2)
    assert worth.of_size(Size(1200, 399)) == pytest.approx(0.2)
    assert worth.of_size(Size(1200, 400)) == pytest.approx(0.4)
    assert worth.of_size(Size(1200, 1000)) == pytest.approx(1)
    assert worth.of_size(Size(600, 400)) == pytest.approx(0)  # too short for any piece


def test_a_strips_end_is_worth_the_piece_that_it_spares() -> None:
    later = tuple(
        Piece(id=f"s{n}", length_mm=600, width_min_mm=250, width_max_mm=255, stage=2) for n in range(40)
    )
    worth = Worth.of(problem(), later)
    assert worth.of_size(Size(600, 250)) == pytest.approx(1 / 8)
    assert worth.of_size(Size(599, 250)) == pytest.approx(0)


def test_only_the_best_are_kept_and_no_scrap() -> None:
    worth = Worth.of(problem(), pieces("s", [200] * 40, 2))
    sizes = [Size(1200, 150), Size(1200, 200), Size(1200, 600), Size(1200, 400)]
    assert worth.best_of(sizes, 2) == [Size(1200, 600), Size(1200, 400)]
    assert worth.best_of(sizes) == [Size(1200, 600), Size(1200, 400), Size(1200, 200)]


def test_at_equal_cost_the_widest_remainder_is_kept() -> None:
    own = problem(*pieces("p", [300] * 4, 1))  # 2 boards, either way
    plain = cheapest(own, None)
    (first, *_) = widest_remainders(own, plain, 100, 0, None)
    assert first.length_mm == 1200
    assert 690 < first.width_mm <= 700  # three strips on one board leave 700 of the other


def test_a_wide_piece_shares_its_board_with_what_will_fill_it() -> None:
    own = problem(*pieces("p", [600] * 3, 1))
    later = pieces("s", [400] * 3, 2)
    found = with_view_ahead(cheapest, later, 0)(own, None)
    assert not broken_rules_of_result(found, own)
    left, whole = left_of(own, found)
    assert sorted(left) == [Size(1200, 400)] * 3
    assert whole == []


def test_boards_with_a_price_are_weighed_as_boards() -> None:
    """What a remainder saves counts as much as what is paid for a board, whatever a board costs."""
    dear = Board(length_mm=1200, width_mm=1000, price_cents=3000)
    twin = Board(code="twin", length_mm=1200, width_mm=900, price_cents=3000)
    own = CuttingProblem(
        boards=(dear, twin), pieces=pieces("p", [300] * 3, 1), objective=Objective.LEAST_COST
    )
    found = with_view_ahead(cheapest, pieces("s", [700] * 3, 2), 0)(own, None)
    assert found.boards == 3  # one now and three later would be one more


def test_narrow_strips_are_spread_only_as_far_as_the_rack_has_room() -> None:
    own = problem(*pieces("p", [300] * 3, 1))
    later = pieces("s", [700] * 3, 2)
    assert with_view_ahead(cheapest, later, 0, 3)(own, None).boards == 3
    assert with_view_ahead(cheapest, later, 0, 1)(own, None).boards <= 2


@pytest.mark.parametrize(
    ("carry", "stage", "boards", "left"),
    [(None, 2, 2, [400, 700]), (None, 9, 2, [400, 700]), (1, 2, 2, [400, 700]), (1, 3, 1, [100])],
)
def test_a_board_more_is_opened_for_what_may_fill_it_as_far_as_that_may_wait(
    carry: int | None, stage: int, boards: int, left: list[int]
) -> None:
    """600 and 300 mm fill a board but for 100; apart each leaves room for one of the 400 and 700 mm to come, which
    otherwise take two boards more. What may not wait so long is not cut for, nor looked at."""
    own = problem(*pieces("p", [600, 300], 1)).model_copy(update={"max_carry_stages": carry})

    def slow(problem: CuttingProblem, seconds: float | None) -> CuttingResult:
        return cheapest(problem, seconds).model_copy(update={"solve_seconds": 100.0})

    found = with_view_ahead(slow, pieces("s", [395, 695], stage), 0)(own, None)
    assert not broken_rules_of_result(found, own)
    assert found.boards == boards
    assert sorted(size.width_mm for size in left_of(own, found)[0]) == left
    assert found.solve_seconds >= 100  # all that it took, the plain cut with it


@pytest.mark.parametrize(
    ("stages", "cut_along"), [((2,), [1]), ((2, 3), [1, 2]), ((2, 3, 4), [1, 3]), ((5, 7, 8, 9), [1, 3])]
)
def test_the_next_level_and_the_next_three_are_cut_along_as_far_as_there_are_so_many(
    monkeypatch: pytest.MonkeyPatch, stages: tuple[int, ...], cut_along: list[int]
) -> None:
    asked: list[int] = []

    def together(problem: CuttingProblem, **options: float) -> CuttingResult:
        asked.append(sum(piece.id.startswith("s") for piece in problem.pieces))
        return solve(problem, waiting=False)

    monkeypatch.setattr("optimiser.boards.view_ahead.solve_together", together)
    later = tuple(piece for stage in stages for piece in pieces(f"s{stage}-", [400], stage))
    with_view_ahead(cheapest, later, 0)(problem(*pieces("p", [600], 1)), None)
    assert asked == cut_along


def test_an_offcut_that_later_levels_need_is_left_to_them() -> None:
    offcut = Offcut(id="F", length_mm=1200, width_mm=600)
    own = problem(*pieces("p", [200], 1), offcuts=(offcut,))
    found = with_view_ahead(cheapest, pieces("s", [390] * 2, 2), 0)(own, None)
    assert not broken_rules_of_result(found, own)
    assert found.boards == 0
    assert left_of(own, found)[0] == [Size(1200, 400)]


def test_the_bounds_are_those_of_what_is_measured() -> None:
    own = problem(*pieces("p", [600] * 3, 1))
    found = with_view_ahead(cheapest, pieces("s", [400] * 3, 2), 0)(own, None)
    assert found.lower_bound == cheapest(own, None).lower_bound == 3
    assert found.optimal


def test_without_levels_to_come_nothing_is_other_than_before() -> None:
    own = problem(*pieces("p", [300] * 5, 1))
    assert with_view_ahead(cheapest, (), 0)(own, None).layouts == cheapest(own, None).layouts


def test_the_rack_is_shared_by_the_pieces_to_come() -> None:
    shares = room_on_the_rack(
        {("A",): pieces("a", [200] * 30, 2), ("B",): pieces("b", [100] * 20, 2), ("C",): ()}
    )
    assert shares == {("A",): 15, ("B",): 5}
    assert sum(shares.values()) <= MOST_RACKED


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(4))
def test_every_cut_is_right_whatever_is_to_come(seed: int) -> None:
    draw = random.Random(seed)

    def drawn(name: str, stage: int, number: int) -> list[Piece]:
        found = []
        for n in range(number):
            width = draw.randint(60, 300)
            found.append(
                Piece(
                    id=f"{name}{n}",
                    length_mm=draw.choice((1200, 1100, draw.randint(300, 1000))),
                    width_min_mm=width,
                    width_max_mm=width + draw.randint(3, 20),
                    stage=stage,
                )
            )
        return found

    offcuts = tuple(
        Offcut(id=f"r{n}", length_mm=draw.choice((1200, 700)), width_mm=draw.randint(100, 700), stage=1)
        for n in range(3)
    )
    own = problem(*drawn("p", 1, 25), offcuts=offcuts).model_copy(update={"trim": bool(seed % 2)})
    found = with_view_ahead(cheapest, [*drawn("s", 2, 25), *drawn("t", 3, 25)], 0)(own, None)
    assert not broken_rules_of_result(found, own)
    assert found.lower_bound <= found.boards
    area = sum(size.length_mm * size.width_mm for group in left_of(own, found) for size in group)
    bought = found.boards * 1200 * 1000 + sum(o.length_mm * o.width_mm for o in offcuts)
    assert area < bought
