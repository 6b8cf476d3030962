"""Which cut piece goes to which place, and what is cut off it on the way."""

from __future__ import annotations

import pytest

from optimiser.joints.layout import lay_out
from optimiser.model.planned_pieces import PlannedPiece
from optimiser.model.project import Detail
from optimiser.replanning.reuse import Reused, reuse_most
from tests.builders.levels import building
from tests.builders.plans_by_hand import piece


def reused(*free: PlannedPiece, kerf_mm: int = 0) -> Reused:
    """Cut pieces for the one place of a run of 900 mm, 165 mm wide at the least."""
    survey = building(storeys=1, length_mm=900, detail=Detail(kerf_mm=kerf_mm))
    return reuse_most(survey, [(one, "B-120") for one in free], lay_out(survey).pieces)


@pytest.mark.parametrize(
    ("length_mm", "kerf_mm", "end_mm"),
    [
        (900, 0, None),
        (901, 0, 1),
        (1200, 0, 300),
        (1200, 4, 296),
        (905, 4, 1),
        (904, 4, None),
        (902, 4, None),
    ],
)
def test_what_is_cut_off_a_piece_that_is_too_long_is_an_end_beyond_the_kerf(
    length_mm: int, kerf_mm: int, end_mm: int | None
) -> None:
    found = reused(piece("L1-N-007", "L1-N", 0, length_mm, 166), kerf_mm=kerf_mm)
    (fitted,) = found.fitted.values()
    assert fitted.cut_to_mm == (900 if length_mm > 900 else None)
    assert found.ends == (() if end_mm is None else (("L1-N-007", "B-120", end_mm, 166),))


def test_the_end_of_a_taper_is_as_wide_as_its_narrower_end() -> None:
    found = reused(piece("L1-N-007", "L1-N", 0, 1200, 170, 180))
    assert found.ends == (("L1-N-007", "B-120", 300, 170),)


def test_what_serves_no_place_is_kept_as_it_was_cut() -> None:
    narrow, short = piece("L1-N-001", "L1-N", 0, 900, 164), piece("L1-N-002", "L1-N", 0, 899, 170, 180)
    found = reused(narrow, short)
    assert (found.most, found.fitted, found.ends) == (0, {}, ())
    assert [(kept.piece, kept.length_mm, kept.width_start_mm, kept.width_end_mm) for kept in found.kept] == [
        ("L1-N-001", 900, 164, 164),
        ("L1-N-002", 899, 170, 180),
    ]
