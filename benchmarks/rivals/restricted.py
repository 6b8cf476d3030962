"""The same solver on the problem as planners usually restrict it: no window, or no carry between levels."""

from __future__ import annotations

from optimiser.cutting.problem import CuttingProblem


def without_window(problem: CuttingProblem) -> CuttingProblem:
    """Every piece at one fixed width, its gap times 1.10 rounded up, as in a list without windows."""
    return problem.model_copy(
        update={
            "pieces": tuple(
                piece.model_copy(update={"width_max_mm": piece.width_min_mm}) for piece in problem.pieces
            )
        }
    )


def level_by_level(problem: CuttingProblem) -> CuttingProblem:
    """Every level cut from its own delivery: no offcut is carried to a later one."""
    return problem.model_copy(update={"max_carry_stages": 0})
