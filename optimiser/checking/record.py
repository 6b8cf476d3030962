"""The record against the plan that holds it: what is done stays done, every opened board is accounted for."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from fractions import Fraction
from math import ceil

from optimiser.checking.building import Building
from optimiser.checking.supply import counted, unit, usable, used
from optimiser.model.record import Event


def broken_rules_of_record(building: Building) -> Iterator[str]:
    """Every rule between a plan, its record and how it says that the job stands."""
    plan = building.plan
    if not plan.record.events:
        for piece in plan.pieces:
            if piece.status != "planned":
                yield f"piece {piece.id}: it is {piece.status}, but the plan has no record that says so"
        return
    yield from _broken_statuses(building)
    yield from _broken_boards(building)
    yield from _broken_stock(building)
    yield from _broken_supply(building)


def _standing(building: Building) -> list[Event]:
    events = building.plan.record.events
    undone = {event.undoes for event in events if event.event == "undone"}
    return [event for event in events if event.event != "undone" and not (event.id and event.id in undone)]


def _broken_statuses(building: Building) -> Iterator[str]:
    events = _standing(building)
    cut_of = Counter(name for board in building.plan.job.cut_boards for name in board.pieces)
    for name, count in cut_of.items():
        if count > 1 and name in building.pieces:
            lost = sum(event.event == "scrapped" and event.piece == name for event in events)
            if count > 1 + lost:
                yield f"piece {name}: {count} boards say that it was cut from them, but it is one piece"
    for piece in building.plan.pieces:
        if piece.status == "planned":
            continue
        if not cut_of[piece.id]:
            yield f"piece {piece.id}: it is {piece.status}, but no opened board says that it was cut from it"
    last: dict[str, str] = {}
    for event in events:
        if event.piece and event.event in ("cut", "fitted", "scrapped"):
            last[event.piece] = event.event
    told = {event.piece or event.level for event in events if event.event == "fitted"}
    for piece in building.plan.pieces:
        if piece.status == "fitted" and not {piece.id, piece.level} & told:
            yield f"piece {piece.id}: it is fitted, but no event on record says so of it or of its level"
    for name, what in last.items():
        status = building.pieces[name].status if name in building.pieces else None
        if what == "fitted" and status != "fitted":
            yield f"piece {name}: the record says that it is fitted, but the plan does not keep it in its place"
        elif what == "cut" and status == "planned":
            yield f"piece {name}: the record says that it is cut, but the plan cuts it again"
        elif what == "scrapped" and status not in (None, "planned"):
            yield f"piece {name}: the record says that it is scrapped, but the plan still counts on it"


def _broken_boards(building: Building) -> Iterator[str]:
    numbers = Counter(board.number for board in building.plan.job.cut_boards)
    open_numbers = Counter(number for number, _ in building.plan.numbered_layouts)
    for number, count in numbers.items():
        if count > 1:
            yield f"board {number}: it is opened {count} times"
        if open_numbers[number]:
            yield f"layout {number}: a board of that number is opened already"
    for number, count in open_numbers.items():
        if count > 1:
            yield f"layout {number}: {count} layouts have that number"
    for board in building.plan.job.cut_boards:
        if board.bought != (board.source in building.products):
            yield f"board {board.name}: it is cut from {board.source}, so bought must be {not board.bought}"
        face = board.length_mm * board.width_mm
        kept = sum(part.length_mm * part.width_mm for part in board.kept)
        if board.scrap_mm2 < 0 or abs(2 * (face - kept - board.scrap_mm2) - board.twice_pieces_mm2) > 1:
            yield (
                f"board {board.name}: {face} mm2 must be its pieces, remainders and scrap, but they are"
                f" {board.twice_pieces_mm2 / 2:.1f}, {kept} and {board.scrap_mm2} mm2"
            )


def _broken_stock(building: Building) -> Iterator[str]:
    """What is at hand is what the plan may cut, and no remainder is there that nothing left."""
    rows = {
        name: (row.code, row.length_mm, row.width_mm, row.quantity) for name, row in building.stock.items()
    }
    at_hand = {
        item.name: (item.code, item.length_mm, item.width_mm, item.quantity)
        for item in building.plan.job.at_hand
    }
    for name in sorted({*rows, *at_hand}):
        if rows.get(name) != at_hand.get(name):
            yield f"{name}: the stock has {rows.get(name)}, but at hand is {at_hand.get(name)}"
    for item in building.plan.job.discarded:
        if item.name in at_hand:
            yield f"{item.name}: it is discarded, but it is at hand"
    for code in {row.code for row in building.stock.values()}:
        whole = sum(
            item.quantity
            for item in building.plan.job.at_hand
            if item.code == code and item.kind in ("on site", "on order")
        )
        if code in building.products and whole > usable(building, code):
            yield f"{code}: {whole} whole boards are said to be at hand, but {usable(building, code)} may be used"


def _broken_supply(building: Building) -> Iterator[str]:
    listed = Counter(item.code for item in building.plan.job.supplied)
    for code in building.products:
        due = any(counted(building, what)[code] for what in ("ordered", "delivered", "scrapped"))
        if listed[code] > 1 or (due and not listed[code]):
            yield f"supplied {code}: it must be listed once, but is listed {listed[code]} times"
    for item in building.plan.job.supplied:
        if item.code not in building.products:
            yield f"supplied {item.code}: the project has no such product"
            continue
        came, taken = counted(building, "delivered")[item.code], used(building, item.code)
        ordered = max(counted(building, "ordered")[item.code], came)
        begun = ceil(Fraction(taken, unit(building, item.code)))
        for field, must in (
            ("ordered", ordered),
            (
                "delivered",
                max(came, min(begun, ordered)),
            ),  # what is used has come, whatever nobody wrote down
            ("lost", counted(building, "scrapped")[item.code]),
            ("used", taken),
            ("usable", usable(building, item.code)),
        ):
            if getattr(item, field) != must:
                yield f"supplied {item.code}: {field} must be {must}, but is {getattr(item, field)}"
