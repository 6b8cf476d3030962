"""Left-overs that a later level can really use, with the levels that could.

A cutting plan lists every remainder that is large enough for its own smallest piece, wherever that was needed.
Here a left-over counts only when a piece of a later delivery fits it: same board product, long and wide enough
(it is cut like a board of its own size), within the project's `max_carry_stages`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from optimiser.cutting.problem import LeftOver
from optimiser.plan import PlannedPiece, UsableLeftOver
from optimiser.project import Project


def usable_left_over(
    project: Project, pieces: Sequence[PlannedPiece], left_over: Iterable[LeftOver]
) -> tuple[UsableLeftOver, ...]:
    """The left-overs that serve a later level, in delivery order, the largest first; lengths in mm.

    `level` is the one whose boards leave it: the first of that sequence in the table. `serves` are the levels
    that have a piece for it, in delivery order.
    """
    sequences = sorted({level.sequence for level in project.levels})
    rank = {level.level: sequences.index(level.sequence) for level in project.levels}
    first_of = {level.sequence: level.level for level in reversed(project.levels)}
    carry = project.project.max_carry_stages
    smallest = _smallest_sizes(pieces)
    found = []
    for item in left_over:
        at = sequences.index(item.stage)
        serves = tuple(
            level.level
            for level in project.levels_in_order()
            if at < rank[level.level] <= (len(sequences) if carry is None else at + carry)
            and any(
                length <= item.length_mm and width <= item.width_mm
                for length, width in smallest.get((level.level, item.code), ())
            )
        )
        if serves:
            found.append(
                UsableLeftOver(
                    level=first_of[item.stage],
                    stage=item.stage,
                    code=item.code,
                    length_mm=item.length_mm,
                    width_mm=item.width_mm,
                    quantity=item.quantity,
                    serves=serves,
                )
            )
    found.sort(key=lambda item: (item.stage, item.code, -item.length_mm * item.width_mm, -item.length_mm))
    return tuple(found)


def _smallest_sizes(pieces: Iterable[PlannedPiece]) -> dict[tuple[str, str], list[tuple[int, int]]]:
    """By level and board code, the (length, least width) of pieces that no other piece is within."""
    sizes: dict[tuple[str, str], set[tuple[int, int]]] = {}
    for piece in pieces:
        for code in piece.boards:
            sizes.setdefault((piece.level, code), set()).add((piece.length_mm, piece.width_min_mm))
    least: dict[tuple[str, str], list[tuple[int, int]]] = {}
    for place, here in sizes.items():
        kept: list[tuple[int, int]] = []
        for length, width in sorted(here):  # shortest first: keep it only when narrower than all before
            if not kept or width < kept[-1][1]:
                kept.append((length, width))
        least[place] = kept
    return least
