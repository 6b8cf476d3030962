"""Laid pieces into planned ones: with the widths that the cutting chose, their brackets and notches."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from optimiser.joints.layout import LaidPiece
from optimiser.model.planned_pieces import Notch, NotPlanned, PlannedPiece
from optimiser.model.project import Project
from optimiser.takeoff.bracket_choice import chosen_codes
from optimiser.takeoff.brackets import brackets_of


class PlannedPieces(NamedTuple):
    """The pieces with their brackets, where no bracket can stand, and by piece id the bracket sizes that fit, the
    nearest first."""

    pieces: tuple[PlannedPiece, ...]
    without_bracket: tuple[NotPlanned, ...]
    fitting: Mapping[str, tuple[str, ...]]


def planned_pieces(
    project: Project,
    laid: Sequence[LaidPiece],
    cut_widths: Mapping[str, tuple[int, int]],
    kept_brackets: Mapping[str, str] | None = None,
) -> PlannedPieces:
    """The pieces with their brackets.

    `cut_widths`: width at the start and the end, in mm, by piece id, as the cutting chose it; a piece without one,
    and a tapered one that is given none of its own, has the least that it may have. `kept_brackets`: sizes of an
    earlier plan by piece id, which stay where they still fit; the others are chosen as the detail's `bracket_choice`
    says.
    """
    pieces: list[PlannedPiece] = []
    without: list[NotPlanned] = []
    brackets = brackets_of(project, laid)
    kept = [(kept_brackets or {}).get(piece.id) for piece in laid]
    codes = chosen_codes(project, laid, brackets, kept)
    for piece, found, code in zip(laid, brackets, codes, strict=True):
        if found.not_planned is not None:
            without.append(found.not_planned)
        name, run = piece.id, project.building.runs[piece.run]
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
                bracket=code,
                brackets_at_mm=found.positions_mm,
                notches_at_mm=tuple(mullion - piece.from_mm for mullion in piece.mullions_mm),
                mullions_at_mm=piece.mullions_mm,
                basis=piece.basis,
                notches=tuple(
                    Notch(
                        at_mm=mullion - piece.from_mm,
                        width_mm=run.mullion_width_mm,
                        depth_mm=run.mullion_depth_mm,
                    )
                    for mullion in piece.mullions_mm
                ),
            )
        )
    fitting = {piece.id: found.fitting for piece, found in zip(laid, brackets, strict=True)}
    return PlannedPieces(tuple(pieces), tuple(without), fitting)
