"""The judge's rules of pieces in their run: lengths, windows, tapers, brackets, stretches left out."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from optimiser.checking.brackets import broken_rules_of_brackets, usual_positions
from optimiser.checking.building import Building
from optimiser.checking.cover import broken_rules_of_cover
from optimiser.checking.gap_line import GapLine
from optimiser.checking.widths import broken_rules_of_widths
from optimiser.model.project import Detail, Gap
from tests.builders.checking_examples import DETAIL, bare_plan


def line_of(*gaps: tuple[int, int], **detail: Any) -> GapLine:
    rules = Detail.model_validate(DETAIL | detail)
    return GapLine([Gap(run="R", at_mm=at, gap_mm=gap) for at, gap in gaps], rules)


def test_the_gap_is_linear_between_positions_and_constant_beyond() -> None:
    line = line_of((300, 100), (600, 110))
    assert [line.at(position) for position in (0, 300, 400, 600, 900)] == [
        100,
        100,
        100 + Fraction(10, 3),
        110,
        110,
    ]
    assert line.extremes(400, 500) == (100 + Fraction(10, 3), 100 + Fraction(20, 3))


def test_a_150_mm_gap_is_cut_165_mm_in_exact_arithmetic() -> None:
    """In binary floating point 150 x 1.1 is above 165 and rounds up to 166."""
    assert line_of((0, 150)).window(0, 1200) == (165, 172)


def test_a_bump_inside_the_span_counts() -> None:
    line = line_of((0, 100), (500, 104), (1000, 100))
    assert line.window(0, 1000) == (115, 115)  # 104 x 1.10 = 114.4 and 100 x 1.15
    assert line.window(501, 1000)[0] == 115
    assert line.window(0, 499)[0] == 115


STEEP = [(0, 100), (300, 100), (900, 160), (1200, 160)]


def judged_cover(gaps: list[tuple[int, int]], *pieces: dict[str, Any], **more: Any) -> list[str]:
    plan = bare_plan(gaps, [dict(piece) for piece in pieces], **more)
    return list(broken_rules_of_cover(Building(plan.project, plan)))


def judged_widths(gaps: list[tuple[int, int]], *pieces: dict[str, Any], **more: Any) -> list[str]:
    plan = bare_plan(gaps, [dict(piece) for piece in pieces], **more)
    return list(broken_rules_of_widths(Building(plan.project, plan)))


def judged_brackets(gaps: list[tuple[int, int]], *pieces: dict[str, Any], **more: Any) -> list[str]:
    plan = bare_plan(gaps, [dict(piece) for piece in pieces], **more)
    return list(broken_rules_of_brackets(Building(plan.project, plan)))


def stretch(start: int, end: int, **values: Any) -> dict[str, Any]:
    return {"from_mm": start, "to_mm": end, **values}


def test_a_taper_follows_a_steep_gap_within_its_limits_everywhere() -> None:
    """From 100 to 160 mm over 600 mm: 300 mm of it change by 30 mm, far beyond the 5 % of a single width."""
    taper = stretch(300, 900, gap_min_mm=100, gap_max_mm=160)
    assert judged_widths(STEEP, taper | {"widths": (110, 176)}, length_mm=1200) == []
    assert judged_widths(STEEP, taper | {"widths": (115, 184)}, length_mm=1200) == []
    for widths in ((109, 176), (110, 175), (116, 184), (115, 185)):
        (broken,) = judged_widths(STEEP, taper | {"widths": widths}, length_mm=1200)
        assert f"cut straight from {widths[0]} to {widths[1]} mm it leaves the limits of its gap" in broken


def test_a_straight_cut_is_checked_at_the_bend_inside_it() -> None:
    """Over 0 to 600 mm the gap is flat, then rises: the straight line between right ends is too wide at 300."""
    taper = stretch(0, 600, gap_min_mm=100, gap_max_mm=130, widths=(110, 143))
    assert any("leaves the limits" in line for line in judged_widths(STEEP, taper, length_mm=1200))
    assert not line_of(*STEEP).straight_exists(0, 600, 1000)
    assert line_of(*STEEP).straight_exists(300, 900, 1000)
    assert line_of(*STEEP).straight_exists(280, 900, 1000)  # a little of the flat part is squeezed in


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.integers(30, 60), min_size=2, max_size=4),
    st.integers(5, 20),
    st.sampled_from([0, 0.05, 0.1]),
    st.integers(0, 10),
    st.sampled_from([0, 2, 6, 1000]),
)
def test_a_straight_cut_exists_exactly_when_trying_all_widths_finds_one(
    gaps: list[int], pitch: int, most: float, start: int, taper: int
) -> None:
    line = line_of(*((pitch * n, gap) for n, gap in enumerate(gaps)), oversize_min=0, oversize_max=most)
    end = start + 25
    found = any(
        abs(a - b) <= taper and line.straight_fits(start, end, a, b)
        for a in range(30, 67)
        for b in range(30, 67)
    )
    assert line.straight_exists(start, end, taper) == found


def test_the_ends_of_a_taper_differ_by_no_more_than_the_detail_allows() -> None:
    taper = stretch(300, 900, gap_min_mm=100, gap_max_mm=160, widths=(110, 176))
    assert judged_widths(STEEP, taper, length_mm=1200, detail={"taper_max_mm": 66}) == []
    (broken,) = judged_widths(STEEP, taper, length_mm=1200, detail={"taper_max_mm": 65})
    assert "differ by more than taper_max_mm 65" in broken


def test_a_taper_is_for_where_no_single_width_serves() -> None:
    """A rise of 10 mm in 1200 is too much for one width of the whole, though not for any 300 mm of it; 4 mm are not."""
    rise = [(0, 100), (1200, 110)]
    assert not line_of(*rise).single_width_serves(0, 1200)
    taper = stretch(0, 1200, gap_min_mm=100, gap_max_mm=110, widths=(110, 121))
    assert judged_widths(rise, taper, length_mm=1200) == []
    (broken,) = judged_widths(
        [(0, 100), (1200, 104)],
        stretch(0, 1200, gap_min_mm=100, gap_max_mm=104, widths=(110, 115)),
        length_mm=1200,
    )
    assert "although one width, 115 mm, serves all of it" in broken


def test_a_short_piece_is_excused_only_where_the_run_allows_no_longer_one() -> None:
    """A run of 200 mm, and a piece that neither joins nor borrows because the gap jumps beside it."""
    assert judged_cover([(0, 100)], stretch(0, 200), length_mm=200) == []
    jump = [(0, 100), (1000, 100), (1001, 160)]
    assert judged_cover(jump, stretch(0, 1000), stretch(1000, 1001), length_mm=1001) == []
    mergeable = judged_cover([(0, 100)], stretch(0, 900), stretch(900, 1100), length_mm=1100)
    assert len(mergeable) == 1
    assert mergeable[0].endswith("where the run allows, and it could be one with R-001")
    borrowing = judged_cover([(0, 100)], stretch(0, 200), stretch(200, 1400), length_mm=1400)
    assert len(borrowing) == 1
    assert borrowing[0].endswith("where the run allows, and the joint with R-002 could be at 300 mm")


def test_a_short_piece_is_joined_even_with_a_sliver_beside_it() -> None:
    """Two pieces where one of 200 mm would do: 1 mm is a neighbour like any other."""
    assert judged_cover([(0, 100)], stretch(0, 1), stretch(1, 200), length_mm=200) == [
        "run R, piece R-001: it is 1 mm long, but must be at least 300 mm where the run allows, and it could be one"
        " with R-002",
        "run R, piece R-002: it is 199 mm long, but must be at least 300 mm where the run allows, and it could be one"
        " with R-001",
    ]
    mirrored = judged_cover([(0, 100)], stretch(0, 199), stretch(199, 200), length_mm=200)
    assert ["it could be one with R-002" in line for line in mirrored] == [True, False]
    assert ["it could be one with R-001" in line for line in mirrored] == [False, True]


def test_a_mullion_may_excuse_a_short_piece() -> None:
    """The joint may not move to 1100 mm with a mullion there; any other way the board is too short."""
    both = stretch(0, 1200), stretch(1200, 1400)
    assert judged_cover([(0, 100)], *both, length_mm=1400, mullions_mm=[1100]) == []
    (broken,) = judged_cover([(0, 100)], *both, length_mm=1400, mullions_mm=[1000])
    assert "the joint with R-001 could be at 1100 mm" in broken


def test_a_neighbour_that_would_be_too_short_itself_lends_nothing() -> None:
    detail = {"piece_length_min_mm": 700}
    assert (
        judged_cover([(0, 100)], stretch(0, 1200), stretch(1200, 1350), length_mm=1350, detail=detail) == []
    )


def test_a_stretch_is_left_out_only_where_it_must_be() -> None:
    left_out = {"not_planned": [{"from_mm": 0, "to_mm": 600, "what": "piece"}], "length_mm": 1200}
    piece = stretch(600, 1200)
    (broken,) = judged_cover([(0, 100)], piece, **left_out)
    assert broken.startswith("run R, not planned 0 to 600 mm: one piece could cover it")
    assert judged_cover([(0, 400), (599, 400), (601, 100)], piece, **left_out) == []  # beyond 300 mm
    assert judged_cover([(0, 100), (300, 140), (600, 100)], piece, **left_out) == []  # no width serves
    assert judged_cover([(0, 100)], piece, **left_out, mullions_mm=[650]) == []  # no joint there


def test_a_stretch_left_out_says_why_and_lies_in_its_run() -> None:
    entry = {"from_mm": 600, "to_mm": 1300, "what": "piece", "mend": " "}
    broken = judged_cover([(0, 400)], stretch(0, 600), length_mm=1200, not_planned=[entry])
    assert "run R, not planned 600 to 1300 mm: it must say why and what would fix it" in broken
    assert "run R, not planned 600 to 1300 mm: it must lie within the run, 0 to 1200 mm" in broken
    assert "run R: it is 1200 mm long, but covered up to 1300 mm" in broken


def test_a_piece_over_a_gap_out_of_range_must_be_left_out() -> None:
    broken = judged_widths(
        [(0, 301)], stretch(0, 600, gap_min_mm=301, gap_max_mm=301, widths=(332, 332)), length_mm=600
    )
    assert broken == [
        "run R, piece R-001: the gap must be 50 to 300 mm, but is 301 to 301 mm; it must be listed as not planned"
    ]


def test_brackets_stand_300_mm_from_the_ends_and_at_most_600_mm_apart() -> None:
    """Two at 300 and 900 on a 1200 mm length, one in the middle up to 600 mm (common practice, no source)."""
    plan = bare_plan([(0, 100)], [stretch(0, 600)], length_mm=600)
    building = Building(plan.project, plan)
    assert usual_positions(building.detail_of("R"), 1200) == [300, 900]
    assert usual_positions(building.detail_of("R"), 600) == [300]
    assert usual_positions(building.detail_of("R"), 601) == [300, 301]
    assert usual_positions(building.detail_of("R"), 1201) == [300, 300 + Fraction(601, 2), 901]
    assert usual_positions(building.detail_of("R"), 333) == [Fraction(333, 2)]


def bracketed(*at: int, size: int = 75, end: int = 1200) -> dict[str, Any]:
    return stretch(0, end, bracket=f"K-{size}", brackets_at_mm=list(at))


SIZES = {"brackets": [70, 75, 80, 110]}


def test_a_bracket_in_the_way_of_a_mullion_is_moved_and_the_other_is_not() -> None:
    more: dict[str, Any] = {"length_mm": 1200, "mullions_mm": [300], **SIZES}
    assert judged_brackets([(0, 100)], bracketed(375, 900), **more) == []
    assert any(
        "the bracket at 300 mm must be at least 75 mm" in line
        for line in judged_brackets([(0, 100)], bracketed(300, 900), **more)
    )
    assert judged_brackets([(0, 100)], bracketed(374, 900), **more) == [
        "run R, piece R-001: the bracket at 374 mm must be at least 75 mm from every mullion, but one stands at"
        " 300 mm"
    ]
    assert judged_brackets([(0, 100)], bracketed(375, 890), **more) == [
        "run R, piece R-001: a bracket must stand at 900 mm, where no mullion is in the way, but stands at 890"
        " mm"
    ]
    assert judged_brackets([(0, 100)], bracketed(225, 900), **more) == [
        "run R, piece R-001: brackets at 225 and 900 mm are 675 mm apart, more than 600 mm"
    ]


def test_a_bracket_as_far_from_its_neighbour_as_allowed_is_not_moved_without_need() -> None:
    """Usual are 300, 900 and 1500 mm; only the third is in a mullion's way, and 900 is just 600 mm from 300."""
    more: dict[str, Any] = {"length_mm": 1800, "mullions_mm": [1500], **SIZES}
    assert judged_brackets([(0, 100)], bracketed(300, 900, 1425, end=1800), **more) == []
    assert judged_brackets([(0, 100)], bracketed(300, 880, 1425, end=1800), **more) == [
        "run R, piece R-001: a bracket must stand at 900 mm, where no mullion is in the way, but stands at 880 mm"
    ]
    mirrored: dict[str, Any] = {**more, "mullions_mm": [300]}
    assert judged_brackets([(0, 100)], bracketed(375, 900, 1500, end=1800), **mirrored) == []
    assert judged_brackets([(0, 100)], bracketed(375, 920, 1500, end=1800), **mirrored) == [
        "run R, piece R-001: a bracket must stand at 900 mm, where no mullion is in the way, but stands at 920 mm"
    ]


def test_a_moved_bracket_may_push_its_neighbour_but_only_as_far_as_the_spacing_asks() -> None:
    """Mullions at 820 and 920 mm leave 995 mm for the second bracket, so the first must stand at 395 mm."""
    more: dict[str, Any] = {"length_mm": 1200, "mullions_mm": [745, 820, 920], **SIZES}
    assert judged_brackets([(0, 100)], bracketed(395, 995), **more) == []
    assert judged_brackets([(0, 100)], bracketed(300, 995), **more) == [
        "run R, piece R-001: brackets at 300 and 995 mm are 695 mm apart, more than 600 mm"
    ]
    assert judged_brackets([(0, 100)], bracketed(350, 670), **more) == [
        "run R, piece R-001: a bracket must stand at 300 mm, where no mullion is in the way, but stands at 350 mm"
    ]


def test_a_piece_up_to_twice_the_end_distance_has_one_bracket() -> None:
    more: dict[str, Any] = {"length_mm": 600, "mullions_mm": [300], **SIZES}
    assert judged_brackets([(0, 100)], bracketed(375, end=600), **more) == []
    assert judged_brackets([(0, 100)], bracketed(225, 375, end=600), **more) == [
        "run R, piece R-001: with 600 mm it has one bracket, but it has 2"
    ]


def test_a_size_that_stays_in_the_band_along_the_whole_piece_may_be_preferred() -> None:
    """75 is nearest at the bracket, but at the far end, where the gap is 108 mm, only 80 is within the band."""
    gaps = [(0, 100), (300, 100), (600, 108)]
    more: dict[str, Any] = {"length_mm": 600, "brackets": [75, 80]}
    assert judged_brackets(gaps, bracketed(300, size=75, end=600), **more) == []
    assert judged_brackets(gaps, bracketed(300, size=80, end=600), **more) == []
    (broken,) = judged_brackets([(0, 100)], bracketed(300, size=80, end=600), **more)
    assert broken.endswith("K-75 is nearer to 0.75 of the gap than K-80 at every position")


def test_a_mullion_just_beyond_the_piece_is_in_the_way_too() -> None:
    piece = stretch(0, 200, bracket="K-75", brackets_at_mm=[100])
    more: dict[str, Any] = {"mullions_mm": [250], "detail": {"bracket_to_mullion_min_mm": 151}, **SIZES}
    assert judged_brackets([(0, 100)], piece, length_mm=1200, **more) == [
        "run R, piece R-001: the bracket at 100 mm must be at least 151 mm from every mullion, but one stands at"
        " 250 mm"
    ]


def test_the_nearest_size_in_the_band_is_used_and_equal_ones_are_free() -> None:
    more: dict[str, Any] = {"length_mm": 600}
    assert judged_brackets([(0, 100)], bracketed(300, size=75, end=600), **more, brackets=[70, 75, 80]) == []
    assert judged_brackets([(0, 100)], bracketed(300, size=70, end=600), **more, brackets=[70, 80]) == []
    assert judged_brackets([(0, 100)], bracketed(300, size=80, end=600), **more, brackets=[70, 80]) == []
    (broken,) = judged_brackets([(0, 100)], bracketed(300, size=70, end=600), **more, brackets=[70, 75])
    assert broken.endswith("K-75 is nearer to 0.75 of the gap than K-70 at every position")
    assert judged_brackets([(0, 146)], bracketed(300, size=110, end=600), **more, brackets=[110]) == []


def test_the_insertion_is_checked_at_every_bracket() -> None:
    """At 300 mm the gap is 100 mm, at 900 it is 112: 75 mm reach 75 % into one, but 67 % into the other."""
    (broken,) = judged_brackets(
        [(300, 100), (900, 112)], bracketed(300, 900), length_mm=1200, brackets=[75, 80, 85]
    )
    assert "bracket K-75 reaches 75 mm into gaps of 100, 112 mm, outside 0.7 to 0.85 of them" in broken


def test_a_piece_without_bracket_is_listed_and_only_where_none_fits() -> None:
    piece = stretch(0, 1200)
    entry = {"from_mm": 0, "to_mm": 1200, "what": "bracket"}
    assert judged_brackets([(0, 100)], piece, length_mm=1200, brackets=[110], not_planned=[entry]) == []
    assert judged_brackets([(0, 100)], piece, length_mm=1200, brackets=[110]) == [
        "run R, piece R-001: it has no bracket and is not listed as not planned"
    ]
    assert judged_brackets([(0, 100)], piece, length_mm=1200, brackets=[75], not_planned=[entry]) == [
        "run R, piece R-001: it has no bracket, although K-75 fits at every position"
    ]
    assert judged_brackets(
        [(0, 100)], bracketed(300, 900), length_mm=1200, brackets=[75], not_planned=[entry]
    ) == ["run R, 0 to 1200 mm: listed as without bracket, but every piece there has one"]
