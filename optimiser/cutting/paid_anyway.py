"""What may be cut for the price of the fewest boards, where boards come in packs: no search for less than that pays."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from optimiser.cutting.demand import Demand
from optimiser.cutting.second_aim import Budget

BudgetOf = Callable[[Mapping[str, int]], Budget]


def paid_anyway(demand: Demand, budget: BudgetOf) -> Callable[[int], int]:
    """The most that a plan may cost, in the solver's unit, without more being paid than for a bound's boards.

    With several sizes it is the bound itself: their packs depend on the mixture.
    """
    bought = {(source.code, source.price) for source in demand.sources if source.available is None}
    if len(bought) != 1:
        return lambda bound: bound
    ((code, price),) = bought

    def enough(bound: int) -> int:
        boards = -(-bound // price)
        return max(bound, price * budget({code: boards}).boards.get(code, boards))

    return enough
