"""A remainder: the part of an opened board that waits on the rack for a later delivery."""

from __future__ import annotations

from fractions import Fraction
from typing import Literal

from optimiser.model.immutable import Immutable
from optimiser.model.staging import DeliverySequence

RemainderKind = Literal["board", "strip", "tapered"]


class Remainder(Immutable):
    """What is kept of a board, under one name from the cut that frees it to the cut that uses it.

    `kind` board: the rest of the full width, as long as the board; strip: the rest of a ripped strip; tapered:
    the second of a tapered pair, with the widths of its own start and end (`width_mm` is the wider one). All in
    mm. `board` is the board's name, `layout` the number of its layout (from 1), `cut_from` the board or remainder
    it was cut from. It is kept with the delivery `stage`, when `level` is cut, and cut again with the delivery
    `cut_stage`, when `waits_for` is; `pieces` are still to be cut from it.
    """

    name: str
    board: str
    layout: int
    code: str
    kind: RemainderKind
    length_mm: int
    width_mm: int
    width_start_mm: int | None = None
    width_end_mm: int | None = None
    cut_from: str
    stage: DeliverySequence
    level: str
    cut_stage: DeliverySequence
    waits_for: str
    pieces: int

    @property
    def area_mm2(self) -> Fraction:
        """Its face area, of a tapered one by the mean of its end widths."""
        if self.width_start_mm is None or self.width_end_mm is None:
            return Fraction(self.length_mm * self.width_mm)
        return Fraction((self.width_start_mm + self.width_end_mm) * self.length_mm, 2)

    @property
    def size(self) -> str:
        """'1200 x 410', of a tapered one '1200 x 181 to 166'."""
        if self.width_start_mm is None:
            return f"{self.length_mm} x {self.width_mm}"
        return f"{self.length_mm} x {self.width_start_mm} to {self.width_end_mm}"
