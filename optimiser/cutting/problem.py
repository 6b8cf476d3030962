"""A cutting problem and its result: what `barrier-orders cut` reads and prints, and what a plan's cutting uses.

The contract's JSON maps onto these immutable models field by field. All lengths are integer millimetres.

One module although long: what is read and what is printed are one form of document, each class a few lines.
"""

from __future__ import annotations

from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from functools import lru_cache
from math import gcd, lcm
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, model_validator

from optimiser.cutting.status import Status

Length = Annotated[int, Field(gt=0, le=10_000_000, strict=True)]
Count = Annotated[int, Field(ge=1, le=10_000_000, strict=True)]
Stage = Annotated[int, Field(ge=-1_000_000, le=1_000_000, strict=True)]
Cents = Annotated[int, Field(strict=True)] | Fraction
"""Exact: whole cents, or a fraction of one where a pack's price is shared by its boards."""

LARGEST_PRICE = (
    10**9
)  # in the solver's units, so that sums stay exact in floating-point steps; finer ones are rounded down


class Objective(StrEnum):
    """What a cutting problem minimises: the number of boards, what they cost, or, where no prices are known, the
    board area that is bought."""

    FEWEST_BOARDS = "fewest_boards"
    LEAST_COST = "least_cost"
    LEAST_AREA = "least_area"


class CuttingModel(BaseModel):
    """Immutable; unknown fields are kept out, so that a misspelt one is not silently ignored."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Board(CuttingModel):
    """A board size that may be bought without limit. `length_mm` lies along the slab edge, `width_mm` is ripped."""

    code: str = "board"
    length_mm: Length
    width_mm: Length
    kerf_mm: Annotated[int, Field(ge=0, le=1000, strict=True)] = 0
    price_cents: Annotated[Cents, Field(ge=0, le=10**12)] = 1


class Piece(CuttingModel):
    """Equal pieces that are needed. A strip's width must lie in [width_min_mm, width_max_mm].

    `boards`: the board codes it may be cut from (empty: any). A tapered piece has its two end widths; its
    window is then [the wider end, anything], because the strip is cut along a slant anyway.
    """

    id: str
    length_mm: Length
    width_min_mm: Length
    width_max_mm: Length
    quantity: Count = 1
    stage: Stage = 1
    boards: tuple[str, ...] = ()
    width_start_mm: Length | None = None
    width_end_mm: Length | None = None

    @model_validator(mode="after")
    def _window_not_empty(self) -> Piece:
        if self.width_min_mm > self.width_max_mm:
            raise ValueError(
                f"piece {self.id}: width_min_mm {self.width_min_mm} is above width_max_mm {self.width_max_mm}"
            )
        if (self.width_start_mm is None) != (self.width_end_mm is None):
            raise ValueError(f"piece {self.id}: a tapered piece needs both width_start_mm and width_end_mm")
        if self.width_start_mm is not None and self.width_end_mm is not None:
            wider = max(self.width_start_mm, self.width_end_mm)
            if wider != self.width_min_mm:
                raise ValueError(
                    f"piece {self.id}: width_min_mm {self.width_min_mm} is not its wider end {wider}"
                )
        return self

    @property
    def tapered(self) -> bool:
        """Whether the two ends differ in width."""
        return self.width_start_mm is not None and self.width_start_mm != self.width_end_mm


class Offcut(CuttingModel):
    """Material already on site: cut like a board of its own size, free, from `stage` on."""

    id: str
    length_mm: Length
    width_mm: Length
    quantity: Count = 1
    stage: Stage = 1
    code: str = ""  # the board product that it is a part of; '' serves any piece


class CuttingProblem(CuttingModel):
    """Pieces to cut, boards that may be bought, offcuts at hand.

    A problem with a single `board` asks for the fewest of them, one that lists `boards` for the least cost, unless it
    states its `objective`. `carry_cost` is what one remainder costs that waits one stage, in the unit of the objective:
    boards, cents or mm2. With it cost and carrying are one sum; without it waiting is the second aim.
    Raises ValueError (pydantic's ValidationError) for duplicate ids or a piece that fits no stock at all.
    """

    boards: tuple[Board, ...] = Field(min_length=1)
    pieces: tuple[Piece, ...]
    offcuts: tuple[Offcut, ...] = ()
    trim: bool = False
    max_carry_stages: Annotated[int, Field(ge=0, strict=True)] | None = None
    carry_cost: Annotated[Decimal, Field(ge=0)] | None = None
    objective: Objective = Objective.FEWEST_BOARDS

    @model_validator(mode="before")
    @classmethod
    def _one_board_or_several(cls, data: Any) -> Any:
        if not isinstance(data, dict):
            return data
        data = dict(data)
        if "board" in data:
            if data.get("boards"):
                raise ValueError("give either `board` or `boards`, not both")
            board = data.pop("board")
            if isinstance(board, dict):
                board = {"code": "board", **board, "price_cents": 1}
            data["boards"] = [board]
        elif "objective" not in data:
            data["objective"] = Objective.LEAST_COST
        return data

    @model_validator(mode="after")
    def _consistent(self) -> CuttingProblem:
        codes = [board.code for board in self.boards]
        if len(set(codes)) != len(codes):
            raise ValueError("two boards have the same code")
        names = [piece.id for piece in self.pieces]
        if len(set(names)) != len(names):
            raise ValueError(f"two pieces have the same id {_first_twice(names)}")
        stocks = codes + [offcut.id for offcut in self.offcuts]
        if len(set(stocks)) != len(stocks):
            raise ValueError(f"two stocks have the same name {_first_twice(stocks)}")
        for piece in self.pieces:
            unknown = set(piece.boards) - set(codes)
            if unknown:
                raise ValueError(f"piece {piece.id} names the unknown board {min(unknown)}")
            if not any(
                board.length_mm >= piece.length_mm
                and board.width_mm >= piece.width_min_mm
                and (not piece.boards or board.code in piece.boards)
                for board in self.boards
            ):
                raise ValueError(
                    f"piece {piece.id} ({piece.length_mm} x {piece.width_min_mm}) is larger than every board"
                    " it may be cut from; choose a larger board or divide the piece"
                )
        return self

    @property
    def counts_boards(self) -> bool:
        """Whether the number of boards is minimised, not their cost."""
        return self.objective is Objective.FEWEST_BOARDS

    @property
    def board_costs(self) -> tuple[Cents, ...]:
        """What one board of each size costs in the objective's unit: 1 board, exact cents, or mm2."""
        if self.objective is Objective.LEAST_COST:
            return tuple(board.price_cents for board in self.boards)
        if self.objective is Objective.LEAST_AREA:
            return tuple(board.length_mm * board.width_mm for board in self.boards)
        return (1,) * len(self.boards)

    @property
    def solver_prices(self) -> tuple[int, ...]:
        """The costs of the boards in whole multiples of `unit`. Where they are too fine for the solver they are
        rounded down, which keeps every lower bound true."""
        unit = self.unit
        return tuple(int(Fraction(cost) / unit) for cost in self.board_costs)

    @property
    def unit(self) -> Fraction:
        """What one unit of `solver_prices` is in the objective's unit."""
        return _unit_of(self.board_costs)


@lru_cache(maxsize=256)
def _unit_of(board_costs: tuple[Cents, ...]) -> Fraction:
    """The greatest that divides all costs, or a multiple of it where they are too fine for the solver."""
    costs = [Fraction(cost) for cost in board_costs]
    whole = lcm(*(cost.denominator for cost in costs))
    common = Fraction(gcd(*(int(cost * whole) for cost in costs)) or 1, whole)
    return common * max(1, -int(-max(costs) / common // LARGEST_PRICE))


def _first_twice(names: list[str]) -> str:
    seen: set[str] = set()
    for name in names:
        if name in seen:
            return name
        seen.add(name)
    return ""


class CutPiece(CuttingModel):
    """A piece in a strip. `head_to_tail` marks the second of a tapered pair: it is turned end for end and lies
    beside the piece named before it in the list, so the two together take one length of the strip."""

    id: str
    length_mm: int
    width_mm: int
    head_to_tail: bool = False


class Strip(CuttingModel):
    """A strip as long as its stock, ripped to `width_mm`, then cross-cut into pieces from the datum end."""

    width_mm: int
    pieces: tuple[CutPiece, ...]


class CuttingPattern(CuttingModel):
    """How one board or offcut is cut, `repeat` times over. `stage` is when it is opened: at its first piece.

    The strips stand in the order in which they are ripped from the datum edge, each when its first piece is needed;
    the pieces of a strip in the order in which they are cut from the datum end. Along both, stages never go back,
    so what is not needed yet stays one remainder of the board and one of each strip. `cut_ready` is False where a
    piece rests on a level that is not measured yet: then it is for ordering only.
    """

    stock: str
    stage: int
    repeat: int = 1
    strips: tuple[Strip, ...]
    code: str = ""
    cut_ready: bool = True


class LeftOver(CuttingModel):
    """What remains of the stock after cutting and is large enough for the smallest piece of the problem."""

    length_mm: int
    width_mm: int
    stage: int
    quantity: int = 1
    code: str = ""


def in_the_unit_of(problem: CuttingProblem, cost: int) -> Cents:
    """A cost in the solver's units as boards, cents or mm2: whole where it is whole."""
    exact = cost * problem.unit
    return exact.numerator if exact.denominator == 1 else exact


def costs_of(problem: CuttingProblem, cost: Cents, bound: Cents) -> dict[str, Any]:
    """The fields of a result that say what it costs and what is proved of that, by the problem's objective."""
    if problem.objective is Objective.LEAST_COST:
        return {"cost_cents": cost, "lower_bound_cents": bound}
    if problem.objective is Objective.LEAST_AREA:
        return {"area_mm2": cost, "lower_bound_mm2": bound}
    return {}


class FirstAnswer(CuttingModel):
    """The constructive heuristic's plan, before any proof: its cost (in the objective's unit) and when it was there."""

    cost: Cents
    seconds: float


class Waiting(CuttingModel):
    """What is delivered ahead of its need. A piece waits from the stage at which its board is opened until its own.

    `pieces` wait at all, for `piece_stages` stages in all; no plan of this cost has less than
    `lower_bound_piece_stages`, which is proved. What a cut leaves of a board, or of a strip with pieces of several
    stages, is a remainder until it is cut again: so many `remainders`, for `remainder_stages` in all.
    """

    pieces: int = 0
    piece_stages: int = 0
    remainders: int = 0
    lower_bound_piece_stages: int = 0
    remainder_stages: int = 0

    def __add__(self, other: Waiting) -> Waiting:
        """What waits in two plans of different boards: the bounds add up like what they bound."""
        return Waiting(**{name: getattr(self, name) + getattr(other, name) for name in Waiting.model_fields})


class CuttingResult(CuttingModel):
    """A cutting plan with its proof. `lower_bound` is proved: no plan can buy fewer boards.

    `first_answer` tells how soon a feasible plan was at hand (None where nothing had to be cut), `cost_seconds`
    when the search for the least cost ended. Where waiting has a price, `total_cost` is what is minimised, cost and
    carrying together, with its own proved bound.
    """

    boards: int
    lower_bound: int
    optimal: bool
    solve_seconds: float
    boards_by_stage: dict[str, int]
    layouts: tuple[CuttingPattern, ...]
    left_over: tuple[LeftOver, ...]
    cost_cents: Cents | None = None
    lower_bound_cents: Cents | None = None
    area_mm2: int | None = None
    lower_bound_mm2: int | None = None
    boards_by_code: dict[str, int] | None = None
    first_answer: FirstAnswer | None = None
    cost_seconds: float | None = None
    waiting: Waiting | None = None
    total_cost: Decimal | None = None
    lower_bound_total_cost: Decimal | None = None

    @property
    def cost(self) -> Cents:
        """What the problem minimises: cents, mm2 of board or boards."""
        if self.cost_cents is not None:
            return self.cost_cents
        return self.boards if self.area_mm2 is None else self.area_mm2

    @property
    def cost_bound(self) -> Cents:
        """The proved bound on `cost`."""
        if self.lower_bound_cents is not None:
            return self.lower_bound_cents
        return self.lower_bound if self.lower_bound_mm2 is None else self.lower_bound_mm2

    @property
    def status(self) -> Status:
        """Whether the result is proved to be the least."""
        return Status.of(proved=self.optimal)
