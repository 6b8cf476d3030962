"""A good schedule to start from: levels that follow each other come together, on the last day for the first of them.

What a group costs in each aim depends on its own levels alone, so that the best way to divide the levels into groups
is a shortest path over them (Wagner and Whitin, Management Science 5, 1958, who do it for one cost), compared aim by
aim. The integer program goes on from there: it also lets the products of a level come on different days.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date
from itertools import accumulate

from optimiser.model.money import NOTHING, cents_of
from optimiser.model.project import DeliveryLimits, Project
from optimiser.ordering.delivery_days import Unit, loads_of
from optimiser.ordering.price_breaks import price_of
from optimiser.ordering.site_floor import SiteFloor

Cost = tuple[int, ...]
"""A schedule's cost in each aim, the first one first; compared as tuples are, added place by place."""


def grouped_arrivals(
    project: Project, limits: DeliveryLimits, units: Sequence[Unit], floor: SiteFloor
) -> tuple[date, ...]:
    """Each unit's day in the best such schedule."""
    blocks: dict[date, list[int]] = {}
    for u, unit in enumerate(units):
        blocks.setdefault(unit.slots[-1], []).append(u)
    days = sorted(blocks)
    areas = [floor.of_lines(unit.lines) for unit in units]
    brought = list(accumulate(sum(areas[u] for u in blocks[day]) for day in days))
    # for the first n blocks: their cost, and where their last group starts
    best: list[tuple[Cost, int]] = [((0,) * 6, 0)]
    for end in range(1, len(days) + 1):
        found: list[tuple[Cost, int]] = []
        group: list[int] = []
        for start in range(end - 1, -1, -1):
            group += blocks[days[start]]
            if any(days[start] not in units[u].slots for u in group):
                break
            cost = _cost(project, limits, [units[u] for u in group], floor, days[start], brought[end - 1])
            found.append((tuple(map(sum, zip(best[start][0], cost, strict=True))), start))
        best.append(min(found))
    arrives = [unit.slots[-1] for unit in units]
    end = len(days)
    while end:
        start = best[end][1]
        for later in days[start:end]:
            for u in blocks[later]:
                arrives[u] = days[start]
        end = start
    return tuple(arrives)


def _cost(
    project: Project,
    limits: DeliveryLimits,
    group: Sequence[Unit],
    floor: SiteFloor,
    day: date,
    brought: int,
) -> Cost:
    """What a group that comes on a day costs in each aim; `brought` is the area of all that has come by then."""
    packs: Counter[str] = Counter()
    for unit in group:
        for line in unit.lines:
            packs[line.code] += line.packs
    loads = loads_of(project, limits, packs)
    cents = sum(number * cents_of(price_of(project, code, number)) for code, number in packs.items())
    above = short = many = 0
    if limits.site_storage_m2 is not None:
        standing = brought + floor.waiting(day) - floor.cut_before(day)
        above = max(0, standing - limits.site_storage_m2 * 10**6 * floor.parts)
    if limits.trucks_a_delivery is not None:
        many = max(0, loads - limits.trucks_a_delivery)
    if limits.minimum_order:
        short = max(0, cents_of(limits.minimum_order) - cents)
    nights = sum(floor.of_lines(unit.lines) * (unit.slots[-1] - day).days for unit in group)
    evenly = 7 * 10**6 * floor.parts
    money = (
        evenly * (cents + cents_of(limits.delivery_cost or NOTHING) * loads)
        + cents_of(limits.storage_cost or NOTHING) * nights
    )
    return above, many, short, money, loads if limits.combine == "fewest_loads" else 0, nights
