"""How a job stands, in a few lines above the plan of its rest."""

from __future__ import annotations

from collections import Counter
from datetime import date

from optimiser.model.money import NOTHING, Money
from optimiser.model.plan import Plan
from optimiser.ordering.working_days import working_days_of
from optimiser.replanning.changes import label_changes, order_changes
from optimiser.replanning.receiving import (
    Endangered,
    days_of,
    endangered_levels,
    last_day,
    received_lines,
)
from optimiser.tables.amounts import grouped_money
from optimiser.tables.text import counted


def replan_lines(
    before: Plan, after: Plan, today: date | None = None, change_cost: Money = NOTHING
) -> list[str]:
    """What is done, at hand and supplied, how much changes, and what is missing or can be dropped."""
    done = Counter(piece.status for piece in after.pieces)
    kinds = Counter[str]()
    for item in after.job.at_hand:
        kinds[item.kind] += item.quantity
    changes = Counter(change.what for change in label_changes(before, after))
    lines = [
        f"Done: {counted(done['fitted'], 'piece')} fitted, {done['cut']} cut and not fitted yet;"
        f" {done['planned']} still to be cut. {_opened(after)}."
    ]
    if kinds:
        at_hand = ", ".join(
            f"{number} {words}"
            for kind, words in (
                ("remainder", "on the rack"),
                ("on site", "whole on site"),
                ("on order", "whole on order"),
                ("stock", "of the stock"),
                ("piece", "cut and without a place"),
            )
            if (number := kinds[kind])
        )
        spare = _kept_for_loss(after)
        lines.append(
            f"Board at hand: {at_hand}." + (f" {spare:,} more for breakage and loss." if spare else "")
        )
    if after.job.discarded:
        names = ", ".join(item.name for item in after.job.discarded)
        lines.append(f"Of no use to any level to come, so they can go: {names}.")
    if changes:
        told = ", ".join(f"{number} x {what}" for what, number in sorted(changes.items()))
        lines.append(f"Labels to change: {told}.{_price_of_a_label(after)}")
    else:
        lines.append("No label changes.")
    lines += _received(after)
    on = today or last_day(after)
    lines += _overdue(after, on)
    lines += [_endangered(one, on) for one in endangered_levels(after, on)]
    for change in order_changes(after, before, today=today, change_cost=change_cost):
        if change.packs < 0:
            lines.append(
                f"{counted(-change.packs, 'pack')} of {change.code} for {change.level} can be dropped until"
                f" {change.order_by}: nothing needs them."
            )
    return [*lines, ""]


def _kept_for_loss(after: Plan) -> int:
    """Whole boards, on site or on order, that the plan leaves for breakage and loss."""
    boards = after.project.building.boards
    return sum(
        max(0, item.ordered - item.lost - item.used - item.usable)
        for item in after.job.supplied
        if item.code in boards
    )


def _price_of_a_label(after: Plan) -> str:
    """What changing one costs, or that this counts as nothing."""
    heading = after.project.project
    if heading.relabel_cost is None:
        return " Changing one counts as nothing (relabel_cost is not given)."
    return f" Changing one costs {grouped_money(heading.relabel_cost, heading.currency)}."


def _received(after: Plan) -> list[str]:
    """What came otherwise than ordered."""
    lines = []
    for line in received_lines(after):
        told = [
            f"{number} {words}"
            for number, words in (
                (line.missing, "missing"),
                (line.not_ordered, "not ordered"),
                (line.damaged, "damaged"),
            )
            if number
        ]
        if told:
            for_level = f" for {line.level}" if line.level else ""
            lines.append(f"Received of {line.code}{for_level}: {', '.join(told)}.")
    return lines


def _overdue(after: Plan, on: date) -> list[str]:
    """What is on order and was to come before that day; nothing on a job whose deliveries nobody writes down."""
    if not any(event.event == "delivered" for event in after.record.standing):
        return []
    calendar = working_days_of(after.project.project.country)
    lines = []
    for line in received_lines(after):
        due, _ = days_of(after.project, line.level, after.project.product(line.code), calendar)
        if line.on_order and due is not None and due < on:
            was, has = ("was", "has") if line.on_order == 1 else ("were", "have")
            lines.append(
                f"Of {line.code} for {line.level} {line.on_order:,} {was} due on {due} and {has} not come."
            )
    return lines


def _opened(after: Plan) -> str:
    """'64 boards opened, and 140 times a remainder or an offcut'."""
    sizes = {
        product.code: (product.length_mm, product.width_mm)
        for product in after.project.building.boards.values()
    }
    whole = sum(sizes.get(board.code) == (board.length_mm, board.width_mm) for board in after.job.cut_boards)
    others = len(after.job.cut_boards) - whole
    cut_on = f", and {counted(others, 'time')} a remainder or an offcut" if others else ""
    return f"{counted(whole, 'board')} opened{cut_on}"


def _endangered(one: Endangered, today: date) -> str:
    """'L05 will be short of 3 B-120 on 2027-03-25: bring forward 2 from L06; order 1 more by 2027-03-15.'"""
    day = f" on {one.needed_on}" if one.needed_on else ""
    told = [f"bring forward {part.quantity} from {part.level}" for part in one.brought_forward]
    if one.comes_on:
        told.append(
            f"order {one.reorder} at once: the day to order was {one.reorder_by}, ordered on {today} they come on"
            f" {one.comes_on}"
        )
    elif one.reorder:
        told.append(f"order {one.reorder} more" + (f" by {one.reorder_by}" if one.reorder_by else " at once"))
    if one.needed_on and one.needed_on < today:
        return f"{one.level} is short of {one.short} {one.code}, needed{day}: {'; '.join(told)}."
    return f"{one.level} will be short of {one.short} {one.code}{day}: {'; '.join(told)}."
