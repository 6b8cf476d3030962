"""From the linear program to whole boards: rounding with completion, diving, and the restricted integer program."""

from __future__ import annotations

from collections.abc import Callable
from random import Random

import numpy as np

from optimiser.cutting.columns import ColumnPlan, complete
from optimiser.cutting.exact import applies, fits_within
from optimiser.cutting.generation import NEARLY, ColumnGeneration
from optimiser.cutting.heuristic import TOLERANCES
from optimiser.cutting.master import CascadeColumn, Floats
from optimiser.cutting.mixtures import Mixtures
from optimiser.cutting.restricted_program import restricted_program
from optimiser.cutting.strip_program import applies as strips_apply
from optimiser.cutting.whole_strips import WholeStrips

MOST_COLUMNS = 60_000  # beyond this the master is no longer extended while diving
MOST_DIVING_ROWS = 60_000  # steps x rows of one dive, so that its time is bounded
FEW_BOARDS = 60  # up to so many the integer program over all columns is worth its time
PATIENT_ROWS = 400  # larger masters are searched twice, smaller ones until all ways are tried
MOST_WORK = (
    600_000_000  # of the linear solver in all searches of a problem: 6 s or so, the same on every machine
)
FIRST_STRIP_EFFORT, STRIP_EFFORT = 0.5, 2.0  # deterministic seconds
MOST_MIXTURES_ASKED = 20  # one after the other, the cheapest first
MOST_UNSETTLED = 2  # of them


def rounded(generation: ColumnGeneration) -> ColumnPlan:
    """The master's last solution rounded down and completed by the heuristic, in one way: quick."""
    columns = generation.master.columns
    whole = np.floor(generation.master.values() + NEARLY)
    chosen = [
        (columns[k], int(whole[k]))
        for k in np.flatnonzero(whole).tolist()
        if not isinstance(columns[k], CascadeColumn)
    ]
    return complete(generation.demand, chosen, TOLERANCES[:1], generation.worths)


class Search:
    """The search for a plan as good as the bound, over a column generation that has converged (or run out)."""

    def __init__(
        self,
        generation: ColumnGeneration,
        best: ColumnPlan,
        out_of_time: Callable[[], bool],
        report: Callable[[ColumnPlan, int], None],
        most_work: int = MOST_WORK,
        mixtures: Mixtures | None = None,
    ) -> None:
        self.generation = generation
        self.master = generation.master
        self.best = best
        self.out_of_time = out_of_time
        self.report = report
        self.mixtures = (
            mixtures  # which numbers of boards the linear program allows, where there are several sizes
        )
        self.proved = 0  # by the exact model
        self.strips: WholeStrips | None = None  # what is asked of whole strips, and learned
        self.patience = self.master.work + most_work

    @property
    def bound(self) -> int:
        """The best proved lower bound."""
        return max(self.proved, self.generation.lower_bound)

    @property
    def finished(self) -> bool:
        """Whether the best plan is proved optimal, or time or patience is out."""
        tired = self.master.work > self.patience
        return self.best.cost <= self.bound or tired or self.out_of_time()

    def offer(self, plan: ColumnPlan) -> None:
        """Keeps the plan when it is better."""
        if plan.cost < self.best.cost:
            self.best = plan
            self.report(plan, self.bound)

    def _real_columns(self, values: Floats) -> list[int]:
        columns = self.master.columns
        return [k for k in np.flatnonzero(values).tolist() if not isinstance(columns[k], CascadeColumn)]

    def dive(self, share: float, random: Random, small: int, nodes: int, steps: int) -> None:
        """Fixes boards and strips from below, the surest first, re-solving and re-pricing in between. Every
        rounding is completed by the heuristic. When no more than `small` cost is left to place, the rest goes to
        the restricted integer program with at most `nodes` nodes.

        `share`: how much of the fractional part may be fixed in one of at most `steps` steps. A step
        that lifts the linear value to the best plan's cost is taken back and done in smaller ones.
        """
        master = self.master
        lowers = np.zeros(len(master.columns))
        retreats = 0
        value = master.solve()
        previous: Floats | None = None
        try:
            while not self.finished and steps > 0:
                steps -= 1
                if value == float("inf") or self.generation.rounded_up_bound(value) >= self.best.cost:
                    if previous is None or retreats >= 8:
                        return
                    retreats += 1
                    self._fix(lowers, previous)
                    lowers = previous
                    previous = None
                    share = 0.0
                    value = master.solve()
                    continue
                values = master.values()
                whole = np.floor(values + NEARLY)
                columns = master.columns
                self.offer(
                    complete(
                        self.generation.demand,
                        [(columns[k], int(whole[k])) for k in self._real_columns(whole)],
                        TOLERANCES[:1],
                        self.generation.worths,
                    )
                )
                if self.finished:
                    return
                fractions = values - whole
                candidates = self._real_columns(np.where(fractions > NEARLY, fractions, 0.0))
                if not candidates:
                    return
                placed = sum(master.costs[k] * whole[k] for k in self._real_columns(whole) if master.costs[k])
                lowers = np.concatenate([lowers, np.zeros(len(columns) - len(lowers))])
                if value - placed <= small:
                    new = np.where([isinstance(c, CascadeColumn) for c in columns], 0.0, whole)
                    self._fix(lowers, new)
                    lowers = new
                    self._generate_to_the_end()
                    self.offer(restricted_program(self.generation, self.best, nodes))
                    small = -1  # and on with the dive where it has found none
                    value = master.solve()
                    continue
                weight = {k: fractions[k] + 0.2 * random.random() for k in candidates}
                candidates.sort(key=lambda k: (-weight[k], k))
                up = [k for k in candidates[: max(1, int(len(candidates) * share))] if fractions[k] > 0.5]
                new = np.where([isinstance(c, CascadeColumn) for c in columns], 0.0, whole)
                for k in up or candidates[:1]:
                    new[k] += 1
                previous = lowers
                self._fix(lowers, new)
                lowers = new
                value = self._generate_a_little()
        finally:
            self._fix(lowers, np.zeros(len(lowers)))

    def ask_exactly(self, most_pieces: int, effort: float) -> None:
        """Asks the exact model for a plan of less cost, again while it finds one."""
        demand = self.generation.demand
        seconds_left = self.master.seconds_left
        while not self.finished and applies(demand, self.best.cost - 1, most_pieces):
            answer = fits_within(demand, self.best.cost - 1, effort, seconds_left() if seconds_left else None)
            if answer.plan is not None:
                self.offer(answer.plan)
            elif answer.fits is False:
                self.proved = self.best.cost
            else:
                return

    def ask_about_strips(self, effort: float, *, one_by_one: bool = False) -> None:
        """Asks whether whole strips fit on one board less, or on one mixture of boards after another that costs less:
        either a plan is found, or where none does, the best is proved. `one_by_one`: as in `WholeStrips.fit`."""
        demand = self.generation.demand
        if self.finished or not strips_apply(demand):
            return
        if self.strips is None:
            self.strips = WholeStrips(demand, self.generation.proof_of_slots, self.generation.strip_patterns)
        asked = self.strips
        if self.mixtures is not None:
            self._ask_about_mixtures(asked, self.mixtures, effort, one_by_one)
            return
        while len(demand.sources) == 1 and demand.sources[0].price == 1 and not self.finished:
            answer = asked.fit((self.best.cost - 1,), effort, self.master.seconds_left, one_by_one=one_by_one)
            if answer.plan is not None:
                self.offer(answer.plan)
            elif answer.fits is False:
                self.proved = self.best.cost
            else:
                return

    def _ask_about_mixtures(
        self, asked: WholeStrips, mixtures: Mixtures, effort: float, one_by_one: bool
    ) -> None:
        unsettled = 0
        for _ in range(MOST_MIXTURES_ASKED):
            cheapest = mixtures.cheapest()
            if cheapest is None or cheapest.cost >= self.best.cost:
                if not unsettled:
                    self.proved = self.best.cost
                return
            if self.finished or unsettled > MOST_UNSETTLED:
                return
            boards = dict(zip(mixtures.codes, cheapest.counts, strict=True))
            numbers = tuple(boards[source.code] for source in self.generation.demand.sources)
            answer = asked.fit(numbers, effort, self.master.seconds_left, one_by_one=one_by_one)
            if answer.plan is not None:
                self.offer(answer.plan)
            if answer.fits is None and not unsettled:
                mixtures = mixtures.copied()  # what is not settled may still be found otherwise
            unsettled += answer.fits is None
            if not unsettled:
                self.proved = max(self.proved, cheapest.cost)
            mixtures.forbid(cheapest)

    def _fix(self, before: Floats, after: Floats) -> None:
        length = max(len(before), len(after))
        old = np.concatenate([before, np.zeros(length - len(before))])
        new = np.concatenate([after, np.zeros(length - len(after))])
        changed = np.flatnonzero(old != new)
        if len(changed):
            self.master.set_lower_bounds(changed.tolist(), new[changed].tolist())

    def _generate_a_little(self, rounds: int = 3) -> float:
        value = self.master.solve()
        for _ in range(rounds):
            if len(self.master.columns) > MOST_COLUMNS or self.out_of_time():
                break
            if not self.generation.add_columns():
                break
            value = self.master.solve()
        return value

    def _generate_to_the_end(self) -> None:
        self._generate_a_little(rounds=30)


def close_the_gap(
    generation: ColumnGeneration,
    best: ColumnPlan,
    out_of_time: Callable[[], bool],
    seed: int,
    report: Callable[[ColumnPlan, int], None],
    most_work: int = MOST_WORK,
    mixtures: Mixtures | None = None,
) -> tuple[ColumnPlan, int]:
    """Searches for a plan as good as the bound, until the linear solver has done `most_work` (`Master.work`); the
    best found and the bound."""
    search = Search(generation, best, out_of_time, report, most_work, mixtures)
    random = Random(seed)
    price = max(source.price for source in generation.demand.sources)
    part = best.cost // 2  # of a small problem the integer program gets no more at first
    steps = MOST_DIVING_ROWS // generation.master.rows + 10
    plans: list[Callable[[], None]] = [
        lambda: search.dive(0.3, random, 0, 0, steps),
        lambda: search.ask_exactly(40, 2.0),
    ]
    if mixtures is not None:  # which numbers of boards there are to be is asked sooner than found by dives
        plans.insert(0, lambda: search.ask_about_strips(FIRST_STRIP_EFFORT))
    if generation.master.rows > PATIENT_ROWS:
        plans.append(lambda: search.dive(0.1, random, 25 * price, 500, steps))
        plans.append(lambda: search.ask_about_strips(STRIP_EFFORT))
    else:
        plans += [
            lambda: search.dive(0.3, random, min(35 * price, part), 800, steps),
            lambda: search.dive(0.3, random, min(45 * price, part), 800, steps),
            lambda: search.ask_about_strips(STRIP_EFFORT, one_by_one=True),
            lambda: search.dive(0.1, random, min(35 * price, part), 800, steps),
            lambda: search.dive(0.0, random, 30 * price, 800, steps),
            lambda: search.dive(0.1, random, 35 * price, 1500, steps),
            lambda: search.ask_exactly(60, 6.0),
        ]
        if best.cost <= FEW_BOARDS * price:
            plans.append(lambda: search.offer(restricted_program(generation, search.best, 1500)))
    for plan in plans:
        if search.finished:
            break
        plan()
    return search.best, search.bound
