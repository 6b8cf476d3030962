"""First-fit decreasing in strips and boards: what a careful person or a spreadsheet macro does."""

from __future__ import annotations

from dataclasses import dataclass, field
from time import perf_counter

from benchmarks.rivals.outcome import RivalOutcome, only_board
from optimiser.cutting.problem import CuttingProblem, Piece


@dataclass
class _Strip:
    width_mm: int
    length_left_mm: int


@dataclass
class _Board:
    width_left_mm: int
    earliest: int
    latest: int
    strips: list[_Strip] = field(default_factory=list)


def first_fit_decreasing(problem: CuttingProblem) -> RivalOutcome:
    """Widest pieces first; each into the first strip that can take it, else a new strip in the first board
    that has the width, else a new board. A strip is as wide as the piece that opened it.

    Raises ValueError for problems with several boards, offcuts or tapers.
    """
    started = perf_counter()
    board = only_board(problem)
    kerf = board.kerf_mm
    boards: list[_Board] = []

    def carried_too_far(opened: _Board, piece: Piece) -> bool:
        span = max(opened.latest, piece.stage) - min(opened.earliest, piece.stage)
        return problem.max_carry_stages is not None and span > problem.max_carry_stages

    def place(piece: Piece) -> None:
        width, length = piece.width_min_mm, piece.length_mm
        for opened in boards:
            if carried_too_far(opened, piece):
                continue
            for strip in opened.strips:
                widths_agree = strip.width_mm >= width and (
                    problem.trim or strip.width_mm <= piece.width_max_mm
                )
                if widths_agree and strip.length_left_mm >= length:
                    strip.length_left_mm -= length + kerf
                    opened.earliest = min(opened.earliest, piece.stage)
                    opened.latest = max(opened.latest, piece.stage)
                    return
        chosen = next(
            (
                opened
                for opened in boards
                if opened.width_left_mm >= width and not carried_too_far(opened, piece)
            ),
            None,
        )
        if chosen is None:
            chosen = _Board(board.width_mm, piece.stage, piece.stage)
            boards.append(chosen)
        chosen.strips.append(_Strip(width, board.length_mm - length - kerf))
        chosen.width_left_mm -= width + kerf
        chosen.earliest = min(chosen.earliest, piece.stage)
        chosen.latest = max(chosen.latest, piece.stage)

    for piece in sorted(problem.pieces, key=lambda piece: (-piece.width_min_mm, -piece.length_mm)):
        for _ in range(piece.quantity):
            place(piece)
    return RivalOutcome(len(boards), None, perf_counter() - started)
