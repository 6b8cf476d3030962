"""The plan's layouts: every piece cut once, from a board it may be cut from, in time; boards and bounds."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from fractions import Fraction
from math import ceil

from optimiser.checking.building import Building
from optimiser.checking.figures import figure
from optimiser.checking.remainders import broken_rules_of_left_over
from optimiser.checking.strips import Sheet, Wanted, broken_rules_of_layout
from optimiser.cutting.problem import CuttingPattern
from optimiser.model.money import cents_of
from optimiser.model.planned_boards import BoardCount
from optimiser.model.planned_pieces import PlannedPiece
from optimiser.model.project import Stock


def is_bought(building: Building, layout: CuttingPattern) -> bool:
    """Whether a layout cuts a board that is ordered, not one that stands on site already."""
    product = building.products.get(layout.stock)
    return product is not None and product.kind == "board" and layout.stock not in building.stock


def level_delivered_for(building: Building, layout: CuttingPattern) -> str | None:
    """The level that a bought board is delivered for: the first of its delivery, in the table's order, that one of
    its pieces belongs to, else the first of that delivery; None where no level has its sequence."""
    served = {
        building.pieces[piece.id].level
        for strip in layout.strips
        for piece in strip.pieces
        if piece.id in building.pieces
    }
    together = [level.level for level in building.project.levels if level.sequence == layout.stage]
    return next((name for name in together if name in served), next(iter(together), None))


def sheet_of(building: Building, layout: CuttingPattern) -> Sheet | None:
    """The board or offcut that a layout cuts; None when the project has none of that name."""
    row = building.stock.get(layout.stock)
    kerf = building.rules_of_cutting(layout.stock if row is None else row.code).kerf_mm
    if row is not None:
        return Sheet(row.length_mm, row.width_mm, kerf)
    product = building.products.get(layout.stock)
    if product is None or product.kind != "board":
        return None
    return Sheet(product.length_mm, product.width_mm, kerf)


def broken_rules_of_material(building: Building) -> Iterator[str]:
    """Every rule of the cutting, seen from the building: cover, fit, stages, stock, counts and bounds."""
    wanted = {piece.id: wanted_of(piece) for piece in building.plan.pieces}
    cut: Counter[str] = Counter()
    used: Counter[str] = Counter()
    known = []
    for number, layout in building.plan.numbered_layouts:
        place = f"layout {number}"
        sheet = sheet_of(building, layout)
        if sheet is None:
            yield f"{place}: {layout.stock!r} is neither a board of the products nor a row of the stock"
        else:
            known.append((layout, sheet, layout.code))
        yield from broken_rules_of_layout(
            place, layout, sheet, building.rules_of_cutting(layout.code).trim, wanted
        )
        yield from _broken_stock(building, place, layout, building.stock.get(layout.stock))
        used[layout.stock] += layout.repeat
        for piece in (piece for strip in layout.strips for piece in strip.pieces):
            cut[piece.id] += layout.repeat
            if piece.id in building.pieces:
                yield from _broken_piece(building, place, layout, building.pieces[piece.id])
    for name, planned in building.pieces.items():
        if planned.status == "planned" and cut[name] != 1:
            yield f"piece {name}: it must be cut once, but the layouts cut it {cut[name]} times"
        elif planned.status != "planned" and cut[name]:
            yield f"piece {name}: it is {planned.status} already, but the layouts cut it {cut[name]} times"
    for name in cut:
        if name not in building.pieces:
            yield f"piece {name}: the layouts cut it, but the plan has no such piece"
    for name, row in building.stock.items():
        if used[name] > row.quantity:
            yield f"{name}: there are {row.quantity} on site, but the layouts cut {used[name]}"
    yield from broken_rules_of_left_over(building.plan.left_over, known)
    yield from _broken_boards(building)
    yield from _broken_proofs(building)


def wanted_of(piece: PlannedPiece) -> Wanted:
    """What a layout must cut of a planned piece: its width is decided, so exactly that."""
    if piece.tapered:
        ends = piece.cut_width_start_mm, piece.cut_width_end_mm
        return Wanted(piece.length_mm, max(ends), max(ends), ends)
    return Wanted(piece.length_mm, piece.cut_width_start_mm, piece.cut_width_start_mm)


def _broken_stock(building: Building, place: str, layout: CuttingPattern, row: Stock | None) -> Iterator[str]:
    if row is None:
        if layout.code != layout.stock:
            yield f"{place}: the code of a bought board is its own, {layout.stock}, but is {layout.code!r}"
        if layout.stage not in building.sequences:
            yield f"{place}: no level has the sequence {layout.stage}, its stage"
        return
    if layout.code != row.code:
        yield f"{place}: {layout.stock} is of {row.code}, but the layout says {layout.code!r}"
    level = building.levels.get(row.level)
    if level is not None and layout.stage < level.sequence:
        yield (
            f"{place}: {layout.stock} is on site from level {row.level}, sequence"
            f" {level.sequence}, but is cut"
            f" in stage {layout.stage}"
        )


def _broken_piece(
    building: Building, place: str, layout: CuttingPattern, piece: PlannedPiece
) -> Iterator[str]:
    at = f"{place}, piece {piece.id}"
    if layout.code not in piece.boards:
        yield (
            f"{at}: it may be cut from {', '.join(piece.boards)}, but lies in {layout.stock} of {layout.code}"
        )
    sequence = building.sequence_of(piece)
    if sequence is None:
        return
    staging, carry = building.plan.staging, building.plan.max_carry_stages
    when = f"level {piece.level} has sequence {sequence}, its {layout.stock} stage {layout.stage}"
    if sequence < layout.stage:
        yield f"{at}: {when}, which is later"
    elif staging == "level" and sequence != layout.stage:
        yield f"{at}: {when}, but staged by level both are the same"
    elif carry is not None and building.carried(layout.stage, sequence) > carry:
        carried = building.carried(layout.stage, sequence)
        yield f"{at}: {when}, so it is carried by {carried}, more than max_carry_stages {carry}"


def _broken_boards(building: Building) -> Iterator[str]:
    bought: Counter[str] = Counter()
    for layout in building.plan.layouts:
        if is_bought(building, layout):
            bought[layout.stock] += layout.repeat
    for code in sorted({*bought, *building.plan.boards}):
        stated = building.plan.boards.get(code)
        product = building.products.get(code)
        if product is None or product.kind != "board":
            yield f"boards {code}: it is no board of the products"
        elif stated is None:
            yield f"boards {code}: the layouts buy {bought[code]}, but the plan does not count them"
        else:
            yield from _broken_packs(building, code, stated)
            if stated.count != bought[code]:
                yield f"boards {code}: the layouts buy {bought[code]}, but count is {stated.count}"
            if not 0 <= stated.lower_bound <= stated.count:
                yield (
                    f"boards {code}: lower_bound must be 0 to count ({stated.count}), but is"
                    f" {stated.lower_bound}"
                )
            if stated.optimal and stated.lower_bound != stated.count:
                yield (
                    f"boards {code}: optimal is said, but lower_bound is {stated.lower_bound} and count"
                    f" {stated.count}"
                )


def _broken_packs(building: Building, code: str, stated: BoardCount) -> Iterator[str]:
    """Packs of boards, allowance included, and their bound; 0 where a level is nominal, since simulation decides."""
    nominal = any(gap.basis == "nominal" for gap in building.project.gaps)
    rate, holds = building.allowance_of("board"), building.products[code].per_pack
    for field, boards, said in (
        ("packs", stated.count, stated.packs),
        ("lower_bound_packs", stated.lower_bound, stated.lower_bound_packs),
    ):
        due = 0 if nominal else ceil(Fraction(boards + ceil(boards * rate), holds))
        if said != due:
            yield f"boards {code}: {field} must be {due}, but is {said}"


def _broken_proofs(building: Building) -> Iterator[str]:
    counts = building.plan.boards
    proved = Counter(code for proof in building.plan.proofs for code in proof.codes)
    for code, count in counts.items():
        if proved[code] != 1 and (count.count or proved[code]):
            yield f"boards {code}: one proof must be about them, but {proved[code]} are"
    for proof in building.plan.proofs:
        place = f"proof of {', '.join(proof.codes)}"
        boards = sum(counts[code].count for code in proof.codes if code in counts)
        if proof.boards != boards:
            yield f"{place}: the plan buys {boards} of these boards, but it says {proof.boards}"
        if not 0 <= proof.lower_bound <= proof.boards:
            yield f"{place}: lower_bound must be 0 to boards ({proof.boards}), but is {proof.lower_bound}"
        if not 0 <= proof.lower_bound_cents <= proof.cost_cents:
            yield (
                f"{place}: lower_bound_cents must be 0 to cost_cents ({proof.cost_cents}), but is"
                f" {proof.lower_bound_cents}"
            )
        for field, least, most in (
            ("lower_bound_any_joints", proof.lower_bound_any_joints, proof.lower_bound),
            ("lower_bound_cents_any_joints", proof.lower_bound_cents_any_joints, proof.lower_bound_cents),
        ):
            if least is not None and not 0 <= least <= most:
                yield (
                    f"{place}: {field} must be 0 to the bound for these joints ({most}), since they are among all"
                    f" joints, but is {least}"
                )
        exact = sum(
            Fraction(
                counts[code].count * cents_of(building.products[code].price), building.products[code].per_pack
            )
            for code in proof.codes
            if code in counts and code in building.products
        )
        if not 0 <= proof.cost_cents - exact < 1:
            yield f"{place}: the boards cost {figure(exact, '.2f')} cents, but it says {proof.cost_cents}"
        by_number = proof.lower_bound == proof.boards
        by_cost = proof.lower_bound_cents == proof.cost_cents
        if proof.optimal and not (by_number if len(proof.codes) == 1 else by_cost):
            yield (
                f"{place}: optimal is said, but the bounds are {proof.lower_bound} of"
                f" {proof.boards} boards and"
                f" {proof.lower_bound_cents} of {proof.cost_cents} cents"
            )
        single = counts.get(proof.codes[0]) if len(proof.codes) == 1 else None
        if single and (single.lower_bound, single.optimal) != (proof.lower_bound, proof.optimal):
            yield (
                f"{place}: lower_bound {proof.lower_bound}, optimal {proof.optimal}, but boards says"
                f" {single.lower_bound}, {single.optimal}"
            )
