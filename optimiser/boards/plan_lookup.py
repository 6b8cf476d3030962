"""What cutting board by board looks up of a plan: each piece's delivery, level and end widths, and the sizes kept."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Protocol

from optimiser.model.project import Project
from optimiser.model.sizes import Size
from optimiser.model.staging import DeliverySequence


class PieceOfLevel(Protocol):
    """What the sequence asks of a piece: a `PlannedPiece` tells it."""

    @property
    def id(self) -> str: ...
    @property
    def level(self) -> str: ...
    @property
    def cut_width_start_mm(self) -> int: ...
    @property
    def cut_width_end_mm(self) -> int: ...


class SizeLeft(Protocol):
    """A size that is kept when a board leaves it: a `LeftOver` and a `UsableLeftOver` both tell it."""

    @property
    def code(self) -> str: ...
    @property
    def stage(self) -> DeliverySequence: ...
    @property
    def length_mm(self) -> int: ...
    @property
    def width_mm(self) -> int: ...


@dataclass(frozen=True)
class PlanLookup:
    """What is looked up of a plan: the delivery, level and end widths of each piece, and the sizes kept."""

    stage_of: Mapping[str, DeliverySequence]
    level_of: Mapping[str, str]
    ends_of: Mapping[str, tuple[int, int]]
    place_of_level: Mapping[str, int]
    kept_sizes: frozenset[tuple[str, DeliverySequence, Size]]

    @classmethod
    def of(
        cls, project: Project, pieces: Iterable[PieceOfLevel], left_over: Iterable[SizeLeft]
    ) -> PlanLookup:
        """Of pieces of the project's levels and the sizes that are kept; KeyError for a level that it does not have."""
        sequence = project.building.sequence_of_level
        pieces = list(pieces)
        return cls(
            stage_of={piece.id: sequence[piece.level] for piece in pieces},
            level_of={piece.id: piece.level for piece in pieces},
            ends_of={piece.id: (piece.cut_width_start_mm, piece.cut_width_end_mm) for piece in pieces},
            place_of_level=project.building.place_of_level,
            kept_sizes=frozenset(
                (item.code, item.stage, Size(item.length_mm, item.width_mm)) for item in left_over
            ),
        )

    def levels(self, ids: Iterable[str]) -> tuple[str, ...]:
        """The levels of pieces, in delivery order."""
        return tuple(sorted({self.level_of[name] for name in ids}, key=self.place_of_level.__getitem__))

    def twice_area(self, name: str, length_mm: int) -> int:
        """Twice a piece's face area, in mm2."""
        return sum(self.ends_of[name]) * length_mm
