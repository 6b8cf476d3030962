"""Laid pieces into cutting problems and cutting results back into the plan, stage by stage.

Boards that may serve the same runs are cut together: one problem a family of codes. A stage is a delivery:
the levels of one sequence number. The solver counts stages 1, 2, 3, ..., so that carrying counts deliveries;
the plan's layouts show the levels' own sequence numbers again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, gcd, lcm

from optimiser.cutting.problem import Board, CuttingProblem, CuttingResult, Layout, LeftOver, Offcut, Piece
from optimiser.plan import BoardCount, Proof, Staging
from optimiser.project import Product, Project, Run, Stock
from optimiser.remainders import left_over_of

_LARGEST_PRICE = 10**9  # keeps sums of prices exact in the solver's floating-point steps


@dataclass(frozen=True)
class PieceToCut:
    """A piece as the cutting needs it; a tapered one has different end widths."""

    id: str
    level: str
    boards: tuple[str, ...]
    length_mm: int
    width_min_mm: int
    width_max_mm: int
    width_start_mm: int | None = None
    width_end_mm: int | None = None


@dataclass(frozen=True)
class Stages:
    """The deliveries: sequence numbers against the solver's 1, 2, 3, ..."""

    sequences: tuple[int, ...]

    @classmethod
    def of(cls, project: Project) -> Stages:
        """The stages of all the project's levels."""
        return cls(tuple(sorted({level.sequence for level in project.levels})))

    def rank(self, sequence: int) -> int:
        """1 for the first delivery."""
        return self.sequences.index(sequence) + 1

    def sequence(self, rank: int) -> int:
        """The levels' own sequence number of a delivery."""
        return self.sequences[rank - 1]


@dataclass(frozen=True)
class BoardFamily:
    """Boards that are cut together, their problem, and what one unit of its prices is in cents."""

    codes: tuple[str, ...]
    problem: CuttingProblem
    cents_per_unit: Fraction


@dataclass(frozen=True)
class Cut:
    """How all pieces are cut, in the plan's own terms."""

    layouts: tuple[Layout, ...]
    left_over: tuple[LeftOver, ...]
    boards: dict[str, BoardCount]
    proofs: tuple[Proof, ...]
    widths: dict[str, int]


Solve = Callable[[CuttingProblem, float | None], CuttingResult]
Bound = Callable[[CuttingProblem, float | None], int]
"""A proved lower bound on the number of boards, within so many seconds."""


def carry_limit(project: Project, staging: Staging) -> int | None:
    """How many deliveries a piece of board may wait for its use: none, the project's number, or any (None).

    'carry' without the project's own `max_carry_stages` carries to the next delivery only.
    """
    if staging == "whole":
        return None
    if staging == "level":
        return 0
    given = project.project.max_carry_stages
    return 1 if given is None else given


def stock_names(project: Project) -> tuple[str, ...]:
    """The name of each row of the `stock` table in the layouts: `stock-1`, `stock-2`, ..."""
    return tuple(stock_rows(project))


def stock_rows(project: Project) -> dict[str, Stock]:
    """The rows of the `stock` table by the name that layouts give them, in the table's order."""
    return {f"stock-{number}": row for number, row in enumerate(project.stock, start=1)}


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
    project: Project, pieces: Sequence[PieceToCut], staging: Staging
) -> tuple[BoardFamily, ...]:
    """The cutting problem of each family of boards that has pieces.

    A family of one code asks for the fewest boards, one of several for the least cost. Stock without a level
    is there from the first delivery.
    """
    stages = Stages.of(project)
    stage_of_level = {level.level: stages.rank(level.sequence) for level in project.levels}
    products = {product.code: product for product in project.products_of("board")}
    families = families_of(project.runs)
    family_of = {code: codes for codes in families for code in codes}
    pieces_of: dict[tuple[str, ...], list[Piece]] = {}
    for piece in pieces:
        pieces_of.setdefault(family_of[piece.boards[0]], []).append(
            Piece(
                id=piece.id,
                length_mm=piece.length_mm,
                width_min_mm=piece.width_min_mm,
                width_max_mm=piece.width_max_mm,
                stage=stage_of_level[piece.level],
                boards=piece.boards,
                width_start_mm=piece.width_start_mm,
                width_end_mm=piece.width_end_mm,
            )
        )
    found: list[BoardFamily] = []
    for codes in families:
        if codes not in pieces_of:
            continue
        prices, cents_per_unit = prices_per_board([products[code] for code in codes])
        problem = CuttingProblem(
            boards=tuple(
                Board(
                    code=code,
                    length_mm=products[code].length_mm or 0,
                    width_mm=products[code].width_mm or 0,
                    kerf_mm=project.detail.kerf_mm,
                    price_cents=prices[code] if len(codes) > 1 else 1,
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
                    stage=stage_of_level[item.level] if item.level else 1,
                )
                for name, item in stock_rows(project).items()
                if item.code in codes
            ),
            trim=project.detail.trim,
            max_carry_stages=carry_limit(project, staging),
            several_boards=len(codes) > 1,
        )
        found.append(BoardFamily(codes, problem, cents_per_unit))
    return tuple(found)


def prices_per_board(products: Sequence[Product]) -> tuple[dict[str, int], Fraction]:
    """Whole-number prices of one board of each product, and what one unit of them is in cents.

    A pack price is divided by its boards exactly by counting in fractions of a cent: price x lcm / per_pack,
    with lcm that of all `per_pack`, then divided by what all have in common. When a price is missing the
    board's area stands in for it (and a unit is worth nothing), so that the least area is bought. Prices too
    fine for the solver are rounded down, which keeps every lower bound true.
    """
    if all(product.price_cents for product in products):
        boards = lcm(*(product.per_pack for product in products))
        prices = {product.code: product.price_cents * boards // product.per_pack for product in products}
        common = gcd(*prices.values())
        prices = {code: price // common for code, price in prices.items()}
        coarser = -(-max(prices.values()) // _LARGEST_PRICE)
        return {code: price // coarser for code, price in prices.items()}, Fraction(common * coarser, boards)
    areas = {product.code: (product.length_mm or 0) * (product.width_mm or 0) for product in products}
    common = gcd(*areas.values())
    return {code: area // common for code, area in areas.items()}, Fraction(0)


def cut_families(
    project: Project, families: Sequence[BoardFamily], solve: Solve, bound: Bound, time_limit: float | None
) -> Cut:
    """Cuts every family with `solve` and gathers the results in the plan's own terms.

    `bound` proves how few boards of a code can do where several serve the same runs.

    A time limit (seconds) is shared out by the number of pieces; what one family leaves of its share goes to
    the next ones.
    """
    layouts: list[Layout] = []
    left_over: list[LeftOver] = []
    boards: dict[str, BoardCount] = {}
    proofs: list[Proof] = []
    stages = Stages.of(project)
    size_of = stock_sizes(project)
    code_of_stock = {name: item.code for name, item in stock_rows(project).items()}
    pieces_left = sum(len(family.problem.pieces) for family in families)
    time_left = time_limit
    for family in families:
        pieces = len(family.problem.pieces)
        share = None if time_left is None else max(0.0, time_left) * pieces / pieces_left
        result = solve(family.problem, share)
        pieces_left -= pieces
        time_left = None if time_left is None else time_left - result.solve_seconds
        found = _layouts_with_codes(result, family, code_of_stock, stages)
        layouts.extend(found)
        left_over.extend(left_over_of(found, size_of, project.detail.kerf_mm, smallest_of(family)))
        bought = dict.fromkeys(family.codes, 0)
        for layout in found:
            if layout.stock in bought:
                bought[layout.stock] += layout.repeat
        boards.update(_board_counts(family, result, bought, bound, share))
        proofs.append(_proof(project, family, result, bought))
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
    )


def smallest_of(family: BoardFamily) -> tuple[int, int]:
    """The least length and the least width of a family's pieces, in mm."""
    pieces = family.problem.pieces
    return min(piece.length_mm for piece in pieces), min(piece.width_min_mm for piece in pieces)


def stock_sizes(project: Project) -> Callable[[Layout], tuple[int, int]]:
    """The length and width, in mm, of the board or row of the stock that a layout cuts."""
    sizes = {
        product.code: (product.length_mm or 0, product.width_mm or 0)
        for product in project.products_of("board")
    } | {name: (item.length_mm, item.width_mm) for name, item in stock_rows(project).items()}
    return lambda layout: sizes[layout.stock]


def _layouts_with_codes(
    result: CuttingResult, family: BoardFamily, code_of_stock: dict[str, str], stages: Stages
) -> list[Layout]:
    """The layouts with sequence numbers for stages and the board code on every one."""
    found: list[Layout] = []
    for layout in result.layouts:
        code = code_of_stock.get(layout.stock)
        bought = layout.stock if layout.stock in family.codes else family.codes[0]
        found.append(
            layout.model_copy(
                update={
                    "stage": stages.sequence(layout.stage),
                    "code": code or bought,
                    "stock": layout.stock if code else bought,
                }
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
                boards=tuple(
                    board.model_copy(update={"price_cents": 1})
                    for board in family.problem.boards
                    if board.code == code
                ),
                pieces=alone,
                offcuts=tuple(offcut for offcut in family.problem.offcuts if offcut.code == code),
                trim=family.problem.trim,
                max_carry_stages=family.problem.max_carry_stages,
                several_boards=False,
            )
            fewest = bound(problem, seconds)
        counts[code] = BoardCount(count=bought[code], lower_bound=fewest, optimal=fewest == bought[code])
    return counts


def _proof(project: Project, family: BoardFamily, result: CuttingResult, bought: dict[str, int]) -> Proof:
    """The proved bounds of a family; costs are whole cents, both rounded up, so neither passes the other."""
    products = {product.code: product for product in project.products_of("board")}
    cost = ceil(
        sum(Fraction(products[code].price_cents * n, products[code].per_pack) for code, n in bought.items())
    )
    if len(family.codes) == 1:
        (code,) = family.codes
        bound = ceil(Fraction(products[code].price_cents * result.lower_bound, products[code].per_pack))
    else:
        bound = min(cost, ceil((result.lower_bound_cents or 0) * family.cents_per_unit))
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
