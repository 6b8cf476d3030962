"""Quantities that cover a share of the draws in every product at once, at least cost: an exact integer program.

A draw is covered when the order brings at least what it needs of every product. Covering each product at the share p
by itself covers far fewer draws jointly, since each product misses other draws. With K draws that may be left
uncovered, the program is a joint chance constraint over finitely many scenarios (J. Luedtke, S. Ahmed and G. L.
Nemhauser, 'An integer programming approach for linear programs with probabilistic constraints', Mathematical
Programming 122, 2010):

    minimise    sum of price[p] x[p]
    subject to  x[p] >= need[d, p]  for every product, unless draw d is left uncovered
                at most K draws are left uncovered

x[p] is at least the (K + 1)th largest need of its product, so only the needs above that are open: a step y[p, k] for
each of them, bought in order. CP-SAT (OR-Tools) solves it in one thread with a fixed seed and a limit that counts its
steps, not seconds, so equal draws give equal quantities; the bound that it proves is reported. A quick answer
(product by product at the highest share left out that still covers enough jointly, then lowered step by step) is its
first hint, and stands where the steps run out.

What is bought are whole packs, so the needs are counted in packs; within the packs paid for, the quantity is the
greatest need of the draws that they cover.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

import numpy as np

from optimiser.joints.arrays import Integers

MOST_STEPS = 1.0  # CP-SAT's deterministic time, about as many seconds
_LARGEST = 1 << 61  # the objective stays within 64 bits


@dataclass(frozen=True)
class Cover:
    """Packs of each product, what they cost in cents, the proved bound on that, and how many draws they cover."""

    packs: tuple[int, ...]
    cost_cents: int
    least_cost_cents: int
    covered: int

    @property
    def proved(self) -> bool:
        """Whether no packs that cover as many draws as asked cost less."""
        return self.cost_cents == self.least_cost_cents


@dataclass(frozen=True)
class ProductNeeds:
    """One product: what is `certain` whatever the draw, what every draw needs on top, and how it is sold.

    Counted in single boards, brackets and anchors and in millimetres of tape; `unit` is how much one that is sold
    holds (a roll's millimetres, or 1) and `pack` a pack. `least` is ordered on top of what is certain whatever the
    draws need. `price_cents` is that of a pack.
    """

    code: str
    certain: int
    needs: Integers
    least: int
    pack: int
    price_cents: int
    unit: int = 1

    def units_for(self, on_top: Integers) -> Integers:
        """Boards, brackets, anchors or rolls for what is certain and so much on top, an entry for each."""
        return -(-(self.certain + on_top) // self.unit)

    def packs_for(self, on_top: Integers) -> Integers:
        """Whole packs for what is certain and so much on top, an entry for each."""
        return -(-(self.certain + on_top) // self.pack)


@dataclass(frozen=True)
class JointQuantities:
    """What to order of each product, by code, on top of what is certain, in the units of its needs.

    `alone` covers the service level in its product by itself; `covered_alone` is how many draws those quantities
    cover jointly.
    """

    on_top: dict[str, int]
    alone: dict[str, int]
    cover: Cover
    covered_alone: int
    draws: int


def draws_to_cover(draws: int, service_level: float | Fraction) -> int:
    """How many of the draws a share asks for, the share taken as it is written: 0.95 of 300 are 285."""
    share = service_level if isinstance(service_level, Fraction) else Fraction(repr(float(service_level)))
    return ceil(share * draws)


def joint_quantities(
    products: Sequence[ProductNeeds], draws: int, service_level: float | Fraction, seed: int = 0
) -> JointQuantities:
    """The quantities that cover at least a share of the draws in every product at once, at least cost of packs.

    Each product's needs have an entry a draw. Of quantities that cost the same the fewest packs are taken, and
    within these packs as much as the draws need that they cover: more of the draws are covered where that is free.
    """
    wanted = draws_to_cover(draws, service_level)
    if not products:
        return JointQuantities({}, {}, Cover((), 0, 0, draws), draws, draws)
    floored = np.stack([np.maximum(product.needs, product.least) for product in products], axis=1)
    packs = np.stack([product.packs_for(floored[:, p]) for p, product in enumerate(products)], axis=1)
    cover = least_cost_cover(packs, [product.price_cents for product in products], wanted, seed)
    inside = (packs <= np.array(cover.packs)).all(axis=1)
    alone = [np.sort(product.needs)[wanted - 1] for product in products]
    covered_alone = np.logical_and.reduce(
        [
            product.units_for(product.needs) <= product.units_for(np.array([quantity]))
            for product, quantity in zip(products, alone, strict=True)
        ]
    )
    return JointQuantities(
        on_top={product.code: int(floored[inside, p].max()) for p, product in enumerate(products)},
        alone={product.code: int(quantity) for product, quantity in zip(products, alone, strict=True)},
        cover=cover,
        covered_alone=int(covered_alone.sum()),
        draws=draws,
    )


def least_cost_cover(needs: Integers, prices_cents: Sequence[int], wanted: int, seed: int = 0) -> Cover:
    """The packs that cover at least `wanted` of the draws in every product, at least cost.

    `needs` has a row a draw and a column a product, in packs; 1 <= wanted <= draws. Of equal cost the fewest packs
    in all.
    """
    draws = len(needs)
    prices = np.array(prices_cents, dtype=np.int64)
    spare = draws - wanted
    base = np.sort(needs, axis=0)[draws - 1 - spare]
    quick = _quick(needs, prices, spare)
    base_cost = _cost(base, prices)
    if (quick == base).all():  # nothing can cost less: each product alone asks for as much
        return Cover(_whole(quick), base_cost, base_cost, _covered(needs, quick))
    found, least = _solved(np.maximum(needs, base), base, prices, spare, quick, seed)
    cost = _cost(found, prices)
    return Cover(_whole(found), cost, min(cost, max(base_cost, least)), _covered(needs, found))


def _whole(packs: Integers) -> tuple[int, ...]:
    return tuple(int(number) for number in packs)


def _cost(packs: Integers, prices: Integers) -> int:
    return sum(int(number) * int(price) for number, price in zip(packs, prices, strict=True))


def _covered(needs: Integers, packs: Integers) -> int:
    return int((needs <= packs).all(axis=1).sum())


def _quick(needs: Integers, prices: Integers, spare: int) -> Integers:
    """A good cover: each product at the greatest number of draws left out, equal for all, that covers enough
    together; then the dearest steps are taken back while enough stay covered."""
    ascending = np.sort(needs, axis=0)
    draws = len(needs)
    low, high = 0, spare  # left out product by product: 0 always covers
    while low < high:
        middle = (low + high + 1) // 2
        if draws - _covered(needs, ascending[draws - 1 - middle]) <= spare:
            low = middle
        else:
            high = middle - 1
    packs = ascending[draws - 1 - low].copy()
    least = ascending[draws - 1 - spare]
    short = (needs > packs).sum(axis=1)  # in how many products a draw is short
    while True:
        best, taken = (0, 0), None
        for p in np.flatnonzero(packs > least).tolist():
            column = needs[:, p]
            lower = max(int(column[column < packs[p]].max(initial=0)), int(least[p]))
            more = ((column > lower) & (column <= packs[p]) & (short == 0)).sum()
            steps = int(packs[p]) - lower
            saving = steps * int(prices[p]), steps
            if (short > 0).sum() + more <= spare and saving > best:
                best, taken = saving, (p, lower)
        if taken is None:
            return np.asarray(packs, dtype=np.int64)
        p, lower = taken
        short += (needs[:, p] > lower) & (needs[:, p] <= packs[p])
        packs[p] = lower


def _solved(
    needs: Integers, base: Integers, prices: Integers, spare: int, quick: Integers, seed: int
) -> tuple[Integers, int]:
    """The packs by CP-SAT, and the proved bound on their cost; `needs` are at least `base`."""
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    bought: dict[tuple[int, int], cp_model.IntVar] = {}  # (product, packs): at least so many are bought
    sizes = [np.unique(needs[:, p]) for p in range(needs.shape[1])]
    most = sum(int(values[-1] - values[0]) for values in sizes)
    unit = most + 1  # a cent outweighs all packs
    dearest = sum(int(v[-1] - v[0]) * int(price) for v, price in zip(sizes, prices, strict=True))
    if dearest * unit > _LARGEST:
        unit = 1
    objective = []
    for p, values in enumerate(sizes):
        before = None
        for lower, value in zip(values[:-1].tolist(), values[1:].tolist(), strict=True):
            step = model.new_bool_var(f"y{p} {value}")
            model.add_hint(step, bool(quick[p] >= value))
            if before is not None:
                model.add_implication(step, before)
            before = bought[p, value] = step
            weight = (value - lower) * int(prices[p]) * unit + (value - lower if unit > 1 else 0)
            objective.append(weight * step)
    rows, alike = np.unique(needs[(needs > base).any(axis=1)], axis=0, return_counts=True)
    left_out = []
    for number, (row, count) in enumerate(zip(rows, alike.tolist(), strict=True)):
        short = model.new_bool_var(f"u{number}")
        model.add_hint(short, bool((row > quick).any()))
        left_out.append(count * short)
        for p in np.flatnonzero(row > base).tolist():
            model.add_bool_or(short, bought[p, int(row[p])])
    model.add(sum(left_out) <= spare)
    model.minimize(sum(objective))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = seed
    solver.parameters.max_deterministic_time = MOST_STEPS
    status = solver.solve(model)
    bound = _cost(base, prices) + max(0, ceil(solver.best_objective_bound - 1e-6)) // unit
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return quick, bound
    found = base.copy()
    for (p, value), step in bought.items():
        if solver.value(step):
            found[p] = max(found[p], value)
    if (_cost(found, prices), int(found.sum())) > (_cost(quick, prices), int(quick.sum())):
        found = quick
    return found, _cost(found, prices) if status == cp_model.OPTIMAL else bound
