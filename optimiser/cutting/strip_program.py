"""Which piece joins which strip, in whole numbers and without boards: an integer program under conditions.

A strip is as wide as its widest piece, which leads it. Pieces that can share a strip with none are only counted by the
family whose strips they take.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from optimiser.cutting.demand import Demand
from optimiser.cutting.parts import PieceType
from optimiser.cutting.strip_conditions import Condition

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

MOST_SHARING = 160  # pieces that may share a strip, beyond which the program is not worth asking
MOST_PAIRS = 6_000  # of pieces that may share one


def applies(demand: Demand) -> bool:
    """Bought boards alone that serve every delivery, one kerf, no tapered pairs, few pieces that may share a strip."""
    return (
        not demand.staged
        and all(source.available is None for source in demand.sources)
        and len({family.kerf for family in demand.families}) == 1
        and all(len(c.types) == 1 for family in demand.families for c in family.components)
        and sum(kind.demand for kind in demand.types if not kind.solo) <= MOST_SHARING
    )


@dataclass(frozen=True)
class FormedStrip:
    """A strip of a family: the index of its width, and the types of its pieces, the widest first."""

    family: int
    width: int
    types: tuple[int, ...]


@dataclass(frozen=True)
class Formed:
    """Strips for all pieces that keep all conditions; `possible` False where there are none, None where that is not
    settled. `effort`: deterministic seconds that were spent."""

    possible: bool | None
    strips: tuple[FormedStrip, ...] = ()
    effort: float = 0.0


def strips_formed(
    demand: Demand,
    conditions: Sequence[Condition],
    boards: Sequence[int],
    effort: float,
    seconds: float | None = None,
    *,
    roomy: bool = False,
) -> Formed:
    """Strips that so many boards of each source could hold by all conditions, sought within `effort` deterministic
    seconds of CP-SAT (and `seconds` of the clock). `roomy`: of those the ones that leave the boards of each family most
    room, as far as that is found."""
    from ortools.sat.python import cp_model  # late: its import takes longer than most solves

    program = _Program(demand, {s.family for s, n in zip(demand.sources, boards, strict=True) if n})
    if program.pairs > MOST_PAIRS:
        return Formed(None)
    for condition in conditions:
        program.keep(condition, condition.held_by(boards))
    if roomy:
        program.leave_room(boards)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 0
    solver.parameters.linearization_level = 2
    solver.parameters.max_deterministic_time = effort
    if seconds is not None:
        solver.parameters.max_time_in_seconds = max(0.01, seconds)
    status = solver.solve(program.model)
    spent = float(solver.response_proto.deterministic_time)
    if status == cp_model.INFEASIBLE:
        return Formed(False, effort=spent)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return Formed(None, effort=spent)
    return Formed(True, tuple(program.strips(solver)), spent)


class _Program:
    """The variables: `alone` by type, how many pieces lie by themselves in strips of a family; of each piece that may
    share, whether it leads a strip of a family, or which one it joins."""

    def __init__(self, demand: Demand, families: set[int]) -> None:
        from ortools.sat.python import cp_model

        self.demand, self.model = demand, cp_model.CpModel()
        kinds, serving = demand.types, sorted(families)

        def taking(t: int) -> list[int]:
            return [f for f in serving if t in demand.families[f].single_component]

        self.alone: dict[int, dict[int, cp_model.IntVar]] = {}
        for t, kind in enumerate(kinds):
            if kind.solo:
                self.alone[t] = {f: self.model.new_int_var(0, kind.demand, "") for f in taking(t)}
                self.model.add(sum(self.alone[t].values()) == kind.demand)
        self.sharing = [t for t, kind in enumerate(kinds) if not kind.solo for _ in range(kind.demand)]
        self.sharing.sort(key=lambda t: (-kinds[t].width_min, -kinds[t].length, t))
        self.leads = [{f: self.model.new_bool_var("") for f in taking(t)} for t in self.sharing]
        kerf = demand.families[0].kerf
        longest = max((demand.families[f].capacity for f in serving), default=0)
        self.joins: list[dict[int, cp_model.IntVar]] = [
            {
                i: self.model.new_bool_var("")
                for i in range(j)
                if _may_join(kinds[self.sharing[i]], kinds[t], kerf, longest)
            }
            for j, t in enumerate(self.sharing)
        ]
        self._lead_or_join()
        self._stay_within_length(kerf)

    @property
    def pairs(self) -> int:
        """How many pairs of pieces may share a strip."""
        return sum(map(len, self.joins))

    def _lead_or_join(self) -> None:
        for j, (leads, joins) in enumerate(zip(self.leads, self.joins, strict=True)):
            self.model.add_exactly_one([*leads.values(), *joins.values()])
            if j and self.sharing[j] == self.sharing[j - 1]:  # equal pieces: the earlier leads first
                self.model.add(sum(leads.values()) <= sum(self.leads[j - 1].values()))

    def _stay_within_length(self, kerf: int) -> None:
        kinds, families = self.demand.types, self.demand.families
        for i, t in enumerate(self.sharing):
            members = [
                (self.joins[j][i], self.sharing[j])
                for j in range(i + 1, len(self.sharing))
                if i in self.joins[j]
            ]
            for joined, member in members:  # the leader's family takes the member too
                taking = [var for f, var in self.leads[i].items() if member in families[f].single_component]
                self.model.add_bool_or(taking).only_enforce_if(joined)
            if members:
                taken = sum((kinds[member].length + kerf) * joined for joined, member in members)
                room = sum(
                    (families[f].capacity - kinds[t].length - kerf) * leads
                    for f, leads in self.leads[i].items()
                )
                self.model.add(taken <= room)

    def leave_room(self, boards: Sequence[int]) -> None:
        """The strips of every family leave as much of a board's width as can be, on average of its boards."""
        sources = self.demand.sources
        room = self.model.new_int_var(0, max(source.width for source in sources), "")
        for f, family in enumerate(self.demand.families):
            of = [(s.width + s.kerf, n) for s, n in zip(sources, boards, strict=True) if s.family == f]
            number = sum(n for _, n in of)
            widths = [int(width) + family.kerf for width in family.widths]
            taken = self._worth(f, widths)
            self.model.add(taken + number * room <= sum(width * n for width, n in of))
        self.model.maximize(room)

    def keep(self, condition: Condition, most: int) -> None:
        """The strips of a condition's family are worth no more than `most` by it."""
        self.model.add(self._worth(condition.family, [int(value) for value in condition.values]) <= most)

    def _worth(self, f: int, value_of: Sequence[int]) -> cp_model.LinearExpr | int:
        """What the strips of a family are worth, by the index of their width."""
        from ortools.sat.python import cp_model

        kinds, index = self.demand.types, self.demand.families[f].index_of_width
        placed = [(t, of[f]) for t, of in self.alone.items() if f in of]
        placed += [(t, of[f]) for t, of in zip(self.sharing, self.leads, strict=True) if f in of]
        worths = [value_of[index[kinds[t].width_min]] for t, _ in placed]
        return cp_model.LinearExpr.weighted_sum([variable for _, variable in placed], worths)

    def strips(self, solver: cp_model.CpSolver) -> list[FormedStrip]:
        """The strips of a solution."""
        kinds = self.demand.types
        found = []
        for t, of in self.alone.items():
            for f, variable in of.items():
                width = self.demand.families[f].index_of_width[kinds[t].width_min]
                found += [FormedStrip(f, width, (t,))] * solver.value(variable)
        for i, t in enumerate(self.sharing):
            joined = [
                self.sharing[j]
                for j in range(i + 1, len(self.sharing))
                if i in self.joins[j] and solver.value(self.joins[j][i])
            ]
            for f, variable in self.leads[i].items():
                if solver.value(variable):
                    width = self.demand.families[f].index_of_width[kinds[t].width_min]
                    found.append(FormedStrip(f, width, (t, *joined)))
        return found


def _may_join(leader: PieceType, other: PieceType, kerf: int, longest: int) -> bool:
    return leader.width_min <= other.width_max and leader.length + other.length + 2 * kerf <= longest
