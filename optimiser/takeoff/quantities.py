"""What a project uses and what that costs, without an order, dates or positions: a plan's figures, quickly.

The comparison of gaps and the tolerance simulation ask for these hundreds of times. The layout and the cutting are
the plan's own, so that boards, bound, waste and cost here are the plan's at the same gaps.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import ceil

import numpy as np

from optimiser.boards.cut import cut_pieces
from optimiser.boards.waste import waste_of
from optimiser.joints.arrays import ROW_WIDTH, LaidArrays
from optimiser.joints.layout import LaidPiece, lay_out, run_arrays
from optimiser.model.money import NOTHING
from optimiser.model.plan import Staging
from optimiser.model.planned_pieces import NotPlanned
from optimiser.model.project import Product, Project
from optimiser.takeoff.arrays import NO_STAND, AccessoryCounts, accessory_counts


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
    cut = cut_pieces(project, laid.pieces, staging, time_limit, seed, None, waiting=False)
    counts = accessories_of(project, laid.pieces)
    sizes = project.brackets
    by_size = counts.by_size(len(sizes)).tolist()
    brackets = {size.code: count for size, count in zip(sizes, by_size, strict=True) if count}
    twice_fitted = sum(_twice_area_mm2(piece, cut.widths) for piece in laid.pieces)
    waste = waste_of(project, twice_fitted, cut.layouts, cut.left_over)
    return Quantities(
        pieces=len(laid.pieces),
        boards={code: board.count for code, board in cut.boards.items()},
        lower_bound=sum(proof.lower_bound for proof in cut.proofs),
        scrap_fraction=waste.scrap_fraction,
        joints=counts.joints,
        brackets=brackets,
        anchors=counts.anchors,
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
    reaches = [size.reach_mm for size in project.brackets]
    return accessory_counts(run_arrays(project), LaidArrays(rows), project.building.details, reaches)


def needed_of(project: Project, quantities: Quantities) -> dict[str, int]:
    """Single boards, brackets, anchors and millimetres of tape by product code, as an order counts them.

    Of several anchors or tapes the first listed is used; without one they are left out.
    """
    needed = {code: count for code, count in quantities.boards.items() if count}
    needed.update(quantities.brackets)
    anchor, tape = project.building.anchor, project.building.tape
    if anchor is not None and quantities.anchors:
        needed[anchor.code] = quantities.anchors
    if tape is not None and quantities.tape_mm:
        needed[tape.code] = quantities.tape_mm
    return needed


def unit_of(product: Product) -> int:
    """How much of a product's need is one that is sold: the millimetres of a roll of tape, or 1."""
    return product.roll_mm if product.kind == "tape" else 1


def cost_of(project: Project, needed: Mapping[str, int], fractions: Mapping[str, Fraction]) -> Decimal:
    """What an order of the needed products costs: what is needed with its allowance in whole packs."""
    total = NOTHING
    for code, number in needed.items():
        product = project.product(code)
        quantity = ceil(number * (1 + fractions.get(code, Fraction(0))) / unit_of(product))
        total += -(-quantity // product.per_pack) * product.price
    return total


def _twice_area_mm2(piece: LaidPiece, widths: Mapping[str, int]) -> int:
    """Twice the area of a piece as it is cut: at the width of its strip, a tapered one at its own ends."""
    ends = piece.width_start_mm + piece.width_end_mm if piece.tapered else 2 * widths[piece.id]
    return piece.length_mm * ends
