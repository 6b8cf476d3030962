"""A bound from strips in whole numbers: can the pieces form strips that so many boards could hold at all?

Let every strip width have a value such that no board holds more than V in all: values of that kind are a dual feasible
function of the width (Alves, Clautiaux, Valerio de Carvalho, Rietz, Dual-Feasible Functions, 2016), and the prices of
the master's slots give one. Then the strips of a plan with K boards are worth K V at the most, and with boards of
several widths the sum of what each holds. Where the fractional
program stays just below K V, strips in whole numbers often do not: whether any can is a small integer program over
which piece joins which strip, without boards. 'No' proves that K boards are too few, in integers throughout.
"""

from __future__ import annotations

from collections.abc import Sequence
from time import perf_counter

import numpy as np

from optimiser.cutting.demand import Demand
from optimiser.cutting.kernels import Values, price_boards
from optimiser.cutting.parts import Family

MOST_SHARING = 160  # pieces that may share a strip, beyond which the program is not worth asking
MOST_PAIRS = 6_000  # of pieces that may share one


def applies(demand: Demand) -> bool:
    """Boards of one length and kerf, no offcuts, no tapered pairs, and few enough pieces that may share a strip."""
    return (
        len(demand.families) == 1
        and all(source.available is None for source in demand.sources)
        and all(len(component.types) == 1 for component in demand.families[0].components)
        and sum(kind.demand for kind in demand.types if not kind.solo) <= MOST_SHARING
    )


def values_of_widths(demand: Demand, slots: Values) -> tuple[Values, tuple[int, ...]]:
    """Values of the family's widths, rising with the width, and the most that a board of each source holds of them.

    `slots`: any values, such as the master's slot prices as integers. Exact: a knapsack over integers.
    """
    family = demand.families[0]
    values = np.maximum.accumulate(np.maximum(0, slots)).astype(np.int64)
    narrowest = int(family.widths[0]) + family.kerf
    most = []
    for source in demand.sources:
        fits = family.widths <= source.width
        best = price_boards(
            (family.widths + family.kerf).astype(np.int32),
            np.where(fits, (source.width + family.kerf) // narrowest, 0).astype(np.int32),
            np.where(fits, values, 0),
            source.width + family.kerf,
        ).best
        most.append(int(best[0]))
    return values, tuple(most)


def strips_fit(
    demand: Demand, values: Values, most: int, effort: float, seconds: float | None = None
) -> bool | None:
    """Whether strips for all pieces can be worth no more than `most`; None where that is not settled within `effort`
    deterministic seconds of CP-SAT (and `seconds` of the clock)."""
    from ortools.sat.python import cp_model  # late: its import takes longer than most solves

    started = perf_counter()
    family = demand.families[0]
    value_of = {int(width): int(value) for width, value in zip(family.widths, values, strict=True)}
    alone = sum(value_of[kind.width_min] * kind.demand for kind in demand.types if kind.solo)
    kinds = [kind for kind in demand.types if not kind.solo for _ in range(kind.demand)]
    kinds.sort(key=lambda kind: (-kind.width_min, -kind.length))
    model = cp_model.CpModel()
    opens = [model.new_bool_var("") for _ in kinds]
    joins: list[dict[int, cp_model.IntVar]] = [
        {
            i: model.new_bool_var("")
            for i in range(j)
            if kinds[i].width_min <= kinds[j].width_max
            and kinds[i].length + kinds[j].length + 2 * family.kerf <= family.capacity
        }
        for j in range(len(kinds))
    ]
    if sum(map(len, joins)) > MOST_PAIRS:
        return None
    for j, joined in enumerate(joins):
        model.add_exactly_one([opens[j], *joined.values()])
    for i, first in enumerate(kinds):
        members = [
            (joins[j][i], kinds[j].length + family.kerf) for j in range(i + 1, len(kinds)) if i in joins[j]
        ]
        for var, _ in members:
            model.add_implication(var, opens[i])
        if members:
            room = family.capacity - first.length - family.kerf
            model.add(sum(length * var for var, length in members) <= room * opens[i])
    for j in range(len(kinds) - 1):  # equal pieces: the earlier opens first
        if kinds[j] is kinds[j + 1]:
            model.add_implication(opens[j + 1], opens[j])
    model.add(
        sum(value_of[kind.width_min] * var for kind, var in zip(kinds, opens, strict=True)) <= most - alone
    )
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 0
    solver.parameters.linearization_level = 2
    solver.parameters.max_deterministic_time = effort
    if seconds is not None:
        solver.parameters.max_time_in_seconds = max(0.01, seconds - (perf_counter() - started))
    status = solver.solve(model)
    if status == cp_model.INFEASIBLE:
        return False
    return True if status in (cp_model.OPTIMAL, cp_model.FEASIBLE) else None


def no_plan_with(
    demand: Demand, boards: Sequence[int], slots: Values, effort: float, seconds: float | None = None
) -> bool:
    """Whether it is proved that so many boards of each source are too few: by the widths themselves, then by the slots'
    prices."""
    family: Family = demand.families[0]
    widths = (family.widths + family.kerf).astype(np.int64)
    for given in (widths, slots):
        values, worths = values_of_widths(demand, given)
        most = sum(worth * count for worth, count in zip(worths, boards, strict=True))
        if any(worths) and strips_fit(demand, values, most, effort, seconds) is False:
            return True
    return False
