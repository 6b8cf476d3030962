"""An option of a comparison of gaps."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from optimiser.tables.columns import CURRENCY, Column, Columns, constant
from optimiser.tables.names import by_size

GAP_OPTIONS: Columns = (
    Column("gap_mm", "Gap", "mm", 8, "mm", short="Gap\nmm"),
    Column("boards", "Boards", "count", 9, what="bought; none where nothing can be placed at that gap"),
    Column("lower_bound", "Proved minimum", "count", 9, short="Proved", what="no plan at that gap buys fewer"),
    Column("scrap_fraction", "Scrap", "share", 9, decimals=6, what="of the board area, as in a plan's waste"),
    Column("cost", "Cost", "money", 15, what="the whole order in whole packs, with the project's flat allowances"),
    Column("joints", "Joints", "count", 9),
    CURRENCY,
    Column("optimal", "Proved", "flag", 8, what="whether `boards` is the proved minimum"),
    Column("boards_per_100_m", "Boards per 100 m", "number", 9, what="of the edge compared"),
    Column("cut_width_mm", "Cut width", "mm", 9, "mm", short="Cut\nmm", what="the least; none where gaps are shifted"),
    Column(
        "strips_per_board", "Strips per board", "count", 9, short="Strips",
        what="so many of the least cut width out of the first board",
    ),
    Column("pieces", "Pieces", "count", 9),
    Column("anchors", "Anchors", "count", 9),
    Column("tape_mm", "Tape", "mm", 9, "mm", short="Tape\nm"),
    Column(
        "boards_more_at_next_gap", "More at next gap", "count", 9, short="Next\ngap",
        what="boards that the next larger gap takes on top",
    ),
    Column("best", "Best", "texts", 24, joined="; ", what="in what it is the best of all that can be built whole"),
    Column("board", "Board", "texts", 14, joined=" ", what="codes, empty: as the project has it",
           value=lambda option: option.choice.boards),
    Column("oversize_min", "Least oversize", "share", 9, value=lambda option: _rate(option.choice.oversize, 0)),
    Column("oversize_max", "Greatest oversize", "share", 9, value=lambda option: _rate(option.choice.oversize, 1)),
    Column("insertion_min", "Least insertion", "share", 9, value=lambda option: _rate(option.choice.insertion, 0)),
    Column("insertion_max", "Greatest insertion", "share", 9, value=lambda option: _rate(option.choice.insertion, 2)),
    Column("brackets_offered", "Brackets on offer", "texts", 14, joined=" ", what="codes, empty: the project's",
           value=lambda option: option.choice.brackets),
    Column("problem", "Cannot be built", "long text", 40, what="what cannot be built and why; empty: all can"),
)  # fmt: skip


def gap_option_columns(currency: str, options: Iterable[Any]) -> Columns:
    """All columns, with one for each bracket size that any of the options uses (`brackets K-110`)."""
    sizes = sorted({code for option in options for code in option.brackets}, key=by_size)
    fixed = (constant(column, currency) if column is CURRENCY else column for column in GAP_OPTIONS)
    return (*fixed, *(_brackets_of(code) for code in sizes))


def _brackets_of(code: str) -> Column:
    return Column(
        f"brackets {code}", code, "count", 9, what=f"brackets {code}",
        value=lambda option: option.brackets.get(code, 0),
    )  # fmt: skip


def _rate(rates: Sequence[Any] | None, place: int) -> Any:
    return rates[place] if rates else None
