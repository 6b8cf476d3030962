"""A plan in columns: which boards, which strips, how often. And how a half-finished one is completed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from optimiser.cutting.demand import Demand
from optimiser.cutting.heuristic import TOLERANCES, cheapest_source, strips_for
from optimiser.cutting.kernels import Values, fill_boards
from optimiser.cutting.master import BoardColumn, Column, OffcutColumn, Pairs, StripColumn
from optimiser.cutting.rack import filled_rack
from optimiser.cutting.rolling import OWN_WEIGHTS, roll


@dataclass(frozen=True)
class ColumnPlan:
    """Boards and strips with how often each is used. In every family the slots of the boards can take the
    strips (a wide slot may take a narrow strip), and the strips cover every type's demand."""

    cost: int
    boards: tuple[tuple[BoardColumn, int], ...]
    strips: tuple[tuple[StripColumn, int], ...]


def complete(
    demand: Demand,
    chosen: Iterable[tuple[Column, int]],
    tolerances: tuple[int, ...] = TOLERANCES,
    worths: Values | None = None,
    *,
    further_offcuts: bool = True,
) -> ColumnPlan:
    """The cheapest completion of the chosen boards and strips that the constructive heuristic finds.

    Chosen strips beyond the chosen boards' slots get boards of their own; what the chosen strips do not cover is
    formed into new strips. Nothing chosen: a plan from scratch. Offcuts of the rack that are not chosen are filled with
    what is `worths` most, a value for each type (None: its area), unless no `further_offcuts` are asked for.
    """
    boards: Counter[BoardColumn] = Counter()
    strips: Counter[StripColumn] = Counter()
    for column, times in chosen:
        if times > 0 and isinstance(column, BoardColumn):
            boards[column] += times
        elif times > 0 and isinstance(column, StripColumn):
            strips[column] += times
        elif times > 0 and isinstance(column, OffcutColumn):
            board, held = column.as_slots(demand)
            boards[board] += times
            for strip, copies in held:
                strips[strip] += copies * times
    slots = _slots(demand, boards)
    bought = {source.family for source in demand.sources if source.available is None}
    kept: Counter[StripColumn] = Counter()
    free = {family: counts.copy() for family, counts in slots.items()}
    for column in sorted(strips, key=lambda c: (c.family, -c.width)):
        for _ in range(strips[column]):
            if _take_slot(free[column.family], column.width):
                kept[column] += 1
            elif column.family in bought and not demand.staged:
                kept[column] += 1  # its board is added below
    needed = _uncovered(demand, kept)
    if demand.racks and needed and further_offcuts:
        for column in _further_offcuts(demand, boards, needed, worths):
            board, held = column.as_slots(demand)
            boards[board] += 1
            kept.update(dict(held))
        slots = _slots(demand, boards)
        needed = _uncovered(demand, kept)
    best: ColumnPlan | None = None
    if demand.staged:
        for own_weight in OWN_WEIGHTS:
            left = {f: slots.copy() for f, slots in free.items() if slots.any()}
            rolled = roll(demand, needed, left, own_weight)
            all_boards = boards + Counter({c: n for c, n in rolled.items() if isinstance(c, BoardColumn)})
            all_strips = kept + Counter({c: n for c, n in rolled.items() if isinstance(c, StripColumn)})
            plan = _with_boards(demand, all_boards, _slots(demand, all_boards), all_strips)
            if best is None or plan.cost < best.cost:
                best = plan
        assert best is not None
        return best
    tried: set[frozenset[tuple[StripColumn, int]]] = set()
    for tolerance in tolerances:
        formed = strips_for(demand, needed, tolerance)
        key = frozenset(formed.items())
        if key in tried:
            continue
        tried.add(key)
        plan = _with_boards(demand, boards, slots, kept + formed)
        if best is None or plan.cost < best.cost:
            best = plan
        if not needed:
            break
    assert best is not None
    return best


def _further_offcuts(
    demand: Demand, boards: Mapping[BoardColumn, int], needed: Mapping[int, int], worths: Values | None
) -> list[OffcutColumn]:
    """Patterns for the offcuts of the rack that no board column uses yet."""
    left = {s: demand.sources[s].available or 0 for group in demand.racks for s in group.sources}
    for column, times in boards.items():
        if column.source in left:
            left[column.source] -= times
    if worths is None:
        worths = np.array([kind.length * kind.width_min for kind in demand.types], dtype=np.int64)
    wanted = np.zeros(len(demand.types), np.int64)
    for t, count in needed.items():
        wanted[t] = count
    return [OffcutColumn(*chosen) for chosen in filled_rack(demand, worths, wanted, left)]


def heuristic_for(demand: Demand, needed: Mapping[int, int]) -> ColumnPlan:
    """The constructive heuristic's best plan for so many pieces of each type alone."""
    nothing: Counter[BoardColumn] = Counter()
    return min(
        (
            _with_boards(demand, nothing, _slots(demand, nothing), strips_for(demand, needed, tolerance))
            for tolerance in TOLERANCES[:2]
        ),
        key=lambda plan: plan.cost,
    )


def apart_by_stage(demand: Demand) -> ColumnPlan | None:
    """Every stage's pieces by themselves, by the heuristic: nothing waits. Only for one board that serves all stages
    of a problem with several; None elsewhere."""
    pieces = demand.problem.pieces
    bought = [source for source in demand.sources if source.available is None]
    if len(bought) != 1 or len({piece.stage for piece in pieces}) < 2:
        return None
    by_stage: dict[int, Counter[int]] = {}
    for t, kind in enumerate(demand.types):
        for member in kind.members:
            by_stage.setdefault(pieces[member].stage, Counter())[t] += pieces[member].quantity
    boards: Counter[BoardColumn] = Counter()
    strips: Counter[StripColumn] = Counter()
    cost = 0
    for stage in sorted(by_stage):
        plan = heuristic_for(demand, by_stage[stage])
        boards.update(dict(plan.boards))
        strips.update(dict(plan.strips))
        cost += plan.cost
    return ColumnPlan(cost, tuple(boards.items()), tuple(strips.items()))


def offcut_columns(demand: Demand, plan: ColumnPlan) -> list[OffcutColumn]:
    """The plan's patterns of the rack's offcuts, whole: each strip in the narrowest slot that takes it."""
    free: dict[int, list[tuple[int, int]]] = {}  # family -> slots as (width index, pattern)
    patterns: list[tuple[int, Counter[tuple[int, Pairs]]]] = []
    for column, times in plan.boards:
        family = demand.sources[column.source].family
        if family not in demand.rack:
            continue
        for _ in range(times):
            slots = free.setdefault(family, [])
            slots += [(w, len(patterns)) for w, copies in column.pairs for _ in range(copies)]
            patterns.append((column.source, Counter()))
    for slots in free.values():
        slots.sort()
    held = [item for item in plan.strips if item[0].family in free]
    for strip, times in sorted(held, key=lambda item: (-item[0].width, item[0].pairs)):
        slots = free[strip.family]
        for _ in range(times):
            at = next(k for k, (w, _) in enumerate(slots) if w >= strip.width)
            patterns[slots.pop(at)[1]][1][strip.width, strip.pairs] += 1
    return [
        OffcutColumn(source, tuple((w, pairs, copies) for (w, pairs), copies in sorted(strips.items())))
        for source, strips in patterns
        if strips
    ]


def _slots(demand: Demand, boards: Mapping[BoardColumn, int]) -> dict[int, np.ndarray]:
    slots = {f: np.zeros(len(family.widths), np.int64) for f, family in enumerate(demand.families)}
    for column, times in boards.items():
        family = demand.sources[column.source].family
        for w, copies in column.pairs:
            slots[family][w] += copies * times
    return slots


def _take_slot(free: np.ndarray, width: int) -> bool:
    """Uses the narrowest free slot that is wide enough."""
    at_least = np.flatnonzero(free[width:])
    if not len(at_least):
        return False
    free[width + int(at_least[0])] -= 1
    return True


def _uncovered(demand: Demand, strips: Mapping[StripColumn, int]) -> dict[int, int]:
    needed = [kind.demand for kind in demand.types]
    for column, times in strips.items():
        components = demand.families[column.family].components
        for c, copies in column.pairs:
            for t in components[c].types:
                needed[t] -= copies * times
    return {t: count for t, count in enumerate(needed) if count > 0}


def _with_boards(
    demand: Demand,
    boards: Counter[BoardColumn],
    slots: dict[int, np.ndarray],
    strips: Counter[StripColumn],
) -> ColumnPlan:
    """Adds boards for the strips that the slots do not take."""
    wanted: dict[int, np.ndarray] = {}
    for column, times in strips.items():
        if column.family not in wanted:
            wanted[column.family] = np.zeros(len(demand.families[column.family].widths), np.int64)
        wanted[column.family][column.width] += times
    added: Counter[BoardColumn] = Counter(boards)
    for f, counts in wanted.items():
        family = demand.families[f]
        unplaced = np.zeros(len(family.widths), np.int32)
        free = slots[f].copy()
        # each width's strips first use slots of that width, then the next wider that are free
        order = [int(w) for w in np.flatnonzero(free)]
        for w in range(len(family.widths) - 1, -1, -1):
            count = int(counts[w])
            for slot in order:
                if count == 0:
                    break
                if slot >= w and free[slot]:
                    used = min(count, int(free[slot]))
                    free[slot] -= used
                    count -= used
            unplaced[w] = count
        if not unplaced.any():
            continue
        source = cheapest_source(demand, f)
        for pairs, repeat in fill_boards(
            (family.widths + family.kerf).astype(np.int32),
            unplaced,
            demand.sources[source].width + family.kerf,
        ):
            used_width = (
                sum(int(family.widths[w] + family.kerf) * copies for w, copies in pairs) - family.kerf
            )
            added[BoardColumn(_smallest_that_fits(demand, f, source, used_width), pairs)] += repeat
    cost = sum(demand.sources[column.source].price * times for column, times in added.items())
    return ColumnPlan(cost, tuple(added.items()), tuple(strips.items()))


def _smallest_that_fits(demand: Demand, family: int, source: int, used_width: int) -> int:
    options = [
        (candidate.price, s)
        for s, candidate in enumerate(demand.sources)
        if candidate.family == family and candidate.available is None and candidate.width >= used_width
    ]
    return min(options)[1] if options else source
