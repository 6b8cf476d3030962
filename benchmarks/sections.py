"""What is measured beside the groups of `registry`: each section by its name, so that it can be run alone."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

from benchmarks.aims import Aim
from benchmarks.anytime import judge_anytime
from benchmarks.comparison import Comparison
from benchmarks.estimating import judge_estimating
from benchmarks.joints import judge_joints
from benchmarks.looser import judge_looser
from benchmarks.open_cases import is_long, judge_choices_of_sizes, judge_group
from benchmarks.open_groups import groups as open_groups
from benchmarks.rolling import judge_rolling
from benchmarks.tapers import judge_tapers
from benchmarks.verdicts import Verdict, judge_start_up
from benchmarks.waiting import judge_waiting

Judge = Callable[[], tuple[list[Verdict], list[Comparison]]]
SECTIONS: dict[str, Callable[[bool], list[Verdict]]] = {
    "start-up": lambda quick: judge_start_up(),
    "estimating": lambda quick: judge_estimating(),
    "waiting": judge_waiting,
    "sizes, choices": lambda quick: [judge_choices_of_sizes(quick)],
    "tapers": lambda quick: judge_tapers(),
    "joints": judge_joints,
    "anytime": judge_anytime,
    "rolling": judge_rolling,
    "mutants": lambda quick: [mutants()],
    "looser": judge_looser,  # the longest, so the last
}


def mutants() -> Verdict:
    """The line of the tests' own strength, which takes hours and so a command of its own."""
    return Verdict(
        "mutants",
        "90 % of a seeded sample of 60 mutants of the cutting are killed",
        False,
        0,
        60,
        0,
        "by a command of its own, some hours: `python -m tests.mutation --folder cutting --sample 60 --seed 1 --slow`",
        (),
        Aim.STRENGTH_OF_TESTS,
    )


def named(only: str, quick: bool) -> Iterator[tuple[str, Judge]]:
    """Each section whose name begins with `only`, and of the open cases the groups whose name does."""
    for group in open_groups():
        if group.name.startswith(only) and not (quick and is_long(group)):
            yield group.name, partial(judge_group, group, quick)
    for name, judge in SECTIONS.items():
        if name.startswith(only):
            yield name, partial(_without_rivals, judge, quick)


def _without_rivals(
    judge: Callable[[bool], list[Verdict]], quick: bool
) -> tuple[list[Verdict], list[Comparison]]:
    return judge(quick), []


def is_one(only: str) -> bool:
    """Whether a section or a group of open cases begins so."""
    return any(name.startswith(only) for name in SECTIONS) or any(
        group.name.startswith(only) for group in open_groups()
    )
