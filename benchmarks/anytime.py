"""With a time limit the plan is never worse than the same solver's at half of it, and `plan`'s own limit is far away.

Facades of the frozen generator, with a rack and with limited carrying, each solved with limits from 20 ms on, every one
twice the last, counted in CPU seconds (`by_cpu`); and the samples and an invented building of 40 levels planned as
the command line plans them, beside the seconds after which it stops by itself.
"""

from __future__ import annotations

from collections.abc import Iterator
from time import process_time

from benchmarks.aims import Aim
from benchmarks.by_cpu import limits_by_cpu
from benchmarks.instances.facade import facade
from benchmarks.instances.real_projects import facade_with_rack
from benchmarks.joints import HIGH_LEVELS, HIGH_SEED, SMALL, TOWER, building
from benchmarks.verdicts import Verdict
from optimiser.commands.plan import USUAL_LIMIT
from optimiser.cutting.problem import CuttingProblem
from optimiser.cutting.solve import solve
from optimiser.planning.plan import plan
from optimiser.reading import read_project

LIMITS = tuple(0.02 * 2**k for k in range(7))  # seconds: 20 ms to 1.28 s
SEEDS = (1, 2, 3)


def judge_anytime(quick: bool = False) -> list[Verdict]:
    """The two targets as lines of the results."""
    return [_more_time(quick), *([] if quick else [_limit_of_plan()])]


def _problems(quick: bool) -> Iterator[tuple[str, CuttingProblem]]:
    for seed in SEEDS[:1] if quick else SEEDS:
        for size in ("S", "M") if quick else ("S", "M", "XL"):
            yield f"facade-{size}-{seed:02d}", facade(size, seed)
        yield f"rack-M-150-{seed:02d}", facade_with_rack("M", seed, 150)
        yield f"carry-1-M-{seed:02d}", facade("M", seed).model_copy(update={"max_carry_stages": 1})


def _more_time(quick: bool) -> Verdict:
    asked, worse = 0, []
    for name, problem in _problems(quick):
        before: tuple[float, int] | None = None
        for limit in LIMITS:
            with limits_by_cpu():
                cost = int(solve(problem, time_limit=limit, waiting=False).cost)
            if before is not None:
                asked += 1
                if cost > before[1]:
                    worse.append(f"{name}, {limit:g} s ({cost} against {before[1]} at {before[0]:g} s)")
            before = limit, cost
    return Verdict(
        "anytime, half the limit",
        "the plan is never worse than with half the time",
        not worse,
        asked - len(worse),
        asked,
        asked,
        f"limits from {LIMITS[0]:g} to {LIMITS[-1]:g} CPU s",
        tuple(worse),
        Aim.ANYTIME,
    )


def _limit_of_plan() -> Verdict:
    took = {}
    for name, project in (
        ("small sample", read_project(SMALL)),
        ("sample tower", read_project(TOWER)),
        (f"{HIGH_LEVELS} levels", building(HIGH_SEED, trim=True, levels=HIGH_LEVELS)),
    ):
        started = process_time()
        plan(project, stop_after=USUAL_LIMIT)
        took[name] = process_time() - started
    missed = tuple(name for name, seconds in took.items() if seconds >= USUAL_LIMIT)
    return Verdict(
        "anytime, plan",
        f"no ordinary building meets the {USUAL_LIMIT:g} s after which `plan` stops",
        not missed,
        len(took) - len(missed),
        len(took),
        len(took),
        "CPU seconds: " + ", ".join(f"{name} {seconds:.1f}" for name, seconds in took.items()),
        missed,
        Aim.ANYTIME,
    )
