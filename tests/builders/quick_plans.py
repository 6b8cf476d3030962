"""Plans of random projects without the work that nothing asked of them depends on.

Three quarters of the time of such a plan go into two things: the draws of its nominal gaps, which put so much on top
of its order, and the bound over all joint layouts, which stands in its proof. `tests/checking/` and
`tests/planning/test_plan.py` make their random plans whole.
"""

from __future__ import annotations

from typing import Any
from unittest import mock

from optimiser.model.plan import Plan
from optimiser.model.project import Project
from optimiser.planning import allowances
from optimiser.planning.plan import plan

FEW_DRAWS = 20


def plan_with_few_draws(project: Project, **options: Any) -> Plan:
    """The plan, with what `FEW_DRAWS` possible surveys need on top; all else, options and errors as of `plan`."""
    with mock.patch.object(allowances, "DRAWS", FEW_DRAWS):
        return plan(project, **options)


def quick_plan(project: Project, **options: Any) -> Plan:
    """The same without advice and without the bound over all joint layouts: pieces and cutting are the plan's."""
    return plan_with_few_draws(project, advise=False, **options)
