"""The exact finish for small problems: can all pieces be cut from fewer boards than the best plan's?

The level-packing model of Lodi, Martello and Vigo (Journal of Combinatorial Optimization 8, 2004) with windows and
kerf, as a yes-or-no question to CP-SAT: every strip is opened by its widest piece, holds only pieces whose windows
take that width, and lies on one of so many boards. 'No' lifts the bound by one; 'yes' is a better plan.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from optimiser.cutting.columns import ColumnPlan, complete
from optimiser.cutting.demand import Demand
from optimiser.cutting.master import BoardColumn, StripColumn


@dataclass(frozen=True)
class Answer:
    """Whether a plan within the boards exists: True with the plan, False when proved not, None when unknown."""

    fits: bool | None
    plan: ColumnPlan | None = None


def applies(demand: Demand, most_pieces: int) -> bool:
    """One board size without offcuts or tapered pairs, and few enough pieces for the exact model."""
    return (
        len(demand.sources) == 1
        and demand.pieces <= most_pieces
        and all(len(component.types) == 1 for component in demand.families[0].components)
    )


def fits_within(demand: Demand, boards: int, effort: float) -> Answer:
    """Whether all pieces can be cut from `boards` boards, by CP-SAT within `effort` deterministic seconds."""
    from ortools.sat.python import cp_model  # late: its import takes longer than most solves

    family, source = demand.families[0], demand.sources[0]
    kinds = [
        demand.types[component.types[0]] for component in family.components for _ in range(component.bound)
    ]
    component_of = [c for c, component in enumerate(family.components) for _ in range(component.bound)]
    order = sorted(range(len(kinds)), key=lambda k: (-kinds[k].width_min, -kinds[k].length, component_of[k]))
    kinds = [kinds[k] for k in order]
    component_of = [component_of[k] for k in order]
    count = len(kinds)
    room, across = family.capacity, source.width + family.kerf
    lengths = [kind.length + family.kerf for kind in kinds]
    widths = [kind.width_min + family.kerf for kind in kinds]
    model = cp_model.CpModel()
    opens = [model.new_bool_var("") for _ in range(count)]
    joins: list[dict[int, cp_model.IntVar]] = [{} for _ in range(count)]  # piece j -> strips i it may join
    for j in range(count):
        for i in range(j):
            if kinds[i].width_min <= kinds[j].width_max and lengths[i] + lengths[j] <= room:
                joins[j][i] = model.new_bool_var("")
        model.add_exactly_one([opens[j], *joins[j].values()])
    for i in range(count):
        members = [(joins[j][i], lengths[j]) for j in range(i + 1, count) if i in joins[j]]
        if members:
            model.add(sum(length * var for var, length in members) <= (room - lengths[i]) * opens[i])
            for var, _ in members:
                model.add_implication(var, opens[i])
    on = [[model.new_bool_var("") for _ in range(min(boards, i + 1))] for i in range(count)]
    for i in range(count):
        model.add(sum(on[i]) == opens[i])
    for k in range(boards):
        strips = [i for i in range(count) if k < len(on[i])]
        model.add(sum(widths[i] * on[i][k] for i in strips) <= across)
    model.add(sum(w * var for w, var in zip(widths, opens, strict=True)) <= across * boards)
    for j in range(count - 1):  # equal pieces: the earlier opens first
        if component_of[j] == component_of[j + 1]:
            model.add_implication(opens[j + 1], opens[j])
    # area: lengths of a strip are bounded by its own length, so open strips must be enough for all pieces
    model.add(room * sum(opens) >= sum(lengths))
    status = cp_model.UNKNOWN
    # in the pieces' own order first, which proves most small cases; then the solver's own search
    for branching, share in ((cp_model.FIXED_SEARCH, 0.25), (cp_model.AUTOMATIC_SEARCH, 0.75)):
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = 0
        solver.parameters.linearization_level = 0
        solver.parameters.search_branching = branching
        solver.parameters.max_deterministic_time = effort * share
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
        held.setdefault(strip, []).append(component_of[j])
    columns = Counter(
        StripColumn(0, family.index_of_width[kinds[i].width_min], tuple(sorted(Counter(members).items())))
        for i, members in held.items()
    )
    contents: dict[int, Counter[int]] = {}
    for i in held:
        k = next(k for k, var in enumerate(on[i]) if solver.value(var))
        contents.setdefault(k, Counter())[family.index_of_width[kinds[i].width_min]] += 1
    patterns = Counter(BoardColumn(0, tuple(sorted(content.items()))) for content in contents.values())
    return Answer(True, complete(demand, [*columns.items(), *patterns.items()]))
