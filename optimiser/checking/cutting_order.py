"""Whether a board can be cut as the plan says: in order of delivery, from remainders that are there by then.

The judge does not follow the work step by step. From where strips and pieces lie it reads off, in closed form,
what must be on the rack between any two deliveries, and compares that with what the plan states.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from optimiser.checking.building import Building
from optimiser.checking.material import sheet_of
from optimiser.checking.strips import Sheet
from optimiser.cutting.problem import CutPiece, CuttingPattern, Strip
from optimiser.model.remainder import Remainder

_COMPARED = (
    "board", "layout", "code", "kind", "length_mm", "width_mm", "width_start_mm", "width_end_mm", "cut_from", "stage",
    "cut_stage", "pieces",
)  # fmt: skip


@dataclass(frozen=True)
class _Length:
    """What takes one length of a strip: its pieces, each with the delivery that needs it."""

    pieces: tuple[CutPiece, ...]
    needs: tuple[int, ...]

    @property
    def need(self) -> int:
        return min(self.needs)

    @property
    def length_mm(self) -> int:
        return max(piece.length_mm for piece in self.pieces)


@dataclass(frozen=True)
class _Row:
    """A strip with the deliveries that need its lengths."""

    strip: Strip
    lengths: tuple[_Length, ...]

    @property
    def need(self) -> int:
        return min(length.need for length in self.lengths)

    @property
    def needs(self) -> list[int]:
        return sorted({length.need for length in self.lengths})

    @property
    def pieces(self) -> int:
        return sum(len(length.pieces) for length in self.lengths)


def broken_rules_of_cutting_order(building: Building) -> Iterator[str]:
    """Strips and pieces in order of delivery; every remainder of the plan re-derived: name, size, place, dates."""
    due: dict[str, Remainder] = {}
    for number, layout in building.plan.numbered_layouts:
        rows = _rows_of(building, layout)
        if rows is None:
            continue  # other rules name what is wrong with it
        yield from _broken_order(f"layout {number}", rows)
        sheet = sheet_of(building, layout)
        if sheet is None or any(a.need > b.need for a, b in pairwise(rows)):
            continue
        for copy in range(1, min(layout.repeat, 10_000) + 1):
            for part in _remainders_due(building, number, copy, layout, rows, sheet):
                due[part.name] = part
    yield from _broken_waiting(building, due)
    yield from _broken_remainders(building, due)
    yield from _broken_rack(building)


def _rows_of(building: Building, layout: CuttingPattern) -> list[_Row] | None:
    """The strips with their needs; None where a piece or its level is unknown, or a strip is empty."""
    rows = []
    for strip in layout.strips:
        lengths: list[list[CutPiece]] = []
        for piece in strip.pieces:
            if piece.head_to_tail and lengths and len(lengths[-1]) == 1:
                lengths[-1].append(piece)
            else:
                lengths.append([piece])
        taken = []
        for pieces in lengths:
            needs = [_need(building, layout, piece) for piece in pieces]
            if None in needs:
                return None
            taken.append(_Length(tuple(pieces), tuple(need for need in needs if need is not None)))
        if not taken:
            return None
        rows.append(_Row(strip, tuple(taken)))
    return rows or None


def _need(building: Building, layout: CuttingPattern, piece: CutPiece) -> int | None:
    """The delivery with which a piece is cut: its level's, and never before its board is there."""
    planned = building.pieces.get(piece.id)
    sequence = building.sequence_of(planned) if planned else None
    return None if sequence is None else max(sequence, layout.stage)


def _broken_order(place: str, rows: Sequence[_Row]) -> Iterator[str]:
    for number, (before, after) in enumerate(pairwise(rows), start=2):
        if before.need > after.need:
            yield (
                f"{place}, strip {number}: it is first needed with sequence {after.need}, but lies beyond a strip"
                f" first needed with {before.need}, which would have to be cut before its delivery"
            )
    for number, row in enumerate(rows, start=1):
        for first, second in pairwise(row.lengths):
            if first.need > second.need:
                yield (
                    f"{place}, strip {number}, piece {second.pieces[0].id}: it is needed with sequence"
                    f" {second.need}, but lies beyond {first.pieces[0].id}, needed with {first.need}, which would"
                    " have to be cut before its delivery"
                )
        for length in row.lengths:
            if list(length.needs) != sorted(length.needs):
                yield (
                    f"{place}, strip {number}, piece {length.pieces[1].id}: of a head-to-tail pair the first is"
                    f" cut free first, but {length.pieces[0].id} is needed with sequence {length.needs[0]} and"
                    f" this one with {length.needs[1]}"
                )


def _remainders_due(
    building: Building, number: int, copy: int, layout: CuttingPattern, rows: Sequence[_Row], sheet: Sheet
) -> list[Remainder]:
    """What waits of one board between its deliveries, with names.

    Within a delivery the full width's rest is named first, then what is left of strips just ripped, then of
    those ripped before; from the datum edge, a strip's end before the halves of its pairs.
    """
    found: list[tuple[tuple[int, ...], dict[str, object]]] = []
    ripped = sorted({row.need for row in rows})
    for now, following in pairwise(ripped):
        used = sum(row.strip.width_mm + sheet.kerf_mm for row in rows if row.need <= now)
        later = [row for row in rows if row.need > now]
        size = {"length_mm": sheet.length_mm, "width_mm": sheet.width_mm - used}
        found.append(((now, 0, -1, 0), {"kind": "board", **size, "stage": now, "cut_stage": following,
                      "pieces": sum(row.pieces for row in later), "of": ("board", ripped.index(now))}))  # fmt: skip
    for at, row in enumerate(rows):
        width = row.strip.width_mm
        for step, (now, following) in enumerate(pairwise(row.needs)):
            used = sum(length.length_mm + sheet.kerf_mm for length in row.lengths if length.need <= now)
            later_pieces = sum(len(length.pieces) for length in row.lengths if length.need > now)
            size = {"length_mm": sheet.length_mm - used, "width_mm": width}
            origin = ("strip", at, step) if step else ("board", ripped.index(now))
            found.append(((now, int(row.need < now), at, 0), {"kind": "strip", **size, "stage": now,
                          "cut_stage": following, "pieces": later_pieces, "of": origin}))  # fmt: skip
        for place, length in enumerate(row.lengths, start=1):
            if len(set(length.needs)) < 2:
                continue
            first = building.pieces[length.pieces[0].id]
            ends = [
                width - sheet.kerf_mm - first.cut_width_end_mm,
                width - sheet.kerf_mm - first.cut_width_start_mm,
            ]
            step = row.needs.index(length.need)
            origin = ("strip", at, step) if step else ("board", ripped.index(length.need))
            found.append(((length.need, int(row.need < length.need), at, place), {"kind": "tapered",
                          "length_mm": length.length_mm, "width_mm": max(ends), "width_start_mm": ends[0],
                          "width_end_mm": ends[1], "stage": length.need, "cut_stage": max(length.needs),
                          "pieces": 1, "of": origin}))  # fmt: skip
    board = _board_name(building, layout, number, copy)
    names: dict[tuple[object, ...], str] = {("board", 0): board}
    parts = []
    for place, (key, facts) in enumerate(sorted(found, key=lambda item: item[0]), start=1):
        name = f"{board}-R{place}"
        if facts["kind"] == "board":
            names["board", ripped.index(key[0]) + 1] = name
        elif facts["kind"] == "strip":
            names["strip", key[2], rows[key[2]].needs.index(key[0]) + 1] = name
        parts.append((name, facts))
    return [_stated_as(name, board, number, layout, facts, names) for name, facts in parts]


def _board_name(building: Building, layout: CuttingPattern, number: int, copy: int) -> str:
    """What is written on a board: its letter (S for stock of the table) and number; a remainder keeps its name."""
    numbers = [number for number, _ in building.plan.numbered_layouts]
    row = building.stock.get(layout.stock)
    more = f".{copy}" if copy > 1 else ""
    if row is not None and row.name:
        product = building.products.get(row.code)
        size = (product.length_mm, product.width_mm) if product and product.kind == "board" else None
        if size != (row.length_mm, row.width_mm):
            return layout.stock
        row = None
    return f"{'S' if row else 'B'}{number:0{max(3, len(str(max(numbers))))}d}{more}"


def _stated_as(
    name: str,
    board: str,
    number: int,
    layout: CuttingPattern,
    facts: dict[str, object],
    names: dict[tuple[object, ...], str],
) -> Remainder:
    """The facts as a plan would state them; the levels, which follow from the deliveries, are judged apart."""
    given = {key: value for key, value in facts.items() if key != "of"}
    origin = facts["of"]
    return Remainder.model_validate(
        {
            "name": name,
            "board": board,
            "layout": number,
            "code": layout.code,
            "cut_from": names[origin] if isinstance(origin, tuple) else "",
            "level": "",
            "waits_for": "",
            **given,
        }
    )


def _broken_waiting(building: Building, due: dict[str, Remainder]) -> Iterator[str]:
    """What waits, counted from the layouts and the remainders that are due."""
    pieces = piece_stages = 0
    for layout in building.plan.layouts:
        for cut in (cut for strip in layout.strips for cut in strip.pieces):
            sequence = _need(building, layout, cut)
            late = 0 if sequence is None else building.carried(layout.stage, sequence)
            if late > 0:
                pieces += layout.repeat
                piece_stages += late * layout.repeat
    stated = building.plan.waiting
    kept = sum(building.carried(part.stage, part.cut_stage) for part in due.values())
    due_figures = {
        "pieces": pieces, "piece_stages": piece_stages, "remainders": len(due), "remainder_stages": kept,
    }  # fmt: skip
    for field, value in due_figures.items():
        if getattr(stated, field) != value:
            yield f"waiting: {field} must be {value}, but is {getattr(stated, field)}"
    if not 0 <= stated.lower_bound_piece_stages <= piece_stages:
        yield (
            f"waiting: lower_bound_piece_stages must be 0 to piece_stages ({piece_stages}), but is"
            f" {stated.lower_bound_piece_stages}"
        )


def _broken_remainders(building: Building, due: dict[str, Remainder]) -> Iterator[str]:
    """The plan's list against what is due, name by name."""
    seen: set[str] = set()
    for stated in building.plan.remainders:
        place = f"remainder {stated.name}"
        if stated.name in seen:
            yield f"{place}: two remainders have this name"
            continue
        seen.add(stated.name)
        expected = due.get(stated.name)
        if expected is None:
            yield f"{place}: no board leaves a remainder of this name"
            continue
        for field in _COMPARED:
            if getattr(stated, field) != getattr(expected, field):
                yield f"{place}: {field} must be {getattr(expected, field)}, but is {getattr(stated, field)}"
        for field, stage in (("level", stated.stage), ("waits_for", stated.cut_stage)):
            level = building.levels.get(getattr(stated, field))
            if level is None or level.sequence != stage:
                yield f"{place}: {field} must be a level of sequence {stage}, but is {getattr(stated, field)!r}"
    for name in due:
        if name not in seen:
            yield (
                f"remainder {name}: it waits from sequence {due[name].stage} to {due[name].cut_stage}, but the plan"
                " does not list it"
            )


def _broken_rack(building: Building) -> Iterator[str]:
    """What is stated of the rack by itself: a remainder comes out of one that is cut then, and lies within it."""
    stated = {part.name: part for part in building.plan.remainders}
    for part in stated.values():
        place = f"remainder {part.name}"
        if part.cut_stage <= part.stage:
            yield f"{place}: it is kept with sequence {part.stage}, but cut with {part.cut_stage}, not later"
        if part.cut_from == part.board:
            continue
        source = stated.get(part.cut_from)
        if source is None:
            yield f"{place}: it is cut from {part.cut_from}, which is neither its board nor a remainder"
        elif source.cut_stage != part.stage:
            yield (
                f"{place}: it is cut from {source.name} with sequence {part.stage}, but that is cut with"
                f" {source.cut_stage}"
            )
        elif part.length_mm > source.length_mm or part.width_mm > source.width_mm:
            yield (
                f"{place}: it is larger, {part.size} mm, than {source.name}, {source.size} mm, from which it is cut"
            )
