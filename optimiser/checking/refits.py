"""The judge of a refit: every place served once, nothing extended, nothing lost, nothing ordered too late."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from fractions import Fraction
from math import ceil

from optimiser.checking.brackets import broken_rules_of_brackets
from optimiser.checking.building import Building
from optimiser.checking.cover import broken_rules_of_cover
from optimiser.checking.figures import figure, times
from optimiser.checking.refit_material import broken_rules_of_account, broken_rules_of_recut
from optimiser.checking.widths import broken_rules_of_widths
from optimiser.model.money import money_text, total_of
from optimiser.model.plan import Plan
from optimiser.model.planned_pieces import PlannedPiece
from optimiser.model.project import Project
from optimiser.model.refit import Refit, Reuse


def broken_rules_of_refit(refit: Refit, plan: Plan, survey: Project) -> list[str]:
    """Every rule that a refit of a plan to a newer survey breaks, one line each; empty when there is none.

    Open levels are judged by the survey as a plan would be: cover, windows, brackets. Nothing is raised for a
    wrong refit, whatever it holds.
    """
    closed = set(refit.fitted_levels)
    building = _open_building(refit, plan, survey)
    broken = list(broken_rules_of_cover(building))
    broken += broken_rules_of_widths(building)
    broken += broken_rules_of_brackets(building)
    broken += _broken_closed_levels(refit, plan, closed)
    broken += _broken_assignment(refit, plan, building, closed)
    broken += broken_rules_of_recut(refit, plan, building)
    broken += broken_rules_of_account(refit, plan, survey)
    broken += _broken_order(refit, plan, survey, building)
    if not any(caution.strip() for caution in refit.cautions):
        broken.append("cautions: a refit must show the usual cautions, but has none")
    return broken


def _open_building(refit: Refit, plan: Plan, survey: Project) -> Building:
    """The survey's open levels with the refit's pieces."""
    runs = tuple(run for run in survey.runs if run.level not in refit.fitted_levels)
    names = {run.run for run in runs}
    part = survey.model_copy(
        update={"runs": runs, "gaps": tuple(gap for gap in survey.gaps if gap.run in names), "stock": ()}
    )
    made = plan.model_copy(
        update={
            "project": part,
            "pieces": tuple(piece for piece in refit.pieces if piece.level not in refit.fitted_levels),
            "not_planned": refit.not_planned,
            "layouts": refit.layouts,
        }
    )
    return Building(part, made)


def _broken_closed_levels(refit: Refit, plan: Plan, closed: set[str]) -> Iterator[str]:
    """What is fitted stays as it is."""
    before = {piece.id: piece for piece in plan.pieces if piece.level in closed}
    after = {piece.id: piece for piece in refit.pieces if piece.level in closed}
    for name in sorted({*before, *after}):
        if before.get(name) != after.get(name):
            yield f"piece {name}: its level is fitted, so it must stay as it is in the plan"
    if refit.closed_pieces != len(before):
        yield f"closed_pieces must be {len(before)}, but is {refit.closed_pieces}"


def _broken_assignment(refit: Refit, plan: Plan, building: Building, closed: set[str]) -> Iterator[str]:
    pieces = {piece.id: piece for piece in plan.pieces if piece.level in refit.cut_levels}
    code_of = {
        piece.id: layout.code for layout in plan.layouts for strip in layout.strips for piece in strip.pieces
    }
    free = {name for name, piece in pieces.items() if piece.level not in closed}
    reuses = [*refit.stays, *refit.moves]
    used = Counter(reuse.piece for reuse in reuses) + Counter(kept.piece for kept in refit.kept_pieces)
    for name in sorted({*used, *free}):
        if used[name] != (1 if name in free else 0):
            due = times(int(name in free))
            yield f"piece {name}: it must be re-used or kept {due}, but is {times(used[name])}"
    served = Counter(reuse.place for reuse in reuses) + Counter(item.place for item in refit.recut)
    for name in sorted({*served, *building.pieces}):
        if served[name] != (1 if name in building.pieces else 0):
            due = times(int(name in building.pieces))
            yield f"place {name}: it must be served {due}, but is {times(served[name])}"
    for reuse in reuses:
        piece, place = pieces.get(reuse.piece), building.pieces.get(reuse.place)
        if piece is not None and place is not None:
            yield from _broken_reuse(
                reuse, piece, place, code_of.get(piece.id, ""), building.detail_of(place.run).trim
            )
    for reuse in refit.stays:
        own = pieces.get(reuse.piece)
        if own and (own.run, own.from_mm, own.to_mm) != (reuse.run, reuse.from_mm, reuse.to_mm):
            yield f"piece {reuse.piece}: it is said to stay, but goes to {reuse.place}"
    for kept in refit.kept_pieces:
        piece = pieces.get(kept.piece)
        size = kept.length_mm, kept.width_start_mm, kept.width_end_mm
        if piece and (piece.length_mm, piece.cut_width_start_mm, piece.cut_width_end_mm) != size:
            yield f"piece {kept.piece}: it is kept as it was cut, but its sizes differ from the plan's"
    if refit.reused_pieces != len(reuses):
        yield f"reused_pieces must be {len(reuses)}, but is {refit.reused_pieces}"
    if refit.reused_pieces > refit.most_reusable:
        yield f"most_reusable is {refit.most_reusable}, but {refit.reused_pieces} are re-used"
    if refit.cut_pieces != len(pieces):
        yield f"cut_pieces must be {len(pieces)}, but is {refit.cut_pieces}"


def _broken_reuse(
    reuse: Reuse, piece: PlannedPiece, place: PlannedPiece, code: str, trim: bool
) -> Iterator[str]:
    """A cut piece may be shortened and trimmed, never extended."""
    at = f"piece {reuse.piece} in {reuse.place}"
    if code not in place.boards:
        yield f"{at}: it is of {code}, but the place takes {', '.join(place.boards)}"
    if piece.length_mm < place.length_mm:
        yield f"{at}: it is {piece.length_mm} mm long, too short for {place.length_mm} mm"
    shortened = place.length_mm if piece.length_mm > place.length_mm else None
    if reuse.cut_to_mm != shortened:
        yield f"{at}: cut_to_mm must be {shortened}, but is {reuse.cut_to_mm}"
    share = Fraction(place.length_mm, piece.length_mm)
    rise = piece.cut_width_end_mm - piece.cut_width_start_mm
    there = Fraction(piece.cut_width_start_mm), piece.cut_width_start_mm + rise * share
    fitted: tuple[Fraction | int, Fraction | int] = reuse.width_start_mm, reuse.width_end_mm
    if fitted != (place.cut_width_start_mm, place.cut_width_end_mm):
        yield f"{at}: its widths {fitted} are not those of the place's piece"
    if fitted[0] > there[0] or fitted[1] > there[1]:
        yield f"{at}: it is {figure(there[0])} to {figure(there[1])} mm wide and cannot be widened to {fitted}"
    if not trim and fitted != there:
        yield f"{at}: the detail allows no trimming, but its widths go from {figure(there[0])} to {fitted[0]}"


def _broken_order(refit: Refit, plan: Plan, survey: Project, building: Building) -> Iterator[str]:
    """What is bought, ordered and brought forward covers every level in its time, boards and the allowance too."""
    levels = [level.level for level in building.levels_in_order]
    first = levels[0]
    come: dict[str, Counter[str]] = {level: Counter() for level in levels}
    per_pack: dict[str, int] = {}
    for line in plan.order.lines:
        come[line.level if line.level in come else first][line.code] += line.packs * line.per_pack
        per_pack[line.code] = line.per_pack
    for move in refit.brought_forward:
        if move.from_level not in come or move.to_level not in come or move.packs < 1:
            packs = f"{move.packs} pack{'' if move.packs == 1 else 's'}"
            yield (
                f"brought forward: {packs} of {move.code} from {move.from_level} to {move.to_level}: it must be at"
                " least 1 pack, from a level of the survey to another"
            )
            continue
        if levels.index(move.from_level) <= levels.index(move.to_level):
            yield f"brought forward: {move.code} from {move.from_level} to {move.to_level} is not earlier"
        come[move.from_level][move.code] -= move.packs * per_pack.get(move.code, 1)
        come[move.to_level][move.code] += move.packs * per_pack.get(move.code, 1)
    for level, here in come.items():
        for code, number in here.items():
            if number < 0:
                yield f"brought forward: more packs of {code} than {level} has"
    for line in refit.order.lines:
        product = building.products.get(line.code)
        if product is None or line.level not in come:
            yield f"order, {line.code} for {line.level}: the survey has no such product or level"
            continue
        if line.packs < 1 or line.packs * line.per_pack < line.quantity:
            yield f"order, {line.code} for {line.level}: {line.packs} packs do not hold {line.quantity}"
        if line.amount != line.packs * line.price or line.per_pack != product.per_pack:
            yield f"order, {line.code} for {line.level}: its amount or pack is not the survey's"
        come[line.level][line.code] += line.packs * line.per_pack
    total = total_of(line.amount for line in refit.order.lines)
    if refit.order.total != total:
        yield f"order: its lines add up to {money_text(total)}, but it says {money_text(refit.order.total)}"
    yield from _broken_supply(refit, plan, survey, building, levels, come)


def _broken_supply(
    refit: Refit,
    plan: Plan,
    survey: Project,
    building: Building,
    levels: list[str],
    come: dict[str, Counter[str]],
) -> Iterator[str]:
    """Boards: those cut, those of the recut in time with their allowance, and what is left uncut."""
    sequence = {level.level: level.sequence for level in survey.levels}
    cut = {piece.id for piece in plan.pieces if piece.level in refit.cut_levels}
    fractions = {
        row.kind: Fraction(row.fraction) for row in survey.allowance if not isinstance(row.fraction, str)
    }
    waiting = {piece.id for piece in refit.pieces if piece.level in building.forecast}
    for product in survey.products:
        if product.kind != "board":
            continue
        code = product.code
        before = sum(
            layout.repeat
            for layout in plan.layouts
            if layout.stock == code and any(p.id in cut for strip in layout.strips for p in strip.pieces)
        )
        recut = [layout for layout in refit.layouts if layout.stock == code]
        taken = sum(layout.repeat for layout in recut)
        arrived = sum(here[code] for here in come.values())
        left = arrived - before - taken
        if left != refit.uncut_boards.get(code, 0):
            yield f"uncut boards of {code} must be {left}, but are {refit.uncut_boards.get(code, 0)}"
        certain = sum(
            layout.repeat
            for layout in recut
            if not building.simulated
            or not any(p.id in waiting for strip in layout.strips for p in strip.pieces)
        )
        reserve = ceil(certain * fractions.get("board", Fraction(0)))
        if left < reserve:
            yield f"boards {code}: {left} are left, fewer than the allowance of {reserve} on those re-cut"
        if refit.recut_boards.get(code, 0) != taken:
            yield f"recut boards of {code} must be {taken}, but are {refit.recut_boards.get(code, 0)}"
        so_far = 0
        old = _old_cut_by_level(plan, code, cut, levels)
        used = 0
        for level, following in zip(levels, [*levels[1:], None], strict=True):
            so_far += come[level][code]
            used += old[level]
            if following is not None and sequence[following] == sequence[level]:
                continue  # they are delivered together
            due = used + sum(layout.repeat for layout in recut if layout.stage <= sequence[level])
            if so_far < due:
                yield f"boards {code}: {due} are taken up to {level}, but only {so_far} have come"
    if sum(refit.recut_boards.values()) < refit.recut_lower_bound:
        yield f"recut_lower_bound is {refit.recut_lower_bound}, but fewer boards are taken"


def _old_cut_by_level(plan: Plan, code: str, cut: set[str], levels: list[str]) -> Counter[str]:
    """Boards already cut, by the level whose delivery brought them."""
    level_of = {piece.id: piece.level for piece in plan.pieces}
    found: Counter[str] = Counter()
    for layout in plan.layouts:
        names = [piece.id for strip in layout.strips for piece in strip.pieces]
        if layout.stock != code or cut.isdisjoint(names):
            continue
        together = [level.level for level in plan.project.levels if level.sequence == layout.stage]
        served = {level_of[name] for name in names if name in level_of}
        level = next((name for name in together if name in served), together[0])
        found[level if level in levels else levels[0]] += layout.repeat
    return found
