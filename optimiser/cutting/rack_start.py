"""Where a large rack's column generation begins: at the prices of the same pieces without the rack.

Without offcuts most pieces are plain demand for strips, and the linear program is solved in a tenth of the time. What
its prices say the offcuts are worth is a bound at once, and as a centre they spare the first rounds (du Merle,
Villeneuve, Desrosiers and Hansen, Discrete Mathematics 194, 1999, on stabilised column generation).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from optimiser.cutting.columns import complete
from optimiser.cutting.demand import prepare
from optimiser.cutting.generation import MORE_THAN_ANY_COST, ColumnGeneration
from optimiser.cutting.heuristic import TOLERANCES
from optimiser.cutting.master import Floats, Master
from optimiser.cutting.pricing import scale_of, strips_at
from optimiser.cutting.rack import best_patterns


def begin_without_rack(
    generation: ColumnGeneration, seconds_left: Callable[[], float] | None, out_of_time: Callable[[], bool]
) -> None:
    """Prices a master with a rack at the prices of its pieces without it, and has patterns of all offcuts together
    made at them; does nothing where time is out before they are known."""
    demand = generation.demand
    without = prepare(demand.problem.model_copy(update={"offcuts": demand.offcuts_off_the_rack}))
    other = ColumnGeneration(without, complete(without, [], TOLERANCES[:1]), seconds_left)
    if other.run(lambda: MORE_THAN_ANY_COST, out_of_time) < float("inf"):
        generation.begin_at(_as_duals(generation.master, _prices_of_pieces(other)))


def _prices_of_pieces(generation: ColumnGeneration) -> dict[int, float]:
    """What a piece is worth by the last solution of the master, by its place in the problem."""
    demand, master = generation.demand, generation.master
    duals = master.duals()
    found = {}
    for t, kind in enumerate(demand.types):
        row, home = master.row_of_type[t], demand.collapsed[t]
        if home is not None:
            row = master.slot_row[home] + demand.families[home].index_of_width[kind.width_min]
        found.update(dict.fromkeys(kind.members, float(duals[row])))
    return found


def _as_duals(master: Master, prices: dict[int, float]) -> Floats:
    """Duals of a master at which its types have these prices: a slot is worth its best strip, an offcut its best
    pattern."""
    demand, scale = master.demand, scale_of(master.demand)
    duals = np.zeros(master.rows)
    types = np.zeros(len(demand.types), dtype=np.int64)
    for t, kind in enumerate(demand.types):
        worth = max(0.0, prices[kind.members[0]])
        types[t] = int(worth * scale)
        if master.row_of_type[t] >= 0:
            duals[master.row_of_type[t]] = worth
    for f, family in enumerate(demand.families):
        if f in demand.rack:
            continue
        values = family.types_of_components.worth(types)
        alone = np.zeros(len(family.widths), dtype=np.int64)
        for component, value in zip(family.components, values.tolist(), strict=True):
            if demand.collapsed[component.types[0]] == f:
                width = family.index_of_width[component.width_min]
                alone[width] = max(int(alone[width]), value)
        strips, _ = strips_at(family, values)
        slots = np.maximum(strips.best, np.maximum.accumulate(alone))
        duals[master.slot_row[f] : master.slot_row[f] + len(family.widths)] = slots / scale
    for group in demand.racks:
        worths, _ = best_patterns(demand, group, types)
        for source, worth in zip(group.sources, worths, strict=True):
            duals[master.stock_row[source]] = -worth / scale
    return duals
