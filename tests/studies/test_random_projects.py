"""Whatever the project: an option of the comparison has the plan's figures, and a simulation comes to an end."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from optimiser.errors.problems import CannotBeDone
from optimiser.joints.layout import lay_out
from optimiser.model.project import Project
from optimiser.planning.plan import plan
from optimiser.simulation.draws import is_drawn
from optimiser.simulation.simulate import simulate
from optimiser.studies.comparison import compare
from optimiser.studies.gap_figures import at_gap
from tests.builders.random_projects import projects


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(projects(), st.integers(15, 420), st.booleans())
def test_an_option_has_the_figures_of_the_plan_at_that_gap(
    project: Project, gap_mm: int, shifted: bool
) -> None:
    flat = tuple(row for row in project.allowance if row.fraction != "simulated")
    project = project.model_copy(update={"allowance": flat})
    (option,) = compare(project, gaps=[gap_mm], shifted=shifted).options
    here = at_gap(project, gap_mm, shifted)
    if option.boards is None:
        assert option.problem
        if here is not None:
            with pytest.raises(CannotBeDone):
                plan(here)
        return
    assert here is not None
    made = plan(here)
    fewer = {code: board.count - option.boards_by_code[code] for code, board in made.boards.items()}
    assert all(number >= 0 for number in fewer.values())  # a plan cuts more where the pack is paid for anyway
    assert option.lower_bound == sum(proof.lower_bound for proof in made.proofs)
    assert option.cost == made.order.total
    brackets: Counter[str] = Counter()
    for level in made.counts.values():
        brackets.update(level.brackets)
    assert option.brackets == dict(brackets)
    assert option.joints == sum(level.joints for level in made.counts.values())
    assert option.tape_mm == sum(level.tape_mm for level in made.counts.values())
    assert option.whole == (not made.not_planned)


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(projects(), st.sampled_from(("whole", "carry", "level")))
def test_a_simulation_comes_to_an_end_or_says_why_not(project: Project, staging: str) -> None:
    if not lay_out(project).pieces:
        with pytest.raises(CannotBeDone, match="nothing"):
            simulate(project, draws=4, staging=staging, workers=1)
        return
    found = simulate(project, draws=4, staging=staging, workers=1)
    assert found.draws == 4
    if not any(is_drawn(gaps) for gaps in project.gaps_of().values()):
        assert all(item.least == item.planned == item.greatest for item in found.quantities)
    for item in found.quantities:
        assert 0 <= item.least <= item.median <= item.order_alone <= item.greatest
        assert item.order_alone <= item.order <= max(item.greatest, item.planned)
        assert sum(item.frequency.values()) == 4
