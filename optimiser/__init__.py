"""Plans, cuts and orders the material of perimeter cavity barriers, level by level.

The tested detail, local code and a licensed practitioner decide what may be built; a nominal gap is a forecast and
never ready to cut.

>>> from optimiser import read, plan, survey, compare, simulate, check, write
>>> project = read("tower.xlsx")
>>> made = plan(project, staging="carry")
>>> made.pieces_frame(), made.patterns_frame(), made.order.to_frame(), made.deliveries_frame()
>>> survey(project).to_frame()
>>> compare(project, gaps=range(140, 156)).to_frame()
>>> simulate(project, draws=500, seed=1).draws_frame()
>>> check(made, project)
()
>>> write(made, "out/")

Every name is fetched from the folder where it stands when it is first used, so that `import optimiser` costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from optimiser.checking import check
    from optimiser.cutting.status import Status
    from optimiser.errors.broken_rules import BreaksRules
    from optimiser.errors.problems import CannotBeDone, Problem, UnusableInput
    from optimiser.model.plan import Plan
    from optimiser.model.project import Project
    from optimiser.model.question import Question, SurveyQuestions
    from optimiser.model.record import Event, Record
    from optimiser.model.refit import Refit
    from optimiser.planning.plan import plan
    from optimiser.reading import read, read_plan, read_record
    from optimiser.replanning.refit import refit
    from optimiser.replanning.replan import replan
    from optimiser.simulation.simulate import simulate
    from optimiser.simulation.simulated_allowance import SimulatedAllowance
    from optimiser.studies.comparison import compare
    from optimiser.studies.gap_option import Comparison, GapOption
    from optimiser.studies.staging import StagingComparison, StagingOption, stagings
    from optimiser.survey.questions import survey
    from optimiser.writing.all_files import write

__all__ = [
    "BreaksRules",
    "CannotBeDone",
    "Comparison",
    "Event",
    "GapOption",
    "Plan",
    "Problem",
    "Project",
    "Question",
    "Record",
    "Refit",
    "SimulatedAllowance",
    "StagingComparison",
    "StagingOption",
    "Status",
    "SurveyQuestions",
    "UnusableInput",
    "check",
    "compare",
    "plan",
    "read",
    "read_plan",
    "read_record",
    "refit",
    "replan",
    "simulate",
    "stagings",
    "survey",
    "write",
]

_WHERE = {
    "BreaksRules": "errors.broken_rules",
    "CannotBeDone": "errors.problems",
    "Comparison": "studies.gap_option",
    "GapOption": "studies.gap_option",
    "Plan": "model.plan",
    "Problem": "errors.problems",
    "Project": "model.project",
    "Event": "model.record",
    "Record": "model.record",
    "Question": "model.question",
    "Refit": "model.refit",
    "SimulatedAllowance": "simulation.simulated_allowance",
    "StagingComparison": "studies.staging",
    "StagingOption": "studies.staging",
    "Status": "cutting.status",
    "SurveyQuestions": "model.question",
    "UnusableInput": "errors.problems",
    "check": "checking",
    "compare": "studies.comparison",
    "plan": "planning.plan",
    "read": "reading",
    "read_plan": "reading",
    "read_record": "reading",
    "refit": "replanning.refit",
    "replan": "replanning.replan",
    "simulate": "simulation.simulate",
    "stagings": "studies.staging",
    "survey": "survey.questions",
    "write": "writing.all_files",
}
"""In which module of this package each public name stands."""


def __getattr__(name: str) -> object:
    """A public name, fetched when it is first asked for (PEP 562). Raises AttributeError for any other."""
    if name not in _WHERE:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    found: object = getattr(import_module(f"{__name__}.{_WHERE[name]}"), name)
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    """The public names, whether they were asked for already or not."""
    return sorted({*globals(), *__all__})
