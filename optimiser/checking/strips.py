"""How one board is cut: strips across its width, pieces along each strip, tapered pairs head to tail."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from optimiser.cutting.problem import CutPiece, CuttingPattern, Strip


@dataclass(frozen=True)
class Wanted:
    """What a piece must be: its length, its window of widths, or the widths of its two ends (tapered)."""

    length_mm: int
    width_min_mm: int
    width_max_mm: int
    ends_mm: tuple[int, int] | None = None

    @property
    def wider_end_mm(self) -> int:
        """The width of its wider end; of a piece that is not tapered, the least width it may have."""
        return max(self.ends_mm) if self.ends_mm else self.width_min_mm


@dataclass(frozen=True)
class Sheet:
    """The board or offcut that a layout cuts up: its size and the saw's kerf."""

    length_mm: int
    width_mm: int
    kerf_mm: int


def lengths_taken(strip: Strip) -> tuple[int, ...]:
    """The lengths that a strip's pieces take one after the other; a tapered pair takes one."""
    return tuple(piece.length_mm for piece in strip.pieces if not piece.head_to_tail)


def broken_rules_of_layout(
    place: str, layout: CuttingPattern, sheet: Sheet | None, trim: bool, wanted: Mapping[str, Wanted]
) -> Iterator[str]:
    """The rules that one layout breaks by itself: sizes, kerfs, widths in their windows, pairs.

    `sheet` None: the stock is unknown, so only what needs no size is checked. Pieces that are not in `wanted`
    are left to the caller, who names them once.
    """
    if layout.repeat < 1:
        yield f"{place}: repeat must be at least 1, but is {layout.repeat}"
    if not any(strip.pieces for strip in layout.strips):
        yield f"{place}: no piece is cut from this {layout.stock}"
    kerf = sheet.kerf_mm if sheet else 0
    ripped = sum(strip.width_mm for strip in layout.strips) + kerf * max(0, len(layout.strips) - 1)
    if sheet and ripped > sheet.width_mm:
        yield (
            f"{place}: the strips must fit across the {layout.stock}, {sheet.width_mm} mm wide, but take"
            f" {ripped} mm with {kerf} mm kerf between neighbours"
        )
    for number, strip in enumerate(layout.strips, start=1):
        where = f"{place}, strip {number}"
        if strip.width_mm <= 0:
            yield f"{where}: its width must be above 0, but is {strip.width_mm} mm"
        lengths = lengths_taken(strip)
        taken = sum(lengths) + kerf * max(0, len(lengths) - 1)
        if sheet and taken > sheet.length_mm:
            yield (
                f"{where}: its pieces must fit along the {layout.stock}, {sheet.length_mm} mm long, but take"
                f" {taken} mm with {kerf} mm kerf between neighbours"
            )
        yield from _broken_rules_of_strip(where, strip, kerf, trim, wanted)


def _broken_rules_of_strip(
    where: str, strip: Strip, kerf: int, trim: bool, wanted: Mapping[str, Wanted]
) -> Iterator[str]:
    before: CutPiece | None = None
    for piece in strip.pieces:
        at = f"{where}, piece {piece.id}"
        if piece.length_mm <= 0 or piece.width_mm <= 0:
            yield f"{at}: its size must be above 0, but is {piece.length_mm} x {piece.width_mm} mm"
        if piece.width_mm > strip.width_mm:
            yield f"{at}: it is {piece.width_mm} mm wide, but its strip only {strip.width_mm} mm"
        due = wanted.get(piece.id)
        if due is not None:
            yield from _broken_rules_of_piece(at, piece, strip, trim, due)
        if piece.head_to_tail:
            yield from _broken_rules_of_pair(at, before, piece, strip, kerf, wanted)
        before = piece


def _broken_rules_of_piece(at: str, piece: CutPiece, strip: Strip, trim: bool, due: Wanted) -> Iterator[str]:
    if piece.length_mm != due.length_mm:
        yield f"{at}: it must be {due.length_mm} mm long, but is cut {piece.length_mm} mm"
    if due.ends_mm is not None:
        if piece.width_mm != due.wider_end_mm:
            yield (
                f"{at}: a tapered piece is listed with its wider end, {due.wider_end_mm} mm, but stands at"
                f" {piece.width_mm} mm"
            )
        if strip.width_mm < due.wider_end_mm:
            yield (
                f"{at}: its wider end is {due.wider_end_mm} mm, but its strip is only"
                f" {strip.width_mm} mm wide"
            )
        return
    window = f"{due.width_min_mm} to {due.width_max_mm} mm"
    if not due.width_min_mm <= piece.width_mm <= due.width_max_mm:
        yield f"{at}: its width must be {window}, but is {piece.width_mm} mm"
    if strip.width_mm < due.width_min_mm:
        yield f"{at}: its width must be {window}, but its strip is only {strip.width_mm} mm wide"
    if not trim and piece.width_mm != strip.width_mm:
        yield (
            f"{at}: without trimming a piece is as wide as its strip, {strip.width_mm} mm, but stands at"
            f" {piece.width_mm} mm"
        )


def _broken_rules_of_pair(
    at: str, first: CutPiece | None, second: CutPiece, strip: Strip, kerf: int, wanted: Mapping[str, Wanted]
) -> Iterator[str]:
    if first is None or first.head_to_tail:
        yield f"{at}: head to tail needs a single piece just before it in the strip, and there is none"
        return
    if first.length_mm != second.length_mm:
        yield (
            f"{at}: head to tail with {first.id} needs equal lengths, but they are {first.length_mm} and"
            f" {second.length_mm} mm"
        )
    if first.id not in wanted or second.id not in wanted:
        return
    ends, turned = wanted[first.id].ends_mm, wanted[second.id].ends_mm
    if ends is None or turned is None:
        yield f"{at}: only two tapered pieces lie head to tail, but {first.id} or {second.id} is not tapered"
        return
    # Turned end for end, the second's end lies beside the first's start; a saw cut parts them.
    together = max(ends[0] + turned[1], ends[1] + turned[0]) + kerf
    if together > strip.width_mm:
        yield (
            f"{at}: head to tail with {first.id} it takes {together} mm with the kerf, but the strip is"
            f" {strip.width_mm} mm wide"
        )
