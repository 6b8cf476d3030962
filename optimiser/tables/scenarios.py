"""A scenario and what its plan comes to."""

from __future__ import annotations

from typing import Any

from optimiser.tables.columns import CURRENCY, Column, Columns, constant


def _of(name: str) -> Any:
    return lambda row: None if row.figures is None else getattr(row.figures, name)


def _m2(row: Any) -> float | None:
    return None if row.figures is None else round(row.figures.scrap_mm2 / 1e6, 3)


def _rounded(name: str, places: int) -> Any:
    def value(row: Any) -> float | None:
        found = _of(name)(row)
        return None if found is None else round(found, places)

    return value


SCENARIOS: Columns = (
    Column("scenario", "Scenario", width=20, value=lambda row: row.scenario.name),
    Column("changes", "What differs", "long text", 40, what="from the project, and from planning it as usual",
           value=lambda row: row.scenario.words),
    Column("cost", "Cost", "money", 15, value=_of("cost"),
           what="the order with the loads, storage, waiting and freight that have a price"),
    Column("goods", "Goods", "money", 15, value=_of("goods"), what="the order's total alone"),
    Column("boards", "Boards", "count", 9, value=_of("boards"), what="bought"),
    Column("lower_bound", "Proved minimum", "count", 9, value=_of("lower_bound"),
           what="no plan of these pieces and this staging buys fewer boards"),
    Column("proved", "Proved", "flag", 8, value=_of("proved"),
           what="no plan of these pieces and this staging pays for fewer boards or packs"),
    Column("scrap_m2", "Scrap", "area", 10, "m2", decimals=3, value=_m2,
           what="board area that is neither fitted nor kept"),
    Column("scrap_fraction", "Scrap share", "share", 9, decimals=6, value=_of("scrap_fraction"),
           what="of all board"),
    Column("waiting_pieces", "Waiting pieces", "count", 9, value=_of("waiting_pieces"),
           what="needed later than their board comes"),
    Column("waiting_piece_stages", "Waiting, pieces times deliveries", "count", 9,
           value=_of("waiting_piece_stages"), what="each waiting piece times the deliveries that it waits"),
    Column("remainders", "Remainders", "count", 9, value=_of("remainders"),
           what="that the waiting pieces lie in"),
    Column("deliveries", "Deliveries", "count", 10, value=_of("deliveries"),
           what="days on which something arrives"),
    Column("loads", "Loads", "count", 8, value=_of("loads"), what="truckloads; none where no truck's size is given"),
    Column("packs", "Packs", "count", 8, value=_of("packs"), what="of all products"),
    Column("widths", "Strip widths", "count", 8, value=_of("widths"), what="distinct widths that are ripped"),
    Column("joints", "Joints", "count", 9, value=_of("joints"), what="taped"),
    Column("brackets", "Brackets", "count", 9, value=_of("brackets")),
    Column("lead_days", "Longest lead", "count", 9, "days", value=_of("lead_days"),
           what="working days, of what is ordered"),
    Column("order_by", "Order by", "date", 12, value=_of("order_by"),
           what="the first day on which something must be ordered"),
    Column("last_delivery", "Last delivery", "date", 12, value=_of("last_delivery")),
    Column("not_planned", "Not planned", "count", 9, value=_of("not_planned"),
           what="places that cannot be built as they stand"),
    Column("scrapped_by_precutting", "Scrapped by pre-cutting", "number", 10, "boards", decimals=1,
           value=_rounded("scrapped_by_precutting", 1),
           what="expected, of pieces cut ahead to nominal gaps; none where nothing is cut ahead"),
    Column("best", "Best", "texts", 24, joined="; ", value=lambda row: row.best_words,
           what="in what it is the best of all that can be built whole"),
    Column("on_frontier_of_waiting", "Unbeaten on cost and waiting", "flag", 9,
           value=lambda row: "waiting_piece_stages" in row.unbeaten,
           what="no other here costs as little and waits as little, with one of both less"),
    Column("on_frontier_of_deliveries", "Unbeaten on cost and deliveries", "flag", 9,
           value=lambda row: "deliveries" in row.unbeaten,
           what="no other here costs as little in as few deliveries, with one of both less"),
    Column("seconds", "Solver", "number", 8, "s", decimals=2, value=_rounded("seconds", 2),
           what="seconds of the cutting solver"),
    CURRENCY,
    Column("warnings", "Warnings", "count", 9, what="that its plan tells; each in words beside the table",
           value=lambda row: None if row.figures is None else len(row.figures.warnings)),
    Column("problem", "Why there is no plan", "long text", 40, what="empty: there is one"),
    Column("status", "Status", width=20, value=lambda row: str(row.status)),
)  # fmt: skip

IN_SHORT = ("scenario", "cost", "boards", "lower_bound", "scrap_fraction", "waiting_piece_stages", "deliveries",
            "widths", "joints", "best", "problem")  # fmt: skip
"""What is shown where there is little room."""


def scenario_columns(currency: str) -> Columns:
    """All columns, with the currency of the amounts."""
    return tuple(constant(column, currency) if column is CURRENCY else column for column in SCENARIOS)
