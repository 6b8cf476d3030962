"""Whole boards where offcuts lie at hand: first which pieces each offcut takes, then the boards for the rest.

The master's linear solution says what each offcut is worth to cut. Its patterns are fixed from below, the surest
first, the master solved and priced again in between (a dive on the columns of the rack alone); what no column decides
is filled at the last prices. The rest is a problem of bought boards, which is solved for itself.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable

import numpy as np

from optimiser.cutting.columns import ColumnPlan
from optimiser.cutting.demand import Demand
from optimiser.cutting.generation import NEARLY, ColumnGeneration
from optimiser.cutting.master import OffcutColumn
from optimiser.cutting.rack import filled_rack, pieces_in
from optimiser.cutting.residual import Residual

SHARES = (0.5, 0.25, 0.1, 0.0)  # of the open offcuts that are decided in one step, one dive each
SURE = 0.7  # a column's value from which its offcut is decided at once
MANY_ROWS = 1_000  # of a master from which one dive is made, in few steps
STEPS = 40


def settled_rack(
    generation: ColumnGeneration, share: float, out_of_time: Callable[[], bool], rounds: int
) -> list[OffcutColumn]:
    """A pattern for every offcut of the rack that is of use, by a dive on the master's patterns of the rack.

    `share` of the open offcuts are decided in a step, after which columns are generated `rounds` times.
    """
    master = generation.master
    fixed: dict[int, float] = {}
    room = {
        s: generation.demand.sources[s].available or 0 for g in generation.demand.racks for s in g.sources
    }
    value = master.solve()
    for _ in range(STEPS):
        if value == float("inf") or out_of_time():
            break
        values = master.values()
        undecided = [
            (values[k] - fixed.get(k, 0.0), k, column)
            for k, column in enumerate(master.columns[: len(values)])
            if isinstance(column, OffcutColumn) and values[k] - fixed.get(k, 0.0) > NEARLY
        ]
        undecided = [item for item in undecided if room[item[2].source]]
        if not undecided:
            break
        undecided.sort(key=lambda item: (-item[0], item[1]))
        most = max(1, int(share * len(undecided)))
        chosen = [item for item in undecided if item[0] >= SURE]
        chosen = chosen or [item for item in undecided[:most] if item[0] > 0.5] or undecided[:1]
        for _, k, column in chosen:
            if room[column.source]:
                fixed[k] = fixed.get(k, 0.0) + 1
                room[column.source] -= 1
        master.set_lower_bounds(list(fixed), list(fixed.values()))
        value = master.solve()
        for _ in range(rounds):
            if value == float("inf") or not generation.add_columns():
                break
            value = master.solve()
    master.set_lower_bounds(list(fixed), [0.0] * len(fixed))
    settled = [column for k, times in fixed.items() for column in [master.columns[k]] * int(times)]
    return _with_the_rest(generation, [column for column in settled if isinstance(column, OffcutColumn)])


def _with_the_rest(generation: ColumnGeneration, settled: list[OffcutColumn]) -> list[OffcutColumn]:
    """The settled patterns and, at the last prices, patterns for the other offcuts."""
    demand = generation.demand
    needed = np.array([kind.demand for kind in demand.types], dtype=np.int64)
    left = {s: demand.sources[s].available or 0 for group in demand.racks for s in group.sources}
    for column in settled:
        left[column.source] -= 1
        for t, count in pieces_in(demand, column.source, column.strips).items():
            needed[t] = max(0, needed[t] - count)
    worths = generation.worths
    if worths is None:
        return settled
    return settled + [OffcutColumn(*chosen) for chosen in filled_rack(demand, worths, needed, left)]


def close_with_rack(
    generation: ColumnGeneration,
    best: ColumnPlan,
    solve_rest: Callable[[Demand, int], ColumnPlan],
    out_of_time: Callable[[], bool],
    report: Callable[[ColumnPlan, int], None],
) -> ColumnPlan:
    """The best plan found by settling the rack and solving the rest, a few times; ends when it meets the bound.

    `solve_rest` is told the cost below which a plan is of use: most ways to settle a rack leave a rest whose own bound
    says at once that there is none.
    """
    many = generation.master.rows > MANY_ROWS
    tried: set[frozenset[tuple[OffcutColumn, int]]] = set()
    for share in SHARES[:1] if many else SHARES:
        if best.cost <= generation.lower_bound or out_of_time():
            break
        settled = settled_rack(generation, share, out_of_time, rounds=0 if many else 3)
        if frozenset(Counter(settled).items()) in tried:
            continue
        tried.add(frozenset(Counter(settled).items()))
        residual = Residual(generation.demand, settled)
        rest = ColumnPlan(0, (), ()) if residual.left is None else solve_rest(residual.left, best.cost)
        plan = residual.whole(rest)
        if plan is not None and plan.cost < best.cost:
            best = plan
            report(best, generation.lower_bound)
    return best
