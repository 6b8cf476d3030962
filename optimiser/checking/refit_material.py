"""A refit's boards: the recut's layouts, the material on hand, and the account to the square millimetre."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from fractions import Fraction

from optimiser.checking.building import Building
from optimiser.checking.figures import figure
from optimiser.checking.material import wanted_of
from optimiser.checking.remainders import claims_not_matched
from optimiser.checking.strips import Sheet, broken_rules_of_layout
from optimiser.cutting.problem import CuttingPattern
from optimiser.model.plan import Plan
from optimiser.model.project import Project
from optimiser.model.refit import Refit

Sizes = Counter[tuple[int, int]]


def broken_rules_of_recut(refit: Refit, plan: Plan, building: Building) -> Iterator[str]:
    """Each place that is re-cut is cut once, from a board it may be cut from, in time; material is there."""
    materials = {item.id: item for item in refit.materials}
    wanted = {
        item.place: building.pieces[item.place] for item in refit.recut if item.place in building.pieces
    }
    windows = {name: wanted_of(piece) for name, piece in wanted.items()}
    cut: Counter[str] = Counter()
    used: Counter[str] = Counter()
    for number, layout in enumerate(refit.layouts, start=1):
        place = f"recut layout {number}"
        sheet = _sheet(layout, refit, building)
        if sheet is None:
            yield f"{place}: {layout.stock!r} is neither a board of the products nor material on hand"
        used[layout.stock] += layout.repeat
        trim = building.rules_of_cutting(layout.code).trim
        yield from broken_rules_of_layout(place, layout, sheet, trim, windows)
        code = materials[layout.stock].code if layout.stock in materials else layout.stock
        if layout.code != code:
            yield f"{place}: its code must be {code}, but is {layout.code}"
        for one in (one for strip in layout.strips for one in strip.pieces):
            cut[one.id] += layout.repeat
            piece = wanted.get(one.id)
            if piece is None:
                yield f"{place}, piece {one.id}: it is not among the places that are re-cut"
                continue
            sequence = building.sequence_of(piece)
            if layout.code not in piece.boards:
                yield f"{place}, piece {one.id}: it may be cut from {', '.join(piece.boards)}"
            if sequence is not None and sequence < layout.stage:
                yield f"{place}, piece {one.id}: it is needed with {sequence}, but cut with {layout.stage}"
    for item in refit.recut:
        if cut[item.place] != 1:
            yield f"place {item.place}: it must be re-cut once, but is cut {cut[item.place]} times"
    for name, material in materials.items():
        if used[name] > material.quantity:
            yield f"{name}: there are {material.quantity}, but {used[name]} are cut"
    yield from _broken_materials(refit, plan)


def _sheet(layout: CuttingPattern, refit: Refit, building: Building) -> Sheet | None:
    kerf = building.rules_of_cutting(layout.code).kerf_mm
    for item in refit.materials:
        if item.id == layout.stock:
            return Sheet(item.length_mm, item.width_mm, kerf)
    product = building.products.get(layout.stock)
    if product is None or product.kind != "board":
        return None
    return Sheet(product.length_mm, product.width_mm, kerf)


def _broken_materials(refit: Refit, plan: Plan) -> Iterator[str]:
    """Material on hand really remains: of boards that are cut, of the stock, or of a shortened piece."""
    claimed: dict[str, Sizes] = {}
    remain: dict[str, Sizes] = {}
    for item in refit.materials:
        claimed.setdefault(item.code, Counter())[item.length_mm, item.width_mm] += item.quantity
    cut = {piece.id: piece for piece in plan.pieces if piece.level in refit.cut_levels}
    before = Building(plan.project, plan)
    rows = {f"stock-{number}": row for number, row in enumerate(plan.project.stock, start=1)}
    left = Counter({name: row.quantity for name, row in rows.items()})
    for layout in plan.layouts:
        names = {piece.id for strip in layout.strips for piece in strip.pieces}
        if names.isdisjoint(cut):
            continue
        left[layout.stock] -= layout.repeat if layout.stock in rows else 0
        length, width = _size(plan, layout)
        kerf = before.rules_of_cutting(layout.code).kerf_mm
        here = remain.setdefault(layout.code, Counter())
        for strip in layout.strips:
            if not any(piece.id in cut for piece in strip.pieces):
                continue
            width -= strip.width_mm + kerf
            end, pair_cut = length, False
            for piece in strip.pieces:
                if not piece.head_to_tail:
                    pair_cut = piece.id in cut
                    end -= (piece.length_mm + kerf) if pair_cut else 0
                elif piece.id in cut and not pair_cut:
                    end -= piece.length_mm + kerf
            if end > 0:
                here[end, strip.width_mm] += layout.repeat
        if width > 0:
            here[length, width] += layout.repeat
    for name, number in left.items():
        if name in rows and number > 0:
            row = rows[name]
            remain.setdefault(row.code, Counter())[row.length_mm, row.width_mm] += number
    code_of = {p.id: layout.code for layout in plan.layouts for s in layout.strips for p in s.pieces}
    for reuse in (*refit.stays, *refit.moves):
        own = cut.get(reuse.piece)
        if own is not None and reuse.cut_to_mm is not None:
            end = own.length_mm - reuse.cut_to_mm
            narrow = min(own.cut_width_start_mm, own.cut_width_end_mm)
            remain.setdefault(code_of[own.id], Counter())[end, narrow] += 1
    for code, sizes in sorted(claimed.items()):
        for (length, width), missing in claims_not_matched(sizes, remain.get(code, Counter())):
            yield f"material {length} x {width} mm of {code}: {missing} of it do not remain of any board"


def _size(plan: Plan, layout: CuttingPattern) -> tuple[int, int]:
    for number, row in enumerate(plan.project.stock, start=1):
        if layout.stock == f"stock-{number}":
            return row.length_mm, row.width_mm
    for product in plan.project.products:
        if product.code == layout.stock and product.kind == "board":
            return product.length_mm, product.width_mm
    return 0, 0


def broken_rules_of_account(refit: Refit, plan: Plan, survey: Project) -> Iterator[str]:
    """Bought + stock + ordered = fitted + re-used + re-cut + kept + left over + uncut + scrap, each recounted."""
    face = {
        product.code: product.length_mm * product.width_mm
        for product in (*plan.project.products, *survey.products)
        if product.kind == "board"
    }
    closed = set(refit.fitted_levels)
    reused = {reuse.place for reuse in (*refit.stays, *refit.moves)}
    areas: Counter[str] = Counter()
    for piece in refit.pieces:
        twice = piece.length_mm * (piece.cut_width_start_mm + piece.cut_width_end_mm)
        kind = "fitted" if piece.level in closed else "reused" if piece.id in reused else "recut"
        areas[kind] += twice
    kept = sum(item.length_mm * (item.width_start_mm + item.width_end_mm) for item in refit.kept_pieces)
    account = refit.account
    for field, due in (
        ("bought_mm2", sum(face.get(x.code, 0) * x.packs * x.per_pack for x in plan.order.lines)),
        ("stock_mm2", sum(row.length_mm * row.width_mm * row.quantity for row in plan.project.stock)),
        ("ordered_mm2", sum(face.get(x.code, 0) * x.packs * x.per_pack for x in refit.order.lines)),
        ("fitted_mm2", Fraction(areas["fitted"], 2)),
        ("reused_mm2", Fraction(areas["reused"], 2)),
        ("recut_mm2", Fraction(areas["recut"], 2)),
        ("kept_pieces_mm2", Fraction(kept, 2)),
        ("left_over_mm2", sum(x.length_mm * x.width_mm * x.quantity for x in refit.left_over)),
        ("uncut_boards_mm2", sum(face.get(code, 0) * n for code, n in refit.uncut_boards.items())),
    ):
        if not 0 <= due - getattr(account, field) < 1:
            yield f"account: {field} must be {figure(due, '.10g')}, but is {getattr(account, field)}"
    come = account.bought_mm2 + account.stock_mm2 + account.ordered_mm2
    gone = (
        account.fitted_mm2
        + account.reused_mm2
        + account.recut_mm2
        + account.kept_pieces_mm2
        + account.left_over_mm2
        + account.uncut_boards_mm2
        + account.scrap_mm2
    )
    if come != gone:
        yield f"account: {come} mm2 came in, but {gone} mm2 are accounted for"
    if account.scrap_mm2 < 0 or account.reworked_mm2 < 0:
        yield "account: scrap must not be negative"
