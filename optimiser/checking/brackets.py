"""Brackets: the size by how far it reaches into the gap, the positions by ends, spacing and mullions."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from math import ceil, floor

from optimiser.checking.building import Building, named
from optimiser.checking.figures import figure
from optimiser.model.planned_pieces import PlannedPiece
from optimiser.model.project import Detail


def broken_rules_of_brackets(building: Building) -> Iterator[str]:
    """Every piece's bracket, or why it has none."""
    left_out: dict[str, list[tuple[int, int]]] = {}
    for entry in building.plan.not_planned:
        if entry.what == "bracket":
            left_out.setdefault(entry.run, []).append((entry.from_mm, entry.to_mm))
    for piece in building.plan.pieces:
        if piece.status == "fitted":
            continue  # its brackets are anchored: what was measured since does not move them
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


def broken_rules_of_bracket_choices(building: Building) -> Iterator[str]:
    """What the brackets of measured levels cost by each choice of sizes, as far as the plan's own pieces tell it."""
    plan = building.plan
    stated, bound = plan.bracket_choices, plan.bracket_lower_bound
    if not stated and bound is None:
        return
    if bound is None or set(stated) != {"nearest", "cheapest", "fewest_sizes"}:
        yield "bracket_choices: it must name nearest, cheapest and fewest_sizes, with bracket_lower_bound beside"
        return
    for choice, cost in stated.items():
        if cost < bound:
            yield f"bracket_choices: {choice} costs {cost}, less than bracket_lower_bound, {bound}"
        if cost < stated["cheapest"]:
            yield f"bracket_choices: {choice} costs {cost}, less than cheapest, {stated['cheapest']}"
    choices = {building.detail_of(run).bracket_choice for run in building.runs}
    if len(choices) != 1 or plan.record.events:
        return  # a mixture, or brackets kept from an earlier plan: no stated cost is the plan's own
    needed: dict[str, int] = {}
    for piece in plan.pieces:
        if piece.bracket is not None and piece.level not in building.forecast:
            needed[piece.bracket] = needed.get(piece.bracket, 0) + len(piece.brackets_at_mm)
    cost = sum((_packs_cost(building, code, number) for code, number in needed.items()), Decimal(0))
    (choice,) = choices
    if cost != stated[choice]:
        yield f"bracket_choices: {choice} must be {cost}, what the plan's own brackets cost, but is {stated[choice]}"


def _packs_cost(building: Building, code: str, number: int) -> Decimal:
    """Whole packs of so many brackets and the allowance on them, rounded up once, before price breaks."""
    product = building.products.get(code)
    if product is None:
        return Decimal(0)
    return (
        ceil(ceil(number * (1 + building.allowance_of("bracket"))) / Fraction(product.per_pack))
        * product.price
    )


def usual_positions(detail: Detail, length: int) -> list[Fraction]:
    """Where the brackets of a piece stand when no mullion is in the way, from its start, before rounding.

    One in the middle up to twice the end distance; else one at the end distance from each end, and evenly
    between them as few as keep the spacing (common practice, no source; the numbers are the detail's).
    """
    end, spacing = detail.bracket_end_distance_mm, detail.bracket_spacing_max_mm
    if length <= 2 * end:
        return [Fraction(length, 2)]
    return _evenly(detail, length, 1 - (2 * end - length) // spacing)


def _evenly(detail: Detail, length: int, count: int) -> list[Fraction]:
    """So many brackets, the outer ones at the end distance and the others evenly between; one in the middle."""
    end = detail.bracket_end_distance_mm
    if count == 1:
        return [Fraction(length, 2)]
    return [end + Fraction((length - 2 * end) * number, count - 1) for number in range(count)]


def _notches(building: Building, piece: PlannedPiece) -> list[int]:
    """The mullions near a piece, from its start: one just beyond an end is in the way too."""
    start, end = piece.from_mm, piece.to_mm
    near = building.detail_of(piece.run).bracket_to_mullion_min_mm + 1
    return [m - start for m in building.runs[piece.run].mullions_mm if start - near <= m <= end + near]


def _broken_positions(building: Building, piece: PlannedPiece) -> Iterator[str]:
    detail, at = building.detail_of(piece.run), piece.brackets_at_mm
    usual = usual_positions(detail, piece.length_mm)
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
    yield from _moved_without_need(building, piece, _evenly(detail, piece.length_mm, len(at)))


def _moved_without_need(building: Building, piece: PlannedPiece, due: list[Fraction]) -> Iterator[str]:
    """A mullion moves a bracket, and that one its neighbours where the spacing asks for it; nothing else."""
    at, spacing = piece.brackets_at_mm, building.detail_of(piece.run).bracket_spacing_max_mm
    notches, clear = _notches(building, piece), building.detail_of(piece.run).bracket_to_mullion_min_mm
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


def _reaches(detail: Detail, gaps: list[Fraction]) -> tuple[int, int]:
    """The shortest and the longest whole reach within the band of all these gaps; none when they cross."""
    least = Fraction(detail.bracket_insertion_min)
    most = Fraction(detail.bracket_insertion_max)
    return ceil(least * max(gaps)), floor(most * min(gaps))


def _broken_size(building: Building, piece: PlannedPiece) -> Iterator[str]:
    detail = building.detail_of(piece.run)
    product = building.products.get(piece.bracket or "")
    if product is None or product.kind != "bracket":
        yield f"{named(piece)}: {piece.bracket} is no bracket of the products"
        return
    if not piece.brackets_at_mm:
        return
    line = building.gap_lines[piece.run]
    gaps = [line.at(piece.from_mm + position) for position in piece.brackets_at_mm]
    reach = product.reach_mm
    shortest, longest = _reaches(detail, gaps)
    if not shortest <= reach <= longest:
        yield (
            f"{named(piece)}: bracket {product.code} reaches {reach} mm into gaps of"
            f" {_listed([round(float(gap), 2) for gap in gaps])} mm, outside {detail.bracket_insertion_min}"
            f" to {detail.bracket_insertion_max} of them"
        )
        return
    if detail.bracket_choice != "nearest" and piece.level not in building.forecast:
        return  # any size within the band may be taken
    # A size whose insertion stays within the band along the whole piece may be preferred to a nearer one.
    along = _reaches(detail, list(line.extremes(piece.from_mm, piece.to_mm)))
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
    usual = usual_positions(building.detail_of(piece.run), piece.length_mm)
    notches, clear = _notches(building, piece), building.detail_of(piece.run).bracket_to_mullion_min_mm
    if any(position.denominator != 1 or _is_in_the_way(position, notches, clear) for position in usual):
        return
    line = building.gap_lines[piece.run]
    gaps = [line.at(piece.from_mm + int(position)) for position in usual]
    shortest, longest = _reaches(building.detail_of(piece.run), gaps)
    for code, reach in building.bracket_reaches:
        if shortest <= reach <= longest:
            yield f"{named(piece)}: it has no bracket, although {code} fits at every position"
            return


def _listed(positions: object) -> str:
    return (
        ", ".join(figure(position) for position in positions) if isinstance(positions, (list, tuple)) else ""
    )
