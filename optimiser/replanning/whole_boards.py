"""Whole boards at hand under the layouts of a cut that counts every board as bought.

A board on site or on order is worth as much as one to order, since what is not cut now serves later levels: so the
cutting counts all that it opens, and only then is each taken from what is at hand, where that comes in time for it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil

from optimiser.boards.families import families_of
from optimiser.boards.family_cuts import Cut
from optimiser.boards.problems import price_of_a_board
from optimiser.joints.layout import LaidPiece
from optimiser.model.planned_boards import PlannedPattern, Proof
from optimiser.model.progress import AtHand
from optimiser.model.project import Project


def counted_as_bought(project: Project, item: AtHand) -> bool:
    """Whether something at hand is a whole board that only boards of its own code could replace."""
    return item.whole and any(codes == (item.code,) for codes in families_of(project.runs))


@dataclass(frozen=True)
class _Free:
    """Boards at hand that are not taken yet; `stage` is when they are there, as the solver counts."""

    name: str
    stage: int


def from_boards_at_hand(
    project: Project,
    cut: Cut,
    places: Sequence[LaidPiece],
    at_hand: Sequence[AtHand],
    max_carry_stages: int | None,
) -> Cut:
    """The cut with boards at hand in place of boards to order, and what that leaves of its bounds.

    Each layout takes what comes last in time for it, so that earlier boards are left to those that need them. A plan
    that opens at least n boards buys at least n less those at hand.
    """
    building = project.building
    stage_of_piece = {place.id: building.stage_of_level[place.level] for place in places}
    free: dict[str, list[_Free]] = {}
    for item in at_hand:
        if counted_as_bought(project, item):
            stage = building.stage_of_level[item.level] if item.level else 0
            free.setdefault(item.code, []).extend([_Free(item.name, stage)] * item.quantity)
    number = {code: len(boards) for code, boards in free.items()}
    layouts: list[PlannedPattern] = []
    for layout in cut.layouts:
        opened = building.stage_of_sequence[layout.sequence]
        there = [board for board in free.get(layout.stock, ()) if board.stage <= opened]
        if max_carry_stages is not None:
            last = max(stage_of_piece[piece.id] for strip in layout.strips for piece in strip.pieces)
            there = [board for board in there if not board.stage or last - board.stage <= max_carry_stages]
        if there:
            taken = max(there, key=lambda board: board.stage)
            free[layout.stock].remove(taken)
            layout = layout.model_copy(update={"stock": taken.name})
        layouts.append(layout)
    bought = Counter(layout.stock for layout in layouts)
    boards = {
        code: count.model_copy(
            update={
                "count": bought[code],
                "lower_bound": (least := min(bought[code], max(0, count.lower_bound - number[code]))),
                "optimal": bought[code] == least,
            }
        )
        if code in number
        else count
        for code, count in cut.boards.items()
    }
    proofs = tuple(
        _proof(project, proof, bought[proof.codes[0]], number[proof.codes[0]])
        if proof.codes[0] in number
        else proof
        for proof in cut.proofs
    )
    return replace(cut, layouts=tuple(layouts), boards=boards, proofs=proofs)


def _proof(project: Project, proof: Proof, bought: int, at_hand: int) -> Proof:
    (code,) = proof.codes
    price = price_of_a_board(project.building.boards[code])
    least = min(bought, max(0, proof.lower_bound - at_hand))
    return proof.model_copy(
        update={
            "boards": bought,
            "lower_bound": least,
            "cost_cents": ceil(price * bought),
            "lower_bound_cents": ceil(price * least),
            "optimal": bought == least,
        }
    )
