"""Brackets beyond the end distance or the spacing, each with the mullion that keeps one from its usual place."""

from __future__ import annotations

import pytest

from optimiser.model.planned_pieces import MovedBracket
from optimiser.takeoff.moved_brackets import moved_brackets
from tests.builders.small_plan import small_plan, small_project


def moved(
    mullions_mm: tuple[int, ...], brackets_at_mm: tuple[int, ...], place: int = 0
) -> list[MovedBracket]:
    """Of a piece of 1200 mm, the first or second of its run, 300 mm from each end and 600 mm between."""
    project = small_project()
    detail = project.detail.model_copy(
        update={
            "bracket_end_distance_mm": 300,
            "bracket_spacing_max_mm": 600,
            "bracket_to_mullion_min_mm": 75,
        }
    )
    run = project.runs[0].model_copy(update={"mullions_mm": mullions_mm})
    project = project.model_copy(update={"detail": detail, "runs": (run, *project.runs[1:])})
    piece = small_plan().pieces[place].model_copy(update={"brackets_at_mm": brackets_at_mm})
    return list(moved_brackets(project, [piece]))


def test_brackets_in_their_usual_places_are_not_listed() -> None:
    assert moved((700,), (300, 900)) == []


@pytest.mark.parametrize(
    ("place", "mullion", "kept_from"), [(0, 900, 900), (0, 950, 900), (1, 2100, 2100), (1, 2080, 2100)]
)
def test_the_mullion_at_the_last_bracket_is_the_cause(place: int, mullion: int, kept_from: int) -> None:
    """The usual places are 300 and 900 mm of the piece; the second bracket stands 75 mm nearer to the first."""
    (one,) = moved((mullion,), (300, 825), place)
    assert (one.beyond, one.at_mm, one.distance_mm, one.by_mm) == (
        "end distance",
        1200 * place + 825,
        375,
        75,
    )
    assert f"the one at {mullion} mm keeps a bracket from {kept_from} mm" in one.mend


def test_a_mullion_far_from_every_usual_place_is_no_cause() -> None:
    (one,) = moved((1000,), (300, 825))
    assert "mullion" not in one.mend
    assert "a detail tested with a bracket 375 mm from the end of a piece" in one.mend


def test_the_middle_one_of_three_is_kept_from_the_middle() -> None:
    """Usual places 300, 600 and 900 mm; what is moved off a mullion at 600 leaves more than 600 mm to no one."""
    (one,) = moved((600,), (375, 700, 900))
    assert (one.beyond, one.at_mm, one.by_mm) == ("end distance", 375, 75)
    assert "in line with a mullion, 0 mm from it" in one.mend
    assert "the one at 600 mm keeps a bracket from 600 mm" in one.mend


def test_brackets_too_far_apart_are_listed_at_the_second() -> None:
    (one,) = moved((300,), (225, 900))
    assert (one.beyond, one.at_mm, one.distance_mm, one.by_mm) == ("spacing", 900, 675, 75)
