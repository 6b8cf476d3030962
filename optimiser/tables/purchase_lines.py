"""A line of the order as a supplier receives it: a row holds `order`, `load` (None: cancelled) and `line`."""

from __future__ import annotations

from typing import Any, NamedTuple

from optimiser.tables.columns import Column, Columns


class PurchaseRow(NamedTuple):
    """A line with the truckload and the order that it stands in."""

    order: Any
    load: Any
    line: Any


def rows_of(order: Any) -> tuple[PurchaseRow, ...]:
    """The lines of an order, truckload by truckload; those that a revision cancels stand last, with 0 packs."""
    ordered = [PurchaseRow(order, load, line) for load in order.truckloads for line in load.lines]
    return (*ordered, *(PurchaseRow(order, None, line) for line in order.cancelled))


def _of_load(name: str) -> Any:
    return lambda row: None if row.load is None else getattr(row.load, name)


def _of_line(name: str) -> Any:
    return lambda row: getattr(row.line, name)


def _before(name: str) -> Any:
    return lambda row: None if row.line.before is None else getattr(row.line.before, name)


PURCHASE_LINES: Columns = (
    Column("line", "Line", "count", 7, what="its number, which stays from revision to revision",
           value=_of_line("number")),
    Column("truckload", "Truckload", "count", 10, what="what one truck brings, counted over the order from 1",
           value=_of_load("number")),
    Column("deliver_on", "Deliver on", "date", what="none where it is to be agreed", value=_of_load("deliver_on")),
    Column("status", "Status", width=10, what="firm, or forecast: may still change", value=_of_line("status")),
    Column("confirm_by", "Confirmed by", "date", what="of a forecast: when its quantity will be known",
           value=_of_line("confirm_by")),
    Column("level", "For", "texts", 14, joined=" ", what="the levels that it is for", value=_of_line("levels")),
    Column("kind", "Kind", width=9, what="board, bracket, anchor or tape", value=_of_line("kind")),
    Column("code", "Code", width=14, what="the supplier's code", value=_of_line("code")),
    Column("description", "Description", "long text", 40, what="sizes and pack in words",
           value=_of_line("description")),
    Column("packs", "Packs", "count", 8, what="packs that are ordered", value=_of_line("packs")),
    Column("per_pack", "Per pack", "count", 9, what="single boards, brackets, anchors or rolls in a pack",
           value=_of_line("per_pack")),
    Column("pack_name", "Pack", width=16, what="what a pack is called", value=_of_line("pack_name")),
    Column("list_price", "List price", "money", 14, what="of one pack, before price breaks",
           value=_of_line("list_price")),
    Column("from_packs", "Break from packs", "count", 10,
           what="packs in one delivery from which its price holds; none at the list price",
           value=_of_line("from_packs")),
    Column("price", "Price per pack", "money", 15, what="that is paid", value=_of_line("price")),
    Column("amount", "Amount", "money", 16, what="packs times price per pack, before tax", value=_of_line("amount")),
    Column("tax_rate", "Tax rate", "share", 9, what="none where it is not stated", value=_of_line("tax_rate")),
    Column("weight_kg", "Weight", "number", 11, "kg", what="of the line's packs; none where it is not known",
           value=_of_line("weight_kg")),
    Column("change", "Change", width=11, what="of a revision: unchanged, revised, added or cancelled",
           value=_of_line("change")),
    Column("packs_before", "Packs before", "count", 9, what="in the replaced revision", value=_before("packs")),
    Column("price_before", "Price before", "money", 14, what="in the replaced revision", value=_before("price")),
    Column("deliver_on_before", "Day before", "date", what="in the replaced revision",
           value=_before("deliver_on")),
    Column("status_before", "Status before", width=10, what="in the replaced revision", value=_before("status")),
)  # fmt: skip
