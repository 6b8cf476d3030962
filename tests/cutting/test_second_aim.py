"""Least waiting within what may be paid: how much that is, which boards may be opened besides, how long is searched."""

from __future__ import annotations

from fractions import Fraction
from random import Random

import pytest

from optimiser.checking import check
from optimiser.cutting.build_patterns import named_boards
from optimiser.cutting.clock import Clock
from optimiser.cutting.demand import Demand, prepare
from optimiser.cutting.least_cost import best_plan
from optimiser.cutting.open_boards import OpenBoard
from optimiser.cutting.problem import Board, CuttingProblem, Objective, Offcut, Piece
from optimiser.cutting.second_aim import (
    MOST_EFFORT,
    NO_MORE,
    SHARE_OF_SEARCH,
    Budget,
    SecondAim,
    Settled,
    _room,
    cost_of,
    remainders_wait,
)
from optimiser.cutting.solve import solve
from optimiser.cutting.waiting import waits

WIDE = Board(code="wide", length_mm=1200, width_mm=1000, price_cents=5)
NARROW = Board(code="narrow", length_mm=1200, width_mm=500, price_cents=3)


def problem_of(
    *pieces: tuple[int, int, int],
    boards: tuple[Board, ...] = (WIDE, NARROW),
    offcuts: tuple[Offcut, ...] = (),
) -> CuttingProblem:
    """Full-length pieces as (stage, how many, width)."""
    return CuttingProblem(
        boards=boards,
        pieces=tuple(
            Piece(
                id=f"P{k}",
                length_mm=1200,
                width_min_mm=width,
                width_max_mm=width,
                quantity=count,
                stage=stage,
            )
            for k, (stage, count, width) in enumerate(pieces)
        ),
        offcuts=offcuts,
        objective=Objective.LEAST_COST,
    )


def room_of(
    problem: CuttingProblem, used: list[str], budget: Budget
) -> tuple[int, dict[str, int], dict[str, int]]:
    """What `_room` says of boards of these codes or offcuts: the most cost, in the prices' greatest common measure, the
    limits, and the spare boards by code."""
    demand = prepare(problem)
    place = {source.name: s for s, source in enumerate(demand.sources)}
    boards = [OpenBoard(place[name], []) for name in used]
    most_cost, limits, spare = _room(demand, boards, cost_of(demand, boards), budget)
    names = [demand.sources[board.source].name for board in spare]
    return most_cost, limits, {name: names.count(name) for name in names}


FOUR = problem_of((1, 2, 400), (2, 2, 400))


def test_without_a_budget_no_board_may_be_opened_besides() -> None:
    assert room_of(FOUR, ["wide", "narrow"], NO_MORE) == (8, {}, {})
    free = problem_of((1, 2, 400), boards=(WIDE, NARROW.model_copy(update={"price_cents": 0})))
    assert room_of(free, ["wide"], NO_MORE) == (1, {}, {})


def test_a_budget_buys_boards_the_cheapest_by_the_millimetre_first() -> None:
    """13 beyond 5: two wide boards, and 3 are left for a narrow one."""
    assert room_of(FOUR, ["wide"], Budget(cost=18)) == (18, {}, {"wide": 2, "narrow": 1})


def test_a_budget_below_the_cost_is_the_cost() -> None:
    assert room_of(FOUR, ["wide", "wide"], Budget(cost=4)) == (10, {}, {})


def test_of_no_board_more_are_opened_than_there_are_pieces() -> None:
    assert room_of(FOUR, ["wide"], Budget(cost=1005))[2] == {"wide": 4, "narrow": 4}


def test_a_free_board_may_be_opened_for_every_piece_where_more_is_paid() -> None:
    free = problem_of((1, 3, 400), boards=(WIDE, NARROW.model_copy(update={"price_cents": 0})))
    assert room_of(free, ["wide"], Budget(cost=1)) == (1, {}, {"narrow": 3})


def test_boards_of_a_limited_code_are_free_up_to_its_limit_and_the_others_stay() -> None:
    """Of narrow boards one is used and three are paid for: two more, at 3 each, and no wide one beyond its one."""
    assert room_of(FOUR, ["wide", "narrow"], Budget(boards={"narrow": 3})) == (
        14,
        {"narrow": 3, "wide": 1},
        {"narrow": 2},
    )


def test_a_limit_below_what_is_used_takes_none_away() -> None:
    assert room_of(FOUR, ["narrow", "narrow"], Budget(boards={"narrow": 1})) == (
        6,
        {"narrow": 2, "wide": 0},
        {},
    )


def test_a_limit_and_a_cost_both_hold() -> None:
    """Of a single wide board more, and at 13 beyond 5 two narrow ones beside it."""
    assert room_of(FOUR, ["wide"], Budget(cost=18, boards={"wide": 2})) == (
        18,
        {"wide": 2},
        {"wide": 1, "narrow": 2},
    )


def test_a_code_that_no_board_has_and_an_offcut_that_is_used_count_for_nothing() -> None:
    posed = problem_of((1, 2, 400), offcuts=(Offcut(id="F", length_mm=1200, width_mm=450, code="narrow"),))
    assert room_of(posed, ["F", "wide"], Budget(boards={"narrow": 1, "unknown": 7})) == (
        8,
        {"narrow": 1, "wide": 1},
        {"narrow": 1},
    )


def started(problem: CuttingProblem) -> tuple[Demand, list[OpenBoard]]:
    demand = prepare(problem)
    return demand, named_boards(demand, best_plan(demand, Clock(None), 0).plan)


def two_halves() -> CuttingProblem:
    """A half of a wide board, 3 of it at stage 1 and one at stage 2: a single board less where one waits."""
    return problem_of((1, 3, 500), (2, 1, 500), boards=(WIDE,))


@pytest.mark.parametrize(("more", "waiting"), [(0, 1), (5, 0)])
def test_a_board_more_lets_nothing_wait_and_both_are_proved(more: int, waiting: int) -> None:
    demand, boards = started(two_halves())
    aim = SecondAim(demand, (), None, 0)
    unit = demand.problem.unit
    settled = aim.settle(boards, Budget(cost=int((10 + more) / unit)))
    assert (waits(demand, settled.boards), settled.bound) == (waiting, waiting)


def test_nothing_is_searched_where_all_is_needed_at_once_or_nothing_may_be_carried() -> None:
    demand, boards = started(problem_of((1, 3, 500), boards=(WIDE,)))
    assert SecondAim(demand, (), None, 0).settle(boards, Budget(cost=100)).boards is boards
    posed = two_halves().model_copy(update={"max_carry_stages": 0})
    demand, boards = started(posed)
    assert SecondAim(demand, (), None, 0).settle(boards, Budget(cost=100)).boards is boards


@pytest.mark.parametrize(("left", "share"), [(3.0, 1.0), (12.0, 2.0), (60.0, MOST_EFFORT)])
def test_of_a_time_limit_a_share_is_searched_and_a_longer_one_for_more_steps(
    left: float, share: float
) -> None:
    now = left
    aim = SecondAim(prepare(FOUR), (), lambda: now, 0)
    effort, enough = aim._effort(1.0)
    assert effort.share == share
    now = left * (1 - SHARE_OF_SEARCH) + 0.01
    assert not enough()
    now -= 0.02
    assert enough()


def test_the_effort_is_a_product_of_what_is_usual_and_what_is_asked_for() -> None:
    aim = SecondAim(prepare(FOUR), (), None, 0, effort=0.5)
    effort, enough = aim._effort(0.25)
    assert effort.share == 0.125
    assert not enough()


class _Asked(SecondAim):
    """Remembers what it is asked to pay, and settles nothing."""

    def settle(
        self, boards: list[OpenBoard], budget: Budget, usual: float = 1.0, *, further: bool = False
    ) -> Settled:
        self.asked = [*getattr(self, "asked", []), (budget.cost, further)]
        return Settled(boards)

    def _annealed_sum(self, boards: list[OpenBoard], price: Fraction) -> list[OpenBoard]:
        return boards


def test_where_waiting_has_a_price_the_least_cost_comes_first_then_a_board_more_until_that_helped_not_twice() -> (
    None
):
    demand, boards = started(problem_of((1, 3, 500), (2, 1, 500), (3, 1, 300)))
    cost = cost_of(demand, boards)
    aim = _Asked(demand, (), None, 0)
    settled = aim.least_sum(boards, cost, Fraction(100))
    assert aim.asked == [(cost, False), (cost + 3, False), (cost + 6, True)]
    assert settled.boards is boards


def test_all_together_may_open_one_board_more_where_there_are_few() -> None:
    """At 100 for a remainder that waits a fourth half is better cut from a third board."""
    demand, boards = started(two_halves())
    assert len(boards) == 2
    found = SecondAim(demand, (), None, 0)._annealed_sum(boards, Fraction(100))
    assert len([board for board in found if board.strips]) == 3
    assert remainders_wait(demand, found) == 0


def test_no_more_is_paid_than_what_waits_is_worth() -> None:
    demand, boards = started(two_halves())
    wait = remainders_wait(demand, boards)
    assert wait > 0
    aim = _Asked(demand, (), None, 0)
    cost = cost_of(demand, boards)
    aim.least_sum(boards, cost, Fraction(1, 100 * wait))
    assert aim.asked == [(cost, False)]


@pytest.mark.parametrize("seed", range(1, 4))
def test_where_paid_boards_let_every_stage_be_cut_by_itself_nothing_waits(seed: int) -> None:
    """With next to no search for less waiting: a podium of two levels had boards to spare and 39 pieces waiting, where
    each level by itself took no more."""
    draw = Random(seed)
    pieces = [
        {
            "id": f"{stage}-{number}",
            "length_mm": 1200,
            "width_min_mm": width,
            "width_max_mm": width + 5,
            "stage": stage,
        }
        for stage in (1, 2)
        for number, width in enumerate(draw.randint(100, 320) for _ in range(60))
    ]
    problem = CuttingProblem.model_validate(
        {"board": {"length_mm": 1200, "width_mm": 1000}, "pieces": pieces}
    )
    apart = solve(problem.model_copy(update={"max_carry_stages": 0}), seed=seed)
    paid = Budget(boards={"board": apart.boards})
    found = solve(problem, seed=seed, budget=paid, effort=1e-6)
    assert found.waiting is not None
    assert found.waiting.piece_stages == 0
    assert found.boards <= apart.boards
    assert found.lower_bound <= found.boards
    assert check(found, problem) == ()
