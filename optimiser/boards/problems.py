"""Laid pieces into cutting problems, stage by stage.

Boards that may serve the same runs are cut together: one problem a family of codes. A stage is a delivery:
the levels of one sequence number. The solver counts stages 1, 2, 3, ..., so that carrying counts deliveries.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from optimiser.boards.families import families_of, unequal_families
from optimiser.cutting.problem import Board, CuttingProblem, CuttingResult, Objective, Offcut, Piece
from optimiser.errors.problems import CannotBeDone
from optimiser.joints.layout import LaidPiece
from optimiser.model.building import Building
from optimiser.model.money import cents_of
from optimiser.model.plan import Staging
from optimiser.model.project import Board as BoardProduct
from optimiser.model.project import Project
from optimiser.model.sizes import Size
from optimiser.model.staging import FIRST_STAGE

Solve = Callable[[CuttingProblem, float | None], CuttingResult]
"""Solves a problem within so many seconds (None: no limit)."""


def _piece_to_cut(building: Building, piece: LaidPiece) -> Piece:
    """A laid piece as the cutting needs it. A tapered one may lie in any strip as wide as its wider end, since it
    is cut along a slant anyway."""
    if not piece.tapered:
        width_max, start, end = piece.width_max_mm, None, None
    else:
        width_max = max(building.boards[code].width_mm for code in piece.boards)
        start, end = piece.width_start_mm, piece.width_end_mm
    return Piece(
        id=piece.id,
        length_mm=piece.length_mm,
        width_min_mm=piece.width_min_mm,
        width_max_mm=width_max,
        stage=building.stage_of_level[piece.level],
        boards=piece.boards,
        width_start_mm=start,
        width_end_mm=end,
    )


@dataclass(frozen=True)
class BoardFamily:
    """Boards that are cut together, and their problem."""

    codes: tuple[str, ...]
    problem: CuttingProblem


def carry_limit(project: Project, staging: Staging) -> int | None:
    """How many deliveries a piece of board may wait for its use: none, the project's number, or any (None).

    The project's own `max_carry_stages` is obeyed always; without it 'carry' carries to the next delivery only, 'whole'
    to any.
    """
    if staging == "level":
        return 0
    given = project.project.max_carry_stages
    return 1 if given is None and staging == "carry" else given


def board_families(
    project: Project, pieces: Sequence[LaidPiece], staging: Staging
) -> tuple[BoardFamily, ...]:
    """The cutting problem of each family of boards that has pieces.

    A family of one code asks for the fewest boards, one of several for the least cost. Stock without a level
    is there from the first delivery. Raises CannotBeDone where boards that may serve a run cannot be cut together.
    """
    if unequal := unequal_families(project):
        raise CannotBeDone(unequal)
    stage_of_level = project.building.stage_of_level
    products = project.building.boards
    families = families_of(project.runs)
    family_of = {code: codes for codes in families for code in codes}
    pieces_of: dict[tuple[str, ...], list[Piece]] = {}
    for piece in pieces:
        pieces_of.setdefault(family_of[piece.boards[0]], []).append(_piece_to_cut(project.building, piece))
    found: list[BoardFamily] = []
    for codes in families:
        if codes not in pieces_of:
            continue
        objective = objective_of([products[code] for code in codes])
        rules = project.building.cutting_rules_of(codes[0])
        problem = CuttingProblem(
            boards=tuple(
                Board(
                    code=code,
                    length_mm=products[code].length_mm,
                    width_mm=products[code].width_mm,
                    kerf_mm=rules.kerf_mm,
                    price_cents=price_of_a_board(products[code]) if objective is Objective.LEAST_COST else 1,
                )
                for code in codes
            ),
            pieces=tuple(pieces_of[codes]),
            offcuts=tuple(
                Offcut(
                    id=name,
                    code=item.code,
                    length_mm=item.length_mm,
                    width_mm=item.width_mm,
                    quantity=item.quantity,
                    stage=stage_of_level[item.level] if item.level else FIRST_STAGE,
                )
                for name, item in project.building.stock.items()
                if item.code in codes
            ),
            trim=rules.trim,
            max_carry_stages=carry_limit(project, staging),
            objective=objective,
        )
        found.append(BoardFamily(codes, problem))
    return tuple(found)


def objective_of(products: Sequence[BoardProduct]) -> Objective:
    """The fewest boards of a single code; of several the least cost, or the least area where a price is missing."""
    if len(products) == 1:
        return Objective.FEWEST_BOARDS
    priced = all(product.price for product in products)
    return Objective.LEAST_COST if priced else Objective.LEAST_AREA


def price_of_a_board(product: BoardProduct) -> Fraction:
    """A pack's price shared by its boards, in cents, exact."""
    return Fraction(cents_of(product.price), product.per_pack)


def smallest_of(family: BoardFamily) -> Size:
    """The least length and the least width of a family's pieces."""
    pieces = family.problem.pieces
    return Size(min(piece.length_mm for piece in pieces), min(piece.width_min_mm for piece in pieces))
