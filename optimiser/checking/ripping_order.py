"""The order in which boards are cut up, and what waits meanwhile: re-derived from the layouts and the pieces' stages.

A strip is ripped when its first piece is needed and then cut from the datum end. So the stages of the strips' first
pieces never go back along a board, nor the stages of the pieces along a strip. The second of a tapered pair lies
beside the first and is parted from it with the same cut or later.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import pairwise

from optimiser.cutting.problem import CuttingPattern, Waiting


def broken_rules_of_order(place: str, layout: CuttingPattern, stage_of: Mapping[str, int]) -> Iterator[str]:
    """Where a layout's strips or pieces would have to be cut before others that are needed earlier."""
    firsts: list[tuple[int, int, str]] = []
    for number, strip in enumerate(layout.strips, start=1):
        known = [
            (stage_of[piece.id], piece.id)
            for piece in strip.pieces
            if piece.id in stage_of and not piece.head_to_tail
        ]
        for first, second in pairwise(strip.pieces):
            if second.head_to_tail and stage_of.get(second.id, 0) < stage_of.get(first.id, 0):
                yield (
                    f"{place}, strip {number}: of the pair {first.id} and {second.id} the first is cut free first, but"
                    f" it is needed in stage {stage_of[first.id]}, the second in {stage_of[second.id]}"
                )
        for (before, earlier), (after, later) in pairwise(known):
            if after < before:
                yield (
                    f"{place}, strip {number}: piece {later} of stage {after} is cut after {earlier} of stage"
                    f" {before}; along a strip stages must not go back"
                )
        if known:
            firsts.append((known[0][0], number, known[0][1]))
    for (before, earlier_number, _), (after, number, name) in pairwise(firsts):
        if after < before:
            yield (
                f"{place}, strip {number}: it is ripped for piece {name} of stage {after}, after strip"
                f" {earlier_number} for stage {before}; along a board stages must not go back"
            )


def waiting_in(layouts: Iterable[CuttingPattern], stage_of: Mapping[str, int]) -> Waiting:
    """What waits by the layouts alone; the bound is left at 0."""
    pieces = piece_stages = remainders = remainder_stages = 0
    for layout in layouts:
        ripped: list[int] = []
        for strip in layout.strips:
            cut = [stage_of[p.id] for p in strip.pieces if p.id in stage_of and not p.head_to_tail]
            ahead = [stage_of.get(p.id, layout.stage) - layout.stage for p in strip.pieces]
            ahead = [stages for stages in ahead if stages > 0]
            for first, second in pairwise(strip.pieces):
                kept = stage_of.get(second.id, 0) - stage_of.get(first.id, 0)
                if second.head_to_tail and kept > 0:  # the half of a pair waits by itself
                    remainders += layout.repeat
                    remainder_stages += layout.repeat * kept
            pieces += layout.repeat * len(ahead)
            piece_stages += layout.repeat * sum(ahead)
            for before, after in pairwise(cut):
                if after > before:  # what is left of the strip waits from one cut to the next
                    remainders += layout.repeat
                    remainder_stages += layout.repeat * (after - before)
            if cut:
                ripped.append(cut[0])
        for before, after in pairwise(ripped):
            if after > before:  # so does what is left of the board
                remainders += layout.repeat
                remainder_stages += layout.repeat * (after - before)
    return Waiting(
        pieces=pieces, piece_stages=piece_stages, remainders=remainders, remainder_stages=remainder_stages
    )


def broken_rules_of_waiting(
    stated: Waiting | None, layouts: Iterable[CuttingPattern], stage_of: Mapping[str, int]
) -> Iterator[str]:
    """The stated figures against the layouts; the bound must not be above what is reached."""
    if stated is None:
        return
    found = waiting_in(layouts, stage_of)
    for field in ("pieces", "piece_stages", "remainders", "remainder_stages"):
        if getattr(stated, field) != getattr(found, field):
            yield f"waiting.{field}: by the layouts it is {getattr(found, field)}, but it says {getattr(stated, field)}"
    yield from broken_bound_of_waiting(stated)


def broken_bound_of_waiting(stated: Waiting) -> Iterator[str]:
    """What the figures say of each other."""
    if not 0 <= stated.lower_bound_piece_stages <= stated.piece_stages:
        yield (
            f"waiting.lower_bound_piece_stages: it must be 0 to piece_stages ({stated.piece_stages}), but is"
            f" {stated.lower_bound_piece_stages}"
        )
