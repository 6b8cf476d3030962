"""A plan delivery by delivery, where pieces may be carried only so far.

Each delivery's boards must cover what is still missing of its own stage; whatever room they leave is filled with
pieces of the stages that it may serve. Strips are formed of the stage's own pieces first, later ones only join;
boards are filled by a knapsack in which own strips weigh a little more than their width.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

import numpy as np

from optimiser.cutting.demand import Demand
from optimiser.cutting.kernels import Values, form_strips, price_boards
from optimiser.cutting.master import BoardColumn, StripColumn

OWN_WEIGHTS = (1_005, 1_030)  # thousandths of its width that an own strip is worth: the best counts
STRIP_TOLERANCE = 300


def roll(
    demand: Demand, needed: Mapping[int, int], free: dict[int, Values], own_weight: int
) -> Counter[BoardColumn | StripColumn]:
    """Boards and strips for the `needed` pieces of each type, delivery by delivery, free slots first.

    `free`: slots by family and width index that boards already chosen still have; they are used up.
    """
    by_code: dict[str, list[tuple[int, int]]] = {}  # code -> (first stage, source), in order
    for s, source in enumerate(demand.sources):
        if source.available is None:
            by_code.setdefault(source.code, []).append((source.first_stage, s))
    homes = [demand.sources[s].code for s in demand.home_source]
    chosen: Counter[BoardColumn | StripColumn] = Counter()
    left = [needed.get(t, 0) for t in range(len(demand.types))]
    for code, sources in by_code.items():
        types = [t for t, home in enumerate(homes) if home == code]
        for _, s in sorted(sources):
            _cut_delivery(demand, s, types, left, free, chosen, own_weight)
    return chosen


def _cut_delivery(
    demand: Demand,
    source_index: int,
    types: list[int],
    left: list[int],
    free: dict[int, Values],
    chosen: Counter[BoardColumn | StripColumn],
    own_weight: int,
) -> None:
    source = demand.sources[source_index]
    family = demand.families[source.family]
    single = family.single_component
    own = {
        t for t in types if left[t] > 0 and t in single and demand.types[t].low_stage == source.first_stage
    }
    later = {t for t in types if left[t] > 0 and t in single and t not in own}
    if not own:
        return
    own_strips = _own_strips(demand, source_index, own, later, left)
    for w in sorted(own_strips, reverse=True):
        own_strips[w] = [strip for strip in own_strips[w] if not _in_a_free_slot(demand, strip, free, chosen)]
    later_solo: Counter[int] = Counter()  # width index -> pieces
    solo_types: dict[int, list[int]] = {}
    for t in sorted(later):
        if demand.types[t].solo:
            w = family.index_of_width[demand.types[t].width_min]
            later_solo[w] += left[t]
            solo_types.setdefault(w, []).append(t)
    while any(own_strips.values()):
        widths = sorted(
            {w for w, strips in own_strips.items() if strips} | {w for w in later_solo if later_solo[w]}
        )
        sizes = (family.widths[widths] + family.kerf).astype(np.int32)
        # own strips and later ones of the same width are different items of the knapsack
        items = np.concatenate([sizes, sizes])
        bounds = np.array(
            [len(own_strips.get(w, ())) for w in widths] + [later_solo[w] for w in widths], dtype=np.int32
        )
        worth = np.concatenate([sizes.astype(np.int64) * own_weight, sizes.astype(np.int64) * 1000])
        worth = np.where(bounds > 0, worth, 0)
        slots: Counter[int] = Counter()
        for k, copies in price_boards(items, bounds, worth, source.width + family.kerf).pairs(0):
            w = widths[k % len(widths)]
            slots[w] += copies
            for _ in range(copies):
                if k < len(widths):
                    chosen[own_strips[w].pop()] += 1
                else:
                    t = next(t for t in solo_types[w] if left[t] > 0)
                    left[t] -= 1
                    later_solo[w] -= 1
                    chosen[StripColumn(source.family, w, ((single[t], 1),))] += 1
        chosen[BoardColumn(source_index, tuple(sorted(slots.items())))] += 1


def _own_strips(
    demand: Demand, source_index: int, own: set[int], later: set[int], left: list[int]
) -> dict[int, list[StripColumn]]:
    """Strips that hold at least one piece of the stage itself, by width; their pieces are taken off `left`."""
    source = demand.sources[source_index]
    family = demand.families[source.family]
    single = family.single_component
    strips: dict[int, list[StripColumn]] = {}
    order: list[int] = []
    for group in (own, later):
        short = [t for t in group if not demand.types[t].solo]
        short.sort(key=lambda t: (-demand.types[t].length, -demand.types[t].width_min, t))
        order += [t for t in short for _ in range(left[t])]
    for t in sorted(own):
        if demand.types[t].solo:
            w = family.index_of_width[demand.types[t].width_min]
            strips.setdefault(w, []).extend([StripColumn(source.family, w, ((single[t], 1),))] * left[t])
            left[t] = 0
    if order:
        components = np.array([single[t] for t in order], dtype=np.int32)
        strip_of, strip_width = form_strips(
            np.ascontiguousarray(family.lengths[components]),
            np.ascontiguousarray(family.width_min[components]),
            np.ascontiguousarray(family.width_max[components]),
            family.capacity,
            int(family.lengths[components].min()),
            STRIP_TOLERANCE,
        )
        members: list[list[int]] = [[] for _ in strip_width]
        for t, strip in zip(order, strip_of.tolist(), strict=True):
            members[strip].append(t)
        for held in members:
            if held and held[0] in own:
                width = max(demand.types[t].width_min for t in held)
                w = family.index_of_width[width]
                pairs = tuple(sorted(Counter(single[t] for t in held).items()))
                strips.setdefault(w, []).append(StripColumn(source.family, w, pairs))
                for t in held:
                    left[t] -= 1
    return strips


def _in_a_free_slot(
    demand: Demand,
    strip: StripColumn,
    free: dict[int, Values],
    chosen: Counter[BoardColumn | StripColumn],
) -> bool:
    """Puts the strip into a slot that is free on a chosen board which may serve all its pieces."""
    family = demand.families[strip.family]
    types = [(family.components[c].types[0], copies) for c, copies in strip.pairs]
    width = int(family.widths[strip.width])
    for f, slots in free.items():
        other = demand.families[f]
        if not slots.any() or any(t not in other.single_component for t, _ in types):
            continue
        taken = sum(int(other.lengths[other.single_component[t]]) * copies for t, copies in types)
        if taken > other.length + other.kerf:  # each piece fits such stock, but not all of them in a strip
            continue
        w = other.index_of_width[width]
        wide_enough = np.flatnonzero(slots[w:])
        if len(wide_enough):
            slots[w + int(wide_enough[0])] -= 1
            pairs = tuple(sorted((other.single_component[t], copies) for t, copies in types))
            chosen[StripColumn(f, w, pairs)] += 1
            return True
    return False
