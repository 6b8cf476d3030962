"""What board stands on site on a day, counted anew from the order, the layouts and the left-overs.

Also whether each left-over that a later level is said to use is there and fits a piece of it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import date
from fractions import Fraction

from optimiser.checking.building import Building
from optimiser.checking.material import sheet_of


def standing_on(building: Building, day: date) -> Fraction:
    """Face area in mm2 on site when that day's delivery has arrived and nothing of it is cut yet.

    A delivery is cut, whole, on the first day on which one of its levels needs it; a piece stands from then
    until its own level's day, a usable left-over until the last level that could use it.
    """
    use: dict[int, date] = {}
    for level in building.project.levels:
        if level.needed_on is not None:
            use[level.sequence] = min(use.get(level.sequence, level.needed_on), level.needed_on)
    latest = max(use.values(), default=date.min)
    for level in building.project.levels:
        use.setdefault(level.sequence, latest)
    cut = {sequence for sequence, when in use.items() if when < day}
    area = Fraction(0)
    for line in building.plan.order.lines:
        product = building.products.get(line.code)
        if product and product.kind == "board" and line.packs and line.deliver_on and line.deliver_on <= day:
            area += line.packs * line.per_pack * (product.length_mm or 0) * (product.width_mm or 0)
    for row in building.project.stock:
        there = building.levels.get(row.level)
        if there is None or use[there.sequence] <= day:
            area += row.quantity * row.length_mm * row.width_mm
    for layout in building.plan.layouts:
        sheet = sheet_of(building, layout)
        if sheet is None or layout.stage not in cut:
            continue
        area -= layout.repeat * sheet.length_mm * sheet.width_mm
        for strip in layout.strips:
            for one in strip.pieces:
                piece = building.pieces.get(one.id)
                sequence = building.sequence_of(piece) if piece else None
                if piece and sequence is not None and sequence not in cut:
                    ends = piece.cut_width_start_mm + piece.cut_width_end_mm
                    area += layout.repeat * piece.length_mm * Fraction(ends, 2)
    for item in building.plan.usable_left_over or ():
        until = [building.levels[name].sequence for name in item.serves if name in building.levels]
        if item.stage in cut and until and max(until) not in cut:
            area += item.quantity * item.length_mm * item.width_mm
    return area


def broken_rules_of_usable_left_over(building: Building) -> Iterator[str]:
    """Each is among the left-overs; each level it serves comes later and has a piece that fits; none is missing.

    A plan that does not say which left-overs are usable breaks none of these rules.
    """
    if building.plan.usable_left_over is None:
        return
    there: Counter[tuple[int, str, int, int]] = Counter()
    for left in building.plan.left_over:
        there[left.stage, left.code, left.length_mm, left.width_mm] += left.quantity
    said: dict[tuple[int, str, int, int], tuple[str, ...]] = {}
    for item in building.plan.usable_left_over:
        size = item.stage, item.code, item.length_mm, item.width_mm
        place = f"usable left-over {item.length_mm} x {item.width_mm} mm of {item.level}"
        said[size] = item.serves
        level = building.levels.get(item.level)
        if level is None or level.sequence != item.stage:
            yield f"{place}: its level must be of sequence {item.stage}"
        there[size] -= item.quantity
        if there[size] < 0:
            yield f"{place}: there are not {item.quantity} of it among the left-overs"
    for (stage, code, length_mm, width_mm), more in there.items():
        if more > 0 and (stage, code, length_mm, width_mm) in said:
            yield f"usable left-over {length_mm} x {width_mm} mm of {code}, stage {stage}: there are {more} more of it"
    for left in building.plan.left_over:
        size = left.stage, left.code, left.length_mm, left.width_mm
        due = _levels_served(building, *size)
        if due != said.get(size, ()):
            listed = ", ".join(said.get(size, ())) or "no level"
            yield (
                f"left-over {left.length_mm} x {left.width_mm} mm of {left.code}, stage {left.stage}: it could serve"
                f" {', '.join(due) or 'no later level'}, but is said to serve {listed}"
            )


def _levels_served(
    building: Building, stage: int, code: str, length_mm: int, width_mm: int
) -> tuple[str, ...]:
    most = building.project.project.max_carry_stages
    fitting = {
        piece.level
        for piece in building.plan.pieces
        if piece.length_mm <= length_mm and piece.width_min_mm <= width_mm and code in piece.boards
    }
    return tuple(
        level.level
        for level in building.levels_in_order
        if level.level in fitting
        and level.sequence > stage
        and (most is None or building.carried(stage, level.sequence) <= most)
    )
