"""Fewer pieces carried between levels, at the same cost.

A plan may lose a little on every board as long as the losses stay within the room between its cost and the
linear bound. So some boards are first cut from the pieces of one stage alone, each worth nearly its price at the
values that prove the bound; with those fixed, the linear program is solved again and rounded. If the whole costs
no more than the best plan, fewer boards mix levels.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping

import numpy as np

from optimiser.cutting.columns import ColumnPlan, complete, heuristic_for
from optimiser.cutting.demand import Demand, Family
from optimiser.cutting.generation import NEARLY, ColumnGeneration, Proof
from optimiser.cutting.heuristic import strips_for
from optimiser.cutting.kernels import price_boards
from optimiser.cutting.master import BoardColumn, CascadeColumn, StripColumn

SHARES_OF_A_LEVEL = (0.5,)  # of the boards that a level could fill alone, so many are kept
LEAST_STRIP_WORTH = 0.97  # of its share of a board: worse strips are better formed of several levels' pieces
STRIP_WASTE = 300  # thousandths: how much a strip of one stage may waste before its pieces stay apart
PRICING_ROUNDS = 1
MOST_PIECES = 10_000  # beyond this another solve of the linear program takes seconds


def level_by_level(generation: ColumnGeneration, best: ColumnPlan) -> Iterator[ColumnPlan]:
    """Plans of no more cost than `best` whose boards mix fewer levels, those that should mix least first.

    Only for one board size, where levels may be carried freely.
    """
    demand = generation.demand
    stages = {piece.stage for piece in demand.problem.pieces}
    bought = [source for source in demand.sources if source.available is None]
    if len(bought) != 1 or len(stages) < 2 or best.cost == 0:
        return
    apart = [heuristic_for(demand, needed) for needed in _needed_by_stage(demand)]
    if sum(plan.cost for plan in apart) <= best.cost:
        yield _added(apart)
    if demand.pieces > MOST_PIECES:
        return
    proof, price = generation.proof, demand.sources[0].price
    boards = best.cost // price
    room = max(0.02, boards - float(generation.bound) / price)
    least_value = int(proof.board_worth * (1 - room / boards))
    alone = [_cut_alone(demand, needed, proof, least_value) for needed in _needed_by_stage(demand)]
    for share in SHARES_OF_A_LEVEL:
        kept: Counter[BoardColumn | StripColumn] = Counter()
        for cut in alone:
            for board, strips in cut[: int(len(cut) * share)]:
                kept[board] += 1
                kept.update(strips)
        if kept:
            plan = _completed(generation, kept, best.cost)
            if plan is not None:
                yield plan


def _added(plans: list[ColumnPlan]) -> ColumnPlan:
    boards: Counter[BoardColumn] = Counter()
    strips: Counter[StripColumn] = Counter()
    for plan in plans:
        boards.update(dict(plan.boards))
        strips.update(dict(plan.strips))
    cost = sum(plan.cost for plan in plans)
    return ColumnPlan(cost, tuple(boards.items()), tuple(strips.items()))


def _completed(
    generation: ColumnGeneration, kept: Mapping[BoardColumn | StripColumn, int], cost: int
) -> ColumnPlan | None:
    """The linear program with the kept columns fixed, rounded and completed: a plan within `cost`, or None."""
    demand, master = generation.demand, generation.master
    plan = complete(demand, kept.items())
    if plan.cost <= cost:
        return plan
    # solo strips that the master counts as plain demand follow from their boards
    fixed = {
        column: float(times)
        for column, times in kept.items()
        if isinstance(column, BoardColumn) or not generation.is_collapsed_solo(column)
    }
    master.add(fixed)
    indices = [master.known[column] for column in fixed]
    master.set_lower_bounds(indices, list(fixed.values()))
    try:
        value = master.solve()
        for _ in range(PRICING_ROUNDS):
            if generation.lifted(value) <= cost or not generation.add_columns():
                break
            value = master.solve()
        if generation.lifted(value) > cost:
            return None
        chosen: Counter[BoardColumn | StripColumn] = Counter(kept)
        whole = np.floor(master.values() + NEARLY)
        for k in np.flatnonzero(whole).tolist():
            column = master.columns[k]
            if not isinstance(column, CascadeColumn):
                chosen[column] = max(chosen[column], int(whole[k]))
        plan = complete(demand, chosen.items())
        return plan if plan.cost <= cost else None
    finally:
        master.set_lower_bounds(indices, [0.0] * len(indices))


def _needed_by_stage(demand: Demand) -> list[dict[int, int]]:
    pieces = demand.problem.pieces
    by_stage: dict[int, Counter[int]] = {}
    for t, kind in enumerate(demand.types):
        for member in kind.members:
            by_stage.setdefault(pieces[member].stage, Counter())[t] += pieces[member].quantity
    return [dict(by_stage[stage]) for stage in sorted(by_stage)]


def _cut_alone(
    demand: Demand,
    needed: dict[int, int],
    proof: Proof,
    least_value: int,
) -> list[tuple[BoardColumn, list[StripColumn]]]:
    """Boards cut from `needed` pieces alone while a board is worth `least_value`, each with its strips."""
    family, source = demand.families[0], demand.sources[0]
    strips: dict[int, list[tuple[int, StripColumn]]] = {}  # by width index, the least valuable first
    for strip, times in strips_for(demand, needed, STRIP_WASTE).items():
        worth = sum(_value(demand, family, c, proof) * copies for c, copies in strip.pairs)
        share = (int(family.widths[strip.width]) + family.kerf) / (source.width + family.kerf)
        if worth >= LEAST_STRIP_WORTH * share * proof.board_worth:
            strips.setdefault(strip.width, []).extend([(worth, strip)] * times)
    for waiting in strips.values():
        waiting.sort(key=lambda item: (item[0], item[1].pairs))
    made: list[tuple[BoardColumn, list[StripColumn]]] = []
    while strips:
        order = sorted(strips)
        boards = price_boards(
            (family.widths[order] + family.kerf).astype(np.int32),
            np.array([len(strips[w]) for w in order], dtype=np.int32),
            np.array([strips[w][-1][0] for w in order], dtype=np.int64),
            source.width + family.kerf,
        )
        pattern = [(order[k], copies) for k, copies in boards.pairs(0)]
        if sum(worth for w, copies in pattern for worth, _ in strips[w][-copies:]) < least_value:
            break
        held: list[StripColumn] = []
        for w, copies in pattern:
            held += [strip for _, strip in strips[w][-copies:]]
            del strips[w][-copies:]
            if not strips[w]:
                del strips[w]
        made.append((BoardColumn(0, tuple(pattern)), held))
    return made


def _value(demand: Demand, family: Family, component: int, proof: Proof) -> int:
    t = family.components[component].types[0]
    if demand.types[t].solo and demand.collapsed:
        return int(proof.solo[0][family.index_of_width[demand.types[t].width_min]])
    return int(proof.types[t])
