"""A cutting problem and its result: what `barrier-orders cut` reads and prints, and what a plan's cutting uses.

The contract's JSON maps onto these immutable models field by field. All lengths are integer millimetres.
"""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, model_validator

Length = Annotated[int, Field(gt=0, le=10_000_000, strict=True)]
Count = Annotated[int, Field(ge=1, le=10_000_000, strict=True)]
Stage = Annotated[int, Field(ge=-1_000_000, le=1_000_000, strict=True)]


class CuttingModel(BaseModel):
    """Immutable; unknown fields are kept out, so that a misspelt one is not silently ignored."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Board(CuttingModel):
    """A board size that may be bought without limit. `length_mm` lies along the slab edge, `width_mm` is ripped."""

    code: str = "board"
    length_mm: Length
    width_mm: Length
    kerf_mm: Annotated[int, Field(ge=0, le=1000, strict=True)] = 0
    price_cents: Annotated[int, Field(ge=0, le=10**12, strict=True)] = 1


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

    Raises ValueError (pydantic's ValidationError) for duplicate ids or a piece that fits no stock at all.
    """

    boards: tuple[Board, ...] = Field(min_length=1)
    pieces: tuple[Piece, ...]
    offcuts: tuple[Offcut, ...] = ()
    trim: bool = False
    max_carry_stages: Annotated[int, Field(ge=0, strict=True)] | None = None
    several_boards: bool = False  # the problem listed `boards` with prices, so cost counts, not the number

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
        elif "several_boards" not in data:
            data["several_boards"] = True
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


class Layout(CuttingModel):
    """How one board or offcut is cut, `repeat` times over. `stage` is when the stock must be there."""

    stock: str
    stage: int
    repeat: int = 1
    strips: tuple[Strip, ...]
    code: str = ""


class LeftOver(CuttingModel):
    """What remains of the stock after cutting and is large enough for the smallest piece of the problem."""

    length_mm: int
    width_mm: int
    stage: int
    quantity: int = 1
    code: str = ""


class FirstAnswer(CuttingModel):
    """The constructive heuristic's plan, before any proof: its cost (boards, or cents with several sizes) and
    when it was there."""

    cost: int
    seconds: float


class CuttingResult(CuttingModel):
    """A cutting plan with its proof. `lower_bound` is proved: no plan can buy fewer boards.

    `first_answer` tells how soon a feasible plan was at hand (None where nothing had to be cut)."""

    boards: int
    lower_bound: int
    optimal: bool
    solve_seconds: float
    boards_by_stage: dict[str, int]
    layouts: tuple[Layout, ...]
    left_over: tuple[LeftOver, ...]
    cost_cents: int | None = None
    lower_bound_cents: int | None = None
    boards_by_code: dict[str, int] | None = None
    first_answer: FirstAnswer | None = None

    @property
    def cost(self) -> int:
        """What the problem minimises: cents where it listed several boards with prices, boards otherwise."""
        return self.boards if self.cost_cents is None else self.cost_cents

    @property
    def cost_bound(self) -> int:
        """The proved bound on `cost`."""
        return self.lower_bound if self.lower_bound_cents is None else self.lower_bound_cents
