"""What is to be seen before a seal is closed in: each joint and each bracket, who fitted it and who saw it.

It holds what people said that they saw, and what nobody has seen yet; whether a seal is as the tested detail wants it
is not for this tool to say. An event 'inspected' names a piece or a level; to name one part of a piece its note begins
with the part's name ('bracket at 300: anchor loose', 'joint at its end'). A piece that is scrapped takes with it what
was seen of it, and of the joint before it.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import groupby
from typing import Literal

from optimiser.model.plan import Plan
from optimiser.model.planned_pieces import PlannedPiece
from optimiser.model.record import Event, Record
from optimiser.model.tables import Run

Kind = Literal["joint", "bracket"]
How = Literal["itself", "with its piece", "with its level"]
JOINT = "joint at its end"
_PART = re.compile(r"(joint at its end|bracket at \d+)(?:\s*:\s*|\s*$)(.*)", re.DOTALL)


def bracket_name(at_mm: int) -> str:
    """What a bracket of a piece is called: its position from the piece's own start, in mm."""
    return f"bracket at {at_mm}"


def part_and_remark(note: str) -> tuple[str, str]:
    """An inspection's note as the part that it names ('' where it names none) and the remark.

    >>> part_and_remark("bracket at 300: anchor loose")
    ('bracket at 300', 'anchor loose')
    """
    match = _PART.fullmatch(note.strip())
    return (match[1], match[2].strip()) if match else ("", note.strip())


@dataclass(frozen=True)
class Said:
    """Who says that something was done or seen, and when they say it was."""

    by: str
    at: datetime
    how: How = "itself"
    remark: str = ""


@dataclass(frozen=True)
class Part:
    """A joint or a bracket. `at_mm` is from the run's start; `meets` is the piece or run on the joint's other side, or
    the bracket's code. `photographs` are ids. `fitted` and `seen` are None where nobody says so."""

    level: str
    run: str
    piece: str
    kind: Kind
    name: str
    at_mm: int
    meets: str
    fitted: Said | None = None
    seen: Said | None = None
    photographs: tuple[str, ...] = ()

    @property
    def open(self) -> tuple[str, ...]:
        """What is not on record of it yet."""
        return tuple(words for words, said in (("fitted", self.fitted), ("seen", self.seen)) if said is None)


@dataclass(frozen=True)
class PhotographOf:
    """A photograph of a joint or a bracket of a piece; a bracket's position from the run's start where it is known."""

    id: str
    piece: str
    kind: Kind
    at_mm: int | None = None


@dataclass(frozen=True)
class LevelInspection:
    """A level's parts in the order in which one walks along its runs. `not_planned` are stretches that the plan leaves
    out, in words; a level with `nominal` gaps is not measured yet."""

    level: str
    parts: tuple[Part, ...]
    not_planned: tuple[str, ...] = ()
    nominal: bool = False

    def counted(self, kind: Kind) -> tuple[int, int, int]:
        """Of the joints or brackets: how many there are, are fitted, and were seen."""
        mine = [part for part in self.parts if part.kind == kind]
        return (
            len(mine),
            sum(part.fitted is not None for part in mine),
            sum(part.seen is not None for part in mine),
        )

    @property
    def not_covered(self) -> tuple[Part, ...]:
        """The parts of which something is not on record yet."""
        return tuple(part for part in self.parts if part.open)

    @property
    def remarks(self) -> tuple[Part, ...]:
        """The parts to which whoever saw them remarked something."""
        return tuple(part for part in self.parts if part.seen is not None and part.seen.remark)


def inspection(
    plan: Plan,
    record: Record,
    photographs: Iterable[PhotographOf] = (),
    levels: Collection[str] | None = None,
) -> tuple[LevelInspection, ...]:
    """The levels of a plan (of these alone, where they are named) with their joints and brackets, in delivery order.

    Of other levels than those that are named nothing is asked of the plan.
    """
    shot = list(photographs)
    runs = {run.run: run for run in plan.project.runs if levels is None or run.level in levels}
    parts = tuple(_parts(plan, runs))
    said = _said([piece for piece in plan.pieces if piece.run in runs], parts, record)
    by_level: dict[str, list[Part]] = {
        level.level: [] for level in plan.project.levels_in_order() if levels is None or level.level in levels
    }
    for part in parts:
        by_level[part.level].append(_with_what_was_said(part, said, shot))
    gaps = plan.project.gaps_of()
    nominal = {run.level for run in runs.values() if any(gap.basis == "nominal" for gap in gaps[run.run])}
    return tuple(
        LevelInspection(
            level,
            tuple(parts),
            tuple(
                f"{place.run}, {place.from_mm} to {place.to_mm} mm: no {place.what}, {place.reason}"
                for place in plan.not_planned
                if place.level == level
            ),
            level in nominal,
        )
        for level, parts in by_level.items()
    )


def _parts(plan: Plan, runs: Mapping[str, Run]) -> Iterator[Part]:
    """Every bracket and every joint of some runs, run by run from its start; a joint belongs to the piece that ends
    there."""
    order = {run: place for place, run in enumerate(runs)}
    pieces = sorted(
        (piece for piece in plan.pieces if piece.run in order),
        key=lambda piece: (order[piece.run], piece.from_mm),
    )
    ends = {junction.run: junction.joins for junction in plan.junctions}
    lengths = {name: run.length_mm for name, run in runs.items()}
    for run, here in groupby(pieces, key=lambda piece: piece.run):
        row = list(here)
        for piece, after in zip(row, [*row[1:], None], strict=True):
            for at in piece.brackets_at_mm:
                yield _part(piece, "bracket", bracket_name(at), piece.from_mm + at, piece.bracket or "")
            if after is not None and after.from_mm == piece.to_mm:
                yield _part(piece, "joint", JOINT, piece.to_mm, after.id)
            elif run in ends and piece.to_mm == lengths[run]:
                yield _part(piece, "joint", JOINT, piece.to_mm, f"run {ends[run]}")


def _part(piece: PlannedPiece, kind: Kind, name: str, at_mm: int, meets: str) -> Part:
    return Part(piece.level, piece.run, piece.id, kind, name, at_mm, meets)


@dataclass
class _WhatWasSaid:
    """By piece: who fitted it; by piece and part: who saw it."""

    fitted: dict[str, Said]
    seen: dict[tuple[str, str], Said]


def _said(pieces: Iterable[PlannedPiece], every_part: Iterable[Part], record: Record) -> _WhatWasSaid:
    parts = by_piece(every_part)
    before = {part.meets: part.piece for mine in parts.values() for part in mine if part.kind == "joint"}
    of_level: dict[str, list[str]] = {}
    for piece in pieces:
        of_level.setdefault(piece.level, []).append(piece.id)
    said = _WhatWasSaid({}, {})
    for event in record.standing:
        named = [event.piece] if event.piece else of_level.get(event.level, [])
        if event.event == "fitted":
            for piece_id in named:
                said.fitted[piece_id] = _by(event, "itself" if event.piece else "with its level")
        elif event.event == "inspected":
            for piece_id in named:
                _see(said, event, parts.get(piece_id, ()))
        elif event.event == "scrapped" and event.piece:
            said.fitted.pop(event.piece, None)
            for part in parts.get(event.piece, ()):
                said.seen.pop((part.piece, part.name), None)
            said.seen.pop((before.get(event.piece, ""), JOINT), None)
    return said


def _see(said: _WhatWasSaid, event: Event, parts: Iterable[Part]) -> None:
    """An inspection of a piece, or of one part of it. What was said of a part by its own name stays until it is seen by
    its own name again: seeing the whole piece takes no remark away."""
    name, remark = part_and_remark(event.note) if event.piece else ("", event.note.strip())
    how: How = "itself" if name else "with its piece" if event.piece else "with its level"
    for part in parts:
        key = part.piece, part.name
        if name in ("", part.name) and (name or key not in said.seen or said.seen[key].how != "itself"):
            said.seen[key] = replace(_by(event, how), remark=remark)


def _by(event: Event, how: How) -> Said:
    return Said(event.by or "not said", event.at, how)


def _with_what_was_said(part: Part, said: _WhatWasSaid, photographs: Iterable[PhotographOf]) -> Part:
    return replace(
        part,
        fitted=said.fitted.get(part.piece),
        seen=said.seen.get((part.piece, part.name)),
        photographs=tuple(
            one.id
            for one in photographs
            if (one.piece, one.kind) == (part.piece, part.kind)
            and (part.kind == "joint" or one.at_mm in (None, part.at_mm))
        ),
    )


def by_piece(parts: Iterable[Part]) -> Mapping[str, tuple[Part, ...]]:
    """Parts gathered by the piece that they belong to."""
    found: dict[str, list[Part]] = {}
    for part in parts:
        found.setdefault(part.piece, []).append(part)
    return {piece: tuple(mine) for piece, mine in found.items()}
