"""Runs into pieces: cover, windows, joints clear of mullions, and the fewest pieces against brute force."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from math import ceil, floor
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from optimiser.joints.arrays import PIECE, TAPERED, RunArrays
from optimiser.joints.layout import LaidPiece, LaidRuns, PieceValue, lay_out, lay_out_arrays, run_arrays
from optimiser.joints.strip_price import strip_price
from optimiser.model.project import Board, Detail, Gap, Level, Project, Run
from tests.builders.random_projects import projects

Rows = list[tuple[int, int]]


def one_run(
    length: int,
    gaps: Rows,
    mullions: tuple[int, ...] = (),
    boards: tuple[tuple[int, int], ...] = ((1200, 1000),),
    radius: int | None = None,
    **detail: Any,
) -> Project:
    """A project of one run; `gaps` are (position, gap) rows, `boards` (length, width) sizes that serve it. Its tapers
    are as steep as they like where the detail says nothing else."""
    codes = tuple(f"B{number}" for number in range(len(boards)))
    return Project(
        detail=Detail(**{"taper_max_mm": 1000, **detail}),
        products=tuple(
            Board(code=code, length_mm=size[0], width_mm=size[1])
            for code, size in zip(codes, boards, strict=True)
        ),
        levels=(Level(level="L01", sequence=1),),
        runs=(
            Run(
                run="L01-N",
                level="L01",
                length_mm=length,
                board=codes,
                mullions_mm=mullions,
                radius_mm=radius,
            ),
        ),
        gaps=tuple(Gap(run="L01-N", at_mm=at, gap_mm=gap) for at, gap in gaps),
    )


def spans(laid: LaidRuns) -> list[tuple[int, int]]:
    return [(piece.from_mm, piece.to_mm) for piece in laid.pieces]


# --- Examples -------------------------------------------------------------------------------------------


def test_a_level_gap_is_closed_with_full_boards_and_one_remainder() -> None:
    laid = lay_out(one_run(10_000, [(0, 150)]))
    lengths = sorted(piece.length_mm for piece in laid.pieces)
    assert lengths == [400] + [1200] * 8
    assert {(piece.width_min_mm, piece.width_max_mm) for piece in laid.pieces} == {(165, 172)}
    assert {(piece.gap_min_mm, piece.gap_max_mm) for piece in laid.pieces} == {(150, 150)}
    assert [piece.index for piece in laid.pieces] == list(range(1, 10))
    assert laid.not_planned == ()


def test_what_a_run_must_lose_is_lost_in_one_short_piece_that_leaves_room_for_another() -> None:
    laid = lay_out(one_run(3100, [(0, 150)], mullions=(1200, 1900)))
    assert sorted(piece.length_mm for piece in laid.pieces) == [800, 1100, 1200]


def test_a_remainder_below_the_minimum_is_shared_with_its_neighbour() -> None:
    laid = lay_out(one_run(2500, [(0, 150)]))
    assert len(laid.pieces) == 3
    assert sum(piece.length_mm == 1200 for piece in laid.pieces) == 1
    assert all(piece.length_mm >= 300 and not piece.short for piece in laid.pieces)


def test_a_run_shorter_than_the_minimum_is_one_short_piece() -> None:
    (piece,) = lay_out(one_run(200, [(0, 150)])).pieces
    assert (piece.from_mm, piece.to_mm, piece.short) == (0, 200, True)


@pytest.mark.parametrize(("minimum", "shortest"), [(300, 30), (301, 31), (310, 31), (311, 32)])
def test_a_sliver_below_a_tenth_of_the_minimum_is_no_piece(minimum: int, shortest: int) -> None:
    """Common practice, no source: it can be neither cut nor compressed, so its place is reported. Mullions leave
    1200 mm as the only joint."""
    mullions = tuple(range(50, 1101, 150))
    laid = lay_out(one_run(1200 + shortest, [(0, 150)], mullions, piece_length_min_mm=minimum))
    assert spans(laid) == [(0, 1200), (1200, 1200 + shortest)]
    assert [piece.short for piece in laid.pieces] == [False, True]
    laid = lay_out(one_run(1199 + shortest, [(0, 150)], mullions, piece_length_min_mm=minimum))
    assert spans(laid) == [(0, 1200)]
    assert [(place.from_mm, place.to_mm) for place in laid.not_planned] == [(1200, 1199 + shortest)]


def test_joints_move_clear_of_mullions_and_notches_are_listed() -> None:
    laid = lay_out(one_run(4800, [(0, 150)], mullions=(0, 1200, 2450, 4800)))
    joints = [piece.from_mm for piece in laid.pieces[1:]]
    assert len(laid.pieces) == 5
    assert all(abs(joint - mullion) >= 100 for joint in joints for mullion in (0, 1200, 2450, 4800))
    assert [mullion for piece in laid.pieces for mullion in piece.mullions_mm] == [1200, 2450]


def test_a_steep_bay_is_tapered_with_ends_that_follow_the_gap() -> None:
    laid = lay_out(one_run(1000, [(0, 150), (1000, 190)]))
    (piece,) = laid.pieces
    assert piece.tapered
    assert (piece.width_start_mm, piece.width_end_mm) == (165, 209)
    assert piece.width_min_mm == piece.width_max_mm == 209


def test_a_taper_is_widened_where_the_gap_bulges_between_its_ends() -> None:
    # 150 -> 172 -> 190: at 500 the edge must be at least 189.2 wide; 165 to 209 would be 187 there.
    (piece,) = lay_out(one_run(1000, [(0, 150), (500, 172), (1000, 190)])).pieces
    assert (piece.width_start_mm, piece.width_end_mm) == (170, 209)


def test_the_ends_of_a_taper_differ_by_no_more_than_the_detail_allows() -> None:
    slope = [(0, 150), (1000, 190)]  # 165 to 209 end to end
    assert spans(lay_out(one_run(1000, slope, taper_max_mm=44))) == [(0, 1000)]
    (wider,) = lay_out(one_run(1000, slope, taper_max_mm=40)).pieces
    assert (wider.width_start_mm, wider.width_end_mm) == (
        169,
        209,
    )  # as wide at its start as the window allows: 172
    shorter = lay_out(one_run(1000, slope, taper_max_mm=36)).pieces
    assert len(shorter) > 1
    assert all(abs(piece.width_end_mm - piece.width_start_mm) <= 36 for piece in shorter)


def test_without_tapers_a_steep_bay_is_left_open_and_the_reason_names_the_rule() -> None:
    laid = lay_out(one_run(1000, [(0, 150), (500, 150), (520, 250), (1000, 250)], taper_max_mm=0))
    assert not any(piece.tapered for piece in laid.pieces)
    assert all("taper_max_mm 0" in place.reason for place in laid.not_planned)
    assert laid.not_planned


def test_pieces_of_a_curve_are_so_short_that_the_chord_leaves_it_by_no_more_than_the_offset() -> None:
    # 2 sqrt(2 x 6000 x 5 - 25) = 489.79: eight pieces a 3.6 m curve, where a straight edge takes three
    curved = lay_out(one_run(3600, [(0, 150)], radius=6000, curve_offset_max_mm=5))
    assert len(curved.pieces) == 8
    assert max(piece.length_mm for piece in curved.pieces) <= 489
    assert len(lay_out(one_run(3600, [(0, 150)])).pieces) == 3


def test_a_curve_tighter_than_the_shortest_piece_is_divided_all_the_same() -> None:
    laid = lay_out(one_run(1000, [(0, 150)], radius=1000, curve_offset_max_mm=5))
    assert sum(piece.length_mm for piece in laid.pieces) == 1000
    assert all(piece.short and piece.length_mm <= 199 for piece in laid.pieces)


def test_a_slope_that_one_width_cannot_follow_is_tapered_rather_than_divided() -> None:
    """24 mm over two boards' length: one width serves 6 to 7 mm of slope, 10 mm a metre."""
    slope = [(0, 150), (2400, 174)]
    laid = lay_out(one_run(2400, slope, taper_max_mm=30))
    assert spans(laid) == [(0, 1200), (1200, 2400)]
    assert [(piece.width_start_mm, piece.width_end_mm) for piece in laid.pieces] == [(165, 179), (179, 192)]
    divided = lay_out(one_run(2400, slope, taper_max_mm=0)).pieces
    assert len(divided) == 4
    assert not any(piece.tapered for piece in divided)


def test_of_layouts_of_as_few_pieces_the_one_of_the_fewest_tapers_is_taken() -> None:
    """A slope of 20 mm between 900 and 2100 mm of a run of three boards' length less 300: a joint on the slope would
    make two tapers, one at either end of it makes one."""
    run = one_run(3300, [(0, 150), (900, 150), (2100, 170), (3300, 170)], taper_max_mm=30)
    laid = lay_out(run)
    assert [piece.tapered for piece in laid.pieces] == [False, True, False]
    assert spans(laid) == [(0, 900), (900, 2100), (2100, 3300)]


def test_no_piece_is_tapered_that_one_width_serves() -> None:
    laid = lay_out(one_run(2400, [(0, 150), (2400, 156)]))
    assert len(laid.pieces) == 2
    assert not any(piece.tapered for piece in laid.pieces)


def test_a_gap_beyond_the_tested_range_is_listed_and_the_rest_is_laid_out() -> None:
    laid = lay_out(one_run(6000, [(0, 150), (2000, 150), (2500, 401), (3000, 150), (6000, 150)]))
    (missing,) = laid.not_planned
    # 400 is passed 500/251 = 1.99 mm before and after 2500
    assert (missing.from_mm, missing.to_mm, missing.what) == (2498, 2502, "piece")
    assert "L01-N" in missing.reason
    assert "401 mm" in missing.reason
    assert "25 to 400 mm" in missing.reason
    assert missing.mend
    assert laid.pieces[0].from_mm == 0
    assert laid.pieces[-1].to_mm == 6000


def test_the_tested_range_includes_its_limits() -> None:
    laid = lay_out(one_run(600, [(0, 400), (300, 400), (600, 25)], gap_min_mm=25, gap_max_mm=400))
    assert laid.not_planned == ()


@pytest.mark.parametrize(("gaps", "says"), [([(0, 24)], "down to 24 mm"), ([(0, 401)], "up to 401 mm")])
def test_a_run_wholly_out_of_range_is_not_planned(gaps: Rows, says: str) -> None:
    laid = lay_out(one_run(3000, gaps))
    assert laid.pieces == ()
    assert [(missing.from_mm, missing.to_mm) for missing in laid.not_planned] == [(0, 3000)]
    assert says in laid.not_planned[0].reason


def test_a_slope_through_the_whole_range_leaves_both_ends_open() -> None:
    laid = lay_out(one_run(1000, [(0, 20), (1000, 420)], boards=((1200, 1000),)))
    assert [(missing.from_mm, missing.to_mm) for missing in laid.not_planned] == [(0, 13), (950, 1000)]


def test_mullions_too_close_for_any_joint_are_reported_with_the_board_that_would_do() -> None:
    laid = lay_out(one_run(5000, [(0, 150)], mullions=tuple(range(1000, 3001, 150))))
    (missing,) = laid.not_planned
    assert (missing.from_mm, missing.to_mm) in ((900, 3050), (950, 3100))
    assert "mullions" in missing.reason
    assert "1200" in missing.reason
    assert f"{missing.to_mm - missing.from_mm} mm long" in missing.mend


def test_a_board_too_narrow_is_reported_with_the_width_that_would_do() -> None:
    (missing,) = lay_out(one_run(5000, [(0, 150)], boards=((1200, 164),))).not_planned
    assert "165 mm" in missing.mend
    assert lay_out(one_run(5000, [(0, 150)], boards=((1200, 165),))).not_planned == ()


def test_a_step_that_nothing_can_follow_is_reported_by_itself() -> None:
    laid = lay_out(one_run(6000, [(0, 150), (3000, 150), (3001, 200), (6000, 200)]))
    (missing,) = laid.not_planned
    assert (missing.from_mm, missing.to_mm) == (3000, 3001)
    assert "150 mm to 200 mm" in missing.reason
    assert "two runs" in missing.mend


def test_a_gap_without_a_whole_width_is_reported() -> None:
    detail: dict[str, Any] = {"oversize_min": Decimal("0.11"), "oversize_max": Decimal("0.11")}
    (missing,) = lay_out(one_run(2000, [(0, 150)], **detail)).not_planned
    assert "no whole cut width" in missing.reason
    assert lay_out(one_run(2000, [(0, 100)], **detail)).not_planned == ()


def test_a_piece_is_offered_every_board_of_its_run_that_takes_it() -> None:
    laid = lay_out(one_run(2400, [(0, 150)], boards=((1200, 160), (900, 1000), (1200, 165))))
    assert spans(laid) == [(0, 1200), (1200, 2400)]
    assert all(piece.boards == ("B2",) for piece in laid.pieces)


def test_a_short_piece_is_the_last_resort() -> None:
    # Joints only up to 200, at 400, at 600 and from 800 on: with a 400 mm board one piece must be 200 mm.
    laid = lay_out(one_run(1000, [(0, 150)], mullions=(300, 500, 700), boards=((400, 1000),)))
    assert laid.not_planned == ()
    assert [piece.short for piece in laid.pieces].count(True) == 1
    assert len(laid.pieces) == 3


def test_a_piece_is_nominal_when_any_gap_that_decides_it_is() -> None:
    project = one_run(3600, [(0, 150), (1200, 150), (3600, 150)])
    gaps = tuple(
        gap.model_copy(update={"basis": "nominal"}) if gap.at_mm == 3600 else gap for gap in project.gaps
    )
    laid = lay_out(project.model_copy(update={"gaps": gaps}))
    assert [piece.basis for piece in laid.pieces] == ["measured", "nominal", "nominal"]


def test_a_very_long_run_is_laid_out() -> None:
    laid = lay_out(one_run(10_000_000, [(0, 150), (10_000_000, 160)]))
    assert laid.pieces[-1].to_mm == 10_000_000
    assert len(laid.pieces) == 8334


# --- Every rule, derived again in fractions ---------------------------------------------------------------


def gap_at(gaps: Rows, x: Fraction | int) -> Fraction:
    if x <= gaps[0][0]:
        return Fraction(gaps[0][1])
    for (x0, g0), (x1, g1) in pairwise(gaps):
        if x <= x1:
            return g0 + Fraction(g1 - g0) * (x - x0) / (x1 - x0)
    return Fraction(gaps[-1][1])


def breaks(gaps: Rows, from_mm: int, to_mm: int) -> list[int]:
    return [from_mm, *(at for at, _ in gaps if from_mm < at < to_mm), to_mm]


def window(detail: Detail, gaps: Rows, from_mm: int, to_mm: int) -> tuple[int, int]:
    along = [gap_at(gaps, x) for x in breaks(gaps, from_mm, to_mm)]
    return (
        ceil(max(along) * (1 + Fraction(detail.oversize_min))),
        floor(min(along) * (1 + Fraction(detail.oversize_max))),
    )


def taper_holds(
    detail: Detail, gaps: Rows, from_mm: int, to_mm: int, width_start: int, width_end: int
) -> bool:
    for x in breaks(gaps, from_mm, to_mm):
        width = width_start + Fraction(width_end - width_start) * (x - from_mm) / (to_mm - from_mm)
        gap = gap_at(gaps, x)
        low, high = gap * (1 + Fraction(detail.oversize_min)), gap * (1 + Fraction(detail.oversize_max))
        if not low <= width <= high:
            return False
    return True


def least_taper(detail: Detail, gaps: Rows, from_mm: int, to_mm: int, widest: int) -> tuple[int, int] | None:
    """By trying every pair of end widths: the narrowest wider end, then the least sum, then the start."""
    (s0, s1), (e0, e1) = window(detail, gaps, from_mm, from_mm), window(detail, gaps, to_mm, to_mm)
    pairs = [
        (max(s, e), s + e, s, e)
        for s in range(s0, min(s1, widest) + 1)
        for e in range(e0, min(e1, widest) + 1)
        if abs(s - e) <= detail.taper_max_mm and taper_holds(detail, gaps, from_mm, to_mm, s, e)
    ]
    return min(pairs)[2:] if pairs else None


def judge(project: Project, laid: LaidRuns) -> None:
    """Asserts every rule of the contract on a layout."""
    for run in project.runs:
        detail = project.building.detail_of(run.run)
        gaps = [(gap.at_mm, gap.gap_mm) for gap in project.gaps_of()[run.run]]
        pieces = [piece for piece in laid.pieces if piece.run == run.run]
        missing = [item for item in laid.not_planned if item.run == run.run]
        tiles = sorted([(p.from_mm, p.to_mm) for p in pieces] + [(m.from_mm, m.to_mm) for m in missing])
        assert tiles[0][0] == 0
        assert tiles[-1][1] == run.length_mm
        assert all(a[1] == b[0] for a, b in pairwise(tiles))
        assert [piece.index for piece in pieces] == list(range(1, len(pieces) + 1))
        stretches = {(m.from_mm, m.to_mm) for m in missing if "tested range" in m.reason}
        for piece in pieces:
            _judge_piece(project, run, gaps, piece)
        for before, after in pairwise(pieces):
            if before.to_mm == after.from_mm:
                clear = detail.joint_to_mullion_min_mm
                assert all(abs(before.to_mm - mullion) >= clear for mullion in run.mullions_mm)
        for item in missing:
            assert item.what == "piece"
            assert item.reason
            assert item.mend
            assert run.run in item.reason
            out = any(
                not detail.gap_min_mm <= gap_at(gaps, x) <= detail.gap_max_mm
                for x in breaks(gaps, item.from_mm, item.to_mm)
            )
            assert out == ((item.from_mm, item.to_mm) in stretches)


def _judge_piece(project: Project, run: Run, gaps: Rows, piece: LaidPiece) -> None:
    detail = project.building.detail_of(run.run)
    from_mm, to_mm = piece.from_mm, piece.to_mm
    along = [gap_at(gaps, x) for x in breaks(gaps, from_mm, to_mm)]
    assert piece.level == run.level
    assert detail.gap_min_mm <= min(along)
    assert max(along) <= detail.gap_max_mm
    assert (piece.gap_min_mm, piece.gap_max_mm) == (floor(min(along)), ceil(max(along)))
    assert piece.mullions_mm == tuple(sorted({m for m in run.mullions_mm if from_mm < m < to_mm}))
    assert piece.short == (piece.length_mm < detail.piece_length_min_mm)
    fitting = []
    for code in run.board:
        board = project.product(code)
        if board.length_mm >= piece.length_mm and board.width_mm >= piece.width_min_mm:
            fitting.append(code)
    assert piece.boards == tuple(fitting) != ()
    low, high = window(detail, gaps, from_mm, to_mm)
    if not piece.tapered:
        assert (piece.width_min_mm, piece.width_max_mm) == (low, high)
        assert low <= high
        assert piece.width_start_mm == piece.width_end_mm == low
        return
    assert piece.width_start_mm != piece.width_end_mm
    assert piece.width_min_mm == piece.width_max_mm == max(piece.width_start_mm, piece.width_end_mm)
    assert low > high
    widest = max(
        project.product(code).width_mm
        for code in run.board
        if project.product(code).length_mm >= piece.length_mm
    )
    assert least_taper(detail, gaps, from_mm, to_mm, widest) == (piece.width_start_mm, piece.width_end_mm)


@settings(max_examples=60, deadline=None)
@given(projects(max_runs=4))
def test_every_rule_holds_on_random_projects(project: Project) -> None:
    judge(project, lay_out(project))


# --- The least, by brute force ---------------------------------------------------------------------------


@st.composite
def tiny_runs(draw: st.DrawFn) -> Project:
    """A run of up to 60 mm with boards of up to 20 mm: small enough to try every layout."""
    length = draw(st.integers(1, 60))
    positions = sorted(draw(st.sets(st.integers(0, length), min_size=1, max_size=4)))
    swing = draw(st.sampled_from((0, 4, 12, 40)))
    base = draw(st.integers(24, 90))
    gaps = [(at, max(20, base + draw(st.integers(-swing, swing)))) for at in positions]
    oversize = draw(st.sampled_from(((10, 15), (5, 20), (10, 12), (0, 30))))
    boards = tuple(
        draw(st.lists(st.tuples(st.integers(6, 20), st.sampled_from((70, 100, 200))), min_size=1, max_size=2))
    )
    return one_run(
        length,
        gaps,
        mullions=tuple(sorted(draw(st.sets(st.integers(0, length), max_size=3)))),
        boards=boards,
        radius=draw(st.sampled_from((None, None, 10, 40))),
        curve_offset_max_mm=1,
        taper_max_mm=draw(st.sampled_from((0, 3, 8, 1000, 1000))),
        oversize_min=Decimal(oversize[0]) / 100,
        oversize_max=Decimal(oversize[1]) / 100,
        gap_min_mm=24,
        gap_max_mm=100,
        piece_length_min_mm=draw(st.integers(1, 12)),
        joint_to_mullion_min_mm=draw(st.integers(0, 5)),
    )


def sizes_that_follow_the_curve(project: Project) -> list[tuple[int, int]]:
    """The boards' sizes, no longer than a chord that the curve leaves by the offset: tried millimetre by millimetre."""
    radius, offset = project.runs[0].radius_mm, project.detail.curve_offset_max_mm
    longest = max(board.length_mm for board in project.boards)
    if radius is not None and radius > offset:
        follows = [c for c in range(1, longest + 1) if (radius - offset) ** 2 * 4 <= 4 * radius**2 - c**2]
        longest = max(follows)
    return [(min(board.length_mm, longest), board.width_mm) for board in project.boards]


Cost = tuple[
    int, int, int, int, int
]  # open mm, short, pieces, tapered, odd lengths (or a price in their place)
PriceOf = Callable[[int, int], int]  # by length and least width


def least_cost(project: Project, price_of: PriceOf | None = None) -> Cost:
    """The least cost of the run by trying every division at whole millimetres."""
    detail, run = project.detail, project.runs[0]
    gaps = [(gap.at_mm, gap.gap_mm) for gap in project.gaps_of()[run.run]]
    boards = sizes_that_follow_the_curve(project)
    minimum, length = detail.piece_length_min_mm, run.length_mm

    def in_range(a: int) -> bool:
        return all(detail.gap_min_mm <= gap_at(gaps, x) <= detail.gap_max_mm for x in breaks(gaps, a, a + 1))

    inside = [in_range(a) for a in range(length)]
    total: Cost = (0, 0, 0, 0, 0)
    start = 0
    while start < length:
        end = start
        while end < length and inside[end] == inside[start]:
            end += 1
        if inside[start]:
            cost = _least_over(start, end, detail, gaps, boards, run.mullions_mm, minimum, price_of)
            total = tuple(a + b for a, b in zip(total, cost, strict=True))  # type: ignore[assignment]
        start = end
    return total


def _least_over(
    start: int,
    end: int,
    detail: Detail,
    gaps: Rows,
    boards: list[tuple[int, int]],
    mullions: tuple[int, ...],
    minimum: int,
    price_of: PriceOf | None,
) -> Cost:
    clear = detail.joint_to_mullion_min_mm
    joints = [start, end]
    joints += [p for p in range(start + 1, end) if all(abs(p - m) >= clear for m in mullions)]
    best: dict[int, Cost] = {end: (0, 0, 0, 0, 0)}
    for p in sorted(set(joints) - {end}, reverse=True):
        choices = []
        for e in (e for e in best if e > p):
            piece = _piece_cost(p, e, (p, e) == (start, end), detail, gaps, boards, minimum, price_of)
            steps: list[Cost] = [(e - p, 0, 0, 0, 0)] + ([piece] if piece else [])
            choices += [tuple(a + b for a, b in zip(step, best[e], strict=True)) for step in steps]
        best[p] = min(choices)  # type: ignore[assignment]
    return best[start]


def _piece_cost(
    p: int,
    e: int,
    whole: bool,
    detail: Detail,
    gaps: Rows,
    boards: list[tuple[int, int]],
    minimum: int,
    price_of: PriceOf | None,
) -> Cost | None:
    """The cost of a piece over [p, e], None where none is allowed."""
    long_enough = [width for length, width in boards if length >= e - p]
    short = e - p < minimum
    if not long_enough or (short and not whole and e - p < ceil(Fraction(minimum, 10))):
        return None
    low, high = window(detail, gaps, p, e)
    tapered = 0
    if low > high:
        if short and not whole:
            return None
        ends = least_taper(detail, gaps, p, e, max(long_enough))
        if ends is None:
            return None
        tapered, low = 1, max(ends)
    if low > max(long_enough):
        return None
    if price_of is not None:
        return (0, int(short), 1, tapered, price_of(e - p, low))
    odd = int(not any(length == e - p and width >= low for length, width in boards))
    return (0, int(short), 1, tapered, odd)


def cost_of(project: Project, laid: LaidRuns) -> Cost:
    least = project.building.detail_of
    boards = sizes_that_follow_the_curve(project)
    return (
        sum(m.to_mm - m.from_mm for m in laid.not_planned if "tested range" not in m.reason),
        sum(piece.length_mm < least(piece.run).piece_length_min_mm for piece in laid.pieces),
        len(laid.pieces),
        sum(piece.tapered for piece in laid.pieces),
        sum(
            not any(length == piece.length_mm and width >= piece.width_min_mm for length, width in boards)
            for piece in laid.pieces
        ),
    )


@settings(max_examples=150, deadline=None)
@given(tiny_runs())
def test_where_all_pieces_have_one_price_no_layout_is_better_in_any_of_the_five_aims(
    project: Project,
) -> None:
    laid = lay_out(project, PieceValue(np.zeros((1, 1), dtype=np.int64)))
    judge(project, laid)
    assert cost_of(project, laid) == least_cost(project)


@settings(max_examples=150, deadline=None)
@given(tiny_runs())
def test_of_layouts_of_as_few_joints_and_tapers_none_takes_less_of_its_strips(project: Project) -> None:
    sizes = [board.size for board in project.boards]
    value = strip_price(frozenset(size.length_mm for size in sizes), max(size.width_mm for size in sizes))
    assert value is not None
    laid, least = lay_out(project), least_cost(project, lambda length, width: int(value.cost[length, width]))
    judge(project, laid)
    assert cost_of(project, laid)[:4] == least[:4]
    if not any(least[:2]):  # no last resort, in which windows choose
        taken = sum(int(value.cost[piece.length_mm, piece.width_min_mm]) for piece in laid.pieces)
        assert taken == least[4]


@settings(max_examples=40, deadline=None)
@given(projects(max_runs=3))
def test_leaping_over_positions_changes_nothing(project: Project) -> None:
    arrays = run_arrays(project)
    leaping = lay_out_arrays(arrays, project.detail)
    step_by_step = lay_out_arrays(arrays, project.detail, every_millimetre=True)
    assert leaping.rows.tolist() == step_by_step.rows.tolist()


# --- Arrays, prices, exactness ---------------------------------------------------------------------------


def test_arrays_that_do_not_fit_together_are_refused() -> None:
    project = one_run(3000, [(0, 150)])
    arrays = run_arrays(project)
    broken = RunArrays(**{**vars(arrays), "board_start": np.array([0, 0])})
    with pytest.raises(ValueError, match="fit together"):
        lay_out_arrays(broken, project.detail)


def test_a_draw_of_gaps_needs_only_new_gaps() -> None:
    project = one_run(2400, [(0, 150), (2400, 150)])
    arrays = run_arrays(project).with_gaps(np.array([160, 160]))
    assert lay_out_arrays(arrays, project.detail).width_min.tolist() == [176, 176]


@settings(max_examples=25, deadline=None)
@given(projects(max_runs=3), st.sampled_from((10, 50)))
def test_a_coarser_taper_step_keeps_every_rule(project: Project, step: int) -> None:
    exact = lay_out_arrays(run_arrays(project), project.detail)
    coarse = lay_out_arrays(run_arrays(project), project.detail, taper_step_mm=step)
    for laid in (exact, coarse):
        assert (laid.to_mm > laid.from_mm).all()
    pieces = coarse.pieces_only()
    assert set(pieces.kind.tolist()) <= {PIECE, TAPERED}
    for run, kind, from_mm, to_mm, *_, start, end in pieces.rows.tolist():
        gaps = [(gap.at_mm, gap.gap_mm) for gap in project.gaps_of()[project.runs[run].run]]
        if kind == TAPERED:
            assert taper_holds(project.detail, gaps, from_mm, to_mm, start, end)
        else:
            low, high = window(project.detail, gaps, from_mm, to_mm)
            assert start == low <= high


def test_prices_choose_among_the_fewest_pieces_or_beyond() -> None:
    project = one_run(2000, [(0, 150)])
    cost = np.full((1201, 201), 100, dtype=np.int64)
    cost[800, :] = 1  # 800 mm pieces are nearly free, 400 mm ones quite
    cost[400, :] = 0
    assert [p.length_mm for p in lay_out(project).pieces] in ([800, 1200], [1200, 800])
    fewest = lay_out(project, PieceValue(cost))
    assert sorted(p.length_mm for p in fewest.pieces) == [800, 1200]
    cheapest = lay_out(project, PieceValue(cost, fewest_pieces_first=False))
    assert sorted(p.length_mm for p in cheapest.pieces) == [400] * 5
    cost[1200, :] = 102
    cost[1000, :] = 50
    assert [p.length_mm for p in lay_out(project, PieceValue(cost)).pieces] == [1000, 1000]


@settings(max_examples=40, deadline=None)
@given(projects(max_runs=3), st.booleans(), st.randoms(use_true_random=False))
def test_prices_never_break_a_rule_nor_cost_more(project: Project, fewest_first: bool, random: Any) -> None:
    cost = np.array([[random.randint(0, 99) for _ in range(40)] for _ in range(40)], dtype=np.int64)
    cost = cost.repeat(40, axis=0).repeat(15, axis=1)
    plain = lay_out(project)
    priced = lay_out(project, PieceValue(cost, fewest_first))
    judge(project, priced)

    def price(laid: LaidRuns) -> tuple[int, int, int, int]:
        total = sum(
            int(cost[min(piece.length_mm, 1599), min(piece.width_min_mm, 599)]) for piece in laid.pieces
        )
        leading = cost_of(project, laid)[:2]
        return (*leading, len(laid.pieces), total) if fewest_first else (*leading, total, 0)

    assert price(priced) <= price(plain)


@settings(max_examples=30, deadline=None)
@given(st.integers(2, 10**7), st.integers(24, 10**6), st.integers(-1000, 1000))
def test_nothing_overflows_at_the_largest_sizes(length: int, gap: int, change: int) -> None:
    assume(gap + change >= 24)
    project = one_run(
        length,
        [(0, gap), (length, gap + change)],
        boards=((10**7, 10**7),),
        gap_min_mm=1,
        gap_max_mm=10**7,
        oversize_min=Decimal("0.123456789"),
        oversize_max=Decimal("0.987654321"),
    )
    laid = lay_out(project)
    assert laid.not_planned == ()
    assert [piece.from_mm for piece in laid.pieces] == [0, *(piece.to_mm for piece in laid.pieces[:-1])]
    assert laid.pieces[-1].to_mm == length
    gaps = [(0, gap), (length, gap + change)]
    for piece in laid.pieces:
        span = piece.from_mm, piece.to_mm
        if piece.tapered:
            assert taper_holds(project.detail, gaps, *span, piece.width_start_mm, piece.width_end_mm)
        else:
            assert (piece.width_min_mm, piece.width_max_mm) == window(project.detail, gaps, *span)


@pytest.mark.parametrize(
    "field",
    ["length", "knot_start", "knot_at", "knot_gap", "mullion_start", "mullion_at", "board_start", "board_length",
     "board_width"],
)  # fmt: skip
def test_each_array_of_the_runs_must_fit_the_others(field: str) -> None:
    project = one_run(
        3000, [(0, 150), (1500, 152)], mullions=(700, 1900), boards=((1200, 1000), (2400, 1000))
    )
    runs = run_arrays(project)
    assert len(lay_out_arrays(runs, project.detail).rows) > 0
    shorter = replace(runs, **{field: getattr(runs, field)[:-1]})
    with pytest.raises(ValueError, match="fit together"):
        lay_out_arrays(shorter, project.detail)
