"""What changing labels costs when boards that could stay as they were planned are cut again as a whole."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from optimiser.boards.problems import price_of_a_board
from optimiser.cutting.problem import CuttingPattern, CuttingProblem, CuttingResult
from optimiser.model.money import cents_of
from optimiser.model.project import Project


@dataclass(frozen=True)
class LabelPrice:
    """What changing a label costs, in `cents`, against boards: `boards` has the price of one by code."""

    cents: int
    boards: Mapping[str, Fraction]

    @classmethod
    def of(cls, project: Project) -> LabelPrice:
        """The project's own; nothing where it gives none."""
        price = project.project.relabel_cost
        return cls(
            0 if price is None else cents_of(price),
            {code: price_of_a_board(board) for code, board in project.building.boards.items()},
        )

    def with_boards(
        self, problem: CuttingProblem, result: CuttingResult, stays: Iterable[CuttingPattern]
    ) -> tuple[Fraction, Fraction, int]:
        """What is made least: boards and the labels that change in one sum, then boards, then labels. Without the
        prices of boards they come first."""
        changed = labels_changed(result, stays)
        boards = Fraction(result.cost)
        if not all(self.boards[board.code] for board in problem.boards):
            return boards, boards, changed
        return self.cents_of(problem, result) + self.cents * changed, boards, changed

    def cents_of(self, problem: CuttingProblem, result: CuttingResult) -> Fraction:
        """What the boards of a result cost."""
        if problem.counts_boards:
            return result.boards * self.boards[problem.boards[0].code]
        bought = result.boards_by_code or {}
        return sum((number * self.boards[code] for code, number in bought.items()), Fraction(0))


def labels_changed(result: CuttingResult, stays: Iterable[CuttingPattern]) -> int:
    """The pieces of boards that could stay which a result cuts to another width, or from a board of another number: one
    keeps its number only if all its pieces are cut from it."""
    layout_of = {piece: found for layout in result.layouts for found in (_widths(layout),) for piece in found}
    return sum(
        not was.keys() <= layout_of[piece].keys() or layout_of[piece][piece] != width
        for was in map(_widths, stays)
        for piece, width in was.items()
    )


def _widths(pattern: CuttingPattern) -> dict[str, int]:
    """The width that each piece of a pattern is cut to."""
    return {piece.id: piece.width_mm for strip in pattern.strips for piece in strip.pieces}
