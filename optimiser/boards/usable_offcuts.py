"""Left-overs that a later level can really use, with the levels that could.

A cutting plan lists every remainder that is large enough for its own smallest piece, wherever that was needed.
Here a left-over counts only when a piece of a later delivery fits it: same board product, long and wide enough
(it is cut like a board of its own size), within the project's `max_carry_stages`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from optimiser.model.planned_boards import PlannedLeftOver, UsableLeftOver
from optimiser.model.planned_pieces import PlannedPiece
from optimiser.model.project import Project
from optimiser.model.sizes import Size


def usable_left_over(
    project: Project, pieces: Sequence[PlannedPiece], left_over: Iterable[PlannedLeftOver]
) -> tuple[UsableLeftOver, ...]:
    """The left-overs that serve a later level, in delivery order, the largest first; lengths in mm.

    `level` is the one whose boards leave it: the first of that sequence in the table. `serves` are the levels
    that have a piece for it, in delivery order.
    """
    building = project.building
    stage = building.stage_of_level
    carry = project.project.max_carry_stages
    smallest = _smallest_sizes(pieces)
    found = []
    for item in left_over:
        at = building.stage_of_sequence[item.sequence]
        serves = tuple(
            level.level
            for level in project.levels_in_order()
            if at < stage[level.level] <= (len(building.sequences) if carry is None else at + carry)
            and any(item.size.holds(size) for size in smallest.get((level.level, item.code), ()))
        )
        if serves:
            found.append(
                UsableLeftOver(
                    level=building.delivered_together[item.sequence][0],
                    stage=item.sequence,
                    code=item.code,
                    length_mm=item.length_mm,
                    width_mm=item.width_mm,
                    quantity=item.quantity,
                    serves=serves,
                )
            )
    found.sort(key=lambda item: (item.stage, item.code, -item.length_mm * item.width_mm, -item.length_mm))
    return tuple(found)


def _smallest_sizes(pieces: Iterable[PlannedPiece]) -> dict[tuple[str, str], list[Size]]:
    """By level and board code, the size, at its least width, of pieces that no other piece is within."""
    sizes: dict[tuple[str, str], set[Size]] = {}
    for piece in pieces:
        for code in piece.boards:
            sizes.setdefault((piece.level, code), set()).add(Size(piece.length_mm, piece.width_min_mm))
    least: dict[tuple[str, str], list[Size]] = {}
    for place, here in sizes.items():
        kept: list[Size] = []
        for size in sorted(here):  # shortest first: keep it only when narrower than all before
            if not kept or size.width_mm < kept[-1].width_mm:
                kept.append(size)
        least[place] = kept
    return least
