"""CUTGEN1, the standard generator of one-dimensional cutting stock problems.

T. Gau and G. Wäscher, 'CUTGEN1: a problem generator for the standard one-dimensional cutting stock problem',
European Journal of Operational Research 84 (1995) 572-579.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

from benchmarks.instances.one_dimensional import one_dimensional
from optimiser.cutting.problem import CuttingProblem

MULTIPLIER = 16807
MODULUS = 2**31 - 1
PUBLISHED_SEED = 1994


@dataclass(frozen=True)
class CutgenClass:
    """The parameters of a class: m lengths between v1 L and v2 L, demands of d_bar on average."""

    lengths: int
    shortest: float
    longest: float
    average_demand: int
    stock_length: int = 1000

    @property
    def name(self) -> str:
        """A name that holds all parameters that vary."""
        return f"m{self.lengths}-v{self.shortest}-{self.longest}-d{self.average_demand}"


# The 18 classes that the pattern-reduction literature uses (H. Foerster and G. Wäscher, International Journal
# of Production Research 38, 2000; the parameters are from memory).
CLASSES = tuple(
    CutgenClass(lengths, shortest, longest, demand)
    for (shortest, longest), lengths, demand in product(
        ((0.01, 0.2), (0.01, 0.8), (0.2, 0.8)), (10, 20, 40), (10, 100)
    )
)


def cutgen_items(parameters: CutgenClass, seed: int = PUBLISHED_SEED) -> Iterator[list[tuple[int, int]]]:
    """Instance after instance of a class, without end, each as (length, demand), longest first.

    One random stream runs through all instances, as published: instance n needs the n - 1 before it drawn.
    """
    state = seed

    def draw() -> float:
        nonlocal state
        state = MULTIPLIER * state % MODULUS
        return state / MODULUS

    def length_of(share: float) -> int:
        between = parameters.shortest + (parameters.longest - parameters.shortest) * share
        return int(between * parameters.stock_length + share)  # the published formula adds the draw itself

    while True:
        draws = [draw() for _ in range(parameters.lengths)]
        lengths = sorted((length_of(share) for share in draws), reverse=True)
        shares = [draw() for _ in lengths]
        total = parameters.lengths * parameters.average_demand
        demands = [max(1, int(total * share / sum(shares) + 0.5)) for share in shares[:-1]]
        demands.append(max(1, total - sum(demands)))
        merged: dict[int, int] = {}
        for length, demand in zip(lengths, demands, strict=True):
            merged[length] = merged.get(length, 0) + demand
        yield list(merged.items())


def cutgen(parameters: CutgenClass, instance: int, seed: int = PUBLISHED_SEED) -> CuttingProblem:
    """The `instance`-th problem (from 1) of a class."""
    stream = cutgen_items(parameters, seed)
    for _ in range(instance - 1):
        next(stream)
    return one_dimensional(parameters.stock_length, next(stream))
