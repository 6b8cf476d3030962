"""What is asked of readings: their spacing, their neighbours, their digits, their nominal gap and their age."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from optimiser.model.project import Project
from optimiser.survey.questions import questions_of
from tests.builders.surveys import NEEDED_ON, NOMINAL, SIDES, quiet_survey, with_gap, with_gaps, with_run


def asked(project: Project) -> list[tuple[str, str, int]]:
    return [(question.rule, question.run, question.at_mm) for question in questions_of(project)]


@pytest.mark.parametrize("storeys", [1, 2, 3, 9])
def test_a_survey_that_nothing_is_wrong_with_is_not_asked_about(storeys: int) -> None:
    assert asked(quiet_survey(storeys)) == []


# -- spacing


def test_readings_that_end_at_9_m_of_a_run_of_37_8_m_are_asked_about() -> None:
    short = with_gaps(quiet_survey(), "L02-N", lambda gap: gap if gap.at_mm <= 9000 else None)
    (question,) = questions_of(short)
    assert (question.rule, question.run, question.at_mm) == ("spacing", "L02-N", 9000)
    assert "37800" in question.says
    assert "28800 mm have no reading" in question.says
    assert question.measure_at_mm[0] == 10_500
    assert question.measure_at_mm[-1] == 37_800


def test_a_run_without_a_reading_at_its_start_is_asked_about() -> None:
    late = with_gaps(quiet_survey(), "L01-E", lambda gap: gap if gap.at_mm >= 3000 else None)
    assert asked(late) == [("spacing", "L01-E", 0)]


def test_one_reading_left_out_of_an_even_survey_is_asked_about_and_neighbouring_holes_are_one_question() -> (
    None
):
    one = with_gaps(quiet_survey(), "L03-S", lambda gap: None if gap.at_mm == 6000 else gap)
    assert [(q.at_mm, q.measure_at_mm) for q in questions_of(one)] == [(4500, (6000,))]
    two = with_gaps(quiet_survey(), "L03-S", lambda gap: None if gap.at_mm in (6000, 9000) else gap)
    assert [(q.at_mm, q.measure_at_mm) for q in questions_of(two)] == [(4500, (6000, 7500, 9000))]


def test_an_uneven_survey_is_held_against_the_limit_alone() -> None:
    odd = with_gaps(quiet_survey(), "L01-N", lambda gap: None if gap.at_mm % 4500 in (1500, 3000) else gap)
    assert {rule for rule, run, _ in asked(odd) if run == "L01-N"} == {"spacing"}
    assert asked(
        odd.model_copy(update={"survey_limits": quiet_survey(reading_spacing_max_mm=4500).survey_limits})
    )


def test_a_nominal_level_is_not_asked_for_readings() -> None:
    nominal = with_gaps(
        quiet_survey(),
        "L03-N",
        lambda gap: gap.model_copy(update={"basis": "nominal"}) if gap.at_mm == 0 else None,
    )
    assert asked(nominal) == []


# -- gaps that their neighbours contradict


def test_a_gap_that_stands_alone_is_asked_about_and_its_neighbours_are_not() -> None:
    wrong = with_gap(quiet_survey(), "L02-N", 9000, gap_mm=193)
    (question,) = questions_of(wrong)
    assert (question.rule, question.run, question.at_mm, question.value) == (
        "outlier",
        "L02-N",
        9000,
        "193 mm",
    )
    assert "at 7500 mm" in question.why
    assert "at 10500 mm" in question.why
    assert "usually differ" in question.why  # the rule is told with its figures
    assert 9000 in question.measure_at_mm


@pytest.mark.parametrize("at_mm", [0, 37_800])
def test_a_gap_at_an_end_of_a_run_is_held_against_the_next_two(at_mm: int) -> None:
    assert ("outlier", "L01-S", at_mm) in asked(with_gap(quiet_survey(1), "L01-S", at_mm, gap_mm=199))


def test_a_true_step_of_the_edge_is_not_asked_about() -> None:
    stepped = with_gaps(
        quiet_survey(),
        "L02-N",
        lambda gap: gap.model_copy(update={"gap_mm": gap.gap_mm + 14 * (gap.at_mm >= 15_000)}),
    )
    assert asked(stepped) == []


def test_wrong_readings_side_by_side_are_found_by_the_levels_above_and_below() -> None:
    wrong = with_gaps(
        quiet_survey(5),
        "L03-N",
        lambda gap: gap.model_copy(update={"gap_mm": 199}) if gap.at_mm in (9000, 10_500) else gap,
    )
    found = [question for question in questions_of(wrong) if question.run == "L03-N"]
    assert {question.at_mm for question in found} == {9000, 10_500}
    assert "Above and below" in found[0].why
    assert "L02-N" in found[0].why


def test_many_wrong_readings_do_not_hide_each_other() -> None:
    """The scale is a median over the whole survey: a tenth of the readings of a level being wrong moves nothing."""
    project = quiet_survey()
    places = [("L01-N", 4500), ("L01-N", 9000), ("L01-N", 15_000), ("L02-E", 9000), ("L02-S", 3000)]
    for run, at_mm in places:
        project = with_gap(project, run, at_mm, gap_mm=NOMINAL[run[-1]] + 33)
    assert [(run, at_mm) for _, run, at_mm in asked(project)] == places


def test_noise_sets_its_own_limit() -> None:
    """Where every reading differs by some 12 mm from the next, 20 mm more is nothing; where it is quiet, it is."""

    def noisy(gap: object) -> object:
        return gap.model_copy(update={"gap_mm": gap.gap_mm + (12 if gap.at_mm % 3000 else 0)})  # type: ignore[attr-defined]

    loud = quiet_survey(1)
    for run in loud.runs:
        loud = with_gaps(loud, run.run, noisy)  # type: ignore[arg-type]
    assert ("outlier", "L01-N", 9000) in asked(with_gap(quiet_survey(1), "L01-N", 9000, gap_mm=182))
    assert asked(with_gap(loud, "L01-N", 9000, gap_mm=192)) == []


def test_the_limits_are_the_projects_own() -> None:
    wrong = with_gap(quiet_survey(outlier_least_mm=40, level_least_mm=60), "L02-N", 9000, gap_mm=193)
    assert asked(wrong) == []


# -- slips of the pen


@pytest.mark.parametrize(
    ("right", "typed", "meant"),
    [(161, 116, 161), (162, 126, 162), (163, 16, 160), (160, 106, 160)],
)
def test_a_slip_that_fits_when_it_is_undone_is_named(right: int, typed: int, meant: int) -> None:
    wrong = with_gap(with_gap(quiet_survey(), "L02-N", 9000, gap_mm=right), "L02-N", 9000, gap_mm=typed)
    (question,) = questions_of(wrong)
    assert (question.rule, question.at_mm, question.value) == ("digits", 9000, f"{typed} mm")
    assert f"{meant} mm, not {typed} mm" in question.says


def test_a_slip_that_does_not_fit_is_not_named() -> None:
    assert asked(with_gap(quiet_survey(), "L02-N", 9000, gap_mm=138)) == [("outlier", "L02-N", 9000)]


@pytest.mark.parametrize(
    ("at_mm", "typed"), [(15_000, 15), (27_000, 2700), (37_800, 3780), (19_500, 15_900), (12_000, 1200)]
)
def test_a_position_that_leaves_a_hole_where_it_belongs_is_asked_about_once(at_mm: int, typed: int) -> None:
    wrong = with_gap(quiet_survey(), "L02-N", at_mm, at_mm=typed)
    (question,) = questions_of(wrong)
    assert (question.rule, question.run, question.at_mm) == ("digits", "L02-N", typed)
    assert f"taken at {at_mm} mm" in question.says
    assert question.measure_at_mm == (typed, at_mm)


# -- nominal gaps and old readings


def test_a_measured_gap_beyond_the_tolerance_of_the_nominal_one_is_asked_about() -> None:
    mixed = with_gap(quiet_survey(), "L02-N", 0, basis="nominal", gap_mm=150, tolerance_mm=14)
    found = [question for question in questions_of(mixed) if question.rule == "nominal"]
    assert found == []
    mixed = with_gap(mixed, "L02-N", 4500, gap_mm=169)
    (question,) = [question for question in questions_of(mixed) if question.rule in ("nominal", "outlier")]
    assert (question.run, question.at_mm) == ("L02-N", 4500)
    assert "tolerance is 14 mm" in question.why


def test_an_approximate_gap_speaks_for_the_readings_beside_it_alone() -> None:
    rough = with_gap(quiet_survey(1), "L01-N", 9000, basis="nominal", gap_mm=135)
    found = [question.at_mm for question in questions_of(rough) if question.rule == "nominal"]
    assert found == [6000, 7500, 10_500, 12_000]
    near = with_gap(quiet_survey(1, nominal_tolerance_mm=30), "L01-N", 9000, basis="nominal", gap_mm=135)
    assert asked(near) == []


def test_a_reading_too_old_on_the_day_its_level_is_needed_is_asked_about() -> None:
    needed_on = NEEDED_ON + timedelta(weeks=2)
    for days, questions in ((42, 0), (43, 1)):
        dated = with_gap(quiet_survey(), "L02-N", 3000, taken_on=needed_on - timedelta(days=days))
        assert asked(dated) == [("age", "L02-N", 3000)] * questions
    whole = with_gaps(
        quiet_survey(), "L02-N", lambda gap: gap.model_copy(update={"taken_on": date(2026, 1, 4)})
    )
    (question,) = questions_of(whole)
    assert "27 readings" in question.says
    assert len(question.measure_at_mm) == 27


def test_the_detail_says_how_old_a_reading_may_be() -> None:
    dated = with_gap(quiet_survey(), "L02-N", 3000, taken_on=NEEDED_ON)
    strict = dated.model_copy(update={"detail": dated.detail.model_copy(update={"reading_age_max_days": 7})})
    assert (asked(dated), asked(strict)) == ([], [("age", "L02-N", 3000)])


def test_a_level_without_a_date_has_no_old_readings() -> None:
    dated = with_gap(quiet_survey(), "L02-N", 3000, taken_on=date(2020, 1, 1))
    levels = tuple(level.model_copy(update={"needed_on": None}) for level in dated.levels)
    assert asked(dated.model_copy(update={"levels": levels})) == []


# -- all of them


def test_questions_stand_by_level_and_in_walking_order() -> None:
    project = quiet_survey(4)
    for run, at_mm in (("L03-W", 3000), ("L01-S", 9000), ("L03-N", 4500), ("L01-S", 4500), ("L02-E", 0)):
        project = with_gap(project, run, at_mm, gap_mm=NOMINAL[run[-1]] + 37)
    assert [(run, at_mm) for _, run, at_mm in asked(project)] == [
        ("L01-S", 4500), ("L01-S", 9000), ("L02-E", 0), ("L03-N", 4500), ("L03-W", 3000),
    ]  # fmt: skip


def test_a_survey_without_runs_above_or_joints_can_be_asked_too() -> None:
    lonely = quiet_survey(1)
    for side in SIDES:
        lonely = with_run(lonely, f"L01-{side}", joins="", mullions_mm=())
    assert asked(lonely) == []
