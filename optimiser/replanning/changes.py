"""From one plan to the next: what more the supplier must bring, and which labels on site are wrong now."""

from __future__ import annotations

from collections.abc import Callable, Collection
from datetime import date
from typing import Literal

from optimiser.model.immutable import Immutable
from optimiser.model.money import NOTHING, Money, MoneyDifference
from optimiser.model.plan import Plan
from optimiser.model.planned_pieces import PlannedPiece
from optimiser.model.project import Product
from optimiser.ordering.working_days import working_days_of
from optimiser.replanning.causes import Cause, Reasons, ordered_by_line
from optimiser.replanning.receiving import days_of, received_lines
from optimiser.takeoff.quantities import unit_of

What = Literal[
    "new piece", "other size", "other place", "other board", "no more needed", "new board", "board not cut"
]


class OrderChange(Immutable):
    """One product for one level's delivery: what was ordered, in single units, and what changes now.

    `ordered_now` comes on top of `ordered_before`; it is below nought where an order that is not delivered can be
    dropped: what it brings is needed for nothing, its order day is still to come, and that saves more than a changed
    order costs. Then take back the `ordered` event and write what stays ordered. `packs` and `amount` are those of
    `ordered_now`. The days and the price before are those of the plan before, None where it had no such line. `damaged`
    are the pieces and remainders, by name, that it replaces.
    """

    level: str
    code: str
    deliver_on: date | None
    order_by: date | None
    ordered_before: int
    ordered_now: int
    packs: int
    price: Money
    amount: MoneyDifference
    deliver_on_before: date | None = None
    price_before: Money | None = None
    causes: tuple[Cause, ...] = ()
    damaged: tuple[str, ...] = ()

    @property
    def changes(self) -> bool:
        """Whether anything of it is other than it was."""
        return bool(
            self.ordered_now
            or (self.deliver_on_before is not None and self.deliver_on_before != self.deliver_on)
            or (self.price_before is not None and self.price_before != self.price)
        )


class LabelChange(Immutable):
    """A piece or board whose label says something else now. `was` and `now` are what stood on it and must stand."""

    name: str
    level: str
    what: What
    was: str
    now: str


def order_changes(
    after: Plan, before: Plan | None = None, *, today: date | None = None, change_cost: Money = NOTHING
) -> tuple[OrderChange, ...]:
    """What the next plan orders beyond everything that is on record, and what was ordered before for the same level,
    in the order of delivery.

    With the plan `before` each line tells the day and price that it had, and why it changed. An order that is still to
    be placed on `today` (None: the day of the last event) may be dropped; `change_cost` is what changing orders costs,
    freight or a fee, however many lines are dropped.
    """
    ordered = ordered_by_line(after)
    if today is None and after.record.events:
        today = after.record.events[-1].at.date()
    own = {(line.level, line.code): line for line in after.order.lines if line.packs}
    calendar = working_days_of(after.project.project.country)
    reasons = None if before is None else Reasons.of(before, after)

    def days_on_order(level: str, product: Product) -> tuple[date | None, date | None]:
        """When what is ordered already comes, and by when it must be ordered."""
        day = None if reasons is None else reasons.day_that_stands(level, product.code)
        if day is None:
            return days_of(after.project, level, product, calendar)
        return day, calendar.before(day, product.lead_days)

    dropped = _dropped(after, own, today, change_cost, days_on_order)
    found = []
    for level, code in {**dict.fromkeys(own), **dict.fromkeys(ordered)}:
        line = own.get((level, code))
        product = after.project.product(code)
        packs = line.packs if line is not None else -dropped.get((level, code), 0)
        days = days_on_order(level, product)
        change = OrderChange(
            level=level,
            code=code,
            deliver_on=line.deliver_on if line is not None else days[0],
            order_by=line.order_by if line is not None else days[1],
            ordered_before=ordered[level, code],
            ordered_now=packs * product.per_pack,
            packs=packs,
            price=line.price if line is not None else product.price,
            amount=line.amount if line is not None else packs * product.price,
        )
        if reasons is not None:
            change = change.model_copy(
                update={
                    "deliver_on_before": reasons.day_before(level, code),
                    "price_before": reasons.price_before(code),
                    "causes": reasons.causes(level, code, change.deliver_on, packs),
                }
            )
        found.append(change)
    if reasons is not None:
        damaged = reasons.damaged((one.level, one.code) for one in found if "damage" in one.causes)
        found = [
            change.model_copy(update={"damaged": damaged.get((change.level, change.code), ())})
            for change in found
        ]
    place = after.project.building.place_of_level
    trade = {product.code: number for number, product in enumerate(after.project.building.in_trade_order)}
    return tuple(sorted(found, key=lambda change: (place.get(change.level, -1), trade[change.code])))


def _dropped(
    after: Plan,
    own: Collection[tuple[str, str]],
    today: date | None,
    change_cost: Money,
    days_on_order: Callable[[str, Product], tuple[date | None, date | None]],
) -> dict[tuple[str, str], int]:
    """The packs of each line that can be dropped, the last deliveries first; none where that saves too little."""
    spare = {
        item.code: item.spare // unit_of(after.project.product(item.code)) for item in after.job.supplied
    }
    found: dict[tuple[str, str], int] = {}
    saved = NOTHING
    for line in reversed(received_lines(after)):
        product = after.project.product(line.code)
        _, order_by = days_on_order(line.level, product)
        if (line.level, line.code) in own or order_by is None or today is None or order_by < today:
            continue
        packs = min(spare.get(line.code, 0), line.on_order) // product.per_pack
        if packs:
            found[line.level, line.code] = packs
            spare[line.code] -= packs * product.per_pack
            saved += packs * product.price
    return found if saved > change_cost else {}


def label_changes(before: Plan, after: Plan) -> tuple[LabelChange, ...]:
    """The labels that are wrong or missing after the next plan; pieces that are fitted need none.

    Labels of a level that was a forecast in the plan before were withheld: all of them are still to be printed, and
    those of pieces that were not cut by then cannot be wrong.
    """
    withheld = {level.level for level in before.levels if level.status == "forecast"}
    old, new = {piece.id: piece for piece in before.pieces}, {piece.id: piece for piece in after.pieces}
    on_old, on_new = _boards(before), _boards(after)
    found: list[LabelChange] = []
    for piece in after.pieces:
        if piece.status == "fitted":
            continue
        was = old.get(piece.id)
        if piece.level in withheld and not piece.done and (was is None or not was.done):
            continue
        now = _label(piece, on_new)
        if was is None:
            found.append(_change(piece, "new piece", "", now))
        elif _label(was, on_old) != now and not (piece.status == "cut" and _cut(was) == _cut(piece)):
            what: What = "other board"
            if (was.run, was.from_mm, was.to_mm) != (piece.run, piece.from_mm, piece.to_mm):
                what = "other place"
            elif _cut(was) != _cut(piece):
                what = "other size"
            found.append(_change(piece, what, _label(was, on_old), now))
    found += [
        _change(piece, "no more needed", _label(piece, on_old), "")
        for piece in before.pieces
        if piece.id not in new and (piece.done or piece.level not in withheld)
    ]
    return tuple(found)


def _change(piece: PlannedPiece, what: What, was: str, now: str) -> LabelChange:
    return LabelChange(name=piece.id, level=piece.level, what=what, was=was, now=now)


def _cut(piece: PlannedPiece) -> tuple[int, int, int]:
    return piece.length_mm, piece.cut_width_start_mm, piece.cut_width_end_mm


def _boards(plan: Plan) -> dict[str, str]:
    """What each piece that is still to be cut is cut from."""
    return {
        piece.id: f"board {number}"
        for number, layout in plan.numbered_layouts
        for strip in layout.strips
        for piece in strip.pieces
    }


def _label(piece: PlannedPiece, on: dict[str, str]) -> str:
    width = f"{piece.cut_width_start_mm}"
    if piece.tapered:
        width += f" to {piece.cut_width_end_mm}"
    board = f", {on[piece.id]}" if piece.id in on else ""
    return f"{piece.run} {piece.from_mm} to {piece.to_mm} mm: {piece.length_mm} x {width}{board}"
