"""Falkenauer's triplets: bins that exactly three items fill, with nothing over.

E. Falkenauer, 'A hybrid grouping genetic algorithm for bin packing', Journal of Heuristics 2 (1996) 5-30.
"""

from __future__ import annotations

from random import Random

from benchmarks.instances.one_dimensional import one_dimensional
from optimiser.cutting.problem import CuttingProblem

CAPACITY = 1000


def triplet_sizes(count: int, seed: int) -> list[int]:
    """`count` sizes that make count/3 triples of sum `CAPACITY`, shuffled. Raises ValueError if 3 does not
    divide `count`."""
    if count % 3:
        raise ValueError(f"{count} items do not make whole triplets")
    random = Random(f"triplets {count} {seed}")
    sizes: list[int] = []
    for _ in range(count // 3):
        first = random.randint(380, 490)
        second = random.randint(251, (CAPACITY - first) // 2)
        sizes += [first, second, CAPACITY - first - second]
    random.shuffle(sizes)
    return sizes


def triplets(count: int, seed: int) -> CuttingProblem:
    """`count` pieces whose optimum is count/3 boards by construction: every board is filled exactly."""
    return one_dimensional(CAPACITY, ((size, 1) for size in triplet_sizes(count, seed)))
