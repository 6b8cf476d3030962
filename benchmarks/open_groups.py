"""The open cases in groups that share a target: several sizes, full racks, limited carrying, uneven surveys."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import partial

from benchmarks.aims import Aim
from benchmarks.instances.facade import facade
from benchmarks.instances.real_projects import facade_in_sizes, facade_with_rack, uneven_survey
from optimiser.cutting.problem import CuttingProblem

WIDE, NARROW, SHORT, LONG = (1200, 1000, 5300), (1200, 600, 3300), (1000, 600, 2800), (2400, 1200, 12_500)
MIXTURES = {
    "1200x1000 and 1200x600": (WIDE, NARROW),
    "1200x1000 and 1000x600": (WIDE, SHORT),
    "1200x1000 and 2400x1200": (WIDE, LONG),
    "three sizes": (WIDE, NARROW, SHORT),
}
SEEDS = tuple(range(1, 21))
FEW_SEEDS = SEEDS[:5]
OPEN_SEEDS = (*SEEDS, *range(101, 121))
FIRST_ANSWER_SECONDS = 0.5


@dataclass(frozen=True)
class Case:
    """A problem and the seconds that its solver is given."""

    name: str
    generate: Callable[[], CuttingProblem]
    time_limit: float


@dataclass(frozen=True)
class Group:
    """Cases that share a target: of at least `needed` of them (a share), no more than `boards` times the dearest board
    or `share` of the bound above the bound; both None: proved optimal. With `first_within` it is the best
    answer by those seconds that is judged."""

    aim: Aim
    name: str
    statement: str
    cases: tuple[Case, ...]
    needed: Fraction = Fraction(1)
    boards: int | None = None
    share: float | None = None
    first_within: float | None = None


def _cases(
    name: str, seeds: Sequence[int], time_limit: float, generate: Callable[[int], CuttingProblem]
) -> tuple[Case, ...]:
    return tuple(Case(f"{name}-{seed:02d}", partial(generate, seed), time_limit) for seed in seeds)


def carried(size: str, carry: int, seed: int) -> CuttingProblem:
    """A facade whose pieces may be cut so many deliveries ahead."""
    return facade(size, seed).model_copy(update={"max_carry_stages": carry})


def groups() -> Iterator[Group]:
    """The groups in the order of the aims."""
    for size in ("S", "M"):
        yield Group(
            Aim.OPEN_BOARD,
            f"open board {size}",
            "one size carried freely, proved optimal, every one, in 10 s",
            _cases(f"facade-{size}", OPEN_SEEDS, 10.0, partial(facade, size)),
        )
    for name, sizes in MIXTURES.items():
        for size, seeds, seconds, needed, share in (
            ("S", SEEDS, 5.0, Fraction(18, 20), None),
            ("M", FEW_SEEDS, 5.0, Fraction(1), 0.002),
            ("XL", SEEDS[:2], 10.0, Fraction(1), 0.0005),
        ):
            goal = "proved optimal, 18 of 20," if share is None else f"within {share:.2%} of the bound"
            yield Group(
                Aim.SEVERAL_SIZES,
                f"sizes {size} {name}",
                f"{goal} in {seconds:g} s",
                _cases(f"sizes-{size}-{name}", seeds, seconds, partial(_in_sizes, size, sizes)),
                needed,
                share=share,
            )
    for offcuts in (150, 600):
        for carry in (None, 1):
            how = "freely" if carry is None else f"to {carry}"
            yield Group(
                Aim.FULL_RACK,
                f"rack M {offcuts} carried {how}",
                "within one board of the bound in 3 s",
                _cases(f"rack-M-{offcuts}-{how}", FEW_SEEDS, 3.0, partial(_racked, "M", offcuts, carry)),
                boards=1,
            )
    for offcuts, seeds in ((150, SEEDS[:2]), (600, SEEDS[:1])):
        for carry in (None, 1):
            how = "freely" if carry is None else f"to {carry}"
            yield Group(
                Aim.FULL_RACK,
                f"rack XL {offcuts} carried {how}",
                "within two boards of the bound in 10 s",
                _cases(f"rack-XL-{offcuts}-{how}", seeds, 10.0, partial(_racked, "XL", offcuts, carry)),
                boards=2,
            )
    for limit in (1, 2, 3):
        yield Group(
            Aim.LIMITED_CARRYING,
            f"carry {limit} M",
            "proved optimal in 5 s, 15 of 20",
            _cases(f"carry-{limit}-M", SEEDS, 5.0, partial(carried, "M", limit)),
            Fraction(15, 20),
        )
        for size, seeds in (("M", SEEDS), ("XL", SEEDS[:2])):
            yield Group(
                Aim.LIMITED_CARRYING,
                f"carry {limit} {size}, a board",
                "within one board of the bound in 5 s",
                _cases(f"carry-{limit}-{size}", seeds, 5.0, partial(carried, size, limit)),
                boards=1,
            )
    for levels, seconds in ((20, 5.0), (60, 30.0)):
        cases = _cases(f"uneven-{levels}", SEEDS[:1], seconds, partial(uneven_survey, levels))
        for statement, share, first in (
            (f"within 0.2 % of the bound in {seconds:g} s, tapers included", 0.002, None),
            (f"first answer within 1 % in {FIRST_ANSWER_SECONDS:g} s", 0.01, FIRST_ANSWER_SECONDS),
        ):
            yield Group(
                Aim.UNEVEN_SURVEYS,
                f"uneven survey, {levels} levels" + (", first answer" if first else ""),
                statement,
                cases,
                share=share,
                first_within=first,
            )


def _in_sizes(size: str, sizes: tuple[tuple[int, int, int], ...], seed: int) -> CuttingProblem:
    return facade_in_sizes(size, seed, sizes)


def _racked(size: str, offcuts: int, carry: int | None, seed: int) -> CuttingProblem:
    return facade_with_rack(size, seed, offcuts, carry)
