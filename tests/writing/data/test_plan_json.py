"""plan.json holds the whole plan, and reads back as the same plan."""

import json
from decimal import Decimal
from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import HealthCheck, given, reject, settings

from optimiser.checking import broken_rules_of_plan
from optimiser.model.plan import Plan
from optimiser.model.project import Detail, Project
from optimiser.reading import CannotBeDone, project_from_json, read_plan
from optimiser.replanning.refit import refit
from optimiser.writing.data.plan_json import plan_as_dict, plan_json, rows_on_lines
from optimiser.writing.data.refit_json import refit_json
from tests.builders.quick_plans import plan_sought_briefly
from tests.builders.random_projects import projects
from tests.builders.small_plan import small_plan, small_project


def test_it_reads_back_as_the_same_plan() -> None:
    plan = small_plan()
    assert Plan.model_validate_json(plan_json(plan)) == plan


def test_placeholders_stay_placeholders() -> None:
    plan = small_plan()
    read = Plan.model_validate_json(plan_json(plan))
    assert read.project.detail.placeholders == plan.project.detail.placeholders
    assert set(plan_as_dict(plan)["project"]["detail"]) == {"oversize_min", "oversize_max", "kerf_mm"}


def test_it_has_the_contracts_names() -> None:
    values = json.loads(plan_json(small_plan()))
    count = values["boards"]["B-120"]
    assert (count["count"], count["lower_bound"], count["optimal"]) == (1, 1, True)
    assert values["order"]["lines"][0]["price"] == "212.00"
    assert values["order"]["lines"][0]["order_by"] == "2027-02-01"
    assert values["project"]["products"][0]["price"] == "212.00"
    assert values["counts"]["L01"]["brackets"] == {"K-110": 4}
    piece = values["pieces"][0]
    assert (piece["cut_width_start_mm"], piece["brackets_at_mm"], piece["notches_at_mm"]) == (
        165,
        [300, 900],
        [700],
    )


def test_every_piece_has_a_line_of_its_own() -> None:
    lines = plan_json(small_plan()).splitlines()
    assert sum('"id": "L01-N-001", "level"' in line for line in lines) == 1


def test_equal_plans_give_equal_text() -> None:
    assert plan_json(small_plan()) == plan_json(small_plan(small_project()))


def test_any_json_survives_the_line_breaks() -> None:
    value = {
        "a": [],
        "b": {},
        "c": [1, 2],
        "d": [{"x": [1]}],
        "e": {"f": {"g": None}},
        "h": ["ü", '"'],
        "i": 1.5,
    }
    assert json.loads(rows_on_lines(value)) == value


@given(projects())
@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_any_plan_read_back_is_equal_judged_alike_and_refitted_alike(project: Project) -> None:
    try:
        made = plan_sought_briefly(project)
    except CannotBeDone:
        reject()
    with TemporaryDirectory() as folder:
        path = Path(folder) / "plan.json"
        path.write_text(plan_json(made), encoding="utf-8")
        read = read_plan(path)
    assert isinstance(read, Plan)
    assert read == made
    assert read.project.detail.placeholders == made.project.detail.placeholders
    assert plan_json(read) == plan_json(made)
    assert broken_rules_of_plan(read, made.project) == []
    assert project_from_json(json.loads(plan_json(made))["project"]) == made.project
    assert refit_json(refit(read, project)) == refit_json(refit(made, project))


def test_a_rate_with_many_decimals_comes_back_exactly() -> None:
    project = small_project()
    detail = Detail(oversize_min=Decimal("0.123456789"), oversize_max=Decimal("0.150000001"))
    plan = small_plan(project.model_copy(update={"detail": detail}))
    read = Plan.model_validate_json(plan_json(plan))
    assert read.project.detail == detail
    assert (read.project.detail.oversize_min, read.project.detail.placeholders) == (
        Decimal("0.123456789"),
        detail.placeholders,
    )
