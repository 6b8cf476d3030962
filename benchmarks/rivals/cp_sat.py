"""A direct CP-SAT model: level packing with windows.

A. Lodi, S. Martello and D. Vigo, 'Models and bounds for two-dimensional level packing problems', Journal of
Combinatorial Optimization 8 (2004) 363-379: the widest piece of a strip opens it, the widest strip of a
board opens the board.
"""

from __future__ import annotations

from time import perf_counter

from ortools.sat.python import cp_model

from benchmarks.rivals.outcome import RivalOutcome, only_board
from optimiser.cutting.problem import CuttingProblem

MOST_PIECES = 500  # the Booleans grow with the square of the pieces: 1000 pieces already take gigabytes


def direct_cp_sat(problem: CuttingProblem, *, time_limit: float, workers: int = 2) -> RivalOutcome:
    """Fewest boards by CP-SAT alone, with the bound it proves, within `time_limit` seconds.

    More than `MOST_PIECES` pieces are declined, which the note says. Raises ValueError for problems with several
    boards, offcuts, tapers or a carry limit.
    """
    started = perf_counter()
    board = only_board(problem)
    if problem.max_carry_stages is not None:
        raise ValueError("the direct model knows no carry limit")
    kerf = board.kerf_mm
    length_of_board, width_of_board = board.length_mm + kerf, board.width_mm + kerf
    count = sum(piece.quantity for piece in problem.pieces)
    if count > MOST_PIECES:
        return RivalOutcome(None, None, 0.0, f"not built: {count} pieces make up to {count**2} Booleans")
    pieces = sorted(
        (piece for piece in problem.pieces for _ in range(piece.quantity)),
        key=lambda piece: (-piece.width_min_mm, -piece.length_mm),
    )
    everyone = range(len(pieces))
    lengths = [piece.length_mm + kerf for piece in pieces]
    widths = [piece.width_min_mm + kerf for piece in pieces]
    model = cp_model.CpModel()
    opens_strip = [model.new_bool_var("") for _ in everyone]
    opens_board = [model.new_bool_var("") for _ in everyone]
    joins_strip = {
        (strip, piece): model.new_bool_var("")
        for strip in everyone
        for piece in range(strip + 1, len(pieces))
        if lengths[strip] + lengths[piece] <= length_of_board
        and (problem.trim or pieces[strip].width_min_mm <= pieces[piece].width_max_mm)
    }
    joins_board = {
        (first, strip): model.new_bool_var("")
        for first in everyone
        for strip in range(first + 1, len(pieces))
        if widths[first] + widths[strip] <= width_of_board
    }
    for index in everyone:
        hosts = [joins_strip[strip, index] for strip in range(index) if (strip, index) in joins_strip]
        model.add_exactly_one([opens_strip[index], *hosts])
        guests = [piece for piece in range(index + 1, len(pieces)) if (index, piece) in joins_strip]
        model.add(
            sum(lengths[piece] * joins_strip[index, piece] for piece in guests)
            <= (length_of_board - lengths[index]) * opens_strip[index]
        )
        openers = [joins_board[first, index] for first in range(index) if (first, index) in joins_board]
        model.add(sum(openers) + opens_board[index] == opens_strip[index])
        strips = [strip for strip in range(index + 1, len(pieces)) if (index, strip) in joins_board]
        model.add(
            sum(widths[strip] * joins_board[index, strip] for strip in strips)
            <= (width_of_board - widths[index]) * opens_board[index]
        )
    area = sum(length * width for length, width in zip(lengths, widths, strict=True))
    model.add(sum(opens_board) >= -(-area // (length_of_board * width_of_board)))
    model.minimize(sum(opens_board))
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = time_limit
    solver.parameters.num_workers = workers
    solver.parameters.random_seed = 0
    status = solver.solve(model)
    seconds = perf_counter() - started
    bound = round(solver.best_objective_bound) if status != cp_model.UNKNOWN else None
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return RivalOutcome(None, bound, seconds, "no plan within the time limit")
    note = "" if status == cp_model.OPTIMAL else f"stopped at {time_limit:g} s"
    return RivalOutcome(round(solver.objective_value), bound, seconds, note)
