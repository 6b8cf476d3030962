"""Every plan of a tighter problem is a plan of the problem itself, which is what makes its cost an upper bound."""

from __future__ import annotations

import pytest

from benchmarks.looser import loosened, problem_numbered
from optimiser.checking import broken_rules_of_result
from optimiser.cutting.problem import Board, CuttingProblem, Objective, Offcut, Piece
from optimiser.cutting.solve import solve
from optimiser.cutting.tighter import a_step_tighter, with_fewer_sizes, with_one_size

BOARD = Board(length_mm=1200, width_mm=1000)
PIECES = (
    Piece(id="straight", length_mm=1000, width_min_mm=100, width_max_mm=110, quantity=6),
    Piece(id="exact", length_mm=500, width_min_mm=105, width_max_mm=105, quantity=4, stage=2),
    Piece(
        id="tapered", length_mm=600, width_min_mm=120, width_max_mm=900, quantity=2, stage=3,
        width_start_mm=120, width_end_mm=90,
    ),
)  # fmt: skip
OFFCUTS = (
    Offcut(id="F1", length_mm=900, width_mm=300),
    Offcut(id="F2", length_mm=600, width_mm=300, quantity=2),
)
PROBLEM = CuttingProblem(
    boards=(BOARD,),
    pieces=PIECES,
    offcuts=OFFCUTS,
    max_carry_stages=2,
    objective=Objective.FEWEST_BOARDS,
)


def test_each_step_takes_one_thing_away() -> None:
    fewer_offcuts, less_carried, lower_top, higher_bottom = a_step_tighter(PROBLEM)
    assert [(offcut.id, offcut.quantity) for offcut in fewer_offcuts.offcuts] == [("F1", 1), ("F2", 1)]
    assert less_carried.max_carry_stages == 1
    windows = [
        [(piece.width_min_mm, piece.width_max_mm) for piece in problem.pieces]
        for problem in (lower_top, higher_bottom)
    ]
    assert windows[0] == [(100, 109), (105, 105), (120, 900)]
    assert windows[1] == [(101, 110), (105, 105), (120, 900)]


def test_the_last_offcut_goes_whole_where_it_is_one() -> None:
    one = PROBLEM.model_copy(update={"offcuts": OFFCUTS[:1]})
    assert next(iter(a_step_tighter(one))).offcuts == ()


def test_what_is_not_limited_is_not_tightened() -> None:
    """No offcuts, nothing or everything carried; and with trimming the upper end of a window does not count."""
    for carried in (None, 0):
        free = PROBLEM.model_copy(update={"offcuts": (), "max_carry_stages": carried, "trim": True})
        (only,) = a_step_tighter(free)
        assert only.pieces[0].width_min_mm == 101


@pytest.mark.parametrize("number", range(3))
def test_a_tighter_plan_keeps_the_rules_of_the_problem(number: int) -> None:
    problem = problem_numbered(number)
    for tighter in a_step_tighter(problem):
        plan = solve(tighter, waiting=False, time_limit=0.2)
        assert broken_rules_of_result(plan, tighter) == []
        rules = broken_rules_of_result(plan.model_copy(update={"lower_bound": 0, "optimal": False}), problem)
        assert [rule for rule in rules if "left_over" not in str(rule)] == []


def test_of_three_sizes_every_smaller_choice_is_tried_and_of_four_none() -> None:
    boards = tuple(
        Board(code=f"B{width}", length_mm=1200, width_mm=width, price_cents=width)
        for width in (400, 600, 800, 1000)
    )
    three = PROBLEM.model_copy(update={"boards": boards[:3], "offcuts": ()})
    codes = [
        [tuple(board.code for board in problem.boards) for problem in tighter(three)]
        for tighter in (with_one_size, with_fewer_sizes)
    ]
    assert codes == [
        [("B400",), ("B600",), ("B800",)],
        [("B400", "B600"), ("B400", "B800"), ("B600", "B800")],
    ]
    for number in (1, 4):
        other = PROBLEM.model_copy(update={"boards": boards[:number], "offcuts": ()})
        assert not [*with_one_size(other), *with_fewer_sizes(other)]


@pytest.mark.slow
@pytest.mark.parametrize("number", [12, 34])
def test_looser_is_never_dearer(number: int) -> None:
    """One more offcut, size, delivery of carrying or millimetre; `python -m benchmarks.looser` takes more problems."""
    for pair in loosened(number):
        if pair.limits == (None, None):
            before, after = (solve(problem, waiting=False) for problem in (pair.before, pair.after))
            assert after.cost <= before.cost, pair.by
            assert after.cost_bound <= before.cost
