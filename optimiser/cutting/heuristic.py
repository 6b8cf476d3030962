"""Strips by the constructive heuristic: an immediate answer, and the completion of a rounded plan.

Strips are formed by best fit over compression windows, longest piece first. A few tolerances for waste within a
strip are tried by the caller and the best kept.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

import numpy as np

from optimiser.cutting.demand import Demand
from optimiser.cutting.kernels import form_strips
from optimiser.cutting.master import StripColumn

TOLERANCES = (1000, 100, 300)  # thousandths of a piece's area


def cheapest_source(demand: Demand, family: int, width: int = 0) -> int:
    """The family's bought source, at least `width` wide, with the least price an area. Raises ValueError if none."""
    return min(
        (
            (source.price / (source.length * source.width), -source.width, s)
            for s, source in enumerate(demand.sources)
            if source.family == family and source.available is None and source.width >= width
        ),
    )[2]


def strips_for(demand: Demand, needed: Mapping[int, int], tolerance: int) -> Counter[StripColumn]:
    """Strips for `needed` pieces of each type, each type in its home family.

    `tolerance`: the waste in a strip, in thousandths of a piece's area, above which a new strip is opened.
    """
    strips: Counter[StripColumn] = Counter()
    by_family: dict[int, list[tuple[int, int]]] = {}
    for t, count in needed.items():
        if count > 0:
            by_family.setdefault(demand.home_family[t], []).append((t, count))
    for f, wanted in by_family.items():
        family = demand.families[f]
        single = family.single_component
        order: list[int] = []
        counts: list[int] = []
        for t, count in wanted:
            c = single[t]
            if demand.types[t].solo:
                w = family.index_of_width[demand.types[t].width_min]
                strips[StripColumn(f, w, ((c, 1),))] += count
            else:
                order.append(c)
                counts.append(count)
        if not order:
            continue
        components = np.repeat(np.array(order, dtype=np.int32), np.array(counts, dtype=np.int64))
        lengths = family.lengths[components]
        by_length = np.lexsort((-family.width_min[components], -lengths))
        components = np.ascontiguousarray(components[by_length])
        strip_of, strip_width = form_strips(
            np.ascontiguousarray(lengths[by_length]),
            np.ascontiguousarray(family.width_min[components]),
            np.ascontiguousarray(family.width_max[components]),
            family.capacity,
            int(lengths.min()),
            tolerance,
        )
        members: list[list[int]] = [[] for _ in strip_width]
        for component, strip in zip(components.tolist(), strip_of.tolist(), strict=True):
            members[strip].append(component)
        for w, held in zip(np.searchsorted(family.widths, strip_width).tolist(), members, strict=True):
            strips[StripColumn(f, w, tuple(sorted(Counter(held).items())))] += 1
    return strips
