"""Laid pieces cut by the solver, family of boards by family; and, when asked, joints and cutting together."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from optimiser.boards.carry_fallback import with_independent_stage_fallback
from optimiser.boards.carrying import CarryPrice, least_sum
from optimiser.boards.families import families_of
from optimiser.boards.family_cuts import Cut, cut_families
from optimiser.boards.forecast_levels import forecast_levels, solve_forecast_levels_separately
from optimiser.boards.frontier import frontier_plans
from optimiser.boards.joint_pricing import Layouts, by_run, improve_joints
from optimiser.boards.paid_packs import paid_boards
from optimiser.boards.problems import BoardFamily, board_families
from optimiser.boards.proof_over_joints import with_bounds_over_joints
from optimiser.cutting.problem import Cents, CuttingProblem, CuttingResult
from optimiser.cutting.solve import Clock, Progress, fewest_boards, solve
from optimiser.errors.problems import CannotBeDone
from optimiser.joints.layout import LaidPiece, LaidRuns
from optimiser.model.budget import Budget
from optimiser.model.plan import Staging
from optimiser.model.planned_boards import Proof
from optimiser.model.project import Project, Run

USUAL_ROUNDS = 2
FEW_PIECES = 150  # for more, rounds take longer than a fifth of the plan (measured): on request only
SHARE_BEFORE_THE_BOUND = 0.85  # of a time limit, where the bound over all joints follows the cutting
SHARE_OF_FIRST_JOINTS = 0.4  # of a time limit, where the joints are laid again after the first cutting


@dataclass(frozen=True)
class PlanProgress:
    """How far the cutting has come: for the boards `codes`, `best` is what the plan so far uses and `bound`
    what no plan can go below: boards when `counts_boards`, otherwise cents, or mm2 where prices are not known."""

    codes: tuple[str, ...]
    counts_boards: bool
    best: Cents
    bound: Cents
    seconds: float


def cut_with_joints(
    project: Project,
    laid: LaidRuns,
    staging: Staging,
    *,
    joint_rounds: int | None = None,
    over_joints: bool = True,
    time_limit: float | None = None,
    seed: int = 0,
    progress: Callable[[PlanProgress], None] | None = None,
    price: CarryPrice | None = None,
) -> tuple[LaidRuns, Cut]:
    """The pieces and how they are cut. With `joint_rounds` the joints are laid again so often at the cutting's
    prices and the pieces cut again; what costs less is taken, the first joints where both cost the same. With a
    `price` on carrying boards and carrying are one sum.

    None: rounds where they may pay, so where the plan is above what every layout of as few joints costs, and the
    building is small enough for them. `over_joints`: work that bound out, for the proofs too.
    """
    clock = Clock(time_limit)
    part = SHARE_OF_FIRST_JOINTS if joint_rounds else SHARE_BEFORE_THE_BOUND if over_joints else 1
    share = Budget(time_limit).share(part)
    cut = cut_pieces(project, laid.pieces, staging, share.seconds, seed, progress, price=price)
    if over_joints and not clock.out():
        cut = replace(
            cut, proofs=with_bounds_over_joints(project, laid.pieces, staging, cut.proofs, clock.left)
        )
    if joint_rounds is None:
        joint_rounds = USUAL_ROUNDS if over_joints and len(laid.pieces) <= FEW_PIECES else 0
    if not joint_rounds or clock.out() or not _may_pay(cut):
        return laid, cut
    better = _with_joints_by_price(project, laid, staging, joint_rounds, clock.left)
    if better == laid or clock.out():
        return laid, cut
    seconds = clock.left() if clock.left else None
    recut = cut_pieces(project, better.pieces, staging, seconds, seed, progress, price=price)
    cents = price.cents if price else 0
    if _cost(recut, cents) >= _cost(cut, cents):
        return laid, cut
    return better, replace(recut, proofs=_with_the_bounds_of(cut, recut))


def _may_pay(cut: Cut) -> bool:
    """Whether other joints could still cost less: no bound over all of them says that they cannot."""
    return any(
        proof.lower_bound_cents_any_joints is None
        or (
            proof.boards > proof.lower_bound_any_joints
            if proof.lower_bound_any_joints is not None
            else proof.cost_cents > proof.lower_bound_cents_any_joints
        )
        for proof in cut.proofs
    )


def _with_the_bounds_of(first: Cut, recut: Cut) -> tuple[Proof, ...]:
    """The proofs of other joints, as few: the bound over them all is the same, but never above their own."""
    proofs = []
    for before, proof in zip(first.proofs, recut.proofs, strict=True):
        boards, cents = before.lower_bound_any_joints, before.lower_bound_cents_any_joints
        proofs.append(
            proof.model_copy(
                update={
                    "lower_bound_any_joints": None if boards is None else min(boards, proof.lower_bound),
                    "lower_bound_cents_any_joints": None
                    if cents is None
                    else min(cents, proof.lower_bound_cents),
                }
            )
        )
    return tuple(proofs)


def cut_pieces(
    project: Project,
    pieces: Sequence[LaidPiece],
    staging: Staging,
    time_limit: float | None,
    seed: int,
    progress: Callable[[PlanProgress], None] | None = None,
    *,
    waiting: bool = True,
    price: CarryPrice | None = None,
) -> Cut:
    """Cuts the laid pieces: nominal levels by themselves, carrying never worse than not.

    `time_limit` in seconds; `progress` is told of every improvement of a family of boards. First as little is paid as
    can be, in whole packs; then, with what the paid packs hold, as little waits as can be. With a `price` on carrying
    both are one sum instead. Without `waiting` the boards alone count.
    """
    paid = paid_boards(project)

    def solve_and_tell(
        problem: CuttingProblem, seconds: float | None, packs_of: Mapping[str, int] | None = None
    ) -> CuttingResult:
        codes = tuple(board.code for board in problem.boards)

        def tell(found: Progress) -> None:
            if progress is not None:
                progress(PlanProgress(codes, problem.counts_boards, found.best, found.bound, found.seconds))

        budget = paid if packs_of is None else paid(packs_of)
        return solve(problem, time_limit=seconds, seed=seed, progress=tell, budget=budget, waiting=waiting)

    forecast = forecast_pieces(project, pieces)

    def solve_each(family: BoardFamily, seconds: float | None) -> CuttingResult:
        if price is None:
            solve_part = with_independent_stage_fallback(solve_and_tell)
        else:
            solve_part = with_independent_stage_fallback(
                lambda part, limit: least_sum(price, family, part, solve_and_tell, limit),
                lambda result: price.sum_cents(result, family.codes),
            )
        return solve_forecast_levels_separately(family.problem, forecast, solve_part, seconds)

    families = board_families(project, pieces, staging)
    return cut_families(
        project, families, solve_each, _fewest, time_limit, price.bound_cents if price else None
    )


def cut_as_chosen(
    project: Project,
    pieces: Sequence[LaidPiece],
    staging: Staging,
    number: int,
    time_limit: float | None,
    seed: int,
    price: CarryPrice | None = None,
) -> Cut:
    """The pieces cut as the plan of a number on the frontier of boards against waiting (`frontier_plans`).

    A time limit is shared out as there. Raises CannotBeDone for a number that it does not have.
    """
    families = board_families(project, pieces, staging)
    plans = frontier_plans(project, families, forecast_pieces(project, pieces), time_limit, seed)
    if not 1 <= number <= len(plans):
        raise CannotBeDone(
            [
                f"waiting choice {number}: there are {len(plans)} plans from 1, where nothing waits, to {len(plans)},"
                " with the fewest boards; `stagings` shows them"
            ]
        )
    results = dict(zip((family.codes for family in families), plans[number - 1].results, strict=True))
    return cut_families(
        project,
        families,
        lambda family, seconds: results[family.codes],
        _fewest,
        time_limit,
        price.bound_cents if price else None,
    )


def forecast_pieces(project: Project, pieces: Iterable[LaidPiece]) -> frozenset[str]:
    """The pieces of the levels that are not wholly measured."""
    levels = forecast_levels(project)
    return frozenset(piece.id for piece in pieces if piece.level in levels)


def _with_joints_by_price(
    project: Project,
    laid: LaidRuns,
    staging: Staging,
    rounds: int,
    seconds_left: Callable[[], float] | None,
) -> LaidRuns:
    """The runs laid out again at the cutting's prices, each family of boards for itself."""
    layouts = dict(by_run(project.runs, laid.pieces))
    for codes in families_of(project.runs):
        runs = tuple(run for run in project.runs if run.board[0] in codes and layouts[run.run])

        def problem_of(found: Layouts, runs: tuple[Run, ...] = runs) -> CuttingProblem:
            pieces = [piece for run in runs for piece in found[run.run]]
            return board_families(project, pieces, staging)[0].problem

        if runs:
            layouts.update(improve_joints(project, runs, layouts, problem_of, rounds, seconds_left)[0])
    pieces = tuple(piece for run in project.runs for piece in layouts[run.run])
    return LaidRuns(pieces, laid.not_planned)


def _cost(cut: Cut, carry_cents: int) -> tuple[int, int]:
    """Cents, carrying included, then boards where prices are not known."""
    carrying = carry_cents * cut.waiting.remainder_stages
    return sum(p.cost_cents for p in cut.proofs) + carrying, sum(p.boards for p in cut.proofs)


def _fewest(problem: CuttingProblem, seconds: float | None) -> int:
    return fewest_boards(problem, Clock(seconds))
