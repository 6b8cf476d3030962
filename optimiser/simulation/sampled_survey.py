"""One possible survey of levels that are still nominal, drawn from their tolerances."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np

from optimiser.model.project import Gap, Project
from optimiser.simulation.draws import tolerance_process


def sampled_survey(project: Project, levels: Collection[str], seed: int) -> Project:
    """The runs of these levels alone, with gaps as a survey might find them: every one measured, none below 1 mm.

    Drawn as the tolerance simulation draws (`tolerance_process`); equal seeds give equal surveys.
    """
    part = project.with_runs(run for run in project.runs if run.level in levels)
    if not part.runs:
        return part
    process = tolerance_process(part)
    (drawn,) = process.gaps([np.random.SeedSequence(seed)]).tolist()
    at, start = process.runs.knot_at.tolist(), process.runs.knot_start.tolist()
    gaps = tuple(
        Gap(run=run.run, at_mm=at[knot], gap_mm=drawn[knot])
        for number, run in enumerate(part.runs)
        for knot in range(start[number], start[number + 1])
    )
    return part.model_copy(update={"gaps": gaps})
