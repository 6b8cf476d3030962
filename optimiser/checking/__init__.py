"""The independent judge: every rule of a cutting result or a plan, re-derived and checked exactly.

It shares no code with what it judges: only the types of a project, a plan and a cutting problem are imported,
and all arithmetic is in integers and fractions. Each broken rule is one plain line that names the place, the
rule and the values; an empty list means that nothing is broken. That a plan keeps the rules of its project
says nothing about the tested detail: that, local code and a licensed practitioner decide.
"""

from __future__ import annotations

from typing import overload

from optimiser.checking.plans import broken_rules_of_plan
from optimiser.checking.refits import broken_rules_of_refit
from optimiser.checking.results import broken_rules_of_result
from optimiser.cutting.problem import CuttingProblem, CuttingResult
from optimiser.model.plan import Plan
from optimiser.model.project import Project
from optimiser.model.refit import Refit

__all__ = ["broken_rules_of_plan", "broken_rules_of_result", "check"]


@overload
def check(made: Plan, against: Project | None = None) -> tuple[str, ...]: ...
@overload
def check(made: CuttingResult, against: CuttingProblem | None = None) -> tuple[str, ...]: ...
@overload
def check(made: Refit, against: Project, *, plan: Plan) -> tuple[str, ...]: ...
def check(
    made: Plan | Refit | CuttingResult,
    against: Project | CuttingProblem | None = None,
    *,
    plan: Plan | None = None,
) -> tuple[str, ...]:
    """The rules that a plan, a refit or a cutting result breaks, by a judge that shares no code with the planner.

    Parameters
    ----------
    made
        What is judged.
    against
        The project that a plan was made for, the problem of a cutting result, the newer survey of a refit. Without it
        a plan is judged by the project that it holds, and a cutting result by itself.
    plan
        The plan that a refit starts from; for a refit only.

    Returns
    -------
    tuple of str
        A line for each broken rule: the place, the rule and the values. Empty is good. It says nothing about the
        tested detail: that, local code and a licensed practitioner decide.

    Raises
    ------
    TypeError
        When the arguments do not belong together: a wrong plan raises nothing.
    """
    if isinstance(made, Plan) and plan is None and isinstance(against, Project | None):
        return tuple(broken_rules_of_plan(made, against))
    if isinstance(made, CuttingResult) and plan is None and isinstance(against, CuttingProblem | None):
        return tuple(broken_rules_of_result(made, against))
    if isinstance(made, Refit) and isinstance(plan, Plan) and isinstance(against, Project):
        return tuple(broken_rules_of_refit(made, plan, against))
    raise TypeError(
        "check a plan against its project, a cutting result against its problem, or a refit against the newer survey"
        " with the plan that it starts from (plan=...)"
    )
