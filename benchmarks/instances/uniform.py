"""Falkenauer's uniform class: sizes 20 to 100, capacity 150.

E. Falkenauer, 'A hybrid grouping genetic algorithm for bin packing', Journal of Heuristics 2 (1996) 5-30.
"""

from __future__ import annotations

from random import Random

from benchmarks.instances.one_dimensional import one_dimensional
from optimiser.cutting.problem import CuttingProblem

CAPACITY = 150


def uniform(count: int, seed: int) -> CuttingProblem:
    """`count` pieces of a size drawn evenly from 20 to 100, for boards 150 wide."""
    random = Random(f"uniform {count} {seed}")
    return one_dimensional(CAPACITY, ((random.randint(20, 100), 1) for _ in range(count)))
