"""A proved bound on waiting: the relaxation of `waiting_model`, branched on how many boards are opened until when.

Boards are whole: by each stage so many have been opened, a whole number, and that alone moves the bound most of the
way (on 12 levels of 75 pieces from 34 to 51, or 67 to 85). Best first; the bound is that of the weakest open node.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil, floor

from optimiser.cutting.waiting_model import Node, WaitingModel

WHOLE = 1e-5
MOST_ROUNDS = 60
DEARER = 6.0  # by that the price of room that no plan has is raised, while a solution uses it
DEAREST = 1e6


@dataclass(frozen=True)
class WaitingBound:
    """No plan within the aim costs less than `value`, in the objective's unit; `price` is what a unit of cost is
    worth in waiting where the first program is solved."""

    value: Fraction
    price: float


def prove(
    model: WaitingModel, achieved: Callable[[], int | None], most_work: int, out_of_time: Callable[[], bool]
) -> WaitingBound:
    """Branches until the bound, rounded up, meets what is `achieved` (None: nothing yet), or the linear solver has
    done `most_work` more, or time is out. Whatever is cut short, the bound holds."""
    root = Node.free(model.ranks)
    patience = model.work + most_work

    def spent() -> bool:
        return model.work > patience or out_of_time()

    value, price = _solve(model, root, Fraction(0), None, spent)
    waiting: list[tuple[Fraction, int, Node, _Counts]] = [(value, 0, root, _counts(model))]
    made = 0
    while waiting:
        value, _, node, counts = waiting[0]
        best = achieved()
        if best is not None and ceil(value) >= best:
            break
        children = _children(node, counts)
        if children is None or spent():
            break
        heapq.heappop(waiting)
        for child in children:
            made += 1
            bound, _ = _solve(model, child, value, best, spent)
            heapq.heappush(waiting, (bound, made, child, _counts(model)))
    return WaitingBound(min(item[0] for item in waiting), price)


def _solve(
    model: WaitingModel, node: Node, known: Fraction, enough: int | None, spent: Callable[[], bool]
) -> tuple[Fraction, float]:
    """The best bound proved at a node, at least `known`, and the price of a unit of cost there."""
    model.set_node(node)
    best, price = known, 0.0
    for _ in range(MOST_ROUNDS):
        value = model.solve_once()
        if value == float("inf"):
            break
        duals = model.duals()
        price = -float(duals[model.budget_row])
        new, bound = model.price(duals, node)
        best = max(best, bound)
        if enough is not None and ceil(best) >= enough:
            break
        if new == 0 or float(bound) >= value - 1e-4 * max(1.0, value):
            if model.opened()[1] <= WHOLE or model.excess_price >= DEAREST:
                break
            model.raise_excess_price(DEARER)
        if spent():
            break
    return best, price


_Counts = tuple[list[float], list[float]]


def _counts(model: WaitingModel) -> _Counts:
    """Boards opened until each stage, and pieces that wait from each to the next, in the last solution."""
    return model.opened()[0].tolist(), model.waiting().tolist()


def _children(node: Node, counts: _Counts) -> tuple[Node, Node] | None:
    """One fewer boards and one more, or pieces where boards are whole; None where all are."""
    opened, waiting = counts
    s = _most_fractional(opened)
    if s is not None:
        fewer = floor(opened[s])
        return (
            replace(node, most=_with(node.most, s, fewer)),
            replace(node, least=_with_least(node.least, s, fewer + 1)),
        )
    s = _most_fractional(waiting)
    if s is None:
        return None
    fewer = floor(waiting[s])
    most, least = list(node.most_waiting), list(node.least_waiting)
    most[s], least[s] = min(most[s], fewer), max(least[s], fewer + 1)
    return replace(node, most_waiting=tuple(most)), replace(node, least_waiting=tuple(least))


def _most_fractional(counts: list[float]) -> int | None:
    parts = [abs(count - round(count)) for count in counts]
    s = max(range(len(parts)), key=lambda k: (parts[k], -k), default=None)
    return None if s is None or parts[s] <= WHOLE else s


def _with(bounds: tuple[float, ...], s: int, value: int) -> tuple[float, ...]:
    return tuple(min(bound, value) if k <= s else bound for k, bound in enumerate(bounds))


def _with_least(bounds: tuple[int, ...], s: int, value: int) -> tuple[int, ...]:
    return tuple(max(bound, value) if k >= s else bound for k, bound in enumerate(bounds))
