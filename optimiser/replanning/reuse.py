"""Which cut pieces are used again and where: the most of them, then the most area, by an assignment with a proof."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from optimiser.joints.layout import LaidPiece
from optimiser.model.planned_pieces import PlannedPiece
from optimiser.model.project import Project
from optimiser.model.refit import KeptPiece, Reuse
from optimiser.replanning.assignment import Candidates, assign
from optimiser.replanning.fit import PieceKind, PlaceKind, rework

End = tuple[str, str, int, int]
"""What is cut off a shortened piece: the piece, its board's code, length and width in mm."""


@dataclass(frozen=True)
class Reused:
    """`fitted[place]` is the re-used piece there; `own` are the pieces that stay where they were meant to go; `kept`
    serve no place; `ends` are cut off shortened pieces. `most` pieces could be re-used at all and `most_area_mm2` is
    the most that so many can serve: both proved."""

    fitted: dict[str, Reuse]
    own: frozenset[str]
    kept: tuple[KeptPiece, ...]
    ends: tuple[End, ...]
    most: int
    most_area_mm2: int


def reuse_most(
    survey: Project, free: Sequence[tuple[PlannedPiece, str]], places: Sequence[LaidPiece]
) -> Reused:
    """The best use of cut pieces that are not fitted (`free`, each with its board's code) for a survey's places.

    Raises ArithmeticError when the assignment's proof does not hold: a fault of its solver.
    """
    rules_of = survey.building.cutting_rules_of
    at = {(place.run, place.from_mm, place.to_mm): number for number, place in enumerate(places)}
    kinds = [PieceKind.of(piece, code) for piece, code in free]
    place_kinds = [PlaceKind.of(place) for place in places]

    def loss(piece: object, place: object) -> int | None:
        assert isinstance(piece, PieceKind)
        assert isinstance(place, PlaceKind)
        found = rework(piece, place, rules_of(piece.code).trim)
        return None if found is None else found.loss_mm2

    assigned = assign(
        Candidates(
            piece_kinds=kinds,
            place_kinds=place_kinds,
            areas_mm2=[place.length_mm * max(place.width_start_mm, place.width_end_mm) for place in places],
            own=[at.get((piece.run, piece.from_mm, piece.to_mm), -1) for piece, _ in free],
            loss_mm2=loss,
        )
    )
    fitted: dict[str, Reuse] = {}
    own: set[str] = set()
    kept: list[KeptPiece] = []
    ends: list[End] = []
    for (piece, code), kind, number in zip(free, kinds, assigned.place_of, strict=True):
        if number < 0:
            kept.append(
                KeptPiece(
                    piece=piece.id,
                    code=code,
                    length_mm=piece.length_mm,
                    width_start_mm=piece.cut_width_start_mm,
                    width_end_mm=piece.cut_width_end_mm,
                )
            )
            continue
        place = places[number]
        found = rework(kind, place_kinds[number], rules_of(code).trim)
        assert found is not None
        if (piece.run, piece.from_mm, piece.to_mm) == (place.run, place.from_mm, place.to_mm):
            own.add(piece.id)
        fitted[place.id] = Reuse(
            piece=piece.id,
            place=place.id,
            level=place.level,
            run=place.run,
            from_mm=place.from_mm,
            to_mm=place.to_mm,
            cut_to_mm=place.length_mm if piece.length_mm > place.length_mm else None,
            trimmed=found.trimmed,
            width_start_mm=found.width_start_mm,
            width_end_mm=found.width_end_mm,
        )
        rest = piece.length_mm - place.length_mm - rules_of(code).kerf_mm
        if rest > 0:
            ends.append((piece.id, code, rest, min(piece.cut_width_start_mm, piece.cut_width_end_mm)))
    return Reused(fitted, frozenset(own), tuple(kept), tuple(ends), assigned.most, assigned.most_area_mm2)
