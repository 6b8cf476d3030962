"""Joints and cutting together: as many joints, never more board, and sometimes a board less."""

from __future__ import annotations

import pytest
from hypothesis import given, settings

from optimiser.errors.problems import CannotBeDone
from optimiser.model.project import Board, Detail, Gap, Level, Project, Run
from optimiser.planning.plan import plan
from tests.builders import levels
from tests.builders.quick_plans import quick_plan
from tests.builders.random_projects import projects

# Run lengths and gaps, in mm: where the two pieces of a run are divided decides which rests share a strip.
LENGTHS_AND_GAPS = (
    (1900, 300), (1660, 300), (1590, 300), (1300, 300), (2390, 240), (1600, 180), (1310, 240), (1680, 240),
    (2150, 180), (2250, 240), (1320, 180), (2070, 240), (1320, 180), (2330, 150), (1890, 300), (2060, 240),
    (1580, 240), (1760, 240), (1830, 150), (1740, 300), (1840, 180), (2020, 240), (2040, 150), (1660, 150),
    (2360, 150), (1960, 240), (1600, 300), (1490, 240), (1680, 240), (1880, 300),
)  # fmt: skip


def building() -> Project:
    """Thirty short runs of one level; invented."""
    names = [f"R{number}" for number in range(len(LENGTHS_AND_GAPS))]
    return Project(
        detail=Detail(),
        products=(Board(code="B", length_mm=1200, width_mm=1000, per_pack=1, price="200.00"),),
        levels=(Level(level="L01", sequence=1),),
        runs=tuple(
            Run(run=name, level="L01", length_mm=length, board=("B",))
            for name, (length, _) in zip(names, LENGTHS_AND_GAPS, strict=True)
        ),
        gaps=tuple(
            Gap(run=name, at_mm=0, gap_mm=gap, basis="measured")
            for name, (_, gap) in zip(names, LENGTHS_AND_GAPS, strict=True)
        ),
    )


def test_prices_save_a_board_that_no_cutting_of_the_first_joints_can_save() -> None:
    first, priced = plan(building(), joint_rounds=0), plan(building(), joint_rounds=3)
    assert first.boards["B"].lower_bound == 13
    assert priced.boards["B"].count == 12
    assert len(priced.pieces) == len(first.pieces)


def test_rounds_run_by_default_where_they_may_pay_and_are_few() -> None:
    assert plan(building()).boards["B"].count == 12


def test_no_joints_are_laid_again_where_no_others_can_cost_less(monkeypatch: pytest.MonkeyPatch) -> None:
    """One board for three levels: the bound over all joints says so. Nor where no round is asked for."""
    monkeypatch.setattr("optimiser.boards.cut.improve_joints", None)  # to call it fails
    (proof,) = plan(levels.building()).proofs
    assert proof.boards == proof.lower_bound_any_joints == 1
    plan(levels.building(), joint_rounds=2)
    plan(building(), joint_rounds=0)


@pytest.mark.slow
def test_equal_projects_give_equal_joints() -> None:
    assert plan(building(), joint_rounds=3).pieces == plan(building(), joint_rounds=3).pieces


def test_a_time_limit_holds_for_both_cuttings_together() -> None:
    limited = plan(building(), joint_rounds=3, time_limit=0.01)
    assert limited.boards["B"].count in {12, 13, 14}  # judged like any plan


@settings(max_examples=15, deadline=None)
@given(projects(max_runs=4))
def test_priced_joints_are_as_few_and_cost_no_more(project: Project) -> None:
    try:
        first = quick_plan(project, joint_rounds=0)
    except CannotBeDone:
        return
    priced = quick_plan(project, joint_rounds=2)
    assert len(priced.pieces) == len(first.pieces)
    assert len(priced.not_planned) == len(first.not_planned)
    assert sum(p.cost_cents for p in priced.proofs) <= sum(p.cost_cents for p in first.proofs)
