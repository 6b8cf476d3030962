"""Readings older than the detail allows on the day on which their level is needed: no clock is asked."""

from __future__ import annotations

from collections.abc import Iterator

from optimiser.model.project import Project
from optimiser.model.question import Question
from optimiser.survey.questions.measured import ask


def questions_of_ages(project: Project) -> Iterator[Question]:
    """A question for each run with measured readings that will be older than the detail's `reading_age_max_days` when
    its level is needed (`needed_on`); the oldest is told."""
    for name, gaps in project.building.gaps.items():
        run = project.building.runs[name]
        allowed = project.building.detail_of(name).reading_age_max_days
        needed_on = project.building.levels[run.level].needed_on
        if needed_on is None:
            continue
        old = [
            ((needed_on - gap.taken_on).days, gap)
            for gap in gaps
            if gap.basis == "measured"
            and gap.taken_on is not None
            and (needed_on - gap.taken_on).days > allowed
        ]
        if not old:
            continue
        age, oldest = max(old, key=lambda item: item[0])
        first = old[0][1]
        which = (
            f"the reading at {first.at_mm} mm is"
            if len(old) == 1
            else f"{len(old)} readings, from {first.at_mm} to {old[-1][1].at_mm} mm, are up to"
        )
        yield ask(
            "age", run, first.at_mm, f"{oldest.gap_mm} mm" if len(old) == 1 else f"{len(old)} readings",
            f"Is the gap still as it was read? On {needed_on}, when the level is needed, {which} {age} days old.",
            f"The oldest was taken on {oldest.taken_on}; the detail allows {allowed} days (reading_age_max_days).",
            "the gap at that place" if len(old) == 1 else "the gaps at these places",
            [gap.at_mm for _, gap in old],
        )  # fmt: skip
