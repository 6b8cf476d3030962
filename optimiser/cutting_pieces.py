"""Laid pieces cut by the solver, family of boards by family; and, when asked, joints and cutting together."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from optimiser.carried_or_apart import no_worse_than_apart
from optimiser.cutting.problem import CuttingProblem, CuttingResult
from optimiser.cutting.solve import Clock, Progress, fewest_boards, solve
from optimiser.cutting_stages import Cut, board_families, cut_families, families_of
from optimiser.forecast import forecast_levels, solve_forecasts_apart
from optimiser.joints import LaidPiece, LaidRuns
from optimiser.joints_by_price import Layouts, by_run, improve_joints
from optimiser.plan import Staging
from optimiser.planned_pieces import piece_id, piece_to_cut
from optimiser.project import Project, Run

SHARE_OF_FIRST_JOINTS = 0.4  # of a time limit, where the joints are laid anew after the first cutting


@dataclass(frozen=True)
class PlanProgress:
    """How far the cutting has come: for the boards `codes`, `best` is what the plan so far uses and `bound`
    what no plan can go below: boards when `counts_boards`, otherwise cost in the problem's own units."""

    codes: tuple[str, ...]
    counts_boards: bool
    best: int
    bound: int
    seconds: float


def cut_with_joints(
    project: Project,
    laid: LaidRuns,
    staging: Staging,
    *,
    joint_rounds: int = 0,
    time_limit: float | None = None,
    seed: int = 0,
    progress: Callable[[PlanProgress], None] | None = None,
) -> tuple[LaidRuns, Cut]:
    """The pieces and how they are cut. With `joint_rounds` the joints are laid anew so often at the cutting's
    prices and the pieces cut again; what costs less is taken, the first joints where both cost the same.
    """
    clock = Clock(time_limit)
    share = time_limit if time_limit is None or not joint_rounds else time_limit * SHARE_OF_FIRST_JOINTS
    cut = cut_pieces(project, laid.pieces, staging, share, seed, progress)
    if not joint_rounds or clock.out():
        return laid, cut
    better = _with_joints_by_price(project, laid, staging, joint_rounds, clock.left)
    if better == laid or clock.out():
        return laid, cut
    seconds = clock.left() if clock.left else None
    cut_anew = cut_pieces(project, better.pieces, staging, seconds, seed, progress)
    return (better, cut_anew) if _cost(cut_anew) < _cost(cut) else (laid, cut)


def cut_pieces(
    project: Project,
    pieces: Sequence[LaidPiece],
    staging: Staging,
    time_limit: float | None,
    seed: int,
    progress: Callable[[PlanProgress], None] | None = None,
) -> Cut:
    """Cuts the laid pieces: nominal levels by themselves, carrying never worse than not.

    `time_limit` in seconds; `progress` is told of every improvement of a family of boards.
    """

    def solve_and_tell(problem: CuttingProblem, seconds: float | None) -> CuttingResult:
        codes = tuple(board.code for board in problem.boards)

        def tell(found: Progress) -> None:
            if progress is not None:
                progress(
                    PlanProgress(codes, not problem.several_boards, found.best, found.bound, found.seconds)
                )

        return solve(problem, time_limit=seconds, seed=seed, progress=tell)

    levels = forecast_levels(pieces)
    forecast = frozenset(piece_id(piece) for piece in pieces if piece.level in levels)

    def solve_each(problem: CuttingProblem, seconds: float | None) -> CuttingResult:
        return solve_forecasts_apart(problem, forecast, no_worse_than_apart(solve_and_tell), seconds)

    families = board_families(project, [piece_to_cut(project, piece) for piece in pieces], staging)
    return cut_families(project, families, solve_each, _fewest, time_limit)


def _with_joints_by_price(
    project: Project,
    laid: LaidRuns,
    staging: Staging,
    rounds: int,
    seconds_left: Callable[[], float] | None,
) -> LaidRuns:
    """The runs laid out anew at the cutting's prices, each family of boards for itself."""
    layouts = dict(by_run(project.runs, laid.pieces))
    for codes in families_of(project.runs):
        runs = tuple(run for run in project.runs if run.board[0] in codes and layouts[run.run])

        def problem_of(found: Layouts, runs: tuple[Run, ...] = runs) -> CuttingProblem:
            pieces = [piece_to_cut(project, piece) for run in runs for piece in found[run.run]]
            return board_families(project, pieces, staging)[0].problem

        if runs:
            layouts.update(improve_joints(project, runs, layouts, problem_of, rounds, seconds_left)[0])
    pieces = tuple(piece for run in project.runs for piece in layouts[run.run])
    return LaidRuns(pieces, laid.not_planned)


def _cost(cut: Cut) -> tuple[int, int]:
    """Cents, then boards where prices are not known."""
    return sum(proof.cost_cents for proof in cut.proofs), sum(proof.boards for proof in cut.proofs)


def _fewest(problem: CuttingProblem, seconds: float | None) -> int:
    return fewest_boards(problem, Clock(seconds))
