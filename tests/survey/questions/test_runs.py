"""What is asked of runs: their mullions, their lengths, where they meet, and which run lies above which."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings

from optimiser import survey as callable_name
from optimiser.checking import broken_rules_of_plan
from optimiser.model.project import Project
from optimiser.model.question import Question
from optimiser.survey.questions import questions_of, survey
from optimiser.survey.questions.corresponding import name_within_level, runs_above_and_below
from optimiser.survey.questions.robust import agreed_part, median, usual_size
from tests.builders.random_projects import projects
from tests.builders.small_plan import small_plan
from tests.builders.surveys import SIDES, quiet_survey, with_gaps, with_run


def asked(project: Project) -> list[tuple[str, str, int]]:
    return [(question.rule, question.run, question.at_mm) for question in questions_of(project)]


# -- mullions


@pytest.mark.parametrize("storeys", [1, 2, 3])
def test_mullions_that_end_after_the_third_are_asked_about(storeys: int) -> None:
    wrong = with_run(quiet_survey(storeys), "L01-N", mullions_mm=(750, 2250, 3750))
    (question,) = questions_of(wrong)
    assert (question.rule, question.run, question.value) == ("mullions", "L01-N", "3 mullions")


def test_a_mullion_missing_in_the_middle_is_asked_about_with_its_place() -> None:
    mullions = tuple(at for at in range(750, 37_300, 1500) if at != 12_750)
    above = questions_of(with_run(quiet_survey(3), "L02-N", mullions_mm=mullions))
    assert [question.at_mm for question in above] == [12_750]
    alone = questions_of(with_run(quiet_survey(1), "L01-N", mullions_mm=mullions))
    assert [(question.at_mm, "1 may be missing" in question.why) for question in alone] == [(11_250, True)]


def test_a_broken_pitch_that_every_level_has_is_the_design() -> None:
    odd = (750, 2250, 2900, 5250, 6750, 8250, 14_000, 15_500, 17_000, 36_000)
    project = quiet_survey(3)
    for level in ("L01", "L02", "L03"):
        project = with_run(project, f"{level}-N", mullions_mm=odd)
    assert asked(project) == []


def test_a_mullion_off_its_pitch_by_more_than_the_tolerance_is_asked_about() -> None:
    for by, questions in ((50, 0), (51, 1)):
        mullions = tuple(at + by * (at == 12_750) for at in range(750, 37_300, 1500))
        assert len(asked(with_run(quiet_survey(3), "L02-N", mullions_mm=mullions))) == questions


def test_a_mullion_written_twice_within_the_tolerance_is_one_too_many() -> None:
    usual = tuple(range(750, 37_300, 1500))
    (question,) = questions_of(with_run(quiet_survey(3), "L02-N", mullions_mm=(*usual, 12_760)))
    assert (question.at_mm, "one at 12760 mm" in question.says) == (12_760, True)


@pytest.mark.parametrize("mullions", [(750, 750, 750, 15_000), (750, 750, 2250, 2250, 3750, 5250)])
def test_a_position_that_is_written_more_than_once_is_one_mullion(mullions: tuple[int, ...]) -> None:
    twice = with_run(quiet_survey(1), "L01-N", mullions_mm=mullions)
    once = with_run(quiet_survey(1), "L01-N", mullions_mm=tuple(dict.fromkeys(mullions)))
    assert questions_of(twice) == questions_of(once)


# -- lengths


@pytest.mark.parametrize("level", ["L01", "L02", "L03"])
def test_a_run_900_mm_too_long_is_asked_about(level: str) -> None:
    name = f"{level}-E"
    wrong = with_run(quiet_survey(3), name, length_mm=SIDES["E"] + 900)
    wrong = with_gaps(
        wrong, name, lambda gap: gap.model_copy(update={"at_mm": gap.at_mm + 900 * (gap.at_mm == SIDES["E"])})
    )
    found = [question for question in questions_of(wrong) if question.rule == "length"]
    assert [question.run for question in found] == [name]
    assert "not 18900 mm" in found[0].says


def test_opposite_sides_of_one_level_must_close() -> None:
    wrong = with_run(quiet_survey(1), "L01-E", length_mm=SIDES["E"] + 900)
    (question,) = [question for question in questions_of(wrong) if question.rule == "length"]
    assert question.run == "L01-E"
    assert "do not close" in question.why
    assert "L01-W" in question.measure


def test_a_storey_that_steps_back_is_no_mistake() -> None:
    project = quiet_survey(5)
    for side, length in SIDES.items():
        shorter = length - 3000
        for level in ("L04", "L05"):
            project = with_run(
                project,
                f"{level}-{side}",
                length_mm=shorter,
                mullions_mm=tuple(range(750, shorter - 500, 1500)),
            )
            project = with_gaps(
                project, f"{level}-{side}", lambda gap, to=shorter: gap if gap.at_mm <= to else None
            )  # type: ignore[misc]
    assert asked(project) == []


# -- where runs meet


def test_a_run_measured_from_another_face_is_asked_about() -> None:
    shifted = with_gaps(
        quiet_survey(4), "L02-E", lambda gap: gap.model_copy(update={"gap_mm": gap.gap_mm + 30})
    )
    (question,) = questions_of(shifted)
    assert (question.rule, question.run) == ("step", "L02-E")
    assert "same face" in question.says
    assert "L02-N" in question.says


def test_a_step_at_one_meeting_is_asked_about() -> None:
    """The gap drifts along the run, so that only its end is off."""
    drifting = with_gaps(
        quiet_survey(4), "L02-E", lambda gap: gap.model_copy(update={"gap_mm": gap.gap_mm + gap.at_mm // 500})
    )
    assert ("step", "L02-E", SIDES["E"]) in asked(drifting)


def test_elevations_of_different_gap_meet_in_a_step_by_design() -> None:
    """162 mm meets 120 mm at every corner of every level."""
    assert asked(quiet_survey(4)) == []


# -- which run lies above which


@pytest.mark.parametrize(
    ("run", "level", "name"),
    [("L01-N", "L01", "N"), ("N L01", "L01", "N"), ("L01N", "L01", "N"), ("North", "L01", ""),
     ("Level 2 - East 1", "Level 2", "East-1"), ("E-12-1", "1", "E-12")],
)  # fmt: skip
def test_a_run_is_known_by_its_name_without_the_levels(run: str, level: str, name: str) -> None:
    assert name_within_level(run, level) == name


def test_runs_correspond_by_name_and_where_that_fails_by_order_and_length() -> None:
    project = quiet_survey(3)
    found = runs_above_and_below(project.building)
    assert found.nearest["L02-N"] == ("L01-N", "L03-N")
    assert found.nearest["L01-N"] == ("L02-N", "L03-N")
    assert found.column["L03-W"] == ("L01-W", "L02-W", "L03-W")
    renamed = {run.run: f"run {number}" for number, run in enumerate(project.runs)}
    anonymous = project.model_copy(
        update={
            "runs": tuple(run.model_copy(update={"run": renamed[run.run]}) for run in project.runs),
            "gaps": tuple(gap.model_copy(update={"run": renamed[gap.run]}) for gap in project.gaps),
        }
    )
    assert runs_above_and_below(anonymous.building).nearest["run 4"] == ("run 0", "run 8")


# -- the figures behind it


def test_the_median_and_the_usual_size_do_not_follow_a_few_wrong_values() -> None:
    from fractions import Fraction

    values = [Fraction(value) for value in (1, -2, 2, 1, -1, 500)]
    assert median(values) == 1
    assert usual_size(values) == Fraction(3, 2) * Fraction(14826, 10000)
    assert usual_size([]) == 0
    assert agreed_part(Fraction(3), Fraction(5)) == 3
    assert agreed_part(Fraction(-3), Fraction(-5)) == -3
    assert agreed_part(Fraction(-3), Fraction(5)) == 0
    with pytest.raises(ValueError, match="median"):
        median([])


# -- any project


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(projects())
def test_every_question_is_about_a_place_that_exists(project: Project) -> None:
    for question in questions_of(project):
        run = project.building.runs[question.run]
        assert run.level == question.level
        assert all(0 <= at <= run.length_mm for at in (question.at_mm, *question.measure_at_mm))
        assert question.says
        assert question.why
        assert question.measure


def test_the_library_calls_it_by_the_commands_name() -> None:
    project = quiet_survey(2)
    assert callable_name(project) == survey(project)
    assert repr(survey(project)) == "0 questions to 164 readings"
    import optimiser.survey as package

    assert package(project) == survey(project)  # type: ignore[operator]


def test_the_judge_rejects_a_question_about_a_place_that_is_not_there() -> None:
    plan = small_plan()
    run = plan.project.runs[0]
    right = Question(
        rule="outlier", level=run.level, run=run.run, at_mm=0, value="150 mm", says="?", why="?", measure="it"
    )
    before = broken_rules_of_plan(plan)
    for wrong, told in (
        ({"run": "nowhere"}, "no such run"),
        ({"at_mm": run.length_mm + 1}, "mm long"),
        ({"measure_at_mm": (0, run.length_mm + 1)}, "mm long"),
        ({"level": "L99"}, "the question says L99"),
    ):
        changed = plan.model_copy(update={"questions": (right, right.model_copy(update=wrong))})
        (broken,) = [rule for rule in broken_rules_of_plan(changed) if rule not in before]
        assert told in broken
    assert broken_rules_of_plan(plan.model_copy(update={"questions": (right,)})) == before
