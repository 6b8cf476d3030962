"""What a project uses and what that costs, without an order, dates or positions: a plan's figures, quickly.

The comparison of gaps and the tolerance simulation ask for these hundreds of times. The layout and the cutting are
the plan's own, so that boards, bound, waste and cost here are the plan's at the same gaps.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil
from typing import NamedTuple

import numpy as np

from optimiser.accessory_arrays import NO_STAND, AccessoryCounts, accessory_counts
from optimiser.cutting_pieces import cut_pieces
from optimiser.cutting_stages import stock_rows
from optimiser.joint_arrays import ROW_WIDTH, LaidArrays
from optimiser.joints import LaidPiece, lay_out, run_arrays
from optimiser.ordering import first_of
from optimiser.plan import NotPlanned, Staging
from optimiser.planned_pieces import piece_id
from optimiser.project import Project
from optimiser.waste import waste_of


@dataclass(frozen=True)
class Quantities:
    """A project's needs at its gaps as they stand. `boards` are those bought, by code; `lower_bound` is proved: no
    plan buys fewer in all. `brackets` by code; `no_size` and `no_stand` count the pieces for which no bracket on
    offer fits the gap, or none can stand clear of the mullions."""

    pieces: int
    boards: dict[str, int]
    lower_bound: int
    scrap_fraction: float
    joints: int
    brackets: dict[str, int]
    anchors: int
    tape_mm: int
    no_size: int
    no_stand: int
    not_planned: tuple[NotPlanned, ...]

    @property
    def board_count(self) -> int:
        """Boards bought of all codes."""
        return sum(self.boards.values())

    @property
    def optimal(self) -> bool:
        """Whether no plan can buy fewer boards: proved."""
        return self.board_count == self.lower_bound


def quantities_of(
    project: Project, staging: Staging = "whole", time_limit: float | None = None, seed: int = 0
) -> Quantities | None:
    """Lays out and cuts a project with the full solver, and counts; None when no piece at all can be placed.

    `time_limit` (seconds) cuts the solver short. Raises ValueError for rates with too many decimals.
    """
    laid = lay_out(project)
    if not laid.pieces:
        return None
    cut = cut_pieces(project, laid.pieces, staging, time_limit, seed, None)
    counts = accessories_of(project, laid.pieces)
    sizes = project.products_of("bracket")
    by_size = counts.by_size(len(sizes)).tolist()
    brackets = {size.code: count for size, count in zip(sizes, by_size, strict=True) if count}
    stock = {name: (item.length_mm, item.width_mm) for name, item in stock_rows(project).items()}
    fitted = [_fitted(piece, cut.widths) for piece in laid.pieces]
    waste = waste_of(project, fitted, cut.layouts, cut.left_over, stock)
    return Quantities(
        pieces=len(laid.pieces),
        boards={code: board.count for code, board in cut.boards.items()},
        lower_bound=sum(proof.lower_bound for proof in cut.proofs),
        scrap_fraction=waste.scrap_fraction,
        joints=counts.joints,
        brackets=brackets,
        anchors=sum(brackets.values()) * project.detail.anchors_per_bracket,
        tape_mm=counts.tape_mm,
        no_size=counts.pieces_without - int((counts.size == NO_STAND).sum()),
        no_stand=int((counts.size == NO_STAND).sum()),
        not_planned=laid.not_planned,
    )


def accessories_of(project: Project, pieces: Sequence[LaidPiece]) -> AccessoryCounts:
    """The brackets, joints and tape of laid pieces, in order of run and position."""
    place = {run.run: index for index, run in enumerate(project.runs)}
    rows = np.zeros((len(pieces), ROW_WIDTH), np.int64)
    rows[:, 0] = [place[piece.run] for piece in pieces]
    rows[:, 2] = [piece.from_mm for piece in pieces]
    rows[:, 3] = [piece.to_mm for piece in pieces]
    reaches = [size.length_mm or 0 for size in project.products_of("bracket")]
    return accessory_counts(run_arrays(project), LaidArrays(rows), project.detail, reaches)


def needed_of(project: Project, quantities: Quantities) -> dict[str, int]:
    """Single boards, brackets, anchors and whole rolls of tape by product code, as an order counts them.

    Of several anchors or tapes the first listed is used; without one they are left out.
    """
    needed = {code: count for code, count in quantities.boards.items() if count}
    needed.update(quantities.brackets)
    anchor, tape = first_of(project, "anchor"), first_of(project, "tape")
    if anchor is not None and quantities.anchors:
        needed[anchor.code] = quantities.anchors
    if tape is not None and tape.length_mm and quantities.tape_mm:
        needed[tape.code] = -(-quantities.tape_mm // tape.length_mm)
    return needed


def cost_cents(project: Project, needed: Mapping[str, int], fractions: Mapping[str, Fraction]) -> int:
    """What an order of the needed products costs, in cents: allowance and packs each rounded up once."""
    total = 0
    for code, number in needed.items():
        product = project.product(code)
        quantity = number + ceil(number * fractions.get(code, Fraction(0)))
        total += -(-quantity // product.per_pack) * product.price_cents
    return total


def flat_fractions(project: Project) -> dict[str, Fraction]:
    """The allowance by product code where the project writes a rate; a simulated one is left out."""
    return {
        product.code: Fraction(row.fraction)
        for row in project.allowance
        if not isinstance(row.fraction, str)
        for product in project.products_of(row.kind)
    }


class _Fitted(NamedTuple):
    """As much of a planned piece as the waste account reads."""

    length_mm: int
    cut_width_start_mm: int
    cut_width_end_mm: int


def _fitted(piece: LaidPiece, widths: Mapping[str, int]) -> _Fitted:
    width = None if piece.tapered else widths[piece_id(piece)]
    return _Fitted(piece.length_mm, width or piece.width_start_mm, width or piece.width_end_mm)
