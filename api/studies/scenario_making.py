"""Scenarios side by side as a job: a part a scenario. Each function here runs in a limited process."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from optimiser.model.project import Project
    from optimiser.studies.scenario_result import ScenarioComparison


def parts_of_scenarios(parameters: dict[str, Any]) -> list[dict[str, Any]]:
    """What each part is made with: one scenario, and the offers only where it names a supplier."""
    return [
        {**parameters, "scenarios": [one], "offers": parameters["offers"] if one.get("supplier") else []}
        for one in parameters["scenarios"]
    ]


def made_scenario(project: Project, part: dict[str, Any]) -> str:
    """The result of a part's scenario as JSON text."""
    from api.studies.scenario_schemas import ScenariosRequest
    from optimiser.studies.scenarios import result_of

    asked = ScenariosRequest.model_validate(part)
    (scenario,) = asked.scenarios
    found = result_of(project, scenario, asked.offers, asked.on, asked.draws, asked.time_limit)
    return found.model_dump_json()


def side_by_side_of(project: Project, parts: Sequence[str]) -> str:
    """The comparison of all parts as JSON text."""
    from optimiser.studies.scenario_result import ScenarioResult
    from optimiser.studies.scenarios import side_by_side

    results = [ScenarioResult.model_validate_json(part) for part in parts]
    return side_by_side(project, results).model_dump_json()


def scenarios_file(comparison: str, form: str, name: str) -> bytes:
    """A comparison as csv or as a workbook; `name` is the building's."""
    from optimiser.writing.office.scenario_files import scenarios_csv, scenarios_xlsx

    found = comparison_of(comparison)
    return scenarios_csv(found).encode() if form == "csv" else scenarios_xlsx(found, name)


def comparison_of(text: str) -> ScenarioComparison:
    """A kept comparison from its JSON text."""
    from optimiser.studies.scenario_result import ScenarioComparison

    return ScenarioComparison.model_validate_json(text)


def read_offers_of(files: dict[str, bytes]) -> str:
    """Suppliers' offers out of files by their names, as JSON text. Raises Unusable with every fault."""
    from api.projects.reading import unusable
    from optimiser.errors.problems import UnusableInput
    from optimiser.reading.offers import offers_of

    try:
        found = [offer for name, content in files.items() for offer in offers_of(content, name)]
    except UnusableInput as error:
        raise unusable(error) from None
    return json.dumps([offer.model_dump(mode="json") for offer in found])
