"""Strips dealt out to fewer or cheaper boards by annealing."""

from __future__ import annotations

from fractions import Fraction

import pytest

from benchmarks.instances.facade import facade
from benchmarks.instances.real_projects import facade_in_sizes
from optimiser.checking import broken_rules_of_result
from optimiser.cutting.build_patterns import build_patterns, named_boards
from optimiser.cutting.columns import complete
from optimiser.cutting.demand import Demand, prepare
from optimiser.cutting.idle_offcuts import may_hold, without_idle_offcuts
from optimiser.cutting.mixtures import Mixtures
from optimiser.cutting.named_plans import plan_of
from optimiser.cutting.open_boards import OpenBoard, OpenStrip
from optimiser.cutting.packing import FEW_TRIES, _next_mix, _on_other_boards, _sizes, packed
from optimiser.cutting.pricing import Priced
from optimiser.cutting.problem import Board, CuttingProblem, Objective, Piece
from optimiser.cutting.second_aim import cost_of
from optimiser.cutting.solve import solve

LARGE_AND_SMALL = ((1200, 1000, 5300), (1200, 600, 3300))


def carried(size: str, seed: int, carry: int) -> CuttingProblem:
    return facade(size, seed).model_copy(update={"max_carry_stages": carry})


@pytest.mark.parametrize(
    "problem",
    [carried("M", 3, 1), facade_in_sizes("S", 2, LARGE_AND_SMALL), facade("S", 4)],
    ids=["carried to the next delivery", "two sizes", "one size"],
)
def test_boards_with_named_pieces_are_the_same_plan_in_columns(problem: CuttingProblem) -> None:
    demand = prepare(problem)
    plan = complete(demand, [])
    again = plan_of(demand, named_boards(demand, plan))
    assert again.cost == plan.cost
    layouts, _ = build_patterns(demand, named_boards(demand, again))
    names = [piece.id for layout in layouts for strip in layout.strips for piece in strip.pieces] * layouts[
        0
    ].repeat
    assert len(set(names)) == len(problem.pieces)


def test_strips_are_packed_onto_fewer_boards_within_the_limit_on_carrying() -> None:
    """The heuristic needs 131 boards where pieces go to the next delivery only; 130 will do, and no fewer."""
    problem = carried("M", 3, 1)
    demand = prepare(problem)
    plan = complete(demand, [])
    found = packed(demand, plan, 130, lambda: False, 0)
    assert found.cost < plan.cost
    boards = named_boards(demand, found)
    assert cost_of(demand, boards) == found.cost
    assert all(board.free_width(demand) >= 0 for board in boards)
    stages = [
        (board.stage(demand), max(strip.stages(demand)[1] for strip in board.strips)) for board in boards
    ]
    assert all(last - first <= 1 for first, last in stages)


def test_nothing_is_packed_below_the_bound_or_when_time_is_out() -> None:
    demand = prepare(carried("M", 3, 1))
    plan = complete(demand, [])
    assert packed(demand, plan, plan.cost, lambda: False, 0) is plan
    assert packed(demand, plan, 1, lambda: True, 0) is plan


def test_equal_seeds_pack_alike() -> None:
    demand = prepare(facade_in_sizes("S", 1, LARGE_AND_SMALL))
    plan = complete(demand, [])
    first = packed(demand, plan, 1327, lambda: False, 5)
    assert packed(demand, plan, 1327, lambda: False, 5) == first
    assert first.cost < plan.cost


@pytest.mark.parametrize("carry", [1, 2])
def test_limited_carrying_ends_within_a_board_of_the_bound(carry: int) -> None:
    """Seed 7 had 141 boards against 139 where pieces are carried to the next delivery."""
    problem = carried("M", 7, carry)
    result = solve(problem, waiting=False)
    assert broken_rules_of_result(result, problem) == []
    assert result.boards <= result.lower_bound + 1


def test_a_board_holds_a_strip_within_its_length_its_code_and_the_limit_on_carrying() -> None:
    problem = CuttingProblem.model_validate(
        {
            "boards": [
                {"code": "long", "length_mm": 1200, "width_mm": 1000, "price_cents": 9},
                {"code": "short", "length_mm": 600, "width_mm": 1000, "price_cents": 5},
            ],
            "pieces": [
                {"id": "A", "length_mm": 1200, "width_min_mm": 100, "width_max_mm": 100, "stage": 1},
                {"id": "B", "length_mm": 600, "width_min_mm": 110, "width_max_mm": 110, "stage": 2},
                {"id": "C", "length_mm": 600, "width_min_mm": 120, "width_max_mm": 120, "stage": 3},
                {
                    "id": "D",
                    "length_mm": 600,
                    "width_min_mm": 130,
                    "width_max_mm": 130,
                    "stage": 2,
                    "boards": ["long"],
                },
            ],
            "max_carry_stages": 1,
        }
    )
    demand = prepare(problem)
    sources = {source.code: s for s, source in enumerate(demand.sources)}
    boards = named_boards(demand, complete(demand, []))
    strip_of = {problem.pieces[strip.names[0][0]].id: strip for board in boards for strip in board.strips}
    alone = {
        name: next(s for board in boards for s in board.strips if s is strip)
        for name, strip in strip_of.items()
    }
    short, long = OpenBoard(sources["short"], []), OpenBoard(sources["long"], [])
    assert not may_hold(demand, short, alone["A"])
    assert may_hold(demand, long, alone["A"])
    if "D" in alone:
        assert not may_hold(demand, short, alone["D"])
    if "C" in alone:
        assert not may_hold(demand, OpenBoard(sources["long"], [alone["A"]]), alone["C"])
        assert not may_hold(demand, long, alone["C"], [alone["A"]])


def test_an_offcut_whose_strips_find_room_on_boards_stays_on_the_shelf() -> None:
    problem = CuttingProblem.model_validate(
        {
            "board": {"length_mm": 1200, "width_mm": 1000},
            "pieces": [
                {"id": "A", "length_mm": 1200, "width_min_mm": 300, "width_max_mm": 300, "quantity": 5}
            ],
            "offcuts": [
                {"id": "F1", "length_mm": 1200, "width_mm": 300},
                {"id": "F2", "length_mm": 1200, "width_mm": 650},
            ],
        }
    )
    demand = prepare(problem)
    boards = named_boards(demand, complete(demand, []))
    used = sorted(demand.sources[board.source].name for board in without_idle_offcuts(demand, boards))
    assert used in (["F2", "board"], ["F1", "board", "board"], ["board", "board"])
    assert sum(len(board.strips) for board in without_idle_offcuts(demand, boards)) == 5


WIDE = Board(code="wide", length_mm=1200, width_mm=1000, price_cents=5)
NARROW = Board(code="narrow", length_mm=1200, width_mm=600, price_cents=3)


def on_boards(quantity: int, *held: tuple[str, int]) -> tuple[Demand, list[OpenBoard]]:
    """So many full-length pieces of 500 mm, and boards that each hold so many of them."""
    piece = Piece(id="P", length_mm=1200, width_min_mm=500, width_max_mm=500, quantity=quantity)
    demand = prepare(CuttingProblem(boards=(WIDE, NARROW), pieces=(piece,), objective=Objective.LEAST_COST))
    place = _sizes(demand)
    return demand, [
        OpenBoard(place[code], [OpenStrip(500, [(0,)], [[0]]) for _ in range(count)]) for code, count in held
    ]


FOUR_WIDE = (("wide", 2), ("wide", 1), ("wide", 1), ("wide", 1))


@pytest.mark.parametrize(
    ("in_vain", "failed", "counts"),
    [(0, {}, (3, 1)), (1, {}, (3, 1)), (0, {(3, 1): FEW_TRIES}, (2, 2)), (0, {(3, 1): 1}, (3, 1))],
    ids=["half-way to the bound", "nearer to the cost", "the next nearest", "once more"],
)
def test_the_mixture_tried_next_costs_half_as_much_less_as_the_bound_allows(
    in_vain: int, failed: dict[tuple[int, ...], int], counts: tuple[int, int]
) -> None:
    """Four wide boards cost 20, the bound is 15: three wide ones cost that, a narrow one with them 18, two of each 16,
    and half-way are 17.50, then 18.75."""
    demand, boards = on_boards(5, *FOUR_WIDE)
    mix = _next_mix(demand, _sizes(demand), boards, 20, 15, {}, failed, in_vain, None)
    assert mix is not None
    assert (mix.counts, mix.cost) == (counts, 5 * counts[0] + 3 * counts[1])


def test_no_mixture_is_tried_that_is_too_small_or_costs_as_much_or_less_than_the_bound() -> None:
    """Five of 500 mm: two wide boards and a narrow one, 13, hold 2600 mm; four narrow ones, 12, only 2400."""
    demand, boards = on_boards(5, *FOUR_WIDE)
    sizes = _sizes(demand)
    for cost, bound, counts in ((14, 11, (2, 1)), (14, 13, (2, 1)), (14, 14, None), (13, 11, None)):
        mix = _next_mix(demand, sizes, boards, cost, bound, {"wide": 1.0, "narrow": 3.0}, {}, 0, None)
        assert (mix and mix.counts) == counts, (cost, bound)


def test_a_mixture_may_have_none_of_a_size() -> None:
    """Four of 500 mm on two wide boards cost 10, on two narrow ones besides one wide 11: none narrow is the cheaper."""
    demand, boards = on_boards(4, ("wide", 2), ("narrow", 1), ("narrow", 1))
    mix = _next_mix(demand, _sizes(demand), boards, 11, 10, {}, {}, 0, None)
    assert mix is not None
    assert (mix.counts, mix.cost) == ((2, 0), 10)


def test_a_mixture_with_no_room_to_spare_is_tried_and_one_that_is_forbidden_is_not() -> None:
    """All are worth 26, a wide board holds 10 of it and a narrow one 6: two and one hold it exactly, one and three with
    2 to spare, so these come first."""
    demand, boards = on_boards(5, ("wide", 2), ("wide", 2), ("wide", 1))
    sizes = _sizes(demand)
    mixtures = Mixtures(demand, 15)
    mixtures.note(Priced([], Fraction(0), 10, worth=26, worths={"wide": 10, "narrow": 6}))
    tried = []
    failed: dict[tuple[int, ...], int] = {}
    while mix := _next_mix(demand, sizes, boards, 15, 13, {}, failed, 0, mixtures):
        tried.append(mix.counts)
        failed[mix.counts] = FEW_TRIES
    assert tried == [(1, 3), (2, 1)]


def test_the_emptiest_boards_are_given_up_and_their_strips_go_where_most_is_free() -> None:
    demand, boards = on_boards(4, ("wide", 1), ("wide", 2), ("narrow", 1))
    found = _on_other_boards(demand, _sizes(demand), boards, (1, 2))
    assert found is not None
    held = [(demand.sources[board.source].code, len(board.strips)) for board in found]
    assert held == [("wide", 2), ("narrow", 1), ("narrow", 1)]
    assert [len(board.strips) for board in boards] == [1, 2, 1]  # as they were


def test_boards_that_are_half_empty_are_packed_down_to_the_bound() -> None:
    """44 halves on 24 boards, four of them half empty."""
    piece = Piece(id="P", length_mm=1200, width_min_mm=500, width_max_mm=500, quantity=44)
    demand = prepare(
        CuttingProblem(boards=(WIDE,), pieces=(piece,), objective=Objective.FEWEST_BOARDS),
    )
    start = plan_of(
        demand,
        [OpenBoard(0, [OpenStrip(500, [(0,)], [[0]]) for _ in range(count)]) for count in [2] * 20 + [1] * 4],
    )
    assert start.cost == 24
    assert packed(demand, start, 22, lambda: False, 0).cost == 22
    assert packed(demand, start, 23, lambda: False, 0).cost == 23
