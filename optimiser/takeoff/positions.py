"""Where brackets stand along a piece, by the rules of a detail.

The rule itself is `optimiser.kernels.reference.brackets`, by which the compiled kernel counts too.
"""

from __future__ import annotations

from optimiser.kernels.reference import brackets
from optimiser.model.project import Detail


def bracket_positions(length_mm: int, mullions_mm: tuple[int, ...], detail: Detail) -> tuple[int, ...] | None:
    """Ascending positions from the piece's start in mm, or None when no arrangement keeps clear of the mullions.

    `mullions_mm` are measured from the piece's start; those just beyond its ends (negative, or more than
    `length_mm`) count too. See `brackets.bracket_positions` for the rule and its ties.
    """
    standing = standing_of(detail)
    near = {m for m in mullions_mm if -standing.clearance < m < length_mm + standing.clearance}
    return brackets.bracket_positions(length_mm, tuple(sorted(near)), standing)


def standing_of(detail: Detail) -> brackets.Standing:
    """The detail's rules of where brackets may stand."""
    return brackets.Standing(
        clearance=detail.bracket_to_mullion_min_mm,
        end_distance=detail.bracket_end_distance_mm,
        spacing=detail.bracket_spacing_max_mm,
    )
