"""The frontier of boards against waiting as a table on the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from optimiser.studies.frontier import FrontierPoint
from optimiser.tables.columns import only
from optimiser.tables.frontier import FRONTIER
from optimiser.writing.terminal.console import filled_table
from optimiser.writing.words import counted

FRONTIER_NOTE = (
    "Boards against waiting, staging 'whole', from where nothing waits to the fewest boards. Waiting is in pieces times"
    " deliveries; no plan whose boards cost as little waits less than 'at least': proved. `plan --waiting-choice N`"
    " takes choice N; `plan --carry-cost MONEY` chooses by what it costs to keep a remainder from one delivery to the"
    " next. Of those that pay as little take the one that waits least, unless a whole board is worth more to you."
)


def frontier_table(points: Sequence[FrontierPoint], currency: str) -> Any:
    """The frontier as a table for the terminal; packs only where they are known."""
    names = [
        "number",
        "boards",
        *(("packs",) if any(point.packs for point in points) else ()),
        "paid",
        "waiting_piece_stages",
        "lower_bound_piece_stages",
        "waiting_pieces",
        "remainders",
        "least_for_paid",
    ]
    return filled_table("Boards against waiting", only(FRONTIER, *names), points, currency, close=True)


def fewest_in_words(points: Sequence[FrontierPoint]) -> str:
    """What no plan of these pieces can do with less of."""
    boards = min(point.lower_bound for point in points)
    packs = min(sum(point.lower_bound_packs.values()) for point in points)
    also = f" or {counted(packs, 'pack')}" if packs else ""
    return f"No plan buys fewer than {counted(boards, 'board')}{also}: proved."
