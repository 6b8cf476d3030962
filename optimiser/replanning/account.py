"""Where all board went in a refit, to the square millimetre, scrap added up where it falls."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from optimiser.model.plan import Plan
from optimiser.model.planned_pieces import PlannedPiece
from optimiser.model.project import Project
from optimiser.model.refit import Account, KeptPiece, Reuse
from optimiser.replanning.inventory import Inventory
from optimiser.replanning.recut import RecutResult
from optimiser.replanning.supplement import units_bought


def account(
    plan: Plan,
    survey: Project,
    inventory: Inventory,
    reuses: Iterable[Reuse],
    kept: Sequence[KeptPiece],
    result: RecutResult,
    pieces: Sequence[PlannedPiece],
    fitted: Sequence[PlannedPiece],
    units: Counter[str],
    uncut: dict[str, int],
) -> Account:
    """Every board in and out: `pieces` are those of open places, `units` what is ordered on top.

    Scrap is the sum of what cutting the plan lost, what reworking cut pieces lost, and what the recut lost; that in
    and out agree is therefore a check of all three. Halves of a square millimetre (tapers) are rounded down in
    what is fitted and come to the scrap.
    """
    face = {board.code: board.size.area_mm2 for board in (*plan.project.boards, *survey.boards)}
    area_of = {item.id: item.size.area_mm2 for item in result.materials}
    cut_before = {piece.id: piece for piece, _ in inventory.pieces}
    reuses = list(reuses)
    reused_places = {reuse.place for reuse in reuses}

    reused = sum(piece.twice_area_mm2 for piece in pieces if piece.id in reused_places)
    recut = sum(piece.twice_area_mm2 for piece in pieces if piece.id not in reused_places)
    staying = sum(item.length_mm * (item.width_start_mm + item.width_end_mm) for item in kept)
    closed = sum(piece.twice_area_mm2 for piece in fitted)

    ends = sum(area for name, area in area_of.items() if name.startswith("end-of-"))
    reworked = sum(cut_before[reuse.piece].twice_area_mm2 for reuse in reuses) - reused - 2 * ends

    unused = sum(area_of[item.id] * item.quantity for item in result.materials)
    cut_up = 0
    for layout in result.layouts:
        area = area_of.get(layout.stock)
        unused -= layout.repeat * (area or 0)
        cut_up += layout.repeat * (face[layout.stock] if area is None else area)
    left_over = sum(item.length_mm * item.width_mm * item.quantity for item in result.left_over)
    lost_anew = 2 * (cut_up - (left_over - unused)) - recut

    parts = closed, reused, recut, staying
    halves = sum(part % 2 for part in parts)
    return Account(
        bought_mm2=sum(face[code] * number for code, number in units_bought(plan).items() if code in face),
        stock_mm2=sum(row.size.area_mm2 * row.quantity for row in plan.project.stock),
        ordered_mm2=sum(face[code] * number for code, number in units.items() if code in face),
        fitted_mm2=closed // 2,
        reused_mm2=reused // 2,
        recut_mm2=recut // 2,
        kept_pieces_mm2=staying // 2,
        left_over_mm2=left_over,
        uncut_boards_mm2=sum(face[code] * number for code, number in uncut.items()),
        scrap_mm2=(inventory.cutting_scrap_twice_mm2 + reworked + lost_anew + halves) // 2,
        reworked_mm2=reworked // 2,
    )
