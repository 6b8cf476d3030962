"""Run lengths that differ from those above and below while these agree, and opposite sides that do not close."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from optimiser.model.project import Project
from optimiser.model.question import Question
from optimiser.model.tables import Run
from optimiser.survey.questions.corresponding import RunsAboveAndBelow
from optimiser.survey.questions.measured import ask


def questions_of_lengths(project: Project, above_and_below: RunsAboveAndBelow) -> Iterator[Question]:
    """A question for each run whose length stands alone among its neighbours, else for each level of four runs in
    which one pair of opposite sides differs."""
    tolerance = project.survey_limits.run_length_tolerance_mm
    runs = project.building.runs
    of_level: dict[str, list[Run]] = {}
    for run in project.runs:
        of_level.setdefault(run.level, []).append(run)
    for sides in of_level.values():
        alone = [run for run in sides if _stands_alone(run, above_and_below, runs, tolerance)]
        # on the lowest and the highest level a storey that steps back differs too, but on more than one of its runs
        stepped = len(alone) > 1 and all(_outermost(run, above_and_below) for run in alone)
        for run in () if stepped else alone:
            near = [runs[name] for name in above_and_below.nearest[run.run]]
            names = " and ".join(other.run for other in near)
            yield ask(
                "length", run, run.length_mm, f"{run.length_mm} mm long",
                f"Is this run {run.length_mm} mm long, and not {near[0].length_mm} mm?",
                f"{names} are {near[0].length_mm} and {near[1].length_mm} mm long, which agree to {tolerance} mm.",
                "the length of the run, from its start to its end",
            )  # fmt: skip
        if not alone:
            yield from _not_closed(sides, above_and_below, runs, tolerance)


def _stands_alone(
    run: Run, above_and_below: RunsAboveAndBelow, runs: Mapping[str, Run], tolerance: int
) -> bool:
    near = above_and_below.nearest[run.run]
    if len(near) < 2:
        return False
    one, other = (runs[name].length_mm for name in near)
    differs = all(abs(run.length_mm - length) > tolerance for length in (one, other))
    return abs(one - other) <= tolerance and differs


def _outermost(run: Run, above_and_below: RunsAboveAndBelow) -> bool:
    return run.run in (above_and_below.column[run.run][0], above_and_below.column[run.run][-1])


def _not_closed(
    sides: Sequence[Run], above_and_below: RunsAboveAndBelow, runs: Mapping[str, Run], tolerance: int
) -> Iterator[Question]:
    """Of four runs around a slab, opposite ones are equally long; where just one pair is not, or neither of four that
    join end to end, it is asked about, unless the levels above and below have the same lengths."""
    loop = _around(sides)
    if loop is None:
        return
    pairs = ((loop[0], loop[2]), (loop[1], loop[3]))
    open_pairs = [pair for pair in pairs if abs(pair[0].length_mm - pair[1].length_mm) > tolerance]
    joined = all(run.joins for run in sides)
    if len(open_pairs) == 1 or (joined and len(open_pairs) == 2):
        for one, other in open_pairs:
            if _alike_elsewhere(one, above_and_below, runs, tolerance) and _alike_elsewhere(
                other, above_and_below, runs, tolerance
            ):
                continue
            longer, shorter = sorted((one, other), key=lambda run: -run.length_mm)
            yield ask(
                "length", longer, longer.length_mm, f"{longer.length_mm} mm long",
                f"Is this run {longer.length_mm} mm long? Opposite lies {shorter.run}, {shorter.length_mm} mm long.",
                f"The four sides of level {longer.level} do not close: opposite sides differ by"
                f" {longer.length_mm - shorter.length_mm} mm (asked from {tolerance} mm).",
                f"the lengths of {longer.run} and {shorter.run}",
            )  # fmt: skip


def _around(sides: Sequence[Run]) -> Sequence[Run] | None:
    """The four runs of a level in the order in which they meet: by `joins` where it is given, else by the table."""
    if len(sides) != 4:
        return None
    if not any(run.joins for run in sides):
        return sides
    by_name = {run.run: run for run in sides}
    loop = [sides[0]]
    while len(loop) < 4:
        following = by_name.get(loop[-1].joins)
        if following is None or following in loop:
            return None
        loop.append(following)
    return loop if loop[-1].joins == loop[0].run else None


def _alike_elsewhere(
    run: Run, above_and_below: RunsAboveAndBelow, runs: Mapping[str, Run], tolerance: int
) -> bool:
    near = above_and_below.nearest[run.run]
    return bool(near) and all(abs(runs[name].length_mm - run.length_mm) <= tolerance for name in near)
