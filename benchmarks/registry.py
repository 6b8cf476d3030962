"""What is measured: frozen groups of cases, the optimum where it is known, and the targets.

Seeds are part of the specification: changing a generator or a seed makes another benchmark.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import Literal

from benchmarks.aims import Aim
from benchmarks.instances.cutgen import CLASSES, cutgen
from benchmarks.instances.facade import facade
from benchmarks.instances.triplets import triplets
from benchmarks.instances.two_stage import two_stage
from benchmarks.instances.uniform import uniform
from benchmarks.instances.without_round_up import NUMBERS, known_optimum, without_round_up
from benchmarks.known_optima import known_two_stage_optimum
from optimiser.cutting.problem import CuttingProblem

SEEDS = tuple(range(1, 21))
RIVALS_OF_FACADES = ("first fit", "fixed width", "level by level", "CP-SAT", "plain LP")
RIVALS_OF_CLASSES = ("first fit", "CP-SAT", "plain LP")


@dataclass(frozen=True)
class Case:
    """One problem. `known_optimum` comes from `optimum_source`, never from the solver that is measured."""

    name: str
    generate: Callable[[], CuttingProblem]
    seed: int | None = None
    known_optimum: int | None = None
    optimum_source: str = ""


@dataclass(frozen=True)
class Group:
    """Cases of a kind. `time_limit` is what the solver is given, in seconds; `short_limit` asks for
    a second run that short. The first `rival_cases` cases go to the `rivals`, each for `rival_time_limit`
    seconds; the first `command_cases` also through the command line in a process of its own."""

    name: str
    title: str
    cases: tuple[Case, ...]
    time_limit: float
    short_limit: float | None = None
    rivals: tuple[str, ...] = ()
    rival_cases: int = 3
    rival_time_limit: float = 30.0
    command_cases: int = 3


@dataclass(frozen=True)
class Target:
    """At least `needed` of a group's cases: no more than `boards_above_bound` boards, or
    `share_above_bound` of the bound, above the proved bound (or the known optimum, when
    `at_known_optimum`), within `seconds` by the solver's own clock and by one outside. `answer`
    says which is judged: the plan, the first answer that the solver tells of, or the short run's plan;
    `megabytes` is the peak of the whole process. `aim`: what it is a part of, if anything."""

    group: str
    statement: str
    seconds: float
    needed: int
    boards_above_bound: int | None = 0
    share_above_bound: float | None = None
    at_known_optimum: bool = False
    answer: Literal["plan", "first", "short run"] = "plan"
    megabytes: int | None = None
    aim: Aim | None = None


def _facade_group(size: str, seeds: tuple[int, ...], **settings: object) -> Group:
    cases = tuple(Case(f"facade-{size}-{seed:02d}", partial(facade, size, seed), seed) for seed in seeds)
    levels = {"S": "3 levels x 50", "M": "12 x 75", "XL": "40 x 133", "XXL": "100 x 500"}[size]
    return Group(f"facade-{size}", f"facade {size}, {levels} pieces", cases, **settings)  # type: ignore[arg-type]


def _triplet_group(count: int) -> Group:
    cases = tuple(
        Case(f"t{count}-{seed:02d}", partial(triplets, count, seed), seed, count // 3, "by construction")
        for seed in SEEDS
    )
    return Group(
        f"triplets-{count}", f"triplets t{count}", cases, 5.0, rivals=RIVALS_OF_CLASSES, rival_cases=1
    )


def _uniform_group(count: int) -> Group:
    cases = tuple(Case(f"u{count}-{seed:02d}", partial(uniform, count, seed), seed) for seed in SEEDS)
    return Group(f"uniform-{count}", f"uniform u{count}", cases, 5.0, rivals=RIVALS_OF_CLASSES, rival_cases=1)


def _without_round_up_group() -> Group:
    cases = tuple(
        Case(
            f"without-round-up-{number:03d}",
            partial(without_round_up, number),
            number,
            known_optimum(number),
            "the linear bound's boards proved too few by an exact model",
        )
        for number in NUMBERS
    )
    return Group(
        "without-round-up",
        "one-dimensional, without the round-up property",
        cases,
        59.0,
        rivals=RIVALS_OF_CLASSES,
    )


def _cutgen_group() -> Group:
    cases = tuple(
        Case(f"cutgen-{parameters.name}-{instance}", partial(cutgen, parameters, instance), 1994)
        for parameters in CLASSES
        for instance in range(1, 6)
    )
    return Group("cutgen", "CUTGEN1, 18 classes x 5", cases, 5.0, rivals=("first fit", "plain LP"))


def _two_stage_case(name: str) -> Case:
    optimum, source = known_two_stage_optimum(name)
    return Case(name, partial(two_stage, name), None, optimum, source)


def _two_stage_group(count: int, time_limit: float) -> Group:
    names = [f"cl{kind:02d}_{count:03d}_{number:02d}" for kind in range(1, 11) for number in range(1, 11)]
    return Group(
        f"two-stage-{count}",
        f"two-stage classes 1-10, n = {count}",
        tuple(_two_stage_case(name) for name in names),
        time_limit,
        rivals=RIVALS_OF_CLASSES,
        rival_cases=10 if count == 20 else 3,
        command_cases=5,
    )


LISTED_N40 = tuple(f"cl01_040_{number:02d}" for number in range(1, 6))

GROUPS = (
    _facade_group("S", SEEDS, time_limit=1.0, rivals=RIVALS_OF_FACADES),
    _facade_group("M", SEEDS, time_limit=1.0, rivals=RIVALS_OF_FACADES),
    _facade_group("XL", SEEDS, time_limit=0.95, short_limit=0.02, rivals=RIVALS_OF_FACADES, rival_cases=1),
    _facade_group("XXL", SEEDS[:3], time_limit=9.5, rivals=("fixed width", "level by level"), rival_cases=1),
    *(_triplet_group(count) for count in (60, 120, 249, 501)),
    *(_uniform_group(count) for count in (120, 250, 500, 1000)),
    _cutgen_group(),
    _two_stage_group(20, 5.0),
    Group(
        "two-stage-40-listed",
        "two-stage cl01_040_01 to 05",
        tuple(_two_stage_case(name) for name in LISTED_N40),
        4.75,
        rivals=RIVALS_OF_CLASSES,
    ),
    *(_two_stage_group(count, 9.5) for count in (40, 60, 80, 100)),
    Group(
        "beng",
        "BENG 01 to 08",
        tuple(_two_stage_case(f"beng{number:02d}") for number in range(1, 9)),
        9.5,
        rivals=RIVALS_OF_CLASSES,
        rival_cases=8,
    ),
    _without_round_up_group(),
)

TARGETS = (
    Target("facade-S", "proved optimal in 0.1 s, at least 19 of 20", 0.1, 19),
    Target("facade-M", "proved optimal in 0.1 s, at least 19 of 20", 0.1, 19),
    Target(
        "facade-XL",
        "first answer within 2 % of the bound in 20 ms",
        0.02,
        20,
        boards_above_bound=None,
        share_above_bound=0.02,
        answer="first",
    ),
    Target(
        "facade-XL",
        "a time limit of 20 ms honoured within 10 %",
        0.022,
        20,
        boards_above_bound=None,
        answer="short run",
        aim=Aim.ANYTIME,
    ),
    Target("facade-XL", "at most 1 board above the proved bound in 1 s", 1.0, 20, boards_above_bound=1),
    Target(
        "facade-XXL",
        "within 0.1 % of the bound in 10 s, under 1 GB",
        10.0,
        3,
        boards_above_bound=None,
        share_above_bound=0.001,
        megabytes=1000,
    ),
    *(
        Target(
            f"triplets-{count}",
            "optimum, every one, each in 1 s",
            1.0,
            20,
            at_known_optimum=True,
            aim=Aim.OPEN_BOARD if count == 501 else None,
        )
        for count in (120, 249, 501)
    ),
    Target("uniform-1000", "proved optimal, every one, each in 1 s", 1.0, 20),
    Target("two-stage-20", "100 of 100 proved optimal, each in 1 s", 1.0, 100),
    Target(
        "two-stage-40-listed", "the listed optima, all proved, each in 5 s", 5.0, 5, at_known_optimum=True
    ),
    *(
        Target(
            f"two-stage-{count}",
            "at most 1 board above the proved bound in 10 s",
            10.0,
            100,
            boards_above_bound=1,
        )
        for count in (40, 60, 80, 100)
    ),
    Target("beng", "proved optimal in 10 s", 10.0, 8, aim=Aim.OPEN_BOARD),
    Target(
        "without-round-up",
        "40 one-dimensional problems without the round-up property, all proved, each in 60 s",
        60.0,
        len(NUMBERS),
        at_known_optimum=True,
        aim=Aim.OPEN_BOARD,
    ),
)


def groups_named(beginning: str | None) -> Iterator[Group]:
    """The groups whose name begins so; all without one."""
    yield from (group for group in GROUPS if group.name.startswith(beginning or ""))
