"""Which piece joins which strip, in whole numbers and without boards: an integer program under conditions.

A strip is as wide as its widest piece. Pieces that differ in nothing are one type, so that a strip is a pattern of
types, and how often each family cuts each pattern is all that is asked.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import TYPE_CHECKING

from optimiser.cutting.demand import Demand
from optimiser.cutting.strip_conditions import Condition

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

MOST_PATTERNS = 20_000  # of strips, beyond which the program is not worth asking


def applies(demand: Demand) -> bool:
    """Bought boards alone that serve every delivery, one kerf, no tapered pairs."""
    return (
        not demand.staged
        and all(source.available is None for source in demand.sources)
        and len({family.kerf for family in demand.families}) == 1
        and all(len(c.types) == 1 for family in demand.families for c in family.components)
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


class StripPatterns:
    """The patterns of strips of a demand's families, each family's listed once, when it is first asked for."""

    def __init__(self, demand: Demand) -> None:
        self.demand = demand
        self._of_family: dict[int, list[FormedStrip]] = {}

    def of(self, families: Iterable[int]) -> list[FormedStrip] | None:
        """Every pattern of these families; None where there are too many."""
        found: list[FormedStrip] = []
        for f in families:
            if f not in self._of_family:
                self._of_family[f] = list(islice(strip_patterns(self.demand, f), MOST_PATTERNS + 1))
            found += self._of_family[f]
            if len(found) > MOST_PATTERNS:
                return None
        return found


def strips_formed(
    every: StripPatterns,
    conditions: Sequence[Condition],
    boards: Sequence[int],
    effort: float,
    seconds: float | None = None,
    *,
    roomy: bool = False,
) -> Formed:
    """Strips that so many boards of each source could hold by all conditions, sought within `effort` deterministic
    seconds of CP-SAT (and `seconds` of the clock). `roomy`: of those the ones that leave the boards of each family most
    room, as far as that is found. Nothing is settled where there are too many patterns of strips.
    """
    from ortools.sat.python import cp_model  # late: its import takes longer than most solves

    sources = every.demand.sources
    patterns = every.of(sorted({s.family for s, n in zip(sources, boards, strict=True) if n}))
    if patterns is None:
        return Formed(None)
    program = _Program(every.demand, patterns)
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
    """The variables: how often each pattern of a strip is cut."""

    def __init__(self, demand: Demand, patterns: Sequence[FormedStrip]) -> None:
        from ortools.sat.python import cp_model

        self.demand, self.patterns, self.model = demand, patterns, cp_model.CpModel()
        self.times: list[cp_model.IntVar] = []
        covering: list[list[tuple[int, int]]] = [[] for _ in demand.types]
        for k, pattern in enumerate(patterns):
            held = Counter(pattern.types)
            most = min(demand.types[t].demand // count for t, count in held.items())
            self.times.append(self.model.new_int_var(0, most, ""))
            for t, count in held.items():
                covering[t].append((k, count))
        for kind, of in zip(demand.types, covering, strict=True):
            self.model.add(sum(count * self.times[k] for k, count in of) >= kind.demand)

    def leave_room(self, boards: Sequence[int]) -> None:
        """The strips of every family leave as much of a board's width as can be, on average of its boards."""
        sources = self.demand.sources
        room = self.model.new_int_var(0, max(source.width for source in sources), "")
        for f, family in enumerate(self.demand.families):
            of = [(s.width + s.kerf, n) for s, n in zip(sources, boards, strict=True) if s.family == f]
            taken = self._worth(f, [int(width) + family.kerf for width in family.widths])
            self.model.add(taken + sum(n for _, n in of) * room <= sum(width * n for width, n in of))
        self.model.maximize(room)

    def keep(self, condition: Condition, most: int) -> None:
        """The strips of a condition's family are worth no more than `most` by it."""
        self.model.add(self._worth(condition.family, [int(value) for value in condition.values]) <= most)

    def _worth(self, f: int, value_of: Sequence[int]) -> cp_model.LinearExpr | int:
        """What the strips of a family are worth, by the index of their width."""
        from ortools.sat.python import cp_model

        of = [k for k, pattern in enumerate(self.patterns) if pattern.family == f]
        worths = [value_of[self.patterns[k].width] for k in of]
        return cp_model.LinearExpr.weighted_sum([self.times[k] for k in of], worths)

    def strips(self, solver: cp_model.CpSolver) -> Iterator[FormedStrip]:
        """The strips of a solution, each piece in one of them: what is there too often is left out."""
        kinds, families = self.demand.types, self.demand.families
        left = [kind.demand for kind in kinds]
        for pattern, times in zip(self.patterns, self.times, strict=True):
            for _ in range(solver.value(times)):
                held = []
                for t in pattern.types:
                    if left[t]:
                        left[t] -= 1
                        held.append(t)
                if held:
                    widest = max(kinds[t].width_min for t in held)
                    width = families[pattern.family].index_of_width[widest]
                    yield FormedStrip(pattern.family, width, tuple(held))


def strip_patterns(demand: Demand, f: int) -> Iterator[FormedStrip]:
    """Every way to fill a strip of a family, each once: its widest piece first, which all others may be as wide as."""
    family, kinds = demand.families[f], demand.types
    order = sorted(family.single_component, key=lambda t: (-kinds[t].width_min, -kinds[t].length, t))

    def filled(held: tuple[int, ...], place: int, room: int) -> Iterator[tuple[int, ...]]:
        yield held
        widest = kinds[held[0]].width_min
        for k in range(place, len(order)):
            kind = kinds[order[k]]
            taken = kind.length + family.kerf
            if taken <= room and widest <= kind.width_max and held.count(order[k]) < kind.demand:
                yield from filled((*held, order[k]), k, room - taken)

    for place, t in enumerate(order):
        width = family.index_of_width[kinds[t].width_min]
        for held in filled((t,), place, family.capacity - kinds[t].length - family.kerf):
            yield FormedStrip(f, width, held)
