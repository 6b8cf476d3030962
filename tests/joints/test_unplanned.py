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
) -> NotPlanned:
    """The entry of a stretch of a run of 4 m."""
    project = one_run(4000, gaps, mullions=mullions, boards=boards, joint_to_mullion_min_mm=100)
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
