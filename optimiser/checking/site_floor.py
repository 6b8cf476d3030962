"""What stands on site in stacks: layers, floor, weight and floor loading, re-derived from the limits."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from fractions import Fraction
from math import ceil

from optimiser.checking.building import Building
from optimiser.checking.figures import figure
from optimiser.checking.on_site import standing_by_code, use_days
from optimiser.model.project import Board, DeliveryLimits

_GRAM = Fraction(1, 1000)


def layers(limits: DeliveryLimits, board: Board) -> int:
    """How many boards may lie in a stack: one where the project says nothing of stacks, and never none.

    Counted up from one layer, while the stack is not too high, has not too many layers and is not too heavy.
    """
    if limits.stack_height_mm is None and limits.stack_layers is None:
        return 1
    face = Fraction(board.length_mm * board.width_mm, 10**6)
    most = 1
    while most < 10**6:
        more = most + 1
        too_high = (
            limits.stack_height_mm is not None and more * (board.thickness_mm or 0) > limits.stack_height_mm
        )
        too_many = limits.stack_layers is not None and more > limits.stack_layers
        too_heavy = (
            limits.floor_load_kg_m2 is not None
            and board.weight_kg is not None
            and more * Fraction(board.weight_kg) > limits.floor_load_kg_m2 * face
        )
        if too_high or too_many or too_heavy:
            break
        most = more
    return most


def storage_taken(building: Building, day: date, overnight: bool = False) -> Fraction:
    """The mm2 of storage that board takes on a day: face area, or floor where boards are stacked."""
    limits = building.project.delivery_limits or DeliveryLimits()
    return sum(
        (
            area / layers(limits, board)
            for code, area in standing_by_code(building, day, overnight).items()
            if (board := building.products.get(code)) and board.kind == "board"
        ),
        Fraction(0),
    )


def broken_rules_of_site_floor(building: Building) -> Iterator[str]:
    """`on_site` tells each day of arrival or use once, with the area, weight and floor loading of that day."""
    plan, project = building.plan, building.project
    limits = project.delivery_limits
    dated = [building.levels.get(line.level) for line in plan.order.lines]
    all_dated = bool(dated) and all(level is not None and level.needed_on is not None for level in dated)
    weighed = any(product.kind == "board" and product.weight_kg is not None for product in project.products)
    use = use_days(building)
    days: list[date] = []
    if all_dated and (limits is not None or weighed):
        arrivals = {line.deliver_on for line in plan.order.lines if line.packs and line.deliver_on}
        days = sorted(arrivals | set(use.values()))
    told = [there.day for there in plan.on_site]
    if told != days:
        yield (
            f"on_site: it must tell of the {len(days)} days on which boards arrive or are used, but tells of"
            f" {len(told)}"
        )
        return
    limits = limits or DeliveryLimits()
    for there in plan.on_site:
        faces = {code: area for code, area in standing_by_code(building, there.day).items() if area}
        boards = {
            code: board for code in faces if (board := building.products.get(code)) and board.kind == "board"
        }
        levels = tuple(level.level for level in building.levels_in_order if use[level.sequence] == there.day)
        floor = sum((faces[code] / layers(limits, board) for code, board in boards.items()), Fraction(0))
        stacked = limits.stack_height_mm is not None or limits.stack_layers is not None
        weight = load = None
        if all(board.weight_kg is not None for board in boards.values()):
            per_m2 = {
                code: Fraction(board.weight_kg or 0) * 10**6 / (board.length_mm * board.width_mm)
                for code, board in boards.items()
            }
            weight = sum((per_m2[code] * faces[code] / 10**6 for code in boards), Fraction(0))
            load = max((per_m2[code] * layers(limits, boards[code]) for code in boards), default=Fraction(0))
        place = f"on_site, {there.day}"
        if there.levels != levels:
            yield f"{place}: levels must be {levels}, but is {there.levels}"
        face = sum(faces.values(), Fraction(0))
        slack = max(1, len(plan.layouts))  # a tapered piece's area may be half a square millimetre
        if abs(there.face_mm2 - face) > slack:
            yield f"{place}: face_mm2 must be {figure(face)}, but is {there.face_mm2}"
        if (there.floor_mm2 is None) == stacked or (
            there.floor_mm2 is not None and abs(there.floor_mm2 - ceil(floor)) > slack
        ):
            yield f"{place}: floor_mm2 must be {ceil(floor) if stacked else None}, but is {there.floor_mm2}"
        for field, due in (("weight_kg", weight), ("floor_load_kg_m2", load)):
            said = getattr(there, field)
            if (said is None) != (due is None) or (
                said is not None and due is not None and abs(Fraction(said) - due) > _GRAM
            ):
                yield f"{place}: {field} must be {None if due is None else figure(due, '.3f')}, but is {said}"
        kept = None if load is None or limits.floor_load_kg_m2 is None else load <= limits.floor_load_kg_m2
        if there.floor_load_kept != kept:
            yield f"{place}: floor_load_kept must be {kept}, but is {there.floor_load_kept}"
