"""Laid pieces on their way through the plan: what the cutting needs of them, and what the plan says of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from optimiser.accessories import brackets_of
from optimiser.cutting_stages import PieceToCut
from optimiser.joints import LaidPiece
from optimiser.plan import NotPlanned, PlannedPiece
from optimiser.project import Project


def piece_id(piece: LaidPiece) -> str:
    """The run and the piece's number from the run's start: L01-N-003. Unique, since runs are."""
    return f"{piece.run}-{piece.index:03d}"


def piece_to_cut(project: Project, piece: LaidPiece) -> PieceToCut:
    """A piece as the cutting needs it. A tapered one may lie in any strip as wide as its wider end, since it
    is cut along a slant anyway."""
    if not piece.tapered:
        width_max, start, end = piece.width_max_mm, None, None
    else:
        width_max = max(project.product(code).width_mm or 0 for code in piece.boards)
        start, end = piece.width_start_mm, piece.width_end_mm
    return PieceToCut(
        id=piece_id(piece),
        level=piece.level,
        boards=piece.boards,
        length_mm=piece.length_mm,
        width_min_mm=piece.width_min_mm,
        width_max_mm=width_max,
        width_start_mm=start,
        width_end_mm=end,
    )


def planned_pieces(
    project: Project, laid: Sequence[LaidPiece], cut_widths: Mapping[str, tuple[int, int]]
) -> tuple[tuple[PlannedPiece, ...], tuple[NotPlanned, ...]]:
    """The pieces with their brackets, and where no bracket can stand.

    `cut_widths`: width at the start and the end, in mm, by piece id, as the cutting chose it; a piece without one,
    and a tapered one that is given none of its own, has the least that it may have.
    """
    pieces: list[PlannedPiece] = []
    without: list[NotPlanned] = []
    for piece, found in zip(laid, brackets_of(project, laid), strict=True):
        if found.not_planned is not None:
            without.append(found.not_planned)
        name = piece_id(piece)
        start, end = cut_widths.get(name, (piece.width_start_mm, piece.width_end_mm))
        pieces.append(
            PlannedPiece(
                id=name,
                level=piece.level,
                run=piece.run,
                from_mm=piece.from_mm,
                to_mm=piece.to_mm,
                gap_min_mm=piece.gap_min_mm,
                gap_max_mm=piece.gap_max_mm,
                width_min_mm=piece.width_min_mm,
                width_max_mm=piece.width_max_mm,
                cut_width_start_mm=start,
                cut_width_end_mm=end,
                boards=piece.boards,
                bracket=found.bracket,
                brackets_at_mm=found.positions_mm,
                notches_at_mm=tuple(mullion - piece.from_mm for mullion in piece.mullions_mm),
                mullions_at_mm=piece.mullions_mm,
                basis=piece.basis,
            )
        )
    return tuple(pieces), tuple(without)
