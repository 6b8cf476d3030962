"""Which piece joins which strip, in whole numbers and without boards: an integer program under conditions.

A strip is as wide as its widest piece. Pieces that differ in nothing are one type, so that a strip is a pattern of
types, and how often each family cuts each pattern is all that is asked.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from math import ceil, isfinite
from typing import TYPE_CHECKING

from optimiser.cutting.demand import Demand
from optimiser.cutting.filled_boards import ways_to_fill
from optimiser.cutting.master import StripColumn
from optimiser.cutting.strip_conditions import Condition

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

MOST_PATTERNS = 20_000  # of strips, beyond which only those that are known are tried
EFFORT_FOR_ROOM = 0.1  # deterministic seconds, to prove how little the strips of a family can take
FIRST_TRY_OF_FILLING = 4.0  # as below, where boards are filled one by one
FIRST_TRY = 0.1  # deterministic seconds, with each of two random seeds, before tries of twice as long


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
class FilledBoard:
    """A board of a source with room for strips side by side, by the indices of their widths."""

    source: int
    widths: tuple[int, ...]


@dataclass(frozen=True)
class Formed:
    """Strips for all pieces that keep all conditions; `possible` False where there are none, None where that is not
    settled. `effort`: deterministic seconds that were spent. `filled`: all boards of those sources whose boards were
    filled one by one."""

    possible: bool | None
    strips: tuple[FormedStrip, ...] = ()
    effort: float = 0.0
    filled: tuple[FilledBoard, ...] = ()


class StripPatterns:
    """The patterns of strips of a demand's families, each family's listed once, when it is first asked for."""

    def __init__(self, demand: Demand, known: Callable[[], Iterable[StripColumn]] = tuple) -> None:
        """`known`: those that column generation has found, taken where all are too many."""
        self.demand = demand
        self._known = known
        self._of_family: dict[int, list[FormedStrip]] = {}

    def of(self, families: Sequence[int]) -> tuple[list[FormedStrip], bool]:
        """Every pattern of these families, and True; where there are too many those that are known, and False."""
        found: list[FormedStrip] = []
        for f in families:
            if f not in self._of_family:
                self._of_family[f] = list(islice(strip_patterns(self.demand, f), MOST_PATTERNS + 1))
            found += self._of_family[f]
            if len(found) > MOST_PATTERNS:
                return self._known_of(families), False
        return found, True

    def _known_of(self, families: Sequence[int]) -> list[FormedStrip]:
        """The known ones, and every piece in a strip of its own."""
        kinds = self.demand.types
        found: dict[FormedStrip, None] = {}
        for f in families:
            family = self.demand.families[f]
            for t in family.single_component:
                found[FormedStrip(f, family.index_of_width[kinds[t].width_min], (t,))] = None
        for column in self._known():
            if column.family in families:
                family = self.demand.families[column.family]
                held = [t for c, copies in column.pairs for t in family.components[c].types * copies]
                held.sort(key=lambda t: (-kinds[t].width_min, -kinds[t].length, t))
                width = family.index_of_width[kinds[held[0]].width_min]
                found[FormedStrip(column.family, width, tuple(held))] = None
        return list(found)


def strips_formed(
    every: StripPatterns,
    conditions: Sequence[Condition],
    boards: Sequence[int],
    effort: float,
    seconds_left: Callable[[], float] | None = None,
    *,
    roomy: bool = False,
    filled: bool = False,
) -> Formed:
    """Strips that so many boards of each source could hold by all conditions, sought within `effort` deterministic
    seconds of CP-SAT (and the seconds of the clock that are left). `roomy`: of those the ones that leave the boards of
    each family most room, as far as that is found. `filled`: boards that are the only ones of their family are filled
    one by one where they must be nearly full; nothing is settled where none are. Where there are too many patterns of
    strips those that are known are tried, which proves nothing if they do not do.
    """
    sources = every.demand.sources
    patterns, all_there = every.of(sorted({s.family for s, n in zip(sources, boards, strict=True) if n}))
    program = _Program(every.demand, patterns)
    for condition in conditions:
        program.keep(condition, condition.held_by(boards))
    if roomy:
        program.leave_room(boards)
    if filled and not program.fill(boards):
        return Formed(None)
    possible, spent = program.solved(effort, seconds_left)
    if possible:
        return Formed(True, tuple(program.strips()), spent, tuple(program.filled_boards()))
    return Formed(possible if all_there else None, effort=spent)


class _Program:
    """The variables: how often each pattern of a strip is cut, and each way to fill a board."""

    def __init__(self, demand: Demand, patterns: Sequence[FormedStrip]) -> None:
        from ortools.sat.python import cp_model  # late: its import takes longer than most solves

        self.demand, self.patterns, self.model = demand, patterns, cp_model.CpModel()
        self.times: list[cp_model.IntVar] = []
        self.fills: list[tuple[FilledBoard, cp_model.IntVar]] = []
        self.solver = cp_model.CpSolver()
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

    def fill(self, boards: Sequence[int]) -> bool:
        """Fills the boards of each source that is the only one of its family, one by one; whether there are any such
        with few enough ways to do so."""
        sources = self.demand.sources
        used = Counter(source.family for source, n in zip(sources, boards, strict=True) if n)
        for s, (source, n) in enumerate(zip(sources, boards, strict=True)):
            if n and used[source.family] == 1:
                family = self.demand.families[source.family]
                sizes = [int(width) + family.kerf for width in family.widths]
                room = source.width + source.kerf
                spare = n * room - self._least_taken(source.family, sizes)
                ways = ways_to_fill(sizes, room, spare) if spare >= 0 else []
                if ways is not None:
                    self._fill_in(s, n, ways)
        return bool(self.fills)

    def _least_taken(self, f: int, sizes: Sequence[int]) -> int:
        """What the strips of a family take of the width of its boards at the least, as far as that is proved."""
        self.model.minimize(self._worth(f, sizes))
        self.solved(EFFORT_FOR_ROOM, None)
        self.model.clear_objective()
        bound = self.solver.best_objective_bound
        return max(0, ceil(bound - 1e-6)) if isfinite(bound) else 0

    def _fill_in(self, s: int, n: int, ways: Sequence[tuple[int, ...]]) -> None:
        """`n` boards of a source, each filled in one of these ways."""
        f = self.demand.sources[s].family
        times = [self.model.new_int_var(0, n, "") for _ in ways]
        self.model.add(sum(times) == n)
        for w in range(len(self.demand.families[f].widths)):
            strips = [
                self.times[k]
                for k, pattern in enumerate(self.patterns)
                if (pattern.family, pattern.width) == (f, w)
            ]
            held = [way.count(w) for way in ways]
            places = sum(count * variable for count, variable in zip(held, times, strict=True) if count)
            self.model.add(sum(strips) == places)
        self.fills += [(FilledBoard(s, way), variable) for way, variable in zip(ways, times, strict=True)]

    def solved(self, effort: float, seconds_left: Callable[[], float] | None) -> tuple[bool | None, float]:
        """Whether there is a solution, None where that is not settled; and the deterministic seconds that it took.

        How long the search takes differs a hundredfold from one random seed to another, so it begins anew with the next
        seed after a while, and after twice as long later (Gomes, Selman, Crato, Kautz, Journal of Automated Reasoning
        24, 2000).
        """
        from ortools.sat.python import cp_model

        spent, tries = 0.0, 0
        while spent < effort:
            solver = self.solver = cp_model.CpSolver()
            solver.parameters.num_workers = 1
            solver.parameters.random_seed = tries
            solver.parameters.linearization_level = 2
            solver.parameters.cp_model_probing_level = 0
            first_try = FIRST_TRY_OF_FILLING if self.fills else FIRST_TRY
            solver.parameters.max_deterministic_time = min(effort - spent, first_try * 2 ** (tries // 2))
            left = None if seconds_left is None else seconds_left()
            if left is not None:
                if left <= 0:
                    break
                solver.parameters.max_time_in_seconds = left
            status = solver.solve(self.model)
            spent += float(solver.response_proto.deterministic_time)
            tries += 1
            if status == cp_model.INFEASIBLE:
                return False, spent
            if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
                return True, spent
        return None, spent

    def strips(self) -> Iterator[FormedStrip]:
        """The strips of the solution."""
        times = (self.solver.value(variable) for variable in self.times)
        return without_surplus(self.demand, zip(self.patterns, times, strict=True))

    def filled_boards(self) -> Iterator[FilledBoard]:
        """The boards of the solution that are filled one by one."""
        for board, variable in self.fills:
            yield from [board] * self.solver.value(variable)


def without_surplus(demand: Demand, chosen: Iterable[tuple[FormedStrip, int]]) -> Iterator[FormedStrip]:
    """The strips of patterns that are cut so often, each piece in one of them: what is there too often is left out."""
    kinds, families = demand.types, demand.families
    left = [kind.demand for kind in kinds]
    for pattern, times in chosen:
        for _ in range(times):
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
