"""Brackets: the size by how far it reaches into the gap, the positions by ends, spacing and mullions."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise
from math import ceil, floor

from optimiser.checking.building import Building, named
from optimiser.checking.figures import figure
from optimiser.plan import PlannedPiece


def broken_rules_of_brackets(building: Building) -> Iterator[str]:
    """Every piece's bracket, or why it has none."""
    left_out: dict[str, list[tuple[int, int]]] = {}
    for entry in building.plan.not_planned:
        if entry.what == "bracket":
            left_out.setdefault(entry.run, []).append((entry.from_mm, entry.to_mm))
    for piece in building.plan.pieces:
        run = building.runs.get(piece.run)
        if run is None or not 0 <= piece.from_mm < piece.to_mm <= run.length_mm:
            continue  # the cover rules name it
        listed = any(
            (start < piece.to_mm and end > piece.from_mm) or piece.from_mm <= start == end <= piece.to_mm
            for start, end in left_out.get(piece.run, ())
        )
        if piece.bracket is None:
            yield from _broken_without(building, piece, listed)
        else:
            yield from _broken_positions(building, piece)
            yield from _broken_size(building, piece)
    for name, stretches in left_out.items():
        for start, end in stretches:
            if not any(
                piece.bracket is None and piece.from_mm <= end and piece.to_mm >= start
                for piece in building.along(name)
                if isinstance(piece, PlannedPiece)
            ):
                yield (
                    f"run {name}, {start} to {end} mm: listed as without bracket, but every"
                    " piece there has one"
                )


def usual_positions(building: Building, length: int) -> list[Fraction]:
    """Where the brackets of a piece stand when no mullion is in the way, from its start, before rounding.

    One in the middle up to twice the end distance; else one at the end distance from each end, and evenly
    between them as few as keep the spacing (common practice, no source; the numbers are the detail's).
    """
    end, spacing = building.detail.bracket_end_distance_mm, building.detail.bracket_spacing_max_mm
    if length <= 2 * end:
        return [Fraction(length, 2)]
    return _evenly(building, length, 1 - (2 * end - length) // spacing)


def _evenly(building: Building, length: int, count: int) -> list[Fraction]:
    """So many brackets, the outer ones at the end distance and the others evenly between; one in the middle."""
    end = building.detail.bracket_end_distance_mm
    if count == 1:
        return [Fraction(length, 2)]
    return [end + Fraction((length - 2 * end) * number, count - 1) for number in range(count)]


def _notches(building: Building, piece: PlannedPiece) -> list[int]:
    """The mullions near a piece, from its start: one just beyond an end is in the way too."""
    start, end = piece.from_mm, piece.to_mm
    near = building.detail.bracket_to_mullion_min_mm + 1
    return [m - start for m in building.runs[piece.run].mullions_mm if start - near <= m <= end + near]


def _broken_positions(building: Building, piece: PlannedPiece) -> Iterator[str]:
    detail, at = building.detail, piece.brackets_at_mm
    usual = usual_positions(building, piece.length_mm)
    if not at:
        yield f"{named(piece)}: bracket {piece.bracket} stands nowhere"
        return
    if list(at) != sorted(set(at)) or at[0] < 0 or at[-1] > piece.length_mm:
        yield f"{named(piece)}: brackets at {_listed(at)} must stand in order within its {piece.length_mm} mm"
        return
    notches, clear = _notches(building, piece), detail.bracket_to_mullion_min_mm
    for position in at:
        near = [notch for notch in notches if abs(position - notch) < clear]
        if near:
            yield (
                f"{named(piece)}: the bracket at {position} mm must be at least {clear}"
                " mm from every mullion,"
                f" but one stands at {near[0]} mm"
            )
    for left, right in pairwise(at):
        if right - left > detail.bracket_spacing_max_mm:
            yield (
                f"{named(piece)}: brackets at {left} and {right} mm are {right - left} mm apart, more than"
                f" {detail.bracket_spacing_max_mm} mm"
            )
    in_the_way = [_is_in_the_way(position, notches, clear) for position in usual]
    if not any(in_the_way):
        if len(at) != len(usual) or any(abs(p - u) >= 1 for p, u in zip(at, usual, strict=True)):
            yield (
                f"{named(piece)}: its brackets must stand at"
                f" {_listed([float(u) for u in usual])} mm, but stand"
                f" at {_listed(at)}"
            )
        return
    if piece.length_mm <= 2 * detail.bracket_end_distance_mm and len(at) > 1:
        yield f"{named(piece)}: with {piece.length_mm} mm it has one bracket, but it has {len(at)}"
        return
    yield from _moved_without_need(building, piece, _evenly(building, piece.length_mm, len(at)))


def _moved_without_need(building: Building, piece: PlannedPiece, due: list[Fraction]) -> Iterator[str]:
    """A mullion moves a bracket, and that one its neighbours where the spacing asks for it; nothing else."""
    at, spacing = piece.brackets_at_mm, building.detail.bracket_spacing_max_mm
    notches, clear = _notches(building, piece), building.detail.bracket_to_mullion_min_mm
    for number, (found, usual) in enumerate(zip(at, due, strict=True)):
        if abs(found - usual) < 1 or _is_in_the_way(usual, notches, clear):
            continue
        before = at[number - 1] if number else None
        after = at[number + 1] if number + 1 < len(at) else None
        if (before is None or before < usual <= before + spacing) and (
            after is None or after - spacing <= usual < after
        ):
            yield (
                f"{named(piece)}: a bracket must stand at {figure(usual)} mm, where no"
                " mullion is in the way,"
                f" but stands at {found} mm"
            )


def _is_in_the_way(position: Fraction, notches: list[int], clear: int) -> bool:
    """Whether a mullion keeps a bracket from this position, or from the whole millimetre beside it."""
    return any(abs(position - notch) < clear + (position.denominator != 1) for notch in notches)


def _reaches(building: Building, gaps: list[Fraction]) -> tuple[int, int]:
    """The shortest and the longest whole reach within the band of all these gaps; none when they cross."""
    least = Fraction(building.detail.bracket_insertion_min)
    most = Fraction(building.detail.bracket_insertion_max)
    return ceil(least * max(gaps)), floor(most * min(gaps))


def _broken_size(building: Building, piece: PlannedPiece) -> Iterator[str]:
    detail = building.detail
    product = building.products.get(piece.bracket or "")
    if product is None or product.kind != "bracket" or product.length_mm is None:
        yield f"{named(piece)}: {piece.bracket} is no bracket of the products"
        return
    if not piece.brackets_at_mm:
        return
    line = building.gap_lines[piece.run]
    gaps = [line.at(piece.from_mm + position) for position in piece.brackets_at_mm]
    reach = product.length_mm
    shortest, longest = _reaches(building, gaps)
    if not shortest <= reach <= longest:
        yield (
            f"{named(piece)}: bracket {product.code} reaches {reach} mm into gaps of"
            f" {_listed([round(float(gap), 2) for gap in gaps])} mm, outside {detail.bracket_insertion_min}"
            f" to {detail.bracket_insertion_max} of them"
        )
        return
    # A size whose insertion stays within the band along the whole piece may be preferred to a nearer one.
    along = _reaches(building, list(line.extremes(piece.from_mm, piece.to_mm)))
    if along[0] <= reach <= along[1]:
        shortest, longest = max(shortest, along[0]), min(longest, along[1])
    target = Fraction(detail.bracket_insertion)
    for code, other in building.bracket_reaches:
        if (
            other != reach
            and shortest <= other <= longest
            and all(abs(other - target * gap) < abs(reach - target * gap) for gap in gaps)
        ):
            yield (
                f"{named(piece)}: bracket {code} is nearer to {detail.bracket_insertion} of the gap than"
                f" {product.code} at every position"
            )
            return


def _broken_without(building: Building, piece: PlannedPiece, listed: bool) -> Iterator[str]:
    if piece.brackets_at_mm:
        yield f"{named(piece)}: it has no bracket, but positions {_listed(piece.brackets_at_mm)}"
    if not listed:
        yield f"{named(piece)}: it has no bracket and is not listed as not planned"
    usual = usual_positions(building, piece.length_mm)
    notches, clear = _notches(building, piece), building.detail.bracket_to_mullion_min_mm
    if any(position.denominator != 1 or _is_in_the_way(position, notches, clear) for position in usual):
        return
    line = building.gap_lines[piece.run]
    gaps = [line.at(piece.from_mm + int(position)) for position in usual]
    shortest, longest = _reaches(building, gaps)
    for code, reach in building.bracket_reaches:
        if shortest <= reach <= longest:
            yield f"{named(piece)}: it has no bracket, although {code} fits at every position"
            return


def _listed(positions: object) -> str:
    return (
        ", ".join(figure(position) for position in positions) if isinstance(positions, (list, tuple)) else ""
    )
