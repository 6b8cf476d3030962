"""Boards dealt out again: whatever the kernel does, every piece is there once, all fits, and its sum is right."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from optimiser.cutting.build_patterns import named_boards
from optimiser.cutting.demand import Demand, prepare
from optimiser.cutting.least_cost import Clock, best_plan
from optimiser.cutting.open_boards import OpenBoard
from optimiser.cutting.problem import Board, CuttingProblem, Objective, Piece
from optimiser.cutting.rearranging import NO_ARRANGEMENT, WIDEST, Arrangement, Schedule, Weights, _window
from optimiser.cutting.second_aim import cost_of, remainders_wait
from optimiser.cutting.waiting import waits
from tests.builders.tiny_cutting_problems import tiny_cutting_problems

HOT = Schedule(400, 3.0, 0.1, 40, 1.0, 20.0)


def started(problem: CuttingProblem) -> tuple[Demand, list[OpenBoard]]:
    demand = prepare(problem)
    return demand, named_boards(demand, best_plan(demand, Clock(None), 0).plan)


def held(boards: list[OpenBoard]) -> Counter[int]:
    return Counter(
        index for board in boards for strip in board.strips for names in strip.names for index in names
    )


def faults(demand: Demand, boards: list[OpenBoard]) -> list[str]:
    """What does not fit where it lies."""
    pieces, carry = demand.problem.pieces, demand.problem.max_carry_stages
    found = []
    for board in boards:
        source = demand.sources[board.source]
        if board.free_width(demand) < 0:
            found.append("a board is overfull")
        for strip in board.strips:
            of = [pieces[names[0]] for names in strip.names]
            if sum(piece.length_mm + source.kerf for piece in of) > source.length + source.kerf:
                found.append("a strip is too long")
            if any(piece.width_min_mm > strip.width for piece in of):
                found.append("a strip is too narrow")
            if not demand.problem.trim and any(piece.width_max_mm < strip.width for piece in of):
                found.append("a strip is too wide")
            if any(piece.boards and source.code and source.code not in piece.boards for piece in of):
                found.append("a piece comes of a wrong board")
            since = board.stage(demand) if source.available is None else source.first_stage
            last = strip.stages(demand)[1]
            if strip.stages(demand)[0] < since or (carry is not None and last - since > carry):
                found.append("a piece is carried too far")
    return found


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(tiny_cutting_problems(most_pieces=8), st.integers(0, 5), st.sampled_from([0, 8]), st.integers(0, 2))
def test_boards_dealt_out_again_hold_the_same_pieces_and_cost_what_is_said(
    problem: CuttingProblem, seed: int, overflow: int, spare: int
) -> None:
    demand, boards = started(problem)
    weights = Weights(piece=7, remainder=3, price=2, overflow=overflow)
    source = next(s for s, source in enumerate(demand.sources) if source.available is None)
    single_window = demand.problem.max_carry_stages in (None, 0) or not demand.staged
    given_boards = [*boards, *([OpenBoard(source, [])] * spare if single_window else [])]
    arrangement = Arrangement(demand, given_boards, weights, seed)
    arrangement.anneal(HOT, -NO_ARRANGEMENT, lambda: False)
    found = arrangement.boards()
    assert held(found) == held(boards)
    assert faults(demand, found) == []
    assert arrangement.best == 7 * waits(demand, found) + 3 * remainders_wait(demand, found) + 2 * cost_of(
        demand, found
    )


def test_equal_seeds_draw_the_same_and_others_differ() -> None:
    demand, boards = started(many())
    ways = []
    for seed in (1, 1, 2):
        arrangement = Arrangement(demand, boards, Weights(piece=1), seed)
        arrangement.anneal(HOT, -NO_ARRANGEMENT, lambda: False)
        ways.append([[strip.names for strip in board.strips] for board in arrangement.boards()])
    assert ways[0] == ways[1]
    assert ways[0] != ways[2]


@pytest.mark.parametrize("width", [400, 250])
def test_strips_of_a_pool_are_formed_within_its_width(width: int) -> None:
    """Two halves of a strip for each of stages 1 and 2, of widths that meet: a strip a stage, 110 wide each, holds them
    and nothing waits inside."""
    problem = CuttingProblem(
        boards=(Board(length_mm=1000, width_mm=1000),),
        pieces=tuple(
            Piece(id=f"{stage}{k}", length_mm=500, width_min_mm=100 + 10 * k, width_max_mm=120, stage=stage)
            for stage in (1, 2)
            for k in (0, 1)
        ),
        objective=Objective.FEWEST_BOARDS,
    )
    demand, boards = started(problem)
    strips = [strip for board in boards for strip in board.strips]
    pool = [OpenBoard(0, strips)]
    arrangement = Arrangement(demand, pool, Weights(inner=16, overflow=16), 0, pool=width)
    arrangement.anneal(Schedule(2000, 3.0, 0.1, 100, 1.0, 10.0), 0, lambda: False)
    assert arrangement.best == 0
    assert sum(strip.width for strip in arrangement.boards()[0].strips) == 220


class _Watched(Arrangement):
    """Remembers what the kernel is asked for, and asks for nothing."""

    def _call(self, steps: int, temperature: float, cooling: float, share: int, overflow: int = 0) -> None:
        self.asked = [*getattr(self, "asked", []), (steps, temperature, cooling, overflow)]


def test_a_schedule_cools_step_by_step_while_overfull_boards_weigh_more_and_more() -> None:
    """25,000 steps in calls of 10,000: from 8 pieces' waiting to 0.5, and from 2 a mm to 32."""
    demand, boards = started(many())
    arrangement = _Watched(demand, boards, Weights(piece=4, overflow=2), 0)
    arrangement.anneal(Schedule(25_000, 8.0, 0.5, 40, 1.0, 16.0), 0, lambda: False)
    first, *calls = arrangement.asked
    assert first[0] == 0  # only what the start costs
    assert [steps for steps, *_ in calls] == [10_000, 10_000, 5_000]
    assert [temperature for _, temperature, *_ in calls] == pytest.approx(
        [32.0 * (1 / 16) ** part for part in (0.0, 0.4, 0.8)]
    )
    steps, temperature, cooling, _ = calls[-1]
    assert temperature * cooling**steps == pytest.approx(2.0)
    assert [overflow for *_, overflow in calls] == [2, round(2 * 16**0.4), round(2 * 16**0.8)]


def test_no_step_is_made_where_the_start_is_good_enough_or_time_is_out() -> None:
    demand, boards = started(many())
    for good_enough, out in ((NO_ARRANGEMENT, False), (0, True)):
        arrangement = _Watched(demand, boards, Weights(piece=1), 0)
        arrangement.anneal(HOT, good_enough, lambda out=out: out)  # type: ignore[misc]
        assert len(arrangement.asked) == 1


def many() -> CuttingProblem:
    """Strips of several widths for four stages."""
    return CuttingProblem(
        boards=(Board(length_mm=1200, width_mm=1000),),
        pieces=tuple(
            Piece(
                id=f"{stage}-{width}",
                length_mm=1200,
                width_min_mm=width,
                width_max_mm=width,
                quantity=2,
                stage=stage,
            )
            for stage in (1, 2, 3, 4)
            for width in (150, 210, 330)
        ),
        objective=Objective.FEWEST_BOARDS,
    )


def test_a_tapered_pair_takes_the_strip_that_both_need_head_to_tail_and_any_wider_one() -> None:
    def tapered(start: int, end: int) -> Piece:
        widest = max(start, end)
        return Piece(
            id="P",
            length_mm=600,
            width_min_mm=widest,
            width_max_mm=900,
            width_start_mm=start,
            width_end_mm=end,
        )

    assert _window([tapered(150, 170), tapered(140, 190)], 3, trim=False) == (150 + 190 + 3, WIDEST)
    assert _window([tapered(150, 170)], 3, trim=False) == (170, WIDEST)
    straight = Piece(id="P", length_mm=600, width_min_mm=150, width_max_mm=160)
    assert _window([straight], 3, trim=False) == (150, 160)
    assert _window([straight], 3, trim=True) == (150, WIDEST)
