"""One step of the work in millimetres: what is cut from a board or remainder now, and what stays of it.

The datum is the near corner of what is taken: of a remainder, the edge and end that were cut last.
"""

from __future__ import annotations

from optimiser.boards.cutting_steps import CuttingStep, StripCut
from optimiser.model import remainder as model
from optimiser.writing.drawing.laid_strips import Rest, Row, in_order, lay_rows
from optimiser.writing.drawing.placed_board import BoardCuts, PlacedPiece, Remainder
from optimiser.writing.drawing.plan_index import PlanIndex


def step_cuts(index: PlanIndex, step: CuttingStep) -> BoardCuts:
    """Where everything lies that is cut in a step, its cuts in order, and the remainders under their names."""
    kerf = index.plan.project.building.cutting_rules_of(step.code).kerf_mm
    strips, remainders, cuts = lay_rows(
        index,
        kerf,
        step.length_mm,
        step.width_mm,
        [_row(index, strip) for strip in step.strips],
        lambda length, width: _rest(index, step.rest, step.edge is not None and step.edge.keep),
    )
    kind = step.taken.kind if step.taken else "board"
    ends = None
    if step.taken and step.taken.width_start_mm is not None and step.taken.width_end_mm is not None:
        ends = step.taken.width_start_mm, step.taken.width_end_mm
        remainders = _beside(strips[0].pieces[0], ends)
        cuts = tuple(cut for cut in cuts if cut.kind in ("slant", "trim") and (cut.at_mm, cut.to_mm) != ends)
    return BoardCuts(
        stock=index.text(step.stock),
        code=index.text(step.code),
        offcut=step.on_site,
        level=", ".join(index.text(level) for level in step.levels),
        length_mm=step.length_mm,
        width_mm=step.width_mm,
        kerf_mm=kerf,
        strips=strips,
        remainders=remainders,
        cuts=in_order(cuts),
        name=step.name,
        kind=kind,
        remainder=step.taken is not None,
        ready=not any(index.is_forecast(piece) for piece in step.pieces),
        ends_mm=ends,
    )


def _row(index: PlanIndex, strip: StripCut) -> Row:
    halves = {
        number: _rest(index, half, False) for number, half in enumerate(strip.halves) if half is not None
    }
    return Row(
        strip.strip,
        strip.width_mm,
        strip.slots,
        strip.numbers,
        strip.pieces_in_all == 1,
        lambda length, width: _rest(index, strip.rest, strip.end is not None and strip.end.keep),
        halves,
    )


def _rest(index: PlanIndex, part: model.Remainder | None, keep: bool) -> Rest:
    if part is None:
        return Rest(keep=keep)
    return Rest(False, part.name, index.text(part.waits_for), part.size)


def _beside(piece: PlacedPiece, ends: tuple[int, int]) -> tuple[Remainder, ...]:
    """The sliver between a piece and the slant of the half pair that it is cut from."""
    wider = max(ends[0] - piece.width_left_mm, ends[1] - piece.width_right_mm)
    if wider <= 0:
        return ()
    _, _, (right, high_right), (left, high_left) = piece.corners
    corners = ((left, high_left), (right, high_right), (right, ends[1]), (left, ends[0]))
    return (Remainder(corners, piece.length_mm, wider, False),)
