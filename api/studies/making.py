"""Studies as jobs that are shared out: each function here runs in a limited process.

'share out' says into which parts, the parts are made by any workers side by side, 'join' puts them together.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from api.jobs.steps import JOIN, SHARE_OUT, Made, Progress, StepInput, part_name, part_number
from api.projects.reading import kept_project
from api.studies.scenario_making import made_scenario, parts_of_scenarios, side_by_side_of

if TYPE_CHECKING:
    from optimiser.model.project import Project
    from optimiser.studies.gap_option import Comparison, GapOption

Parameters = dict[str, Any]
_LEAST_GAPS, _MOST_PARTS = 4, 32


def study_step(work: StepInput, progress: Progress) -> Made:
    """One step of a study. Raises CannotBeDone when it makes no sense for the project."""
    if work.step == SHARE_OUT:
        parts = parts_of(work.kind, work.parameters)
        return Made(json.dumps(parts), {"parts": len(parts)})
    shared = json.loads(work.made[SHARE_OUT].document)
    if work.step == JOIN:
        documents = [work.made[part_name(number)].document for number in range(len(shared))]
        if work.kind == "scenario":
            return Made(side_by_side_of(kept_project(work.project), documents))
        return Made(joined(work.kind, documents, work.parameters))
    number = part_number(work.step)
    assert number is not None
    return Made(make_part(work.kind, kept_project(work.project), shared[number], progress))


def parts_of(kind: str, parameters: Parameters) -> list[Parameters]:
    """What each part is to be made with."""
    if kind == "scenario":
        return parts_of_scenarios(parameters)
    if kind != "comparison":
        return [parameters]
    gaps = range(parameters["from_mm"], parameters["to_mm"] + 1, parameters["step_mm"])
    size = max(_LEAST_GAPS, -(-len(gaps) // _MOST_PARTS))
    parts = [gaps[start : start + size] for start in range(0, len(gaps), size)]
    return [{**parameters, "from_mm": part[0], "to_mm": part[-1]} for part in parts]


def make_part(kind: str, project: Project, part: Parameters, progress: Progress) -> str:
    """One part as JSON text. Raises CannotBeDone when the options make no sense for the project."""

    def report(done: int, whole: int) -> None:
        progress({"fraction": done / whole})

    if kind == "allowance":
        from optimiser.simulation.simulate import simulate

        return json.dumps(simulate(project, **part, progress=report).as_json())
    if kind == "frontier":
        return _frontier(project, part)
    if kind == "scenario":
        return made_scenario(project, part)
    return _compared(project, part, report).model_dump_json()


def joined(kind: str, parts: Sequence[str], parameters: Parameters) -> str:
    """The whole result as JSON text: what comparing or simulating in one go gives."""
    if kind != "comparison":
        return parts[0]
    from optimiser.studies.gap_option import Comparison

    return json.dumps(_in_one([Comparison.model_validate_json(part) for part in parts]).as_json())


def _frontier(project: Project, part: Parameters) -> str:
    """The frontier of boards against waiting: `plans`, each as `point_as_dict` has it."""
    from optimiser.studies.frontier import frontier
    from optimiser.writing.office.frontier_csv import point_as_dict

    found = [point_as_dict(point) for point in frontier(project, **part)]
    return json.dumps({"currency": project.project.currency, **part, "plans": found})


def _compared(project: Project, part: Parameters, report: Callable[[int, int], None]) -> Comparison:
    from optimiser.studies.comparison import compare, gaps_between

    def exact(choices: Sequence[Sequence[float]]) -> list[Any]:
        return [tuple(Decimal(str(rate)) for rate in rates) for rates in choices]

    rates = {name: exact(part[name]) for name in ("oversize", "insertion")}
    options = {**part, **rates}
    gaps = gaps_between(*(options.pop(name) for name in ("from_mm", "to_mm", "step_mm")))
    return compare(project, gaps, **options, progress=report)


def _in_one(parts: Sequence[Comparison]) -> Comparison:
    """The options of all parts by choice and then by gap, with their steps and the best of all marked again."""
    from optimiser.studies.gap_option import with_best, with_steps

    by_choice: dict[Any, list[GapOption]] = {}
    for part in parts:
        for choice, of_part in part.by_choice().items():
            as_new = {"best": (), "boards_more_at_next_gap": None}
            fresh = (one.model_copy(update=as_new) for one in of_part)
            by_choice.setdefault(choice, []).extend(fresh)
    options = [option for of_choice in by_choice.values() for option in with_steps(of_choice)]
    marked = tuple(with_best(options, several=len(by_choice) > 1))
    return parts[0].model_copy(update={"options": marked})
