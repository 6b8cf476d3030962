"""From boards with named pieces back to a plan in columns."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from optimiser.cutting.columns import ColumnPlan
from optimiser.cutting.demand import Demand
from optimiser.cutting.master import BoardColumn, StripColumn
from optimiser.cutting.open_boards import OpenBoard


def plan_of(demand: Demand, boards: Sequence[OpenBoard]) -> ColumnPlan:
    """Boards with named pieces as a plan in columns. Raises KeyError for a tapered pair that is no component."""
    sources: dict[tuple[str, int], int] = {}
    for s, source in enumerate(demand.sources):
        sources[source.name, source.first_stage] = s
    staged = demand.staged
    chosen: Counter[BoardColumn] = Counter()
    strips: Counter[StripColumn] = Counter()
    for board in boards:
        s = board.source
        if staged and demand.sources[s].available is None:
            s = sources[demand.sources[s].name, board.stage(demand)]
        f = demand.sources[s].family
        family = demand.families[f]
        slots: Counter[int] = Counter()
        for strip in board.strips:
            held = Counter(family.component_of[tuple(sorted(kinds))] for kinds in strip.held)
            width = family.index_of_width[max(family.components[c].width_min for c in held)]
            slots[width] += 1
            strips[StripColumn(f, width, tuple(sorted(held.items())))] += 1
        chosen[BoardColumn(s, tuple(sorted(slots.items())))] += 1
    cost = sum(demand.sources[column.source].price * times for column, times in chosen.items())
    return ColumnPlan(cost, tuple(chosen.items()), tuple(strips.items()))
