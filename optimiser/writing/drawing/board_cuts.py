"""One cutting layout in millimetres: where each piece lies on its board, each cut in order, what remains."""

from __future__ import annotations

from dataclasses import replace

from optimiser.boards.delivery_order import slots_of
from optimiser.cutting.problem import CuttingPattern
from optimiser.writing.drawing.laid_strips import Rest, Row, in_order, lay_rows
from optimiser.writing.drawing.placed_board import BoardCuts, Cut
from optimiser.writing.drawing.plan_index import PlanIndex


def board_cuts(index: PlanIndex, layout: CuttingPattern) -> BoardCuts:
    """Where everything lies on a layout's whole board, and its cuts, delivery by delivery, in the order of work.

    With a delivery first the rips from the datum edge, each strip as long as the board; then each strip's
    cross-cuts from the datum end; then the slants of tapered pieces; then what is trimmed off a piece narrower
    than its strip.
    """
    length, width = index.stock_size(layout)

    def rest_of(rest_length: int, rest_width: int) -> Rest:
        code = layout.code or layout.stock
        return Rest(keep=(code, layout.stage, rest_length, rest_width) in index.kept_sizes)

    rows = [
        Row(
            number,
            strip.width_mm,
            slots_of(strip),
            tuple(range(1, len(strip.pieces) + 1)),
            len(strip.pieces) == 1,
            rest_of,
        )
        for number, strip in enumerate(layout.strips)
    ]
    strips, remainders, cuts = lay_rows(index, index.kerf_of(layout), length, width, rows, rest_of)
    opened = index.opened_with(layout)
    needed = {
        piece.place: max(index.stage_of(piece.id, opened), opened)
        for strip in strips
        for piece in strip.pieces
    }
    first = {
        strip.letter: min(needed[piece.place] for piece in strip.pieces) for strip in strips if strip.pieces
    }
    at_cross: dict[str, list[int]] = {
        strip.letter: [
            min(index.stage_of(piece.id, opened) for piece in slot)
            for slot in slots_of(layout.strips[number])
        ]
        for number, strip in enumerate(strips)
    }

    def stage_of(cut: Cut) -> int:
        if cut.kind == "rip":
            return first[cut.strip]
        if cut.kind == "cross-cut":
            return max(opened, at_cross[cut.strip].pop(0))
        return needed[cut.place]

    staged = sorted(((stage_of(cut), cut) for cut in cuts), key=lambda item: item[0])
    return BoardCuts(
        stock=index.text(layout.stock),
        code=index.text(layout.code or layout.stock),
        offcut=index.is_offcut(layout),
        level=index.text(index.level_of(layout)),
        length_mm=length,
        width_mm=width,
        kerf_mm=index.kerf_of(layout),
        strips=tuple(
            replace(strip, pieces=tuple(replace(p, waits=needed[p.place] > opened) for p in strip.pieces))
            for strip in strips
        ),
        remainders=remainders,
        cuts=in_order([cut for _, cut in staged]),
        ready=not any(index.is_forecast(piece.id) for strip in layout.strips for piece in strip.pieces),
    )
