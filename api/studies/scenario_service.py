"""Asking for scenarios side by side, their files, and planning one of them."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any, Literal

from api import clock
from api.accounts.service import Caller
from api.context import AppContext
from api.http.media_types import XLSX
from api.http.problem_details import Fault, Problem
from api.http.responses import File
from api.jobs import service as jobs
from api.jobs.model import Job
from api.limited_process import run_limited
from api.projects.reading import kept_project
from api.projects.service import get_project, version_document
from api.studies.scenario_making import comparison_of, scenarios_file
from api.studies.scenario_schemas import ScenariosRequest
from optimiser.errors.problems import CannotBeDone
from optimiser.model.scenario import PricedScenario
from optimiser.studies.scenario_result import ScenarioComparison
from optimiser.studies.scenarios import refuse_unusable
from optimiser.tables.text import counted

Form = Literal["csv", "xlsx"]


@dataclass(frozen=True)
class ScenarioStudy:
    """A comparison of scenarios as it was asked for; `found` once it is done."""

    job: Job
    asked: ScenariosRequest
    found: ScenarioComparison | None


def request_scenarios(
    context: AppContext,
    caller: Caller,
    project_id: str,
    wanted: ScenariosRequest,
    idempotency_key: str | None,
) -> Job:
    """A new comparison of scenarios of a survey, queued; or the one that an equal request made before.

    Raises Problem 404 when the caller's company has no such project or survey, 422 for scenarios that make no sense
    for it, with every fault.
    """
    version = wanted.survey or get_project(context, caller, project_id).version
    project = kept_project(version_document(context, caller, project_id, version).decode())
    offered = any(scenario.supplier for scenario in wanted.scenarios)
    on = wanted.on or (clock.today() if offered else None)
    try:
        refuse_unusable(project, wanted.scenarios, wanted.offers, on)
    except CannotBeDone as error:
        faults = [Fault(place="scenarios", message=reason).model_dump() for reason in error.reasons]
        many = counted(len(faults), "fault")
        raise Problem(422, "unusable-input", f"{many} in the scenarios.", errors=faults) from None
    parameters = wanted.model_copy(update={"survey": version, "on": on}).model_dump(mode="json")
    return jobs.request_job(context, caller, project_id, "scenario", parameters, idempotency_key, version)


def scenario_study(context: AppContext, caller: Caller, study_id: str) -> ScenarioStudy:
    """A comparison of scenarios. Raises Problem 404."""
    return _study(*jobs.job_with_result(context, caller, study_id, "scenario"))


def newest_scenarios(context: AppContext, caller: Caller, project_id: str) -> ScenarioStudy | None:
    """The newest comparison of scenarios of the caller's project."""
    found = jobs.newest_job(context, caller, project_id, "scenario")
    return None if found is None else _study(*found)


def _study(job: Job, document: bytes | None) -> ScenarioStudy:
    asked = ScenariosRequest.model_validate_json(job.parameters)
    return ScenarioStudy(job, asked, None if document is None else comparison_of(document.decode()))


def file_of_scenarios(context: AppContext, caller: Caller, study_id: str, form: Form) -> File:
    """A finished comparison as csv or as a workbook. Raises Problem 404, or 409 while it is not done."""
    job, document = jobs.finished_job(context, caller, study_id, "scenario")
    name = get_project(context, caller, job.project_id).name
    content: bytes = run_limited(
        scenarios_file,
        document.decode(),
        form,
        name,
        seconds=60,
        megabytes=context.settings.job_megabytes,
    )
    media_type = "text/csv; charset=utf-8" if form == "csv" else XLSX
    return File(content, media_type, f"scenarios-{study_id[:8]}.{form}")


def request_plan_of_scenario(
    context: AppContext, caller: Caller, study_id: str, name: str, idempotency_key: str | None
) -> Job:
    """The plan of a compared scenario on the survey that it was compared on, queued; or the one that an equal request
    made before.

    Raises Problem 404 when there is no such comparison or it has no such scenario, 422 for one that no order can be
    planned of.
    """
    job = jobs.get_job(context, caller, study_id, "scenario")
    asked = ScenariosRequest.model_validate_json(job.parameters)
    scenario = next((one for one in asked.scenarios if one.name == name), None)
    if scenario is None:
        raise Problem(404, "not-found", f"The comparison has no scenario {name[:60]}.")
    if scenario.not_plannable:
        raise Problem(422, "cannot-be-planned", f"scenario {name}: {scenario.not_plannable}.")
    offers = tuple(offer for offer in asked.offers if offer.supplier == scenario.supplier)
    priced = PricedScenario(scenario=scenario, offers=offers, on=asked.on if offers else None)
    parameters: dict[str, Any] = {
        "staging": scenario.staging,
        "time_limit": None if scenario.waiting_choice else scenario.time_limit or asked.time_limit,
        "seed": scenario.seed,
        "carry_cost": None if scenario.carry_cost is None else f"{scenario.carry_cost:.2f}",
        "waiting_choice": scenario.waiting_choice,
        "joint_rounds": scenario.joint_rounds,
        "scenario": json.loads(priced.model_dump_json()),
    }
    return jobs.request_job(
        context, caller, job.project_id, "plan", parameters, idempotency_key, job.project_version
    )
