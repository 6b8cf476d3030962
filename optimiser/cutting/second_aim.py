"""Least waiting within what may be paid, with its proof: the second aim, once the least cost is settled.

The relaxation gives a first bound in a moment; annealing deals the boards out again; branching proves how close that
is; a small problem is finished exactly.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction
from math import ceil

from optimiser.cutting.clock import stopped
from optimiser.cutting.demand import Demand
from optimiser.cutting.exact_waiting import applies
from optimiser.cutting.exact_waiting import least_waiting as exactly
from optimiser.cutting.open_boards import OpenBoard
from optimiser.cutting.rearranging import Arrangement, Schedule, Weights
from optimiser.cutting.waiting import Effort, less_waiting, waits
from optimiser.cutting.waiting_bound import prove
from optimiser.cutting.waiting_kinds import Aim
from optimiser.cutting.waiting_model import WaitingModel

FIRST_WORK = 4_000_000  # of the linear solver, before the search; every count is the same on every machine
BOUND_WORK = 24_000_000  # and after it: half a second
SHARE_OF_SEARCH = 0.7  # of the time left, where it is limited
EXACT_EFFORT = 4.0  # deterministic seconds
SECONDS_OF_USUAL_EFFORT = 6.0  # a time limit that leaves more is used for more steps
MOST_EFFORT = 3.0
FURTHER_BOARDS = (1, 2, 3, 4, 6, 8, 11, 15, 20, 27, 36, 48)  # beyond the fewest, where carrying has a price
SHARE_OF_A_STEP = 0.3


@dataclass(frozen=True)
class Budget:
    """What may be paid beyond the least cost: `cost` in all (None: the least), and `boards`, at most so many of a
    code; a code that is not named is limited by the cost alone. Where the boards are limited by code and no cost is
    given, every board within those limits is free: its pack is paid for anyway."""

    cost: int | None = None
    boards: dict[str, int] = field(default_factory=dict)


NO_MORE = Budget()


@dataclass(frozen=True)
class Settled:
    """Boards and what is proved of them: `bound` on piece-stages within the budget, `total_bound` on the sum."""

    boards: list[OpenBoard]
    bound: int = 0
    total_bound: Fraction = Fraction(0)


class SecondAim:
    """Least waiting for one demand; what is learned at one budget (columns of the relaxation) serves the next."""

    def __init__(
        self,
        demand: Demand,
        cost_until: tuple[int, ...],
        seconds_left: Callable[[], float] | None,
        seed: int,
        effort: float = 1.0,
    ) -> None:
        """`cost_until`: what boards opened until each stage cost at the least, proved; `effort`: times the usual
        number of steps."""
        self.demand = demand
        self.problem = demand.problem
        self.cost_until = cost_until
        self.seconds_left = seconds_left
        self.seed = seed
        self.effort = effort
        self._models: dict[tuple[tuple[str, int], ...], WaitingModel] = {}
        stages = {piece.stage for piece in self.problem.pieces}
        self.something_may_wait = len(stages) > 1 and self.problem.max_carry_stages != 0

    def out(self) -> bool:
        """Whether time is out."""
        return stopped() or (self.seconds_left is not None and self.seconds_left() <= 0)

    def settle(
        self, boards: list[OpenBoard], budget: Budget, usual: float = 1.0, *, further: bool = False
    ) -> Settled:
        """The boards dealt out again for the least waiting within the budget, and the bound on it.

        `usual`: how much of the usual effort is spent. `further`: the boards wait little already, for a smaller
        budget, and are the start."""
        if not self.something_may_wait or self.out():
            return Settled(boards)
        demand = self.demand
        cost = cost_of(demand, boards)
        most_cost, most_boards, spare = _room(demand, boards, cost, budget)
        given = [board.source for board in boards]
        waiting = waits(demand, boards)
        model = self._model(most_cost, most_boards)
        bound = ceil(prove(model, lambda: waiting, FIRST_WORK, self.out).value)
        effort, enough = self._effort(usual)
        boards = less_waiting(
            demand, boards, spare, bound, effort, enough, self.seed, form_strips_again=not further
        )
        waiting = waits(demand, boards)
        if bound < waiting and not self.out():
            bound = max(bound, ceil(prove(model, lambda: waiting, BOUND_WORK, self.out).value))
        sources = sorted([*given, *(board.source for board in spare)])
        if bound < waiting and not self.out() and applies(demand, sources):
            rest = None if self.seconds_left is None else self.seconds_left()
            found = exactly(demand, sources, most_cost, waiting, EXACT_EFFORT, rest)
            if found.boards is not None:
                boards = found.boards
            if not self.problem.offcuts and self.problem.counts_boards:
                bound = max(bound, found.bound)
        return Settled(boards, min(bound, waits(demand, boards)))

    def least_sum(self, boards: list[OpenBoard], cost_bound: int, price: Fraction) -> Settled:
        """The least cost and carrying in one sum, found from the least cost upwards, and the bound on it.

        `price`: of a remainder and stage, in the solver's units, as the sum is. First the least waiting at the least
        cost is sought, then more and more is paid for boards until that has not helped twice; then all together is
        annealed.
        """
        cost = cost_of(self.demand, boards)
        if not self.something_may_wait:
            return Settled(boards, 0, Fraction(cost_bound))

        def total(found: list[OpenBoard]) -> Fraction:
            return cost_of(self.demand, found) + price * remainders_wait(self.demand, found)

        best, least = boards, total(boards)
        latest, in_vain = boards, 0
        cheapest = min(s.price for s in self.demand.sources if s.available is None) or 1
        for more in (0, *FURTHER_BOARDS):
            if in_vain > 1 or self.out() or least <= cost + more * cheapest:
                break
            usual = SHARE_OF_A_STEP if more else 1.0
            latest = self.settle(latest, Budget(cost=cost + more * cheapest), usual, further=more > 1).boards
            in_vain += more > 0
            if total(latest) < least:
                best, least, in_vain = latest, total(latest), 0
        if price and not self.out():
            found = self._annealed_sum(best, price)
            if total(found) < least:
                best, least = found, total(found)
        model = WaitingModel(self.problem, Aim(None, self.cost_until, carry_cost=price), self.seconds_left)
        proved = Fraction(cost_bound)
        if not self.out():
            proved = max(proved, prove(model, lambda: None, FIRST_WORK, self.out).value)
        return Settled(best, 0, min(least, proved))

    def _annealed_sum(self, boards: list[OpenBoard], price: Fraction) -> list[OpenBoard]:
        unit = max(16, round(64 / price))  # what one unit of board prices weighs
        weights = Weights(piece=1, remainder=max(1, round(unit * price)), price=unit)
        source = min(
            (s for s, source in enumerate(self.demand.sources) if source.available is None),
            key=lambda s: self.demand.sources[s].price,
        )
        spare = [OpenBoard(source, []) for _ in range(len(boards) // 10 + 1)]
        effort, enough = self._effort(1.0)
        arrangement = Arrangement(self.demand, [*boards, *spare], weights, self.seed)
        steps = effort.board_steps(sum(piece.quantity for piece in self.problem.pieces))
        arrangement.anneal(Schedule(steps, 0.6, 0.1, 15), 0, enough)
        return arrangement.boards()

    def _effort(self, usual: float) -> tuple[Effort, Callable[[], bool]]:
        """How much to search, and when it is time to prove instead."""
        usual *= self.effort
        if self.seconds_left is None:
            return Effort(usual), self.out
        seconds_left = self.seconds_left
        left = seconds_left()
        stop_at = left * (1 - SHARE_OF_SEARCH)
        share = usual * max(1.0, min(MOST_EFFORT, left / SECONDS_OF_USUAL_EFFORT))
        return Effort(share), lambda: seconds_left() <= stop_at

    def _model(self, most_cost: int, most_boards: dict[str, int]) -> WaitingModel:
        key = tuple(sorted(most_boards.items()))
        if key not in self._models:
            aim = Aim(most_cost, self.cost_until, most_boards=most_boards)
            self._models[key] = WaitingModel(self.problem, aim, self.seconds_left)
        model = self._models[key]
        model.set_most_cost(most_cost)
        return model


def cost_of(demand: Demand, boards: list[OpenBoard]) -> int:
    """What the boards cost, in boards or in the problem's prices."""
    return sum(demand.sources[board.source].price for board in boards)


def remainders_wait(demand: Demand, boards: list[OpenBoard]) -> int:
    """Remainders times stages that they wait: of a board until its last strip is ripped, of a strip until its last
    piece is cut."""
    total = 0
    for board in boards:
        stages = [strip.stages(demand) for strip in board.strips]
        total += max(first for first, _ in stages) - min(first for first, _ in stages)
        total += sum(last - first for first, last in stages)
    return total


def _room(
    demand: Demand, boards: list[OpenBoard], cost: int, budget: Budget
) -> tuple[int, dict[str, int], list[OpenBoard]]:
    """The most that may be paid, the most boards of each limited code, and boards that may be opened besides."""
    bought = {source.code: s for s, source in enumerate(demand.sources) if source.available is None}
    used: dict[str, int] = {}
    for board in boards:
        code = demand.sources[board.source].code
        if demand.sources[board.source].available is None:
            used[code] = used.get(code, 0) + 1
    limits = {code: max(most, used.get(code, 0)) for code, most in budget.boards.items() if code in bought}
    free = {code: most - used.get(code, 0) for code, most in limits.items()}
    if budget.cost is None:
        most_cost = cost + sum(demand.sources[bought[code]].price * count for code, count in free.items())
        # codes that are not named stay as they are
        limits |= {code: used.get(code, 0) for code in bought if code not in limits} if free else {}
    else:
        most_cost = max(cost, budget.cost)
    spare: list[OpenBoard] = []
    left = most_cost - cost
    by_price = sorted(
        bought.items(),
        key=lambda item: (demand.sources[item[1]].price / demand.sources[item[1]].width, item[0]),
    )
    for code, s in by_price:
        price = demand.sources[s].price
        count = free.get(code, demand.pieces) if code in free or budget.cost is not None else 0
        if price:
            count = min(count, left // price)
        spare += [OpenBoard(s, []) for _ in range(min(count, demand.pieces))]
        left -= price * count
    return most_cost, limits, spare
