"""Brackets that a mullion moves farther from the piece's end, or from each other, than the detail says.

Where a bracket's usual place is within `bracket_to_mullion_min_mm` of a mullion it is moved clear of it. Where that
leaves the piece's end more than `bracket_end_distance_mm` away, or two brackets more than `bracket_spacing_max_mm`
apart, the layout is not the one that was tested: each such place is listed, with what would mend it. The tested
detail, local code and a licensed practitioner decide.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Literal

from optimiser.model.planned_pieces import MovedBracket, PlannedPiece
from optimiser.model.project import Detail, Project


def moved_brackets(project: Project, pieces: Sequence[PlannedPiece]) -> tuple[MovedBracket, ...]:
    """The brackets that stand beyond the end distance or the spacing of their detail, in the order of the pieces."""
    building = project.building
    return tuple(
        moved
        for piece in pieces
        if piece.brackets_at_mm
        for moved in _of_piece(piece, building.detail_of(piece.run), building.runs[piece.run].mullions_mm)
    )


def _of_piece(piece: PlannedPiece, detail: Detail, mullions_mm: Sequence[int]) -> Iterator[MovedBracket]:
    at, end = piece.brackets_at_mm, detail.bracket_end_distance_mm

    def beyond_end(position: int, distance: int, which: str) -> MovedBracket:
        wider = f"a detail tested with a bracket {distance} mm from the {which} of a piece (bracket_end_distance_mm)"
        return _moved(
            piece, position, "end distance", distance, end, wider, _cause(piece, detail, mullions_mm)
        )

    if at[0] > end:
        yield beyond_end(at[0], at[0], "start")
    for left, right in pairwise(at):
        if right - left > detail.bracket_spacing_max_mm:
            wider = f"a detail tested with brackets {right - left} mm apart (bracket_spacing_max_mm)"
            cause, most = _cause(piece, detail, mullions_mm), detail.bracket_spacing_max_mm
            yield _moved(piece, right, "spacing", right - left, most, wider, cause)
    if piece.length_mm - at[-1] > end:
        yield beyond_end(at[-1], piece.length_mm - at[-1], "end")


def _moved(
    piece: PlannedPiece,
    position_mm: int,
    beyond: Literal["end distance", "spacing"],
    distance_mm: int,
    most_mm: int,
    wider: str,
    cause: str,
) -> MovedBracket:
    """A bracket at a position of its piece, the detail that would let it stand so, and what keeps it from its place."""
    ways = f"{wider}, or {cause}" if cause else wider
    return MovedBracket(
        piece=piece.id,
        run=piece.run,
        level=piece.level,
        at_mm=piece.from_mm + position_mm,
        beyond=beyond,
        distance_mm=distance_mm,
        by_mm=distance_mm - most_mm,
        mend=f"{ways}; else the licensed practitioner decides",
    )


def _cause(piece: PlannedPiece, detail: Detail, mullions_mm: Sequence[int]) -> str:
    """The mullion that keeps a bracket of the piece from its usual place, and how near to it one would have to be
    tested; brackets beside it follow within the spacing. '' where none does."""
    end, number = detail.bracket_end_distance_mm, len(piece.brackets_at_mm)
    between = piece.length_mm - 2 * end
    usual = (
        [piece.from_mm + piece.length_mm // 2]
        if number == 1 or between <= 0
        else [piece.from_mm + end + between * place // (number - 1) for place in range(number)]
    )
    distance, mullion, place = min(
        ((abs(mullion - place), mullion, place) for mullion in mullions_mm for place in usual),
        default=(detail.bracket_to_mullion_min_mm, 0, 0),
    )
    if distance >= detail.bracket_to_mullion_min_mm:
        return ""
    near = f"{distance} mm from a mullion" if distance else "in line with a mullion, 0 mm from it"
    return (
        f"one tested with a bracket {near} (bracket_to_mullion_min_mm): the one at {mullion} mm keeps a bracket from"
        f" {place} mm"
    )
