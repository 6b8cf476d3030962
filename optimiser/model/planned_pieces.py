"""The pieces of a plan, where they meet, what is not planned, and brackets that do not stand as the detail says."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import Literal

from optimiser.model.immutable import Immutable

PieceStatus = Literal["planned", "cut", "fitted"]


class Notch(Immutable):
    """The recess of a piece around a mullion: its middle from the piece's own start, its width along the edge and its
    depth from the facade side into the gap, as the mullion was measured; None where it was not."""

    at_mm: int
    width_mm: int | None = None
    depth_mm: int | None = None

    @property
    def size(self) -> str:
        """'60 x 45' (width by depth), '60 wide', '45 deep', or nothing."""
        if self.width_mm is not None and self.depth_mm is not None:
            return f"{self.width_mm} x {self.depth_mm}"
        if self.width_mm is not None:
            return f"{self.width_mm} wide"
        return "" if self.depth_mm is None else f"{self.depth_mm} deep"

    @property
    def words(self) -> str:
        """'610 (60 x 45)': where its middle is, and how wide and deep it is."""
        return notches_in_words((self,))


def notches_in_words(notches: Sequence[Notch]) -> str:
    """'305, 905 (60 x 45)': the middles of notches and their width by depth, in mm; '' of none."""
    found = []
    for size, alike in groupby(notches, key=lambda notch: notch.size):
        middles = ", ".join(str(notch.at_mm) for notch in alike)
        found.append(f"{middles} ({size})" if size else middles)
    return "; ".join(found)


class PlannedPiece(Immutable):
    """One piece of board in its place. `from_mm`, `to_mm` and `mullions_at_mm` are measured from the run's
    start; `brackets_at_mm`, `notches_at_mm` and `notches` from the piece's own start.

    `cut_width_start_mm` differs from `cut_width_end_mm` only for a tapered piece. [`width_min_mm`,
    `width_max_mm`] is the compression window from which the cut width was chosen (for a tapered piece, both
    are its wider end).
    """

    id: str
    level: str
    run: str
    from_mm: int
    to_mm: int
    gap_min_mm: int
    gap_max_mm: int
    width_min_mm: int
    width_max_mm: int
    cut_width_start_mm: int
    cut_width_end_mm: int
    boards: tuple[str, ...]
    bracket: str | None
    brackets_at_mm: tuple[int, ...]
    notches_at_mm: tuple[int, ...]
    mullions_at_mm: tuple[int, ...]
    basis: Literal["measured", "nominal"] = "measured"
    status: PieceStatus = "planned"
    notches: tuple[Notch, ...] = ()

    @property
    def done(self) -> bool:
        """Whether it is cut, or fitted too: no pattern cuts it any more."""
        return self.status != "planned"

    @property
    def notch_words(self) -> str:
        """'305, 905 (60 x 45)': where its notches are and how wide and deep; '' without any."""
        return notches_in_words(self.notches or tuple(Notch(at_mm=at) for at in self.notches_at_mm))

    @property
    def notch_width_mm(self) -> int | None:
        """How wide its notches are along the edge, as the run's mullions; None without any, or where not measured."""
        return max((notch.width_mm for notch in self.notches if notch.width_mm is not None), default=None)

    @property
    def notch_depth_mm(self) -> int | None:
        """How deep its notches go from the facade into the gap; None without any, or where not measured."""
        return max((notch.depth_mm for notch in self.notches if notch.depth_mm is not None), default=None)

    @property
    def length_mm(self) -> int:
        """The piece's length along the slab edge."""
        return self.to_mm - self.from_mm

    @property
    def twice_area_mm2(self) -> int:
        """Twice the piece's area as it is cut: a tapered one's mean width may be half a millimetre."""
        return self.length_mm * (self.cut_width_start_mm + self.cut_width_end_mm)

    @property
    def tapered(self) -> bool:
        """Whether the two ends are cut to different widths."""
        return self.cut_width_start_mm != self.cut_width_end_mm


class NotPlanned(Immutable):
    """A stretch of a run that cannot be built as it stands: where, why, and what would fix it."""

    run: str
    level: str
    from_mm: int
    to_mm: int
    what: Literal["piece", "bracket"]
    reason: str
    mend: str


class PlannedJunction(Immutable):
    """The taped joint where `run` ends and the run that it `joins` begins, counted on the level of `run`.

    `gap_mm` is the wider of the two runs' gaps there, rounded up; `tape_mm` covers all taped faces.
    """

    run: str
    joins: str
    level: str
    gap_mm: int
    tape_mm: int


class MovedBracket(Immutable):
    """A bracket that a mullion keeps from its place, so that it stands `by_mm` farther than the detail says: from the
    end of its piece (`beyond` 'end distance') or from the bracket before it ('spacing'). `at_mm` is measured from the
    run's start; `mend` says what would mend it."""

    piece: str
    run: str
    level: str
    at_mm: int
    beyond: Literal["end distance", "spacing"]
    distance_mm: int
    by_mm: int
    mend: str

    def from_start(self, piece: PlannedPiece | None) -> bool:
        """Whether the distance is from its piece's start, and not from its end or the bracket before it."""
        return (
            piece is not None
            and self.beyond == "end distance"
            and self.at_mm - piece.from_mm == self.distance_mm
        )
