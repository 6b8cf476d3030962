"""How a job stands, level by level: what is cut, fitted and inspected, and what of its goods is where."""

from __future__ import annotations

from collections import Counter

from optimiser.boards.forecast_levels import forecast_levels
from optimiser.model.immutable import Immutable
from optimiser.model.plan import Plan
from optimiser.replanning.receiving import received_lines


class LevelState(Immutable):
    """A level's pieces by how far they are, and its whole boards by where they are.

    `planned`, `cut` and `fitted` pieces are all of them; `inspected` ones are among the fitted. `racked` remainders
    wait for this level. Boards are in single ones: `ordered` for this level's delivery, of which some are `on_order`,
    `delivered` or `missing`, and some of those that came `damaged`; `to_order` are what the plan orders still.
    """

    level: str
    measured: bool
    planned: int
    cut: int
    fitted: int
    inspected: int
    racked: int
    boards_ordered: int
    boards_on_order: int
    boards_delivered: int
    boards_missing: int
    boards_damaged: int
    boards_to_order: int


def level_states(plan: Plan) -> tuple[LevelState, ...]:
    """Every level in the order of delivery, from the plan and the record that it holds."""
    building = plan.project.building
    level_of = {piece.id: piece.level for piece in plan.pieces}
    pieces: dict[str, Counter[str]] = {}
    for piece in plan.pieces:
        pieces.setdefault(piece.level, Counter())[piece.status] += 1
    fitted = {piece.id for piece in plan.pieces if piece.status == "fitted"}
    seen = {event.piece for event in plan.record.standing if event.event == "inspected" and event.piece}
    whole = {
        event.level
        for event in plan.record.standing
        if event.event == "inspected" and event.level and not event.piece
    }
    inspected = Counter(level_of[name] for name in fitted if name in seen or level_of[name] in whole)
    remainders = {item.name for item in plan.job.at_hand if item.racked}
    racked = Counter(
        level
        for layout in plan.layouts
        if layout.stock in remainders
        for level in {level_of[piece.id] for strip in layout.strips for piece in strip.pieces}
    )
    goods: dict[str, Counter[str]] = {}
    for line in received_lines(plan):
        if line.code in building.boards:
            here = goods.setdefault(line.level, Counter())
            for name in ("ordered", "on_order", "delivered", "missing", "damaged"):
                here[name] += getattr(line, name)
    for own in plan.order.lines:
        if own.code in building.boards:
            goods.setdefault(own.level, Counter())["to order"] += own.packs * own.per_pack
    forecast = forecast_levels(plan.project)
    return tuple(
        LevelState(
            level=name,
            measured=name not in forecast,
            planned=pieces.get(name, Counter())["planned"],
            cut=pieces.get(name, Counter())["cut"],
            fitted=pieces.get(name, Counter())["fitted"],
            inspected=inspected[name],
            racked=racked[name],
            boards_ordered=goods.get(name, Counter())["ordered"],
            boards_on_order=goods.get(name, Counter())["on_order"],
            boards_delivered=goods.get(name, Counter())["delivered"],
            boards_missing=goods.get(name, Counter())["missing"],
            boards_damaged=goods.get(name, Counter())["damaged"],
            boards_to_order=goods.get(name, Counter())["to order"],
        )
        for name in building.levels
    )
