"""From boards to what is printed: layouts in their order, equal ones counted, and what is left of each board."""

from __future__ import annotations

from optimiser.cutting.build_patterns import build_patterns
from optimiser.cutting.demand import Demand, prepare
from optimiser.cutting.open_boards import OpenBoard, OpenStrip
from optimiser.cutting.problem import Board, CuttingProblem, LeftOver, Objective, Piece


def boards_of(*boards: tuple[int, list[int]], length: int = 1200) -> tuple[Demand, list[OpenBoard]]:
    """Boards of 1200 x 1000 mm as (stage, widths of its strips), a piece a strip; kerfs of 4 mm."""
    flat = [(stage, width) for stage, widths in boards for width in widths]
    problem = CuttingProblem(
        boards=(Board(length_mm=1200, width_mm=1000, kerf_mm=4),),
        pieces=tuple(
            Piece(id=f"P{k:02}", length_mm=length, width_min_mm=width, width_max_mm=width, stage=stage)
            for k, (stage, width) in enumerate(flat)
        ),
        objective=Objective.FEWEST_BOARDS,
    )
    demand = prepare(problem)
    type_of = {member: t for t, kind in enumerate(demand.types) for member in kind.members}
    names = iter(range(len(flat)))
    return demand, [
        OpenBoard(0, [OpenStrip(width, [(type_of[k],)], [[k]]) for width in widths for k in [next(names)]])
        for _, widths in boards
    ]


def test_boards_are_listed_by_stage_and_of_a_stage_the_widest_strips_first() -> None:
    demand, boards = boards_of((2, [900]), (1, [300, 400]), (1, [600]), (1, [400, 500]))
    layouts, _ = build_patterns(demand, boards, last_aims=False)
    assert [(layout.stage, [strip.width_mm for strip in layout.strips]) for layout in layouts] == [
        (1, [600]),
        (1, [500, 400]),
        (1, [400, 300]),
        (2, [900]),
    ]


def test_boards_of_the_same_pieces_are_one_layout_that_is_cut_so_often() -> None:
    demand, boards = boards_of((1, [300, 400]), (1, [600]))
    boards.insert(1, boards[0].copied())
    layouts, _ = build_patterns(demand, boards, last_aims=False)
    assert [layout.repeat for layout in layouts] == [1, 2]


def test_what_is_left_of_boards_and_strips_is_listed_where_a_piece_would_go_in() -> None:
    """Of 1000 mm a strip of 300 and its kerf leave 696, one of 696 leaves 300 and no smaller than the least piece;
    beside 400 mm of a strip's 1200, 796 are left of it, and of strips of 500 and 300 only 192 of the board."""
    demand, boards = boards_of((1, [300]), (1, [696]), (1, [500, 300]), length=400)
    _, left = build_patterns(demand, boards, last_aims=False)
    assert left == (
        LeftOver(length_mm=796, width_mm=300, stage=1, code="board", quantity=2),
        LeftOver(length_mm=796, width_mm=500, stage=1, code="board"),
        LeftOver(length_mm=796, width_mm=696, stage=1, code="board"),
        LeftOver(length_mm=1200, width_mm=300, stage=1, code="board"),
        LeftOver(length_mm=1200, width_mm=696, stage=1, code="board"),
    )


def test_a_strip_that_is_too_short_for_any_piece_is_not_left_over() -> None:
    demand, boards = boards_of((1, [300]), length=598)
    assert {(item.length_mm, item.width_mm) for item in build_patterns(demand, boards)[1]} == {
        (598, 300),
        (1200, 696),
    }
    demand, boards = boards_of((1, [300]), length=599)
    assert {(item.length_mm, item.width_mm) for item in build_patterns(demand, boards)[1]} == {(1200, 696)}
