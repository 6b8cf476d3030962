"""Column pricing: given duals, the strips and boards worth adding, and the lower bound that the duals prove.

The bound is exact: duals become integers, both knapsacks are solved exactly over integers, and the rest is
integer arithmetic. For any values v >= 0 of the pieces, let V(s) be the most that one board of source s can
hold; scaled so that no V(s) exceeds its price, v is feasible in the dual of the master, so that
sum(v x demand) - sum(available x V over offcuts) is a lower bound on the cost (Farley, Operations Research 38,
1990, extended to offcuts).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np

from optimiser.cutting.demand import Demand
from optimiser.cutting.kernels import Ints, Patterns, Values, price_boards, price_strips
from optimiser.cutting.master import BoardColumn, Column, Floats, Master, OffcutColumn, StripColumn
from optimiser.cutting.parts import Family
from optimiser.cutting.rack import best_patterns

SCALE = 10**8  # duals are rounded down to this many parts of a board


@dataclass(frozen=True)
class Priced:
    """What one pricing round found."""

    columns: list[Column]
    bound: Fraction  # proved lower bound on the cost of any fractional, so of any, plan
    board_worth: int  # the most that one board of the first source can hold, in the values' units
    ratio: Fraction = Fraction(0)  # the least price of a unit of value that any board can hold
    stock_worth: int = 0  # the most that all offcuts together can hold
    worth: int = 0  # of all pieces that are needed
    worths: Mapping[str, int] = field(default_factory=dict)  # the most that one board of each code can hold


def scale_of(demand: Demand) -> float:
    """What duals are multiplied by before they become integers: SCALE parts of the dearest board."""
    return SCALE / max(1.0, max(source.price for source in demand.sources))


def piece_values(master: Master, duals: Floats) -> tuple[Values, list[Values]]:
    """Integer values of the types, and of collapsed solo demand by family and width, never negative."""
    demand = master.demand
    integers = np.maximum(0, np.floor(duals * scale_of(demand))).astype(np.int64)
    types = np.array([integers[row] if row >= 0 else 0 for row in master.row_of_type], dtype=np.int64)
    solo = []
    for f, family in enumerate(demand.families):
        if f in demand.rack:
            solo.append(master.solo_demand[f])
            continue
        first = master.slot_row[f]
        slots = integers[first : first + len(family.widths)]
        solo.append(np.where(master.solo_demand[f] > 0, slots, 0))
    return types, solo


def area_values(master: Master) -> tuple[Values, list[Values]]:
    """Values in proportion to area: their bound is the area bound or better, at once and whatever the time left.

    A solo piece takes the strip's whole length, so it counts with that.
    """
    demand = master.demand
    types = np.array([kind.length * kind.width_min for kind in demand.types], dtype=np.int64)
    solo = []
    for f, family in enumerate(demand.families):
        if f in demand.rack:
            solo.append(master.solo_demand[f])
            continue
        area = family.length * family.widths.astype(np.int64)
        solo.append(np.where(master.solo_demand[f] > 0, area, 0))
    collapsed = np.array([row < 0 for row in master.row_of_type], dtype=bool)
    return np.where(collapsed, 0, types), solo


def price(
    master: Master, types: Values, solo: list[Values], slots: list[Floats] | None, duals: Floats | None = None
) -> Priced:
    """Prices every family and source. `slots`: the master's slot duals (scaled), to tell which strips improve
    it; None when only the bound is wanted."""
    demand = master.demand
    columns: list[Column] = []
    strip_values: list[Values] = []
    for f, family in enumerate(demand.families):
        if f in demand.rack:
            strip_values.append(solo[f])
            continue
        values = family.types_of_components.worth(types)
        patterns, own_width = strips_at(
            family, values, np.ceil(slots[f]).astype(np.int64) if slots is not None else None
        )
        own = np.maximum.accumulate(solo[f]) if len(solo[f]) else solo[f]
        strip_values.append(np.maximum(patterns.best, own))
        if slots is not None:
            columns += [
                StripColumn(f, w, patterns.pairs(w))
                for w in np.flatnonzero(patterns.best > slots[f] + 1).tolist()
            ]
            columns += _strips_of_components(f, family, patterns, own_width, values, slots[f])
    total = sum(int(types[t]) * kind.demand for t, kind in enumerate(demand.types) if types[t])
    total += sum(int(values @ master.solo_demand[f]) for f, values in enumerate(solo))
    by_code: dict[str, int] = {}
    ratio: Fraction | None = None  # how far the values may be scaled
    stock = []
    scale = scale_of(demand)
    seen: dict[tuple[int, int], Patterns] = {}
    for group in demand.racks:
        worths, whole = best_patterns(demand, group, types)
        for s, best, strips in zip(group.sources, worths, whole, strict=True):
            stock.append((demand.sources[s].available or 0, best))
            worth = -float(duals[master.stock_row[s]]) * scale if duals is not None else 0.0
            if slots is not None and best > worth + 1:
                columns.append(OffcutColumn(s, strips))
    for s, source in enumerate(demand.sources):
        if source.family in demand.rack:
            continue
        family = demand.families[source.family]
        key = (source.family, source.width)
        if key not in seen:
            fits = family.widths <= source.width
            bounds = np.where(fits, family.width_bounds, 0).astype(np.int32)
            seen[key] = price_boards(
                (family.widths + family.kerf).astype(np.int32),
                bounds,
                np.where(fits, strip_values[source.family], 0),
                source.width + family.kerf,
            )
        patterns = seen[key]
        best = int(patterns.best[0])
        if source.available is None:
            by_code[source.code] = max(best, by_code.get(source.code, 0))
            if best > 0:
                possible = Fraction(source.price, best)
                ratio = possible if ratio is None else min(ratio, possible)
            worth = (source.price if duals is None else master.price_of_board(s, duals)) * scale
        else:
            stock.append((source.available, best))
            row = master.stock_row[s]
            worth = -float(duals[row]) * scale if duals is not None else 0.0
        if slots is not None:
            columns += [
                BoardColumn(s, patterns.pairs(k)) for k in np.flatnonzero(patterns.best > worth + 1).tolist()
            ]
    if ratio is None:
        return Priced(columns, Fraction(0), 0)
    stock_worth = sum(available * best for available, best in stock)
    return Priced(
        columns,
        max(Fraction(0), ratio * (total - stock_worth)),
        int(seen[demand.sources[0].family, demand.sources[0].width].best[0]),
        ratio,
        stock_worth,
        total,
        by_code,
    )


def strips_at(family: Family, values: Values, slots: Values | None = None) -> tuple[Patterns, Ints]:
    """The most valuable strip of each of a family's widths where its components are worth so much; `slots`, and what is
    found besides, as in `kernels.price_strips`."""
    return price_strips(
        family.lengths,
        family.width_min,
        family.width_max,
        family.bounds,
        values,
        family.widths,
        family.capacity,
        slots,
    )


def _strips_of_components(
    f: int, family: Family, patterns: Patterns, own_width: Ints, values: Values, slots: Floats
) -> list[Column]:
    """Each component's own strip; of the pairs that a tapered type can make, only the one that gains most: they are
    many, and nearly alike."""
    found: dict[int, StripColumn] = {}
    best: dict[int, tuple[float, int]] = {}  # by tapered type: the most gained, and by which pair
    for c in np.flatnonzero(own_width >= 0).tolist():
        width = int(own_width[c])
        found[c] = StripColumn(f, width, patterns.pairs(len(family.widths) + c))
        types = family.components[c].types
        if len(types) > 1:
            gain = sum(int(values[item]) * copies for item, copies in found[c].pairs) - float(slots[width])
            for t in types:
                if t not in best or gain > best[t][0]:
                    best[t] = gain, c
    kept = {c for _, c in best.values()}
    return [strip for c, strip in found.items() if len(family.components[c].types) == 1 or c in kept]


def slot_duals(master: Master, duals: Floats) -> list[Floats]:
    """The master's slot duals by family, on the scale of `piece_values`."""
    scale = scale_of(master.demand)
    return [
        duals[
            master.slot_row[f] : master.slot_row[f] + (0 if f in master.demand.rack else len(family.widths))
        ]
        * scale
        for f, family in enumerate(master.demand.families)
    ]
