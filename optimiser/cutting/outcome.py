"""What a solve came to, part by part, as one cutting result."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import ceil

from optimiser.cutting.problem import (
    Cents,
    CuttingPattern,
    CuttingProblem,
    CuttingResult,
    FirstAnswer,
    LeftOver,
    Waiting,
    costs_of,
    in_the_unit_of,
)
from optimiser.cutting.ripping import waiting_of


@dataclass(frozen=True)
class Solved:
    """A part's layouts and its proofs: of the cost, of the boards, of the waiting, of cost and carrying in one."""

    layouts: tuple[CuttingPattern, ...] = ()
    left_over: tuple[LeftOver, ...] = ()
    bound: int = 0
    fewest_boards: int = 0
    first: FirstAnswer | None = None
    cost_seconds: float = 0.0
    waiting_bound: int = 0
    total_bound: Fraction = Fraction(0)


def result_of(problem: CuttingProblem, solved: Sequence[Solved], seconds: float) -> CuttingResult:
    """The parts of a problem together, after so many seconds."""
    layouts = tuple(layout for part in solved for layout in part.layouts)
    prices = dict(zip((board.code for board in problem.boards), problem.board_costs, strict=True))
    bought = [layout for layout in layouts if layout.stock in prices]
    boards = sum(layout.repeat for layout in bought)
    by_stage: dict[int, int] = {}
    by_code: dict[str, int] = {}
    for layout in bought:
        by_stage[layout.stage] = by_stage.get(layout.stage, 0) + layout.repeat
        by_code[layout.stock] = by_code.get(layout.stock, 0) + layout.repeat
    cost = _whole(sum((prices[code] * count for code, count in by_code.items()), Fraction(0)))
    bound = in_the_unit_of(problem, sum(part.bound for part in solved))
    waiting = waiting_of(layouts, {piece.id: piece.stage for piece in problem.pieces})
    least = min(waiting.piece_stages, sum(part.waiting_bound for part in solved))
    total = total_cost(problem, cost, waiting)
    return CuttingResult(
        boards=boards,
        lower_bound=sum(part.fewest_boards for part in solved),
        optimal=cost == bound,
        solve_seconds=round(seconds, 6),
        boards_by_stage={str(stage): by_stage[stage] for stage in sorted(by_stage)},
        layouts=layouts,
        left_over=tuple(item for part in solved for item in part.left_over),
        boards_by_code=None if problem.counts_boards else {code: by_code[code] for code in sorted(by_code)},
        first_answer=_first_of(solved),
        cost_seconds=round(max((part.cost_seconds for part in solved), default=0.0), 6),
        waiting=waiting.model_copy(update={"lower_bound_piece_stages": least}),
        total_cost=total,
        lower_bound_total_cost=_on_the_grid(
            problem, problem.unit * sum((p.total_bound for p in solved), Fraction(0)), total
        ),
        **costs_of(problem, cost, bound),
    )


def _whole(cost: Cents) -> Cents:
    """An int where it is whole."""
    return int(cost) if cost.denominator == 1 else cost


def total_cost(problem: CuttingProblem, cost: Cents, waiting: Waiting) -> Decimal | None:
    """Cost and carrying in one sum; None where carrying has no price."""
    if problem.carry_cost is None:
        return None
    exact = cost + Fraction(problem.carry_cost) * waiting.remainder_stages
    return Decimal(exact.numerator) / Decimal(exact.denominator)


def _on_the_grid(problem: CuttingProblem, bound: Fraction, total: Decimal | None) -> Decimal | None:
    """The bound rounded_up_bound to the next sum that whole boards and whole stages can make."""
    if total is None or problem.carry_cost is None:
        return None
    step = Fraction(1, Fraction(problem.carry_cost).denominator)
    rounded_up_bound = ceil(bound / step)
    exact = Decimal(rounded_up_bound) * Decimal(1) / Decimal(step.denominator)
    return (
        min(total, exact) if Fraction(exact) == rounded_up_bound * step else min(total, Decimal(int(bound)))
    )


def _first_of(solved: Sequence[Solved]) -> FirstAnswer | None:
    """The parts' first plans together: there when the last of them was."""
    answers = [part.first for part in solved if part.first is not None]
    if not answers:
        return None
    return FirstAnswer(
        cost=sum(answer.cost for answer in answers), seconds=max(answer.seconds for answer in answers)
    )
