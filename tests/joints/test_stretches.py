"""What decides the joint layouts of a stretch, millimetre by millimetre."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from math import ceil, floor

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimiser.joints.layout import lay_out
from optimiser.joints.stretches import NEVER, stretches_of
from optimiser.kernels.reference.least_priced import PARTS
from optimiser.model.project import Project
from optimiser.survey.compression import WidthRates
from optimiser.survey.gap_line import GapAlongRun
from tests.builders.random_projects import projects
from tests.joints.test_layout import Rows, gap_at, one_run, window


@pytest.mark.parametrize("rate", ["0.1", "0.100000001"])
def test_widths_are_exact_at_every_millimetre(rate: str) -> None:
    """Rates of nine decimals too, whose products pass 64 bits."""
    project = one_run(
        9000, [(0, 150), (8999, 161)], oversize_min=Decimal(rate), oversize_max=Decimal("0.150000001")
    )
    rates, gap = WidthRates.of(project.detail), GapAlongRun.of(project.gaps)
    tables = stretches_of(project, project.runs, [0]).tables
    for x in (0, 1, 4500, 8998, 9000):
        assert tables.least[x] == rates.width_min(*gap.ratio_at(x))
        assert tables.greatest[x] == rates.width_max(*gap.ratio_at(x))


def test_joints_keep_clear_of_mullions_and_ends_are_always_joints() -> None:
    project = one_run(2000, [(0, 150)], mullions=(50, 1000), joint_to_mullion_min_mm=100)
    joint = stretches_of(project, project.runs, [0]).tables.joint
    assert [int(joint[x]) for x in (0, 1, 149, 150, 900, 901, 1099, 1100, 2000)] == [
        1,
        0,
        0,
        1,
        1,
        0,
        0,
        1,
        1,
    ]


def test_a_stretch_beyond_the_tested_range_parts_a_run_in_two() -> None:
    project = one_run(6000, [(0, 150), (2900, 150), (3000, 500), (3100, 150)], gap_max_mm=200)
    stretches = stretches_of(project, project.runs, [0])
    assert stretches.run == (0, 0)


def test_each_stretch_has_its_own_positions_and_mullions() -> None:
    """Out of range from 2907 to 3092 mm: joints are barred at the mullions of each part, counted from its own start."""
    project = one_run(
        6000,
        [(0, 150), (2900, 150), (3000, 500), (3100, 150)],
        mullions=(500, 4500),
        gap_max_mm=200,
        joint_to_mullion_min_mm=100,
    )
    tables = stretches_of(project, project.runs, [0]).tables
    start, middle, stop = tables.point_start.tolist()
    second_from = 6000 - (stop - middle - 1)
    assert 3000 < second_from < 3100
    first = [at for at in range(middle - start) if not tables.joint[at]]
    second = [second_from + at for at in range(stop - middle) if not tables.joint[middle + at]]
    assert first == list(range(401, 600))
    assert second == list(range(4401, 4600))


def test_the_edge_of_a_tapered_piece_stays_within_the_window_in_parts_of_a_millimetre() -> None:
    project = one_run(
        2400, [(0, 150), (2400, 174)], oversize_min=Decimal("0.10"), oversize_max=Decimal("0.15")
    )
    tables = stretches_of(project, project.runs, [0]).tables
    for at in (0, 37, 1200, 2400):
        gap = Fraction(150) + Fraction(at, 100)
        assert tables.need[at] == floor(PARTS * gap * Fraction(110, 100))
        assert tables.cap[at] == ceil(PARTS * gap * Fraction(115, 100))


def test_the_gap_is_constant_before_the_first_and_after_the_last_measured_position() -> None:
    project = one_run(3000, [(1000, 150), (2000, 160)])
    least = stretches_of(project, project.runs, [0]).tables.least.tolist()
    assert set(least[:1001]) == {165}
    assert least[1500] == 171  # 155 x 1.10 = 170.5
    assert set(least[2000:]) == {176}


@pytest.mark.parametrize(
    "steps", [[(0, 100), (60, 100)], [(0, 100), (30, 104), (60, 96)], [(10, 90), (50, 100)]]
)
@pytest.mark.parametrize("most", ["0.12", "0.15", "0.20"])
@pytest.mark.parametrize("board", [15, 20, 21, 80])
def test_a_piece_may_be_tapered_where_no_single_width_serves_the_longest_board(
    steps: Rows, most: str, board: int
) -> None:
    """A shorter run: all of it. A millimetre that tapers may have is enough, and without tapers none is."""
    for rise in range(20):
        gaps = [(at, gap + rise * at // 60) for at, gap in steps]
        project = one_run(
            60, gaps, boards=((board, 1000),), oversize_max=Decimal(most), piece_length_min_mm=1
        )
        spans = [(start, start + min(board, 60)) for start in range(60 - min(board, 60) + 1)]
        windows = [window(project.detail, gaps, *span) for span in spans]
        stretches = stretches_of(project, project.runs, [0])
        least, none = (replace(stretches, rules=stretches.rules._replace(taper_max=most)) for most in (1, 0))
        assert least.may_taper == any(low > high for low, high in windows)
        assert not none.may_taper


@pytest.mark.parametrize("step", [7, 10, 24])
def test_fewer_joints_are_at_multiples_of_a_step_from_either_end_and_just_clear_of_mullions(
    step: int,
) -> None:
    project = one_run(
        6000, [(0, 150), (2900, 150), (3000, 500), (3100, 150)], (500, 520, 4500), gap_max_mm=200
    )
    stretches = stretches_of(project, project.runs, [0])
    every = stretches.every(step).tables.joint
    starts = stretches.tables.point_start.tolist()
    for start, stop in pairwise(starts):
        allowed = stretches.tables.joint[start:stop].tolist()
        last = len(allowed) - 1
        beside = [not all(allowed[max(0, at - 1) : at + 2]) for at in range(len(allowed))]
        expected = [
            int(bool(allowed[at] and (at % step == 0 or (last - at) % step == 0 or beside[at])))
            for at in range(len(allowed))
        ]
        assert every[start:stop].tolist() == expected


def test_measured_positions_count_from_the_stretch_s_own_start() -> None:
    """Out of range around 3000 mm: the second stretch knows the last reading before it, which lies behind its start."""
    gaps = [(0, 150), (2900, 150), (3000, 500), (3100, 150), (4000, 160)]
    project = one_run(6000, gaps, gap_max_mm=200)
    tables = stretches_of(project, project.runs, [0]).tables
    start, middle, stop = tables.point_start.tolist()
    for number, (first, last) in enumerate(((start, middle), (middle, stop))):
        from_mm = 0 if number == 0 else 6000 - (stop - middle - 1)
        to_mm = from_mm + last - first - 1
        knots = slice(*tables.knot_start[number : number + 2].tolist())
        readings = zip(tables.knot_at[knots].tolist(), tables.knot_gap[knots].tolist(), strict=True)
        for at, gap in readings:
            assert gap == gap_at(gaps, from_mm + at)
        assert min(tables.knot_at[knots]) <= 0
        assert max(tables.knot_at[knots]) >= to_mm - from_mm
        following = [
            min((at - from_mm for at, _ in gaps if at > here), default=NEVER)
            for here in range(from_mm, to_mm + 1)
        ]
        assert tables.next_knot[first:last].tolist() == following


def test_a_tapered_piece_may_pay_for_a_millimetre_less_than_any_whole_width_would_serve() -> None:
    """From 41 to 42 mm at 10 to 13 %: 45.1 mm at the least, so 46 is the least whole width. No single one serves both
    ends, and the mean of a straight edge may be 45.65 mm: it pays for 45."""
    project = one_run(1000, [(0, 41), (1000, 42)], oversize_min=Decimal("0.10"), oversize_max=Decimal("0.13"))
    stretches = stretches_of(project, project.runs, [0])
    _, rows = stretches.least_priced(np.ones((1, 60, 1201), dtype=np.int64))
    ((_, from_mm, to_mm, paid, tapered),) = rows.tolist()
    assert (from_mm, to_mm, bool(tapered)) == (0, 1000, True)
    assert paid == stretches.least_paid == 45
    assert stretches.tables.least.min() == 46
    level = one_run(1000, [(0, 1)], gap_min_mm=1, oversize_min=Decimal(0), oversize_max=Decimal(1))
    assert stretches_of(level, level.runs, [0]).least_paid == 1  # never for nothing


@settings(max_examples=30, deadline=None)
@given(projects(max_runs=3))
def test_stretches_have_as_many_pieces_as_the_layout_of_fewest_joints(project: Project) -> None:
    laid = lay_out(project).pieces
    with_pieces = [run for run in project.runs if any(piece.run == run.run for piece in laid)]
    for detail in {run.detail for run in with_pieces}:
        runs = [run for run in with_pieces if run.detail == detail]
        names = {run.run for run in runs}
        stretches = stretches_of(project, runs, [0] * len(runs))
        assert stretches.tables.pieces.sum() == sum(piece.run in names for piece in laid)


@settings(max_examples=30, deadline=None)
@given(projects(max_runs=3), st.integers(0, 1000))
def test_the_least_priced_layout_has_the_pieces_of_the_layout_chosen(project: Project, seed: int) -> None:
    """Both know the same pieces: else the bound would be one over other layouts than those that may be chosen."""
    laid = lay_out(project)
    runs = tuple(run for run in project.runs if any(piece.run == run.run for piece in laid.pieces))
    if not runs or len({run.detail for run in runs}) > 1:
        return
    stretches = stretches_of(project, runs, [0] * len(runs))
    prices = np.random.default_rng(seed).integers(0, 10**6, (1, stretches.widest + 1, 1251), dtype=np.int64)
    _, rows = stretches.least_priced(prices)
    for number, run in enumerate(runs):
        of_run = [row for row in rows.tolist() if stretches.run[row[0]] == number]
        assert len(of_run) == sum(piece.run == run.run for piece in laid.pieces)
