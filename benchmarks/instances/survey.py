"""Invented surveys, clean and with one planted mistake: frozen, so that figures stay comparable.

A building of four elevations a level, mullions at a pitch, a reading every 1.2, 1.5 or 2 m and at both ends. The gap
wanders slowly along the edge (a walk that is drawn back to its mean), or every reading differs independently; about
one run in eight has a true step, where a formwork panel moved, and the elevations' nominal gaps differ.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from optimiser.model.project import Board, Gap, Level, Project, Run

FIRST_DAY = date(2027, 3, 1)
CLEAN_NOISES = ("walk 0.5", "walk 1", "walk 2", "noise 1", "noise 2", "noise 3", "noise 5")
"""How the gaps of a clean survey vary: the steps of a slow walk, or independent noise, with its deviation in mm."""


@dataclass(frozen=True)
class Planted:
    """A survey with one mistake: of which kind, and on which runs a question would find it."""

    kind: str
    project: Project
    runs: tuple[str, ...]
    says: str


def clean_survey(seed: int, noise: str) -> Project:
    """A survey without a mistake; equal seeds and noises give equal surveys."""
    draws = random.Random(f"clean {seed} {noise}")
    kind, _, size = noise.partition(" ")
    levels = draws.randint(3, 14)
    spacing = draws.choice((1200, 1500, 1500, 2000))
    long, short = draws.randrange(18_000, 42_000, 10), draws.randrange(9_000, 30_000, 10)
    pitch = draws.choice((1200, 1350, 1500, 1800))
    nominal = {"N": draws.randint(110, 220), "E": draws.randint(110, 220)}
    nominal |= {"S": nominal["N"], "W": nominal["E"]}
    runs, gaps, rows = [], [], []
    for number in range(1, levels + 1):
        level = f"L{number:02d}"
        needed_on = FIRST_DAY + timedelta(weeks=number)
        rows.append(Level(level=level, sequence=number, needed_on=needed_on))
        for side, following in zip("NESW", "ESWN", strict=True):
            drawn = long if side in "NS" else short
            length = drawn + draws.randint(-15, 15)
            bays = range(pitch // 2, drawn - pitch // 3, pitch)
            runs.append(
                Run(
                    run=f"{level}-{side}",
                    level=level,
                    length_mm=length,
                    board=("B-120",),
                    joins=f"{level}-{following}",
                    mullions_mm=tuple(at + draws.randint(-8, 8) for at in bays),
                )
            )
            taken_on = needed_on - timedelta(days=draws.randint(14, 30))
            positions = [*range(0, length - spacing // 3, spacing), length]
            for at, gap in zip(
                positions, _gaps(draws, len(positions), nominal[side], kind, float(size)), strict=True
            ):
                gaps.append(Gap(run=f"{level}-{side}", at_mm=at, gap_mm=gap, taken_on=taken_on))
    board = Board(code="B-120", length_mm=1200, width_mm=1000, thickness_mm=120)
    return Project(products=(board,), levels=tuple(rows), runs=tuple(runs), gaps=tuple(gaps))


def _gaps(draws: random.Random, number: int, nominal: int, kind: str, size: float) -> list[int]:
    """A run's gaps in order."""
    mean = nominal + draws.uniform(-6, 6)
    step_at = draws.randrange(3, number - 3) if number > 8 and draws.random() < 0.125 else number
    step = draws.choice((-1, 1)) * nominal * 0.08
    error, found = draws.gauss(0, size), []
    for place in range(number):
        error = 0.95 * error + draws.gauss(0, size) if kind == "walk" else draws.gauss(0, size)
        found.append(max(30, round(mean + error + (step if place >= step_at else 0))))
    return found


def planted_surveys(cases: int) -> Iterator[Planted]:
    """Surveys with one mistake each, the nine kinds evenly, the noises in turn."""
    kinds = tuple(PLANTS)
    for number in range(cases):
        noise = CLEAN_NOISES[number % len(CLEAN_NOISES)]
        kind = kinds[number % len(kinds)]
        draws = random.Random(f"planted {number}")
        yield PLANTS[kind](draws, clean_survey(1000 + number, noise))


def _with_gaps(project: Project, change: Callable[[Gap], Gap | None], run: str) -> Project:
    gaps = (change(gap) if gap.run == run else gap for gap in project.gaps)
    return project.model_copy(update={"gaps": tuple(gap for gap in gaps if gap is not None)})


def _with_run(project: Project, changed: Run) -> Project:
    runs = tuple(changed if run.run == changed.run else run for run in project.runs)
    return project.model_copy(update={"runs": runs})


def _place(draws: random.Random, project: Project) -> tuple[Run, tuple[Gap, ...], Gap]:
    """A run, its readings, and one of them."""
    run = draws.choice(project.runs)
    gaps = project.gaps_of()[run.run]
    return run, gaps, draws.choice(gaps)


def _readings_end_early(draws: random.Random, project: Project) -> Planted:
    run, gaps, _ = _place(draws, project)
    last = gaps[max(1, len(gaps) * draws.randint(25, 80) // 100)].at_mm
    left = _with_gaps(project, lambda gap: gap if gap.at_mm <= last else None, run.run)
    return Planted("spacing", left, (run.run,), f"readings of {run.run} end at {last} mm")


def _misread(draws: random.Random, project: Project) -> Planted:
    run, _, wrong = _place(draws, project)
    gap = wrong.gap_mm + draws.choice((-1, 1)) * draws.randint(25, 60)
    return _typed("outlier", project, run, wrong, gap)


def _typed(kind: str, project: Project, run: Run, wrong: Gap, gap_mm: int) -> Planted:
    changed = _with_gaps(
        project, lambda gap: gap.model_copy(update={"gap_mm": gap_mm}) if gap is wrong else gap, run.run
    )
    return Planted(kind, changed, (run.run,), f"{gap_mm} for {wrong.gap_mm} at {wrong.at_mm} mm of {run.run}")


def _moved(project: Project, run: Run, wrong: Gap, at_mm: int) -> Project:
    return _with_gaps(
        project, lambda gap: gap.model_copy(update={"at_mm": at_mm}) if gap is wrong else gap, run.run
    )


def _digits_swapped(draws: random.Random, project: Project) -> Planted:
    """Two neighbouring digits of a gap; such as differ by 20 mm or more, for nobody could see less."""
    while True:
        run, _, wrong = _place(draws, project)
        digits = str(wrong.gap_mm)
        place = draws.randrange(len(digits) - 1)
        swapped = int(digits[:place] + digits[place + 1] + digits[place] + digits[place + 2 :])
        if swapped >= 20 and abs(swapped - wrong.gap_mm) >= 20:
            return _typed("digits swapped", project, run, wrong, swapped)


def _factor_of_ten(draws: random.Random, project: Project) -> Planted:
    """A digit left out of a gap, or zeros left off a position."""
    while True:
        run, gaps, wrong = _place(draws, project)
        if draws.random() < 0.5:
            return _typed("factor of ten", project, run, wrong, wrong.gap_mm // 10)
        factor = draws.choice((10, 100, 1000))
        at_mm = wrong.at_mm // factor
        if wrong.at_mm and wrong.at_mm % factor == 0 and all(gap.at_mm != at_mm for gap in gaps):
            changed = _moved(project, run, wrong, at_mm)
            return Planted(
                "factor of ten", changed, (run.run,), f"position {at_mm} for {wrong.at_mm} of {run.run}"
            )


def _mullions_missing(draws: random.Random, project: Project) -> Planted:
    """All after the third, or one or two in a row."""
    run, _, _ = _place(draws, project)
    if draws.random() < 0.5:
        left = run.mullions_mm[:3]
    else:
        first = draws.randrange(1, len(run.mullions_mm) - 2)
        left = run.mullions_mm[:first] + run.mullions_mm[first + draws.randint(1, 2) :]
    changed = _with_run(project, run.model_copy(update={"mullions_mm": left}))
    return Planted("mullions", changed, (run.run,), f"{len(left)} mullions on {run.run}")


def _too_long(draws: random.Random, project: Project) -> Planted:
    run, gaps, _ = _place(draws, project)
    by = draws.choice((-1, 1)) * draws.randint(300, 1200)
    length = max(run.length_mm + by, gaps[-2].at_mm + 1, run.mullions_mm[-1] + 1)
    if abs(length - run.length_mm) < 300:
        length = run.length_mm + abs(by)
    changed = _with_run(project, run.model_copy(update={"length_mm": length}))
    changed = _with_gaps(
        changed,
        lambda gap: gap.model_copy(update={"at_mm": min(gap.at_mm, length)}) if gap is gaps[-1] else gap,
        run.run,
    )
    sides = {"N": "S", "S": "N", "E": "W", "W": "E"}
    opposite = f"{run.level}-{sides[run.run[-1]]}"
    return Planted("length", changed, (run.run, opposite), f"{run.run} {length} for {run.length_mm} mm")


def _step_between_runs(draws: random.Random, project: Project) -> Planted:
    """All readings of a run from another face of the slab."""
    run, _, _ = _place(draws, project)
    by = draws.choice((-1, 1)) * draws.randint(25, 50)
    changed = _with_gaps(
        project, lambda gap: gap.model_copy(update={"gap_mm": max(20, gap.gap_mm + by)}), run.run
    )
    before = next(other.run for other in project.runs if other.joins == run.run)
    return Planted("step", changed, (run.run, before), f"{run.run} shifted by {by} mm")


def _beyond_tolerance(draws: random.Random, project: Project) -> Planted:
    """A run that is nominal but for some readings, one of which lies beyond the tolerance."""
    run, gaps, _ = _place(draws, project)
    middle = sorted(gap.gap_mm for gap in gaps)[len(gaps) // 2]
    wrong = draws.choice(gaps[1:-1])
    tolerance = 25

    def changed(gap: Gap) -> Gap | None:
        if gap is gaps[0] or gap is gaps[-1]:
            return gap.model_copy(update={"gap_mm": middle, "basis": "nominal", "tolerance_mm": tolerance})
        near = min(max(gap.gap_mm, middle - tolerance), middle + tolerance)
        beyond = middle + side * (tolerance + far)
        return gap.model_copy(update={"gap_mm": beyond if gap is wrong else near})

    side, far = draws.choice((-1, 1)), draws.randint(3, 15)
    return Planted(
        "nominal", _with_gaps(project, changed, run.run), (run.run,), f"at {wrong.at_mm} mm of {run.run}"
    )


def _too_old(draws: random.Random, project: Project) -> Planted:
    """The readings of a run, or one of them, from a survey of long ago."""
    run, _, wrong = _place(draws, project)
    whole, days = draws.random() < 0.5, draws.randint(30, 200)

    def older(gap: Gap) -> Gap:
        if gap.taken_on is None or not (whole or gap is wrong):
            return gap
        return gap.model_copy(update={"taken_on": gap.taken_on - timedelta(days=days)})

    return Planted("age", _with_gaps(project, older, run.run), (run.run,), f"{run.run}, {days} days older")


PLANTS: dict[str, Callable[[random.Random, Project], Planted]] = {
    "spacing": _readings_end_early,
    "outlier": _misread,
    "digits swapped": _digits_swapped,
    "factor of ten": _factor_of_ten,
    "mullions": _mullions_missing,
    "length": _too_long,
    "step": _step_between_runs,
    "nominal": _beyond_tolerance,
    "age": _too_old,
}
