"""The size of a rectangle of board: its length along the slab edge by its width, which is ripped into strips."""

from __future__ import annotations

from typing import NamedTuple


class Size(NamedTuple):
    """Length by width in whole mm. No rotation, ever: the fibres lie across the width, so the two never change places.

    A tuple, so that it unpacks, sorts and is a key like the pair that it is.
    """

    length_mm: int
    width_mm: int

    @property
    def area_mm2(self) -> int:
        """The face area in mm2."""
        return self.length_mm * self.width_mm

    def holds(self, other: Size) -> bool:
        """Whether a rectangle of the other size can be cut from one of this size."""
        return self.length_mm >= other.length_mm and self.width_mm >= other.width_mm
