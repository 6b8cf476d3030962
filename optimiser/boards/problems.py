"""Laid pieces into cutting problems and cutting results back into the plan, stage by stage.

Boards that may serve the same runs are cut together: one problem a family of codes. A stage is a delivery:
the levels of one sequence number. The solver counts stages 1, 2, 3, ..., so that carrying counts deliveries;
the plan's layouts show the levels' own sequence numbers again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from optimiser.boards.delivery_order import in_delivery_order
from optimiser.boards.offcuts import left_over_of
from optimiser.cutting.problem import (
    Board,
    CuttingProblem,
    CuttingResult,
    Objective,
    Offcut,
    Piece,
    Waiting,
)
from optimiser.errors.problems import CannotBeDone
from optimiser.joints.layout import LaidPiece
from optimiser.model.budget import Budget
from optimiser.model.building import Building
from optimiser.model.money import cents_of
from optimiser.model.plan import Staging
from optimiser.model.planned_boards import BoardCount, PlannedLeftOver, PlannedPattern, Proof
from optimiser.model.project import Board as BoardProduct
from optimiser.model.project import Project, Run
from optimiser.model.sizes import Size
from optimiser.model.staging import FIRST_STAGE


def _piece_to_cut(building: Building, piece: LaidPiece) -> Piece:
    """A laid piece as the cutting needs it. A tapered one may lie in any strip as wide as its wider end, since it
    is cut along a slant anyway."""
    if not piece.tapered:
        width_max, start, end = piece.width_max_mm, None, None
    else:
        width_max = max(building.boards[code].width_mm for code in piece.boards)
        start, end = piece.width_start_mm, piece.width_end_mm
    return Piece(
        id=piece.id,
        length_mm=piece.length_mm,
        width_min_mm=piece.width_min_mm,
        width_max_mm=width_max,
        stage=building.stage_of_level[piece.level],
        boards=piece.boards,
        width_start_mm=start,
        width_end_mm=end,
    )


@dataclass(frozen=True)
class BoardFamily:
    """Boards that are cut together, and their problem."""

    codes: tuple[str, ...]
    problem: CuttingProblem


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


Solve = Callable[[BoardFamily, float | None], CuttingResult]
"""Cuts a family of boards within so many seconds (None: no limit)."""
Bound = Callable[[CuttingProblem, float | None], int]
"""A proved lower bound on the number of boards, within so many seconds."""
SumBound = Callable[[BoardFamily, CuttingResult], int]
"""What a family's boards and carrying come to at the least, in cents, by the bounds of a result."""


def carry_limit(project: Project, staging: Staging) -> int | None:
    """How many deliveries a piece of board may wait for its use: none, the project's number, or any (None).

    The project's own `max_carry_stages` is obeyed always; without it 'carry' carries to the next delivery only, 'whole'
    to any.
    """
    if staging == "level":
        return 0
    given = project.project.max_carry_stages
    return 1 if given is None and staging == "carry" else given


def unequal_families(project: Project) -> tuple[str, ...]:
    """What keeps boards from being cut together, in plain words; none where all of it can be.

    The boards of one run are sizes of one board, of equal thickness and material: a tested detail is for one board.
    Boards that are cut together, since they may serve the same runs, have one kerf and one rule of trimming.
    """
    building = project.building
    wrong = []
    for run in project.runs:
        boards = [building.boards[code] for code in run.board]
        if len({(board.thickness_mm, board.material) for board in boards}) > 1:
            wrong.append(
                f"run {run.run}: its boards {', '.join(run.board)} differ in thickness or material, and no detail is"
                " tested for both; name sizes of one board alone"
            )
    for codes in families_of(project.runs):
        rules = {
            (detail.kerf_mm, detail.trim): run.run
            for run in project.runs
            for detail in (building.detail_of(run.run),)
            if run.board[0] in codes
        }
        if len(rules) > 1:
            wrong.append(
                f"the boards {', '.join(codes)} serve runs {' and '.join(rules.values())}, whose details differ in"
                " kerf_mm or trim: give both details the same, or these runs boards of their own"
            )
    return tuple(wrong)


def families_of(runs: Iterable[Run]) -> tuple[tuple[str, ...], ...]:
    """Board codes in groups, those that may serve one run together; in order of first mention."""
    family: dict[str, list[str]] = {}
    for run in runs:
        first = family.setdefault(run.board[0], [run.board[0]])
        for code in run.board[1:]:
            other = family.setdefault(code, [code])
            if other is not first:
                first.extend(other)
                family.update(dict.fromkeys(other, first))
    return tuple(dict.fromkeys(tuple(codes) for codes in family.values()))


def board_families(
    project: Project, pieces: Sequence[LaidPiece], staging: Staging
) -> tuple[BoardFamily, ...]:
    """The cutting problem of each family of boards that has pieces.

    A family of one code asks for the fewest boards, one of several for the least cost. Stock without a level
    is there from the first delivery. Raises CannotBeDone where boards that may serve a run cannot be cut together.
    """
    if unequal := unequal_families(project):
        raise CannotBeDone(unequal)
    stage_of_level = project.building.stage_of_level
    products = project.building.boards
    families = families_of(project.runs)
    family_of = {code: codes for codes in families for code in codes}
    pieces_of: dict[tuple[str, ...], list[Piece]] = {}
    for piece in pieces:
        pieces_of.setdefault(family_of[piece.boards[0]], []).append(_piece_to_cut(project.building, piece))
    found: list[BoardFamily] = []
    for codes in families:
        if codes not in pieces_of:
            continue
        objective = objective_of([products[code] for code in codes])
        rules = project.building.cutting_rules_of(codes[0])
        problem = CuttingProblem(
            boards=tuple(
                Board(
                    code=code,
                    length_mm=products[code].length_mm,
                    width_mm=products[code].width_mm,
                    kerf_mm=rules.kerf_mm,
                    price_cents=price_of_a_board(products[code]) if objective is Objective.LEAST_COST else 1,
                )
                for code in codes
            ),
            pieces=tuple(pieces_of[codes]),
            offcuts=tuple(
                Offcut(
                    id=name,
                    code=item.code,
                    length_mm=item.length_mm,
                    width_mm=item.width_mm,
                    quantity=item.quantity,
                    stage=stage_of_level[item.level] if item.level else FIRST_STAGE,
                )
                for name, item in project.building.stock.items()
                if item.code in codes
            ),
            trim=rules.trim,
            max_carry_stages=carry_limit(project, staging),
            objective=objective,
        )
        found.append(BoardFamily(codes, problem))
    return tuple(found)


def objective_of(products: Sequence[BoardProduct]) -> Objective:
    """The fewest boards of a single code; of several the least cost, or the least area where a price is missing."""
    if len(products) == 1:
        return Objective.FEWEST_BOARDS
    priced = all(product.price for product in products)
    return Objective.LEAST_COST if priced else Objective.LEAST_AREA


def price_of_a_board(product: BoardProduct) -> Fraction:
    """A pack's price shared by its boards, in cents, exact."""
    return Fraction(cents_of(product.price), product.per_pack)


def cut_families(
    project: Project,
    families: Sequence[BoardFamily],
    solve: Solve,
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


def smallest_of(family: BoardFamily) -> Size:
    """The least length and the least width of a family's pieces."""
    pieces = family.problem.pieces
    return Size(min(piece.length_mm for piece in pieces), min(piece.width_min_mm for piece in pieces))


def _layouts_with_codes(
    result: CuttingResult, family: BoardFamily, code_of_stock: dict[str, str], building: Building
) -> list[PlannedPattern]:
    """The layouts in order of delivery, with sequence numbers for stages and the board code on every one."""
    stage_of = {piece.id: piece.stage for piece in family.problem.pieces}
    found: list[PlannedPattern] = []
    for result_layout in result.layouts:
        layout = in_delivery_order(result_layout, stage_of.__getitem__)
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
