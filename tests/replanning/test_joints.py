"""New joints around spans that still serve: where they may be, and which are taken."""

from __future__ import annotations

from optimiser.replanning.joints import joints_within
from optimiser.replanning.place_maker import PlaceMaker
from tests.joints.test_layout import Rows, one_run


def spans(
    length_mm: int, gaps: Rows, mullions: tuple[int, ...] = (), **detail: object
) -> list[tuple[int, int]] | None:
    """A run's new pieces where nothing of the old joints or of a fresh layout is offered."""
    project = one_run(length_mm, gaps, mullions, **detail)
    found = joints_within(PlaceMaker(project, project.runs[0], project.gaps), (), (), (0, length_mm))
    return None if found is None else [(piece.from_mm, piece.to_mm) for piece in found]


# A dip to 148 mm settles the window of the first of two pieces; the slope from 1000 to 1200 mm lets the second one have
# the wider a window the farther along it begins.
SLOPE = [(0, 148), (500, 148), (1000, 153), (1200, 147), (2300, 147)]


def test_a_joint_may_stand_just_clear_of_a_mullion_on_either_side() -> None:
    """Two pieces of at most 1200 mm over 2300 leave 1100 to 1200 for the joint. Mullions at 1010 and 1233 mm bar all of
    it but 1110 to 1133: the far end has the wider windows, mirrored the near end."""
    assert spans(2300, SLOPE, (1010, 1233)) == [(0, 1133), (1133, 2300)]
    mirrored = [(2300 - at, gap) for at, gap in reversed(SLOPE)]
    assert spans(2300, mirrored, (2300 - 1233, 2300 - 1010)) == [(0, 1167), (1167, 2300)]


def test_a_slope_that_no_single_width_follows_is_tapered_where_that_is_allowed() -> None:
    slope = [(0, 150), (2400, 174)]
    assert spans(2400, slope, taper_max_mm=0) is not None
    steep = [(0, 150), (600, 190)]  # over 300 mm more than any width serves
    assert spans(600, steep, taper_max_mm=0) is None
    assert spans(600, steep, taper_max_mm=60) == [(0, 600)]


def test_nothing_leads_over_a_gap_out_of_the_tested_range() -> None:
    assert spans(1200, [(0, 150), (600, 500), (1200, 150)], taper_max_mm=1000) is None
