"""The exact finish for small problems: can all pieces be cut for less than the best plan's cost?

The level-packing model of Lodi, Martello and Vigo (Journal of Combinatorial Optimization 8, 2004) with windows,
kerf, stages, offcuts and several board sizes, as a yes-or-no question to CP-SAT: every strip is opened by its
widest piece, holds only pieces whose windows take that width, and lies on one of the boards that the cost allows.
'No' proves the best plan optimal; 'yes' is a better plan.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from time import perf_counter

from optimiser.cutting.columns import ColumnPlan, complete
from optimiser.cutting.demand import Demand
from optimiser.cutting.master import BoardColumn, StripColumn

MOST_PLACES = 4_000  # pieces x boards in the model, beyond which it is not worth asking


@dataclass(frozen=True)
class Answer:
    """Whether a plan within the cost exists: True with the plan, False when proved not, None when unknown."""

    fits: bool | None
    plan: ColumnPlan | None = None


@dataclass(frozen=True)
class _Bin:
    """One copy of a source."""

    source: int
    copy: int


def applies(demand: Demand, cost: int, most_pieces: int) -> bool:
    """No tapered pairs, one kerf, and few enough pieces and boards for the exact model."""
    return (
        demand.pieces <= most_pieces
        and all(len(c.types) == 1 for family in demand.families for c in family.components)
        and len({source.kerf for source in demand.sources}) == 1
        and demand.pieces * len(_bins(demand, cost)) <= MOST_PLACES
    )


def _bins(demand: Demand, cost: int) -> list[_Bin]:
    """As many copies of each source as the cost, the stock and the number of pieces allow."""
    bins = []
    for s, source in enumerate(demand.sources):
        copies = demand.pieces if source.available is None else min(demand.pieces, source.available)
        if source.price > 0:
            copies = min(copies, cost // source.price)
        bins += [_Bin(s, copy) for copy in range(copies)]
    return bins


def fits_within(demand: Demand, cost: int, effort: float, seconds: float | None = None) -> Answer:
    """Whether all pieces can be cut for `cost` or less, by CP-SAT within `effort` deterministic seconds
    (and `seconds` of the clock, where a time limit is set)."""
    from ortools.sat.python import cp_model  # late: its import takes longer than most solves

    started = perf_counter()
    kerf = demand.sources[0].kerf
    pieces = [t for t, kind in enumerate(demand.types) for _ in range(kind.demand)]
    pieces.sort(key=lambda t: (-demand.types[t].width_min, -demand.types[t].length, t))
    kinds = [demand.types[t] for t in pieces]
    count = len(pieces)
    bins = _bins(demand, cost)
    serves = [set(family.single_component) for family in demand.families]
    model = cp_model.CpModel()
    opens = [model.new_bool_var("") for _ in range(count)]
    longest = max(source.length for source in demand.sources) + kerf
    # the order in which variables are made is the order of the first search: it matters
    joins: list[dict[int, cp_model.IntVar]] = [
        {
            i: model.new_bool_var("")
            for i in range(j)
            if kinds[i].width_min <= kinds[j].width_max
            and kinds[i].length + kinds[j].length + 2 * kerf <= longest
        }
        for j in range(count)
    ]
    # on[i][b]: the strip that piece i opens lies on bin b; copies of a source are used in the order of their
    # widest strips, so copy k holds none of the k widest
    on: list[dict[int, cp_model.IntVar]] = [
        {
            b: model.new_bool_var("")
            for b, place in enumerate(bins)
            if place.copy <= i
            and pieces[i] in serves[demand.sources[place.source].family]
            and kinds[i].width_min <= demand.sources[place.source].width
        }
        for i in range(count)
    ]
    for j in range(count):
        model.add_exactly_one([opens[j], *joins[j].values()])
        model.add(sum(on[j].values()) == opens[j])
        for i, join in joins[j].items():
            for b, var in on[i].items():
                if pieces[j] not in serves[demand.sources[bins[b].source].family]:
                    model.add_bool_or([join.negated(), var.negated()])
    for i in range(count):
        members = [(joins[j][i], kinds[j].length + kerf) for j in range(i + 1, count) if i in joins[j]]
        for var, _ in members:
            model.add_implication(var, opens[i])
        if members:
            room = sum(
                (demand.sources[bins[b].source].length - kinds[i].length) * var for b, var in on[i].items()
            )
            model.add(sum(length * var for var, length in members) <= room)
    used = [model.new_bool_var("") for _ in bins]
    for b, place in enumerate(bins):
        strips = [(kinds[i].width_min + kerf, on[i][b]) for i in range(count) if b in on[i]]
        model.add(
            sum(width * var for width, var in strips) <= (demand.sources[place.source].width + kerf) * used[b]
        )
        if place.copy > 0:
            model.add_implication(used[b], used[b - 1])
    model.add(sum(demand.sources[place.source].price * used[b] for b, place in enumerate(bins)) <= cost)
    widths = [kind.width_min + kerf for kind in kinds]
    across = [demand.sources[place.source].width + kerf for place in bins]
    # implied, and worth saying: strips lie within the boards, pieces within the strips
    model.add(
        sum(width * var for width, var in zip(widths, opens, strict=True))
        <= sum(width * var for width, var in zip(across, used, strict=True))
    )
    model.add(longest * sum(opens) >= sum(kind.length + kerf for kind in kinds))
    for j in range(count - 1):  # equal pieces: the earlier opens first
        if pieces[j] == pieces[j + 1]:
            model.add_implication(opens[j + 1], opens[j])
    status = cp_model.UNKNOWN
    # in the pieces' own order first, which proves most small cases; then the solver's own search
    for branching, linear, share in ((cp_model.FIXED_SEARCH, 1, 0.25), (cp_model.AUTOMATIC_SEARCH, 0, 0.75)):
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = 0
        solver.parameters.linearization_level = linear
        solver.parameters.search_branching = branching
        solver.parameters.max_deterministic_time = effort * share
        if seconds is not None:
            solver.parameters.max_time_in_seconds = max(0.01, seconds - (perf_counter() - started))
        status = solver.solve(model)
        if status != cp_model.UNKNOWN:
            break
    if status == cp_model.INFEASIBLE:
        return Answer(False)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return Answer(None)
    held: dict[int, list[int]] = {}
    for j in range(count):
        strip = j if solver.value(opens[j]) else next(i for i, var in joins[j].items() if solver.value(var))
        held.setdefault(strip, []).append(pieces[j])
    columns: Counter[BoardColumn | StripColumn] = Counter()
    slots: dict[int, Counter[int]] = {}
    for i, members_of_strip in held.items():
        b = next(b for b, var in on[i].items() if solver.value(var))
        f = demand.sources[bins[b].source].family
        family = demand.families[f]
        width = family.index_of_width[kinds[i].width_min]
        components = Counter(family.single_component[t] for t in members_of_strip)
        columns[StripColumn(f, width, tuple(sorted(components.items())))] += 1
        slots.setdefault(b, Counter())[width] += 1
    for b, content in slots.items():
        columns[BoardColumn(bins[b].source, tuple(sorted(content.items())))] += 1
    return Answer(True, complete(demand, columns.items()))
