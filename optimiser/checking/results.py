"""The judge of a cutting result: cover, windows, fit, kerfs, stages, order, offcuts, counts and bounds."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from optimiser.checking.remainders import broken_rules_of_left_over, broken_sizes_of_left_over
from optimiser.checking.ripping_order import (
    broken_bound_of_waiting,
    broken_rules_of_order,
    broken_rules_of_waiting,
)
from optimiser.checking.strips import Sheet, Wanted, broken_rules_of_layout
from optimiser.cutting.problem import Board, CuttingPattern, CuttingProblem, CuttingResult, Objective, Piece


@dataclass(frozen=True)
class _Stock:
    """A board that may be bought (`quantity` None) or an offcut at hand from `stage` on."""

    sheet: Sheet
    code: str
    quantity: int | None = None
    stage: int | None = None
    cost: int | Fraction = 0


def broken_rules_of_result(result: CuttingResult, problem: CuttingProblem | None = None) -> list[str]:
    """Every rule that a cutting result breaks, one line each; an empty list when there is none.

    With a problem, the result is checked against it completely; without one, only for what it says of itself.
    Lengths in mm, costs in cents. Nothing is raised for a wrong result, whatever it holds.
    """
    broken = list(_broken_counts(result, problem))
    if problem is None:
        for number, layout in enumerate(result.layouts, start=1):
            broken += broken_rules_of_layout(f"layout {number}", layout, None, True, {})
        broken += broken_sizes_of_left_over(result.left_over)
        if result.waiting is not None:
            broken += broken_bound_of_waiting(result.waiting)
        return broken
    stocks = _stocks_of(problem)
    pieces = {piece.id: piece for piece in problem.pieces}
    wanted = {piece.id: _wanted(piece) for piece in problem.pieces}
    stage_of = {piece.id: piece.stage for piece in problem.pieces}
    known: list[tuple[CuttingPattern, Sheet, str]] = []
    for number, layout in enumerate(result.layouts, start=1):
        place = f"layout {number}"
        stock = stocks.get(layout.stock)
        if stock is None:
            broken.append(
                f"{place}: the stock {layout.stock!r} is neither a board nor an offcut of the problem"
            )
        else:
            known.append((layout, stock.sheet, stock.code))
            broken += _broken_stages(place, layout, stock, pieces, problem.max_carry_stages)
        broken += broken_rules_of_layout(place, layout, stock.sheet if stock else None, problem.trim, wanted)
        broken += broken_rules_of_order(place, layout, stage_of)
    broken += _broken_cover(result, pieces)
    broken += _broken_stock_use(result, stocks)
    broken += _broken_board_counts(result, problem, stocks)
    broken += broken_rules_of_left_over(result.left_over, known)
    broken += broken_rules_of_waiting(result.waiting, result.layouts, stage_of)
    return broken


COST_FIELDS = {
    Objective.LEAST_COST: ("cost_cents", "lower_bound_cents"),
    Objective.LEAST_AREA: ("area_mm2", "lower_bound_mm2"),
}


def _cost_of(board: Board, problem: CuttingProblem) -> int | Fraction:
    """What a board adds to what the problem minimises: its price, or its face."""
    if problem.objective is Objective.LEAST_AREA:
        return board.length_mm * board.width_mm
    return board.price_cents


def _stocks_of(problem: CuttingProblem) -> dict[str, _Stock]:
    kerfs = {board.code: board.kerf_mm for board in problem.boards}
    stocks = {
        board.code: _Stock(
            Sheet(board.length_mm, board.width_mm, board.kerf_mm), board.code, cost=_cost_of(board, problem)
        )
        for board in problem.boards
    }
    for offcut in problem.offcuts:
        # An offcut of no stated code is cut with the same saw as the boards: of several, the widest kerf.
        kerf = kerfs.get(offcut.code, max(kerfs.values()))
        sheet = Sheet(offcut.length_mm, offcut.width_mm, kerf)
        stocks[offcut.id] = _Stock(sheet, offcut.code, offcut.quantity, offcut.stage)
    return stocks


def _wanted(piece: Piece) -> Wanted:
    ends = None
    if piece.tapered and piece.width_start_mm is not None and piece.width_end_mm is not None:
        ends = piece.width_start_mm, piece.width_end_mm
    return Wanted(piece.length_mm, piece.width_min_mm, piece.width_max_mm, ends)


def _broken_stages(
    place: str, layout: CuttingPattern, stock: _Stock, pieces: Mapping[str, Piece], carry: int | None
) -> Iterator[str]:
    if layout.code and stock.code and layout.code != stock.code:
        yield f"{place}: its code must be {stock.code}, that of {layout.stock}, but is {layout.code}"
    there_from = layout.stage
    if stock.stage is not None:
        if layout.stage < stock.stage:
            yield (
                f"{place}: {layout.stock} is there from stage {stock.stage}, but is cut in"
                f" stage {layout.stage}"
            )
        there_from = stock.stage  # carrying counts from when the offcut stands there
    for cut in (cut for strip in layout.strips for cut in strip.pieces):
        piece = pieces.get(cut.id)
        if piece is None:
            continue
        if piece.stage < layout.stage:
            yield (
                f"{place}, piece {cut.id}: it is needed in stage {piece.stage}, but its {layout.stock} comes"
                f" in stage {layout.stage}"
            )
        elif carry is not None and piece.stage - there_from > carry:
            yield (
                f"{place}, piece {cut.id}: it is needed in stage {piece.stage}, more than max_carry_stages"
                f" {carry} after stage {there_from} of its {layout.stock}"
            )
        if piece.boards and stock.code and stock.code not in piece.boards:
            yield (
                f"{place}, piece {cut.id}: it may be cut from {', '.join(piece.boards)}, but lies in"
                f" {layout.stock} of {stock.code}"
            )


def _broken_cover(result: CuttingResult, pieces: Mapping[str, Piece]) -> Iterator[str]:
    cut: Counter[str] = Counter()
    for layout in result.layouts:
        for strip in layout.strips:
            for cut_piece in strip.pieces:
                cut[cut_piece.id] += layout.repeat
    for name, piece in pieces.items():
        if cut[name] != piece.quantity:
            yield f"piece {name}: it is needed {piece.quantity} times, but cut {cut[name]} times"
    for name in cut:
        if name not in pieces:
            yield f"piece {name}: it is cut {cut[name]} times, but the problem has no such piece"


def _broken_stock_use(result: CuttingResult, stocks: Mapping[str, _Stock]) -> Iterator[str]:
    used: Counter[str] = Counter()
    for layout in result.layouts:
        used[layout.stock] += layout.repeat
    for name, stock in stocks.items():
        if stock.quantity is not None and used[name] > stock.quantity:
            yield f"offcut {name}: there are {stock.quantity}, but {used[name]} are cut"


def _broken_counts(result: CuttingResult, problem: CuttingProblem | None) -> Iterator[str]:
    """What the numbers of a result say of each other."""
    if result.boards < 0:
        yield f"boards: the number must not be negative, but is {result.boards}"
    if not 0 <= result.lower_bound <= result.boards:
        yield f"lower_bound: it must be 0 to boards ({result.boards}), but is {result.lower_bound}"
    cost, bound = result.cost_cents, result.lower_bound_cents
    if cost is not None and bound is not None and not 0 <= bound <= cost:
        yield f"lower_bound_cents: it must be 0 to cost_cents ({cost}), but is {bound}"
    if result.area_mm2 is not None and not 0 <= (result.lower_bound_mm2 or 0) <= result.area_mm2:
        yield f"lower_bound_mm2: it must be 0 to area_mm2 ({result.area_mm2}), but is {result.lower_bound_mm2}"
    by_cost = not problem.counts_boards if problem else result.boards_by_code is not None
    if result.optimal and by_cost and (cost, result.area_mm2) != (bound, result.lower_bound_mm2):
        yield (
            f"optimal: it says so, but lower_bound_cents is {bound} and cost_cents {cost}"
            if result.area_mm2 is None
            else f"optimal: it says so, but lower_bound_mm2 is {result.lower_bound_mm2} and area_mm2 {result.area_mm2}"
        )
    if result.optimal and not by_cost and result.lower_bound != result.boards:
        yield f"optimal: it says so, but lower_bound is {result.lower_bound} and boards {result.boards}"
    if not result.solve_seconds >= 0:
        yield f"solve_seconds: it must not be negative, but is {result.solve_seconds}"
    for name, counts in (("stage", result.boards_by_stage), ("code", result.boards_by_code)):
        if counts is not None and sum(counts.values()) != result.boards:
            yield f"boards_by_{name}: it adds up to {sum(counts.values())}, but boards is {result.boards}"
    cut = sum(layout.repeat for layout in result.layouts)
    if cut < result.boards:
        yield f"boards: {result.boards} are bought, but the layouts cut only {cut} boards and offcuts"


def _broken_board_counts(
    result: CuttingResult, problem: CuttingProblem, stocks: Mapping[str, _Stock]
) -> Iterator[str]:
    """The numbers of a result against its layouts."""
    by_stage: Counter[str] = Counter()
    by_code: Counter[str] = Counter()
    cost: int | Fraction = 0
    for layout in result.layouts:
        stock = stocks.get(layout.stock)
        if stock is not None and stock.quantity is None:
            by_stage[str(layout.stage)] += layout.repeat
            by_code[stock.code] += layout.repeat
            cost += layout.repeat * stock.cost
    if result.boards != by_code.total():
        yield f"boards: the layouts buy {by_code.total()}, but boards is {result.boards}"
    for stage in sorted({*by_stage, *result.boards_by_stage}):
        if by_stage[stage] != result.boards_by_stage.get(stage, 0):
            yield (
                f"boards_by_stage: the layouts buy {by_stage[stage]} in stage {stage}, but it says"
                f" {result.boards_by_stage.get(stage, 0)}"
            )
    if not problem.counts_boards:
        for field in (*COST_FIELDS[problem.objective], "boards_by_code"):
            if getattr(result, field) is None:
                yield f"{field}: a problem of several boards needs it, but it is missing"
    stated = result.boards_by_code
    for code in sorted({*by_code, *(stated or {})} if stated is not None else ()):
        if by_code[code] != (stated or {}).get(code, 0):
            yield (
                f"boards_by_code: the layouts buy {by_code[code]} of {code}, but it says"
                f" {(stated or {}).get(code, 0)}"
            )
    if result.cost_cents is not None and result.cost_cents != cost:
        yield f"cost_cents: the layouts' boards cost {cost}, but it says {result.cost_cents}"
    if result.area_mm2 is not None and result.area_mm2 != cost:
        yield f"area_mm2: the layouts' boards measure {cost}, but it says {result.area_mm2}"
