"""Pre-cut or site-cut: how many pieces would not fit if they were cut now, to gaps that are still nominal.

A piece cut to the nominal gap is fitted to the real one. Where the real gap needs more than its width it is
scrap, since it cannot be extended; where it is too wide it may be trimmed on site if the detail allows that,
and is scrap if not. The real gaps are drawn as the tolerance simulation draws them (`optimiser.simulation.draws`:
tolerance = two standard deviations, correlated along the run); over a piece's whole span its width must serve.
Cut on site, after measuring, the same pieces scrap nothing: the price is the crew's time.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from fractions import Fraction
from typing import TYPE_CHECKING

from optimiser.model.immutable import Immutable
from optimiser.model.plan import Plan
from optimiser.model.planned_pieces import PlannedPiece
from optimiser.model.project import Gap, Project

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from optimiser.simulation.draws import ToleranceProcess

DRAWS = 500


class PrecutRisk(Immutable):
    """A level's risk. Shares are expected shares of its `pieces`, which are those that are not cut yet; None where a
    nominal gap has no tolerance.

    `boards_scrapped` are the boards' worth of pieces that would be scrap, `boards_site_cut` what the plan buys
    for the level when it is cut on site after measuring.
    """

    level: str
    pieces: int
    nominal_pieces: int
    share_too_narrow: float | None
    share_too_wide: float | None
    share_scrapped: float | None
    boards_scrapped: float | None
    boards_site_cut: int

    @property
    def share_not_fitting(self) -> float | None:
        """The expected share of pieces that do not fit as they are cut."""
        if self.share_too_narrow is None or self.share_too_wide is None:
            return None
        return self.share_too_narrow + self.share_too_wide


def precut_risks(made: Plan, *, draws: int = DRAWS, seed: int = 0) -> tuple[PrecutRisk, ...]:
    """The risk of each level with pieces that are not cut yet, in delivery order; a measured level has none.

    The standard error of a share is at most 0.5 / sqrt(draws) a piece, and less over a level.
    """
    project = made.project
    board_area = {code: board.size.area_mm2 for code, board in project.building.boards.items()}
    cut_from = {
        piece.id: layout.code for layout in made.layouts for strip in layout.strips for piece in strip.pieces
    }
    to_cut = [piece for piece in made.pieces if not piece.done]
    misfits = _misfits(project, [piece for piece in to_cut if piece.basis == "nominal"], draws, seed)
    bought: dict[str, int] = defaultdict(int)
    for line in made.order.lines:
        if line.kind == "board":
            bought[line.level] += line.needed
    found = []
    for level in project.levels_in_order():
        pieces = [piece for piece in to_cut if piece.level == level.level]
        if not pieces:
            continue
        narrow = wide = scrapped = 0.0
        boards = Fraction(0)
        known = True
        for piece in pieces:
            if piece.basis == "measured":
                continue
            misfit = misfits[piece.id]
            if misfit is None:
                known = False
                continue
            narrow += misfit[0]
            wide += misfit[1]
            scrap = misfit[0] + (0.0 if project.building.detail_of(piece.run).trim else misfit[1])
            scrapped += scrap
            ends = piece.cut_width_start_mm + piece.cut_width_end_mm
            boards += Fraction(scrap) * Fraction(ends * piece.length_mm, 2 * board_area[cut_from[piece.id]])
        count = len(pieces)
        found.append(
            PrecutRisk(
                level=level.level,
                pieces=count,
                nominal_pieces=sum(piece.basis == "nominal" for piece in pieces),
                share_too_narrow=narrow / count if known else None,
                share_too_wide=wide / count if known else None,
                share_scrapped=scrapped / count if known else None,
                boards_scrapped=float(boards) if known else None,
                boards_site_cut=bought[level.level],
            )
        )
    return tuple(found)


def _misfits(
    project: Project, pieces: Sequence[PlannedPiece], draws: int, seed: int
) -> dict[str, tuple[float, float] | None]:
    """For each piece the shares of draws in which it is too narrow, and in which it is too wide; None when a
    nominal gap that decides it has no tolerance."""
    if not pieces:
        return {}
    import numpy as np

    from optimiser.simulation.draws import tolerance_process
    from optimiser.survey.gap_line import deciding_gaps

    process = tolerance_process(project)
    gaps = process.gaps(np.random.SeedSequence(seed).spawn(draws))
    runs = {run.run: place for place, run in enumerate(project.runs)}
    surveyed = project.building.gaps
    found: dict[str, tuple[float, float] | None] = {}
    for piece in pieces:
        if _unknown(deciding_gaps(surveyed[piece.run], piece.from_mm, piece.to_mm)):
            found[piece.id] = None
            continue
        detail = project.building.detail_of(piece.run)
        least, most = 1 + float(detail.oversize_min), 1 + float(detail.oversize_max)
        at, here = _along(process, gaps, runs[piece.run], piece)
        share = (at - piece.from_mm) / piece.length_mm
        ends = piece.cut_width_start_mm, piece.cut_width_end_mm
        width = ends[0] + (ends[1] - ends[0]) * share
        narrow = (here * least > width + 1e-6).any(axis=1)
        wide = (here * most < width - 1e-6).any(axis=1) & ~narrow
        found[piece.id] = float(narrow.mean()), float(wide.mean())
    return found


def _unknown(gaps: Sequence[Gap]) -> bool:
    return any(gap.basis == "nominal" and gap.tolerance_mm is None for gap in gaps)


def _along(
    process: ToleranceProcess, gaps: NDArray[np.int64], run: int, piece: PlannedPiece
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Positions over a piece's span (its ends and the knots within) and the gap there: a row a draw."""
    import numpy as np

    first, last = process.runs.knot_start[run], process.runs.knot_start[run + 1]
    knots = process.runs.knot_at[first:last]
    inside = knots[(knots > piece.from_mm) & (knots < piece.to_mm)]
    at = np.concatenate(([piece.from_mm], inside, [piece.to_mm])).astype(float)
    after = np.clip(np.searchsorted(knots, at, side="right"), 1, max(1, len(knots) - 1))
    if len(knots) == 1:
        return at, np.repeat(gaps[:, first : first + 1], len(at), axis=1).astype(float)
    left, right = knots[after - 1], knots[after]
    weight = np.clip((at - left) / (right - left), 0.0, 1.0)
    here = gaps[:, first + after - 1] * (1 - weight) + gaps[:, first + after] * weight
    return at, here
