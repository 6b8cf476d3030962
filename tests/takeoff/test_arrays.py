"""The compiled count of brackets, joints and tape says what `optimiser.takeoff.brackets` says, piece by piece."""

from __future__ import annotations

import random
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimiser.errors.problems import CannotBeDone
from optimiser.joints.layout import laid_by_strips, lay_out, lay_out_arrays, run_arrays
from optimiser.model.project import Board, Bracket, Detail, Gap, Level, Project, Run
from optimiser.planning.pieces import planned_pieces
from optimiser.survey.gap_line import GapAlongRun
from optimiser.takeoff.arrays import NO_SIZE, NO_STAND, accessory_counts
from optimiser.takeoff.brackets import brackets_of, joint_tape_mm, joints_of
from optimiser.takeoff.junctions import junctions_between
from tests.builders.random_projects import projects


def assert_equal_counts(project: Project) -> None:
    sizes = project.brackets
    runs = run_arrays(project)
    details = project.building.details
    rows = laid_by_strips(project, runs).pieces_only()
    counted = accessory_counts(runs, rows, details, [size.reach_mm for size in sizes])
    pieces = lay_out(project).pieces
    for piece, size, brackets, expected in zip(
        pieces, counted.size.tolist(), counted.brackets.tolist(), brackets_of(project, pieces), strict=True
    ):
        code = sizes[size].code if size >= 0 else None
        assert (code, brackets) == (expected.bracket, len(expected.positions_mm)), piece
    along = {run: GapAlongRun.of(gaps) for run, gaps in project.gaps_of().items()}
    joints, detail_of = joints_of(pieces), project.building.detail_of
    junctions = junctions_between(project, planned_pieces(project, pieces, {})[0])
    assert counted.joints == sum(map(len, joints.values())) + len(junctions)
    assert counted.tape_mm == sum(junction.tape_mm for junction in junctions) + sum(
        joint_tape_mm(detail_of(run), along[run], at) for run, places in joints.items() for at in places
    )


@settings(max_examples=60, deadline=None)
@given(projects())
def test_counts_equal_those_of_the_plan_on_random_projects(project: Project) -> None:
    assert_equal_counts(project)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10**6))
def test_counts_equal_those_of_the_plan_among_crowded_mullions_and_wandering_gaps(seed: int) -> None:
    draws = random.Random(seed)
    runs, gaps = [], []
    for number in range(6):
        length = draws.randrange(400, 9_000)
        mullions = sorted(
            {draws.randrange(1, length) for _ in range(length // draws.choice((300, 500, 900)))}
        )
        runs.append(Run(run=f"R{number}", level="L1", length_mm=length, board=("B",), mullions_mm=mullions))
        nominal = draws.randrange(60, 240)
        gaps += [
            Gap(run=f"R{number}", at_mm=at, gap_mm=nominal + draws.randrange(-8, 9))
            for at in range(0, length + 1, draws.choice((700, 1100, 2300)))
        ]
    clearance = draws.choice((0, 40, 75, 140))
    project = Project(
        detail=Detail(
            bracket_to_mullion_min_mm=clearance,
            joint_to_mullion_min_mm=draws.choice((0, 100)),
            bracket_insertion_min=draws.choice((Decimal("0.6"), Decimal("0.7"))),
        ),
        products=(
            Board(code="B", length_mm=1200, width_mm=1000),
            *(
                Bracket(code=f"K-{place}", length_mm=reach)
                for place, reach in enumerate(draws.sample(range(40, 200), 30))
            ),
        ),
        levels=(Level(level="L1", sequence=1),),
        runs=runs,
        gaps=gaps,
    )
    assert_equal_counts(project)


def one_piece(mullions_mm: tuple[int, ...], gap_mm: int) -> tuple[int, int]:
    project = Project(
        products=(
            Board(code="B", length_mm=1200, width_mm=1000),
            Bracket(code="K-110", length_mm=110),
        ),
        levels=(Level(level="L1", sequence=1),),
        runs=(Run(run="R", level="L1", length_mm=1200, board=("B",), mullions_mm=mullions_mm),),
        gaps=(Gap(run="R", at_mm=0, gap_mm=gap_mm),),
    )
    runs = run_arrays(project)
    rows = lay_out_arrays(runs, project.detail).pieces_only()
    counted = accessory_counts(runs, rows, project.detail, [110])
    return int(counted.size[0]), int(counted.brackets[0])


def test_a_piece_without_a_size_or_a_place_says_which() -> None:
    assert one_piece((), 150) == (
        0,
        2,
    )  # 150 mm gap -> 110 mm bracket, two on 1200 mm: common practice, no source
    assert one_piece((), 200) == (NO_SIZE, 0)
    assert one_piece(tuple(range(60, 1200, 120)), 150) == (NO_STAND, 0)


def test_an_insertion_too_fine_to_compare_exactly_is_refused() -> None:
    project = Project(
        products=(Board(code="B", length_mm=1200, width_mm=1000),),
        levels=(Level(level="L1", sequence=1),),
        runs=(Run(run="R", level="L1", length_mm=1200, board=("B",)),),
        gaps=(Gap(run="R", at_mm=0, gap_mm=150),),
    )
    runs = run_arrays(project)
    rows = lay_out_arrays(runs, project.detail).pieces_only()
    with pytest.raises(CannotBeDone, match="six decimals"):
        accessory_counts(runs, rows, Detail(bracket_insertion=Decimal("0.7500001")), [110])
