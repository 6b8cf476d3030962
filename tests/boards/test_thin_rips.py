"""No rip thinner than the detail's strip_min_mm where strips may grow inside the windows of their pieces."""

from __future__ import annotations

import random

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from optimiser.checking import broken_rules_of_plan
from optimiser.errors.problems import CannotBeDone
from optimiser.model.plan import Plan
from optimiser.model.planned_boards import ThinRip
from optimiser.model.project import Board, Bracket, Gap, Level, Project, Run
from optimiser.planning.plan import plan
from optimiser.reading import read_project
from optimiser.replanning.replan import replan
from tests.builders.job import JobOnSite, measured_again, of_level
from tests.builders.quick_plans import quick_plan
from tests.builders.random_projects import projects
from tests.builders.sample_plans import SAMPLES


def a_level(gap_mm: int, pieces: int, width_mm: int, strip_min_mm: int, **rules: object) -> Project:
    """One run of `pieces` full lengths over one gap, cut from boards `width_mm` wide."""
    made = Project(
        products=(Board(code="B", length_mm=1200, width_mm=width_mm), Bracket(code="K", length_mm=110)),
        levels=(Level(level="L1", sequence=1),),
        runs=(Run(run="N", level="L1", length_mm=1200 * pieces, board=("B",)),),
        gaps=(Gap(run="N", at_mm=0, gap_mm=gap_mm),),
    )
    rules = {"strip_min_mm": strip_min_mm, **rules} if strip_min_mm else rules
    return made.model_copy(update={"detail": type(made.detail)(**rules)})


def edges(made: Plan) -> list[int]:
    """What is left of each board's width."""
    return [1000 - sum(strip.width_mm for strip in layout.strips) for layout in made.layouts]


# gap 150: windows of 165 to 172; six strips of 165 leave 10 mm of a board of 1000
def test_a_sliver_is_absorbed_by_strips_that_grow_inside_their_windows() -> None:
    assert edges(plan(a_level(150, 6, 1000, 0))) == [10]
    made = plan(a_level(150, 6, 1000, 20))
    assert edges(made) == [0]
    assert all(165 <= piece.cut_width_start_mm <= 172 for piece in made.pieces)
    assert sum(piece.cut_width_start_mm for piece in made.pieces) == 1000
    assert made.thin_rips == ()


def test_as_few_strips_as_can_be_change_their_width() -> None:
    made = plan(a_level(150, 6, 1000, 20))
    assert sorted(piece.cut_width_start_mm for piece in made.pieces) == [165, 165, 165, 165, 168, 172]


def test_what_the_windows_cannot_absorb_is_listed_with_its_board() -> None:
    made = plan(a_level(150, 6, 1040, 60))  # 50 mm are left, six strips may take 42
    assert made.thin_rips == (ThinRip(layout=1, kind="edge", width_mm=50),)
    assert made.thin_rips[0].words == "pattern 1: 50 mm off the edge"
    assert {piece.cut_width_start_mm for piece in made.pieces} == {165}


def test_a_rest_as_wide_as_asked_for_stays() -> None:
    assert edges(plan(a_level(150, 6, 1000, 10))) == [10]


def test_a_strip_that_is_itself_too_thin_grows_or_is_listed() -> None:
    thin = plan(a_level(25, 3, 1000, 40))  # window 28 mm alone
    assert {rip.kind for rip in thin.thin_rips} == {"strip"}
    assert [rip.width_mm for rip in thin.thin_rips] == [28, 28, 28]
    wide = plan(a_level(30, 3, 1000, 34, oversize_max="0.20"))  # 33 to 36
    assert wide.thin_rips == ()
    assert {piece.cut_width_start_mm for piece in wide.pieces} == {34}


def test_a_saw_takes_its_part_before_anything_is_left() -> None:
    made = plan(a_level(150, 6, 1000, 20, kerf_mm=1))  # 990 and five kerfs: 5 mm are left
    assert sum(strip.width_mm for strip in made.layouts[0].strips) == 995
    assert made.thin_rips == ()


def test_where_it_is_not_given_nothing_changes() -> None:
    made = plan(a_level(150, 6, 1000, 0))
    assert made.thin_rips == ()
    assert {piece.cut_width_start_mm for piece in made.pieces} == {165}
    assert "strip_min_mm" not in " ".join(made.warnings)


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(projects(), st.integers(5, 60))
def test_boards_and_money_stay_as_they_are(project: Project, least: int) -> None:
    try:
        before = quick_plan(project)
    except CannotBeDone:
        assume(False)
        raise
    details = {
        name: detail.model_copy(update={"strip_min_mm": least}) for name, detail in project.details.items()
    }
    detail = type(project.detail)(**{**project.detail.model_dump(exclude_unset=True), "strip_min_mm": least})
    asked = project.model_copy(update={"detail": detail, "details": details})
    made = quick_plan(asked)  # judged
    assert made.boards == before.boards
    assert made.order.total == before.order.total
    assert sum(rest.quantity for rest in made.left_over) == sum(rest.quantity for rest in before.left_over)
    assert made.waiting == before.waiting


@pytest.mark.parametrize("change", ["silent", "false alarm", "not absorbed"])
def test_the_judge_finds_a_thin_rip_that_is_hidden_made_up_or_could_be_absorbed(change: str) -> None:
    made = plan(a_level(150, 6, 1040, 60))
    if change == "silent":
        told = made.model_copy(update={"thin_rips": ()})
        expected = "is not listed"
    elif change == "false alarm":
        more = (*made.thin_rips, ThinRip(layout=1, kind="strip", strip=2, width_mm=12))
        told = made.model_copy(update={"thin_rips": more})
        expected = "but it does not"
    else:
        asked = a_level(150, 6, 1000, 20)
        plain = plan(a_level(150, 6, 1000, 0))
        told = plain.model_copy(
            update={"project": asked, "thin_rips": (ThinRip(layout=1, kind="edge", width_mm=10),)}
        )
        expected = "although its strips may be wider"
    assert any(expected in line for line in broken_rules_of_plan(told))


@pytest.mark.slow
def test_a_job_that_goes_on_keeps_the_rule() -> None:
    project = read_project(SAMPLES / "small" / "small.xlsx")
    rules = {**project.detail.model_dump(exclude_unset=True), "strip_min_mm": 25}
    made = plan(project.model_copy(update={"detail": type(project.detail)(**rules)}), advise=False)
    job = JobOnSite()
    job.order_all(made)
    first = made.project.levels_in_order()[0].level
    job.deliver(made, first)
    job.cut_and_fit(of_level(made, first)[:6])
    survey = measured_again(made.project, first, random.Random(3))
    assert broken_rules_of_plan(replan(made, job.record, survey)) == []
