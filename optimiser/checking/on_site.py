"""What board stands on site on a day, recounted from the order, the layouts and the left-overs.

Also whether each left-over that a later level is said to use is there and fits a piece of it.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from datetime import date
from fractions import Fraction

from optimiser.checking.building import Building
from optimiser.checking.material import is_bought, level_delivered_for, sheet_of
from optimiser.checking.strips import lengths_taken


def use_days(building: Building) -> dict[int, date]:
    """The day on which each delivery's boards are used, by sequence: the first on which one of its levels needs it; of
    its levels that something is ordered for where there are such."""
    first: dict[int, tuple[bool, date]] = {}  # with something ordered (False) before without
    ordered_for = {line.level for line in building.plan.order.lines}
    for level in building.project.levels:
        if level.needed_on is not None:
            day = level.level not in ordered_for, level.needed_on
            first[level.sequence] = min(first.get(level.sequence, day), day)
    use = {sequence: day for sequence, (_, day) in first.items()}
    latest = max(use.values(), default=date.min)
    for level in building.project.levels:
        use.setdefault(level.sequence, latest)
    return use


def standing_on(building: Building, day: date) -> Fraction:
    """Face area in mm2 on site when that day's delivery has arrived and nothing of it is cut yet."""
    return sum(standing_by_code(building, day).values(), Fraction(0))


def standing_by_code(building: Building, day: date, overnight: bool = False) -> dict[str, Fraction]:
    """Face area in mm2 on site when that day's delivery has arrived and nothing of it is cut yet, by board.

    A bought board is there until the day of the level that it is delivered for, stock until the first day on which
    one of the levels of its delivery needs it. A remainder (each judged by itself) stands from the delivery that
    leaves it until the one that cuts it, a usable left-over from the last cut beside it until the last level's that
    could use it. `overnight`: what stood there in the night before, when neither the day's delivery nor its stock was
    there.
    """
    use = use_days(building)
    cut = {sequence for sequence, when in use.items() if when < day}
    area: dict[str, Fraction] = defaultdict(Fraction)

    def there(when: date) -> bool:
        return when < day if overnight else when <= day

    for line in building.plan.order.lines:
        product = building.products.get(line.code)
        if product and product.kind == "board" and line.packs and line.deliver_on and there(line.deliver_on):
            area[line.code] += line.packs * line.per_pack * product.length_mm * product.width_mm
    for row in building.project.stock:
        level_of_stock = building.levels.get(row.level)
        if level_of_stock is None or there(use[level_of_stock.sequence]):
            area[row.code] += row.quantity * row.length_mm * row.width_mm
    for layout in building.plan.layouts:
        sheet = sheet_of(building, layout)
        if sheet is None:
            continue
        level = level_delivered_for(building, layout) if is_bought(building, layout) else None
        needed_on = building.levels[level].needed_on or max(use.values()) if level else None
        if needed_on < day if needed_on else layout.stage in cut:
            area[layout.code] -= layout.repeat * sheet.length_mm * sheet.width_mm
    for part in building.plan.remainders:
        if part.stage in cut and part.cut_stage not in cut:
            area[part.code] += part.area_mm2
    freed = _freed(building)
    for item in building.plan.usable_left_over or ():
        until = [building.levels[name].sequence for name in item.serves if name in building.levels]
        made = freed[item.code, item.stage, item.length_mm, item.width_mm][: item.quantity]
        if until and max(until) not in cut:
            area[item.code] += sum(stage in cut for stage in made) * item.length_mm * item.width_mm
    return dict(area)


def _freed(building: Building) -> defaultdict[tuple[str, int, int, int], list[int]]:
    """The deliveries by whose cuts left-overs come free, the first first, by board, its delivery, length and width.

    Until the last strip of a board is ripped its rest is part of a remainder, and so is the end of a strip until the
    last of its lengths is cut.
    """
    freed: defaultdict[tuple[str, int, int, int], list[int]] = defaultdict(list)
    for layout in building.plan.layouts:
        sheet = sheet_of(building, layout)
        if sheet is None or not layout.strips:
            continue
        place, kerf = (layout.code, layout.stage), sheet.kerf_mm
        needs = []
        for strip in layout.strips:
            pieces = [building.pieces.get(piece.id) for piece in strip.pieces]
            due = [building.sequence_of(piece) or layout.stage for piece in pieces if piece]
            starts = [max(first, layout.stage) for first in due] or [layout.stage]
            needs.append(min(starts))
            length = sheet.length_mm - sum(taken + kerf for taken in lengths_taken(strip))
            freed[*place, length, strip.width_mm] += layout.repeat * [max(starts)]
        width = sheet.width_mm - sum(strip.width_mm + kerf for strip in layout.strips)
        freed[*place, sheet.length_mm, width] += layout.repeat * [max(needs)]
    for stages in freed.values():
        stages.sort()
    return freed


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
        for piece in building.open_pieces
        if piece.length_mm <= length_mm and piece.width_min_mm <= width_mm and code in piece.boards
    }
    return tuple(
        level.level
        for level in building.levels_in_order
        if level.level in fitting
        and level.sequence > stage
        and (most is None or building.carried(stage, level.sequence) <= most)
    )
