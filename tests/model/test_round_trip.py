"""Every public model equals itself read back from what it wrote: through Python, through JSON, by field name and by
the contract's names (aliases).

Plans, refits, comparisons, simulations and the rest are made from real projects, and every model that they hold,
however deep, is taken out and written and read by itself. A model that none of them holds fails the last test.
"""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterator, Mapping
from datetime import date
from decimal import Decimal
from functools import cache
from typing import Any

import pytest
from hypothesis import HealthCheck, given, reject, settings
from hypothesis import strategies as st
from pydantic import BaseModel

import optimiser
from benchmarks.instances.survey import clean_survey, planted_surveys
from optimiser.boards.cut import cut_pieces
from optimiser.boards.problems import board_families
from optimiser.cutting.problem import Board as BoardToCut
from optimiser.cutting.problem import CuttingProblem, Objective, Offcut, Piece
from optimiser.cutting.solve import solve
from optimiser.errors.problems import CannotBeDone
from optimiser.joints.layout import lay_out
from optimiser.model.plan import Plan
from optimiser.model.planned_boards import ThinRip
from optimiser.model.project import Allowance, Detail, Gap, PriceBreak, Project, Run, Stock
from optimiser.model.record import Record
from optimiser.model.scenario import PricedScenario, Scenario
from optimiser.planning.plan import plan
from optimiser.reading.offers import offers_of
from optimiser.reading.supplier_answer import answer_of
from optimiser.replanning.changes import label_changes, order_changes
from optimiser.replanning.receiving import endangered_levels, received_lines
from optimiser.replanning.refit import refit
from optimiser.replanning.replan import replan
from optimiser.replanning.standing import level_states
from optimiser.simulation.simulate import simulate
from optimiser.studies.comparison import compare
from optimiser.studies.precut import precut_risks
from optimiser.studies.scenarios import scenarios
from optimiser.studies.staging import staging_option, stagings
from optimiser.survey.questions import survey
from tests.builders.closed_level import closed_level
from tests.builders.job import JobOnSite, of_level
from tests.builders.levels import building, weekly
from tests.builders.quick_plans import plan_sought_briefly
from tests.builders.random_projects import projects
from tests.builders.supplier_documents import order_response, quotation
from tests.builders.supplier_job import first_order, second_order, supplier_job


def seen(examples: int) -> settings:
    """So many examples, however long one takes on a busy machine."""
    return settings(max_examples=examples, deadline=None, suppress_health_check=list(HealthCheck))


def models_in(value: object) -> Iterator[BaseModel]:
    """A model and every model that it holds, however deep."""
    if isinstance(value, BaseModel):
        yield value
        for name in type(value).model_fields:
            yield from models_in(getattr(value, name))
    elif isinstance(value, Mapping):
        for item in value.values():
            yield from models_in(item)
    elif isinstance(value, (tuple, list)):
        for item in value:
            yield from models_in(item)


def reads_itself_back(model: BaseModel) -> None:
    """Every way of writing a model gives it again, of the same type."""
    kind = type(model)
    for by_alias in (False, True):
        again = kind.model_validate(model.model_dump(by_alias=by_alias))
        assert again == model
        assert kind.model_validate_json(model.model_dump_json(by_alias=by_alias)) == model
        given_only = model.model_dump_json(by_alias=by_alias, exclude_unset=True)
        assert kind.model_validate_json(given_only) == model
        assert again.model_dump_json() == model.model_dump_json()


def parts_read_themselves_back(*values: object) -> None:
    for model in {id(model): model for value in values for model in models_in(value)}.values():
        reads_itself_back(model)


def newer_survey(project: Project, change_mm: int) -> Project:
    """The same building measured again: every gap wider or narrower by so much."""
    gaps = tuple(gap.model_copy(update={"gap_mm": max(1, gap.gap_mm + change_mm)}) for gap in project.gaps)
    return project.model_copy(update={"gaps": gaps})


def planned_or_rejected(project: Project) -> Plan:
    try:
        return plan_sought_briefly(project)
    except CannotBeDone:
        reject()


@seen(60)
@given(projects())
def test_projects(project: Project) -> None:
    parts_read_themselves_back(project)
    again = Project.model_validate_json(project.model_dump_json())
    assert again.detail.placeholders == project.detail.placeholders


@seen(12)
@given(projects(max_runs=3, longest_run_mm=5000), st.integers(-3, 3))
def test_plans_and_refits(project: Project, change_mm: int) -> None:
    made = planned_or_rejected(project)
    parts_read_themselves_back(made, staging_option(made), precut_risks(made, draws=5))
    try:
        found = refit(made, newer_survey(project, change_mm))
    except CannotBeDone:
        reject()
    parts_read_themselves_back(found)


@seen(12)
@given(projects(max_runs=3, longest_run_mm=5000), st.integers(60, 200))
def test_comparisons_and_simulations(project: Project, gap_mm: int) -> None:
    bands = [(Decimal("0.70"), Decimal("0.75"), Decimal("0.85"))]
    try:
        parts_read_themselves_back(compare(project, range(gap_mm, gap_mm + 5, 2), insertion=bands))
        parts_read_themselves_back(simulate(project, draws=6, seed=1, workers=1))
    except CannotBeDone:
        reject()


@seen(15)
@given(projects(max_runs=3, longest_run_mm=5000))
def test_cutting_problems_and_results(project: Project) -> None:
    laid = lay_out(project)
    for family in board_families(project, laid.pieces, "whole"):
        parts_read_themselves_back(family.problem, solve(family.problem))


def test_the_index_of_a_project_is_no_part_of_it() -> None:
    """Looking something up changes neither what a project equals, nor what it writes, nor what a copy finds."""
    looked_up, untouched = building(), building()
    assert looked_up.building.stage_of_level["L3"] == 3
    assert looked_up == untouched
    assert looked_up.model_dump_json() == untouched.model_dump_json()
    fewer = looked_up.model_copy(update={"levels": looked_up.levels[:2]})
    assert list(fewer.building.levels) == ["L1", "L2"]
    assert list(looked_up.building.levels) == ["L1", "L2", "L3"]
    assert list(looked_up.model_copy(deep=True).building.levels) == ["L1", "L2", "L3"]


def test_a_rule_that_was_left_out_stays_a_placeholder() -> None:
    """Written as though it had been given, it would no longer be warned of."""
    detail = Detail(oversize_min=Decimal("0.10"), kerf_mm=3)
    again = Detail.model_validate(detail.model_dump())
    assert again.placeholders == detail.placeholders
    assert "trim" in again.placeholders
    assert "kerf_mm" not in again.placeholders


def test_a_rate_with_many_places_keeps_them() -> None:
    row = Allowance(kind="board", fraction=Decimal("0.12345678901234567890"))
    assert Allowance.model_validate_json(row.model_dump_json()) == row


# -- every public model is among these


@cache
def examples() -> tuple[object, ...]:
    """Values that hold every public model."""
    limited = weekly(
        truck_pallets=4,
        price_breaks=(PriceBreak(code="B-120", from_packs=6, price="80.00"),),  # type: ignore[arg-type]
    )
    stocked = building(
        storeys=3,
        runs=tuple(Run(run=f"L{n}-N", level=f"L{n}", length_mm=3_900, board=("B-120",)) for n in (1, 2, 3)),
        gaps=(
            Gap(run="L1-N", at_mm=0, gap_mm=150),
            Gap(run="L2-N", at_mm=0, gap_mm=150, basis="nominal", tolerance_mm=8),
            Gap(run="L3-N", at_mm=0, gap_mm=150),
            Gap(run="L3-N", at_mm=2_400, gap_mm=150),
            Gap(run="L3-N", at_mm=2_401, gap_mm=500),
        ),
        stock=(Stock(code="B-120", length_mm=1200, width_mm=400, quantity=2),),
        allowance=(Allowance(kind="board", fraction=Decimal("0.05")),),
    )
    delivered = weekly(
        delivery_cost="20.00",
        storage_cost="3.00",
        truck_payload_kg=900,
        stack_height_mm=600,
        floor_load_kg_m2=400,
        delivery_weekday="Monday",
    )
    delivered = delivered.model_copy(
        update={
            "products": tuple(
                item.model_copy(update={"weight_kg": Decimal("11.52"), "thickness_mm": 120})
                if item.kind == "board"
                else item
                for item in delivered.products
            )
        }
    )
    made = plan(stocked)
    whole = plan(building(storeys=3, length_mm=6_000))
    moved = newer_survey(whole.project, 2)
    # a board a level, only L1 is cut and then measured wider: the board of L2 must come with L1
    single = building(
        storeys=2,
        length_mm=7_200,
        products=tuple(
            item.model_copy(update={"per_pack": 1}) if item.kind == "board" else item
            for item in whole.project.products
        ),
    )
    level_by_level = plan(single, staging="level")
    wider = single.model_copy(
        update={"gaps": (single.gaps[0].model_copy(update={"gap_mm": 160}), *single.gaps[1:])}
    )
    several = CuttingProblem(
        boards=(
            BoardToCut(code="A", length_mm=1200, width_mm=1000, price_cents=700),
            BoardToCut(code="B", length_mm=2400, width_mm=600, price_cents=900),
        ),
        pieces=(Piece(id="P", length_mm=1100, width_min_mm=165, width_max_mm=172, quantity=9),),
        offcuts=(Offcut(id="F7", length_mm=1200, width_mm=380),),
        objective=Objective.LEAST_COST,
    )
    job = JobOnSite()
    job.order_all(whole)
    job.deliver(whole, "L1", short=1)
    job.cut_and_fit(of_level(whole, "L1"))
    begun = replan(whole, job.record)
    short = JobOnSite()
    short.order_all(whole)
    short.deliver(whole, "L1", short=1)
    return (
        begun,
        order_changes(begun, whole),
        received_lines(begun),
        endangered_levels(replan(whole, short.record), date(2027, 1, 1)),
        level_states(begun),
        label_changes(whole, replan(whole, job.record, moved)),
        plan(closed_level()),
        plan(limited),
        made,
        refit(made, newer_survey(stocked, 1)),
        refit(whole, moved),
        refit(level_by_level, wider, cut_levels=("L1",)),
        compare(building(), range(149, 152)),
        scenarios(building(), (Scenario(name="as it is"), Scenario(name="level by level", staging="level"))),
        PricedScenario(scenario=Scenario(name="as it is"), on=date(2027, 1, 11)),
        simulate(stocked, draws=12, seed=1, workers=1),
        plan(delivered),
        plan(delivered, carry_cost=Decimal("1.00")),
        stagings(delivered, modes=("level", "carry")),
        precut_risks(made, draws=5),
        several,
        solve(several),
        cut_pieces(stocked, lay_out(stocked).pieces, "whole", None, 0).proofs,
        survey(
            clean_survey(1, "walk 1").model_copy(update={"reading_notes": ("gaps, gap_mm: rounded up.",)})
        ),
        *(survey(case.project) for case in planted_surveys(9)),
        supplier_job(),
        second_order(),
        answer_of(order_response(code="RE"), "an answer", first_order(), Record()),
        offers_of(quotation([{"code": "B-120", "price": "205.00"}]), "an offer"),
        ThinRip(layout=3, kind="trim", width_mm=4, strip=2, piece="L01-N-003"),
    )


def public_models() -> list[type[BaseModel]]:
    """Every model that the optimiser's modules define under a public name, but the bases that hold no field."""
    found: dict[str, type[BaseModel]] = {}
    for module in pkgutil.walk_packages(optimiser.__path__, "optimiser."):
        if module.name.rpartition(".")[2].startswith("_"):
            continue  # the compiled kernels
        for name, value in vars(importlib.import_module(module.name)).items():
            if not isinstance(value, type) or not issubclass(value, BaseModel):
                continue
            if value.__module__ == module.name and not name.startswith("_") and value.model_fields:
                found[f"{module.name}.{name}"] = value
    return [found[name] for name in sorted(found)]


@pytest.mark.parametrize("model", public_models(), ids=lambda model: model.__name__)
def test_every_public_model_reads_itself_back(model: type[BaseModel]) -> None:
    held = [one for value in examples() for one in models_in(value) if type(one) is model]
    assert held, f"no example holds a {model.__name__}: add one to examples(), so that its round trip is seen"
    for one in held[:50]:
        reads_itself_back(one)


def test_a_model_that_does_not_read_itself_back_is_seen() -> None:
    class Cents(BaseModel):
        total: Any

        def model_dump(self, **options: Any) -> dict[str, Any]:
            return {"total": self.total * 100}

    with pytest.raises(AssertionError):
        reads_itself_back(Cents(total=1))
