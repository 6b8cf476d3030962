"""A rack of offcuts: each is cut by one whole pattern, whose pieces are chosen at the prices of the master.

Offcuts that may serve the same pieces are priced together: what a strip of a width is worth is found once for every
length, and then the strips across each offcut (Gilmore and Gomory, Operations Research 13, 1965, in two stages).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

import numpy as np

from optimiser.cutting.demand import Demand
from optimiser.cutting.kernels import Values, price_offcuts
from optimiser.cutting.rack_groups import RackGroup

RackPattern = tuple[tuple[int, tuple[tuple[int, int], ...], int], ...]
"""Strips as (width index, components, copies of the strip) of the offcut's family, widths ascending."""


def best_patterns(
    demand: Demand, group: RackGroup, types: Values, needed: Values | None = None
) -> tuple[list[int], list[RackPattern]]:
    """The most valuable pattern of each of the group's offcuts at the values of the types, and what it is worth.

    `needed`: how many pieces of each type may be taken at most (None: all).
    """
    values = group.types.worth(types)
    bounds = group.bounds
    if needed is not None:
        bounds = np.minimum(bounds, group.types.scarcest(needed)).astype(np.int32)
    natural = np.bincount(group.width_of, weights=bounds, minlength=len(group.widths))
    best, rows = price_offcuts(
        group.lengths,
        group.width_min,
        group.width_max,
        bounds,
        np.where(bounds > 0, values, 0),
        group.widths,
        natural.astype(np.int32),
        group.kerf,
        group.offcut_length,
        group.offcut_width,
    )
    strips: list[dict[int, tuple[int, list[tuple[int, int]]]]] = [{} for _ in group.sources]
    for offcut, width, copies, item, count in rows.tolist():
        strips[offcut].setdefault(width, (copies, []))[1].append((item, count))
    patterns = [
        _pattern(demand, group, source, held.values())
        for source, held in zip(group.sources, strips, strict=True)
    ]
    return best.tolist(), patterns


def _pattern(
    demand: Demand, group: RackGroup, source: int, held: Iterable[tuple[int, list[tuple[int, int]]]]
) -> RackPattern:
    """In the terms of the offcut's own family; each strip as wide as its pieces need."""
    family = demand.families[demand.sources[source].family]
    of_types = family.component_of
    found: Counter[tuple[int, tuple[tuple[int, int], ...]]] = Counter()
    for copies, items in held:
        width = max(group.components[item].width_min for item, _ in items)
        pairs = tuple(sorted((of_types[group.components[item].types], count) for item, count in items))
        found[family.index_of_width[width], pairs] += copies
    return tuple((width, pairs, copies) for (width, pairs), copies in sorted(found.items()))


def filled_rack(
    demand: Demand,
    values: Values,
    needed: Values,
    left: dict[int, int],
) -> list[tuple[int, RackPattern]]:
    """Patterns for the offcuts that are `left` (how many of each source), of the pieces that are still `needed`.

    All are priced at once; of those whose pieces do not run out, the one that is worth most for its area comes
    first, and what then lacks pieces is priced again. `needed` and `left` are used up.
    """
    chosen: list[tuple[int, RackPattern]] = []
    for group in demand.racks:
        open_sources = [k for k, s in enumerate(group.sources) if left.get(s, 0) > 0]
        while open_sources:
            part = group.only(open_sources)
            worths, patterns = best_patterns(demand, part, values, needed)
            order = sorted(
                (k for k, worth in enumerate(worths) if worth > 0),
                key=lambda k: -worths[k] / int(part.offcut_length[k] * part.offcut_width[k]),
            )
            accepted = set()
            for k in order:
                source = part.sources[k]
                taken = pieces_in(demand, source, patterns[k])
                if all(needed[t] >= count for t, count in taken.items()):
                    for t, count in taken.items():
                        needed[t] -= count
                    chosen.append((source, patterns[k]))
                    left[source] -= 1
                    if not left[source]:
                        accepted.add(k)
            exhausted = {k for k, worth in enumerate(worths) if worth <= 0}
            if order and not accepted:
                # even the best asks for more of a type than there is, in several strips
                source, pattern = part.sources[order[0]], patterns[order[0]]
                trimmed = _as_far_as_needed(demand, source, pattern, needed)
                chosen.append((source, trimmed))
                left[source] -= 1
                if not left[source]:
                    accepted.add(order[0])
            open_sources = [
                k for place, k in enumerate(open_sources) if place not in accepted and place not in exhausted
            ]
    return chosen


def pieces_in(demand: Demand, source: int, pattern: RackPattern) -> Counter[int]:
    """How many pieces of each type an offcut's pattern holds."""
    components = demand.families[demand.sources[source].family].components
    found: Counter[int] = Counter()
    for _, pairs, copies in pattern:
        for c, count in pairs:
            for t in components[c].types:
                found[t] += copies * count
    return found


def _as_far_as_needed(demand: Demand, source: int, pattern: RackPattern, needed: Values) -> RackPattern:
    """The pattern without pieces that are no longer needed, which are taken off `needed`."""
    family = demand.families[demand.sources[source].family]
    strips: Counter[tuple[int, tuple[tuple[int, int], ...]]] = Counter()
    for _, pairs, copies in reversed(pattern):
        for _ in range(copies):
            held: list[tuple[int, int]] = []
            for c, count in pairs:
                types = Counter(family.components[c].types)
                most = min(count, *(int(needed[t]) // times for t, times in types.items()))
                if most > 0:
                    held.append((c, most))
                    for t, times in types.items():
                        needed[t] -= most * times
            if held:
                width = max(family.components[c].width_min for c, _ in held)
                strips[family.index_of_width[width], tuple(held)] += 1
    return tuple((width, pairs, copies) for (width, pairs), copies in sorted(strips.items()))
