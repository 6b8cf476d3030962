"""Why a stretch has no layout: the words name the cause that explains it, and what would mend it."""

from __future__ import annotations

import pytest

from optimiser.joints.unplanned import no_layout
from optimiser.model.planned_pieces import NotPlanned
from optimiser.survey.gap_line import GapAlongRun
from tests.joints.test_layout import Rows, one_run


def left_out(
    gaps: Rows,
    from_mm: int,
    to_mm: int,
    mullions: tuple[int, ...] = (),
    boards: tuple[tuple[int, int], ...] = ((1200, 1000),),
    radius: int | None = None,
) -> NotPlanned:
    """The entry of a stretch of a run of 4 m; on a curve pieces leave it by 5 mm at most."""
    project = one_run(
        4000, gaps, mullions, boards, radius, joint_to_mullion_min_mm=100, curve_offset_max_mm=5
    )
    line = GapAlongRun.of(project.gaps)
    return no_layout(project.runs[0], project.detail, project.boards, line, from_mm, to_mm)


@pytest.mark.parametrize("boards", [((900, 1000), (1800, 1000)), ((1800, 1000), (900, 1000))])
def test_of_several_boards_the_longest_is_named(boards: tuple[tuple[int, int], ...]) -> None:
    """Over 2 m a mullion every 150 mm: neither board spans it."""
    entry = left_out([(0, 150)], 1000, 3000, tuple(range(1000, 3001, 150)), boards)
    assert "no place for a joint 100 mm clear of them and the longest board is 1800 mm" in entry.reason
    assert "a board at least 2000 mm long" in entry.mend


@pytest.mark.parametrize(
    ("mullions", "crowded"),
    [
        ((1000, 1800, 2600), True),  # at either end and in the middle
        ((1000, 1200, 2600), False),  # the middle is free for a joint
        ((1000, 1533, 2600), False),
        ((1000, 1800), False),
        ((1800, 2600), False),
    ],
)
def test_mullions_are_the_cause_where_neither_the_ends_nor_the_middle_are_clear(
    mullions: tuple[int, ...], crowded: bool
) -> None:
    """A stretch of 1600 mm, longer than its board, whose gap changes more than a piece can follow: only where mullions
    leave no place for a joint are they the cause."""
    entry = left_out([(1000, 150), (2600, 290)], 1000, 2600, mullions)
    assert ("leave no place for a joint" in entry.reason) == crowded
    assert ("the gap changes from 150 mm to 290 mm" in entry.reason) == (not crowded)


def test_a_span_that_a_width_serves_and_a_board_reaches_fails_for_its_mullions_alone() -> None:
    """Shorter than the board, and one width serves all of it: what is left is where its joints may be."""
    entry = left_out([(0, 150)], 1000, 1400, (1000, 1200, 1400))
    assert "the mullions at 1000 1200 1400 mm leave no place for a joint" in entry.reason


def test_a_slope_within_a_board_is_the_cause_even_between_mullions() -> None:
    entry = left_out([(1000, 150), (1400, 250)], 1000, 1400, (1000, 1200, 1400))
    assert "the gap changes from 150 mm to 250 mm more than a piece can follow with joints 100 mm clear" in (
        entry.reason
    )


def test_a_board_just_as_wide_as_the_widest_cut_is_not_the_cause() -> None:
    entry = left_out([(1000, 150), (1400, 100)], 1000, 1400, boards=((1200, 165),))
    assert "the gap changes from 100 mm to 150 mm" in entry.reason
    narrow = left_out([(1000, 150), (1400, 100)], 1000, 1400, boards=((1200, 164),))
    assert "the cut width must be 165 mm and the widest board is 164 mm" in narrow.reason


@pytest.mark.parametrize(
    ("number", "told"),
    [
        (6, "1000 1100 1200 1300 1400 1500"),
        (7, "1000 1100 1200 ... 1600"),
        (11, "1000 1100 1200 ... 2000"),
    ],
)
def test_of_many_mullions_the_first_three_and_the_last_are_named(number: int, told: str) -> None:
    mullions = tuple(range(1000, 1000 + 100 * number, 100))
    assert f"the mullions at {told} mm leave" in left_out([(0, 150)], 1000, mullions[-1], mullions).reason


def test_on_a_tight_curve_the_curve_is_named_with_the_mullions_and_else_the_board() -> None:
    """2 sqrt(2 x 6000 x 5 - 25) = 489.79 mm; a curve of 60 m takes pieces longer than the board."""
    mullions = tuple(range(1000, 3001, 150))
    tight = left_out([(0, 150)], 1000, 3000, mullions, radius=6_000)
    assert "and the curve of radius 6000 mm takes pieces of at most 489 mm" in tight.reason
    assert "radius_mm" in tight.mend
    for wide in (
        left_out([(0, 150)], 1000, 3000, mullions, radius=60_000),
        left_out([(0, 150)], 1000, 3000, mullions),
    ):
        assert "and the longest board is 1200 mm" in wide.reason
