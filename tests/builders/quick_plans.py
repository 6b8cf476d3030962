"""Plans of random projects without the work that nothing asked of them depends on.

Most of the time of such a plan goes into three things: the draws of its nominal gaps, which put so much on top of its
order, the bound over all joint layouts, which stands in its proof, and long searches for a board less.
`tests/planning/test_plan.py` makes its random plans whole.
"""

from __future__ import annotations

from typing import Any

from optimiser.model.plan import Plan
from optimiser.model.project import Project
from optimiser.planning.plan import plan
from tests.builders.short_searches import short_searches


def plan_sought_briefly(project: Project, **options: Any) -> Plan:
    """The plan by short searches, with what few possible surveys need on top; options and errors as of `plan`."""
    with short_searches():
        return plan(project, **options)


def quick_plan(project: Project, **options: Any) -> Plan:
    """The same without advice and without the bound over all joint layouts: pieces and cutting are the plan's."""
    return plan_sought_briefly(project, advise=False, **options)
