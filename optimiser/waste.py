"""Where the board area went, to the mm2: bought + stock cut = fitted + reusable offcut + scrap."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Protocol

from optimiser.cutting.problem import Layout, LeftOver
from optimiser.plan import Waste
from optimiser.project import Project


class CutToWidth(Protocol):
    """What the account asks of a piece: a `PlannedPiece` tells it."""

    @property
    def length_mm(self) -> int: ...
    @property
    def cut_width_start_mm(self) -> int: ...
    @property
    def cut_width_end_mm(self) -> int: ...


def waste_of(
    project: Project,
    pieces: Iterable[CutToWidth],
    layouts: Iterable[Layout],
    left_over: Iterable[LeftOver],
    stock_sizes: Mapping[str, tuple[int, int]],
) -> Waste:
    """The waste account of a cut plan, in mm2.

    `stock_sizes` holds the length and width of each material on site by the name its layouts give it; every
    other layout is a bought board of its code. A tapered piece counts the mean of its end widths. Kerf,
    trimmings and remainders too small for any piece are scrap; `scrap_fraction` is scrap / (bought + stock).
    """
    boards = {product.code: product for product in project.products_of("board")}
    bought = stock = 0
    for layout in layouts:
        if layout.stock in stock_sizes:
            length, width = stock_sizes[layout.stock]
            stock += layout.repeat * length * width
        else:
            board = boards[layout.code]
            bought += layout.repeat * (board.length_mm or 0) * (board.width_mm or 0)
    twice_fitted = sum(
        (piece.cut_width_start_mm + piece.cut_width_end_mm) * piece.length_mm for piece in pieces
    )
    fitted = twice_fitted // 2
    reusable = sum(item.length_mm * item.width_mm * item.quantity for item in left_over)
    scrap = bought + stock - fitted - reusable
    return Waste(
        bought_mm2=bought,
        stock_mm2=stock,
        fitted_mm2=fitted,
        reusable_offcut_mm2=reusable,
        scrap_mm2=scrap,
        scrap_fraction=scrap / (bought + stock) if bought + stock else 0.0,
    )
