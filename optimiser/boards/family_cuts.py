"""Families of boards cut one after the other, and their results back in the plan's own terms.

The solver counts stages 1, 2, 3, ...; the plan's layouts show the levels' own sequence numbers again.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil

from optimiser.boards.delivery_order import in_delivery_order
from optimiser.boards.offcuts import left_over_of
from optimiser.boards.problems import BoardFamily, price_of_a_board, smallest_of
from optimiser.cutting.problem import CuttingProblem, CuttingResult, Objective, Waiting
from optimiser.model.budget import Budget
from optimiser.model.building import Building
from optimiser.model.planned_boards import BoardCount, PlannedLeftOver, PlannedPattern, Proof
from optimiser.model.project import Project


@dataclass(frozen=True)
class Cut:
    """How all pieces are cut, in the plan's own terms."""

    layouts: tuple[PlannedPattern, ...]
    left_over: tuple[PlannedLeftOver, ...]
    boards: dict[str, BoardCount]
    proofs: tuple[Proof, ...]
    widths: dict[str, int]
    waiting: Waiting
    sum_bound_cents: int = 0  # where carrying has a price: no cutting comes to less, carrying included


SolveFamily = Callable[[BoardFamily, float | None], CuttingResult]
"""Cuts a family of boards within so many seconds (None: no limit)."""
Bound = Callable[[CuttingProblem, float | None], int]
"""A proved lower bound on the number of boards, within so many seconds."""
SumBound = Callable[[BoardFamily, CuttingResult], int]
"""What a family's boards and carrying come to at the least, in cents, by the bounds of a result."""


def cut_families(
    project: Project,
    families: Sequence[BoardFamily],
    solve: SolveFamily,
    bound: Bound,
    time_limit: float | None,
    sum_bound: SumBound | None = None,
) -> Cut:
    """Cuts every family with `solve` and gathers the results in the plan's own terms.

    `bound` proves how few boards of a code can do where several serve the same runs; `sum_bound` is asked where
    carrying has a price.

    A time limit (seconds) is shared out by the number of pieces; what one family leaves of its share goes to
    the next ones.
    """
    layouts: list[PlannedPattern] = []
    left_over: list[PlannedLeftOver] = []
    boards: dict[str, BoardCount] = {}
    proofs: list[Proof] = []
    waiting = Waiting()
    least_sum = 0
    sizes = project.building.size_of_stock
    code_of_stock = {name: item.code for name, item in project.building.stock.items()}
    pieces_left = sum(len(family.problem.pieces) for family in families)
    budget = Budget(time_limit)
    for family in families:
        pieces = len(family.problem.pieces)
        share = budget.share(pieces, of=pieces_left)
        result = solve(family, share.seconds)
        least_sum += sum_bound(family, result) if sum_bound else 0
        pieces_left -= pieces
        budget = budget.after(result.solve_seconds)
        found = _layouts_with_codes(result, family, code_of_stock, project.building)
        layouts.extend(found)
        kerf = project.building.cutting_rules_of(family.codes[0]).kerf_mm
        left_over.extend(left_over_of(found, sizes, kerf, smallest_of(family)))
        bought = dict.fromkeys(family.codes, 0)
        for layout in found:
            if layout.stock in bought:
                bought[layout.stock] += layout.repeat
        boards.update(_board_counts(family, result, bought, bound, share.seconds))
        proofs.append(_proof(project, family, result, bought))
        waiting += result.waiting or Waiting()
    return Cut(
        layouts=tuple(layouts),
        left_over=tuple(left_over),
        boards=boards,
        proofs=tuple(proofs),
        widths={
            piece.id: piece.width_mm
            for layout in layouts
            for strip in layout.strips
            for piece in strip.pieces
        },
        waiting=waiting,
        sum_bound_cents=least_sum,
    )


def _layouts_with_codes(
    result: CuttingResult, family: BoardFamily, code_of_stock: dict[str, str], building: Building
) -> list[PlannedPattern]:
    """The layouts in order of delivery, with sequence numbers for stages and the board code on every one."""
    stage_of = {piece.id: piece.stage for piece in family.problem.pieces}
    one_delivery = len(set(stage_of.values())) == 1
    found: list[PlannedPattern] = []
    for cut in result.layouts:
        layout = cut if one_delivery else in_delivery_order(cut, stage_of.__getitem__)
        code = code_of_stock.get(layout.stock)
        bought = layout.stock if layout.stock in family.codes else family.codes[0]
        found.append(
            PlannedPattern(
                stock=layout.stock if code else bought,
                stage=building.sequence_of_stage(layout.stage),
                repeat=layout.repeat,
                strips=layout.strips,
                code=code or bought,
            )
        )
    return found


def _board_counts(
    family: BoardFamily, result: CuttingResult, bought: dict[str, int], bound: Bound, seconds: float | None
) -> dict[str, BoardCount]:
    """Boards of each code with a bound that holds for the code alone.

    Of several codes that serve the same runs, only the pieces that a single code may serve force boards of
    it: the bound is that of their own problem, and a code without such pieces has the bound 0.
    """
    if len(family.codes) == 1:
        (code,) = family.codes
        return {
            code: BoardCount(
                count=result.boards,
                lower_bound=result.lower_bound,
                optimal=result.lower_bound == result.boards,
            )
        }
    counts: dict[str, BoardCount] = {}
    for code in family.codes:
        fewest = 0
        alone = tuple(piece for piece in family.problem.pieces if piece.boards == (code,))
        if alone and bought[code]:
            problem = CuttingProblem(
                boards=tuple(board for board in family.problem.boards if board.code == code),
                pieces=alone,
                offcuts=tuple(offcut for offcut in family.problem.offcuts if offcut.code == code),
                trim=family.problem.trim,
                max_carry_stages=family.problem.max_carry_stages,
                objective=Objective.FEWEST_BOARDS,
            )
            fewest = bound(problem, seconds)
        counts[code] = BoardCount(count=bought[code], lower_bound=fewest, optimal=fewest == bought[code])
    return counts


def _proof(project: Project, family: BoardFamily, result: CuttingResult, bought: dict[str, int]) -> Proof:
    """The proved bounds of a family; costs are whole cents, both rounded up, so neither passes the other."""
    products = project.building.boards
    cost = ceil(sum(price_of_a_board(products[code]) * n for code, n in bought.items()))
    if len(family.codes) == 1:
        (code,) = family.codes
        bound = ceil(price_of_a_board(products[code]) * result.lower_bound)
    else:
        bound = min(cost, ceil(result.lower_bound_cents or 0))
    return Proof(
        codes=family.codes,
        boards=sum(bought.values()),
        lower_bound=result.lower_bound,
        cost_cents=cost,
        lower_bound_cents=bound,
        optimal=result.lower_bound == result.boards
        if len(family.codes) == 1
        else result.optimal and bound == cost,
        solve_seconds=result.solve_seconds,
    )
