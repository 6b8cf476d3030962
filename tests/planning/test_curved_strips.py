"""A curve whose longest pieces leave much of every strip over is told, with the rule that mends it."""

from __future__ import annotations

from typing import Any

from optimiser import plan
from optimiser.model.plan import Plan
from optimiser.model.project import Gap, Project
from optimiser.planning.curved_strips import curved_strips
from tests.builders.closed_level import GIVEN, closed_level, run_of


def curve(length_mm: int = 23_562, radius_mm: int = 15_000, offset_mm: int = 5, **detail: Any) -> Project:
    return closed_level(
        detail=GIVEN.model_copy(update={"curve_offset_max_mm": offset_mm, **detail}),
        runs=(run_of("R", length_mm, radius_mm=radius_mm),),
        gaps=(Gap(run="R", at_mm=0, gap_mm=150),),
        details={},
    )


def bought(made: Plan) -> int:
    return sum(board.count for board in made.boards.values())


def test_pieces_of_774_mm_leave_426_mm_of_a_strip_where_two_of_599_mm_would_fit() -> None:
    """Chords of radius 15000 mm: 2 sqrt(2 x 15000 x 5 - 25) = 774.5, 2 sqrt(2 x 15000 x 3 - 9) = 599.97. At least
    31 pieces become 40."""
    (told,) = curved_strips(curve())
    assert "radius 15000 mm (R)" in told
    assert "at most 774 mm (curve_offset_max_mm 5) leave up to 426 mm of a strip of 1200 mm" in told
    assert "With curve_offset_max_mm 3 they are at most 599 mm long and 2 come from a strip" in told
    assert "some 9 joints more" in told
    made = plan(curve())
    assert any(told == warning for warning in made.warnings)
    assert bought(plan(curve(offset_mm=3))) < bought(made), "what is told is true"


def test_nothing_is_told_where_no_shorter_pieces_would_do() -> None:
    assert tuple(curved_strips(curve(offset_mm=3))) == (), "two of 599 mm fill a strip"
    assert tuple(curved_strips(curve(piece_length_min_mm=600))) == (), "the detail wants longer pieces"
    assert tuple(curved_strips(curve(radius_mm=100_000))) == (), "a board is as long as the curve allows"
    assert tuple(curved_strips(curve(length_mm=700))) == (), "one piece is one strip"
    assert tuple(curved_strips(closed_level())) == (), "three of 399 mm fill a strip"
