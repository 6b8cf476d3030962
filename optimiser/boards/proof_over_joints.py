"""The proof of a plan's boards widened: from the pieces it cuts to every layout of as few joints."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from fractions import Fraction
from math import ceil

from optimiser.boards.forecast_levels import forecast_levels
from optimiser.boards.joint_bound import MOST_ITERATIONS, POSITIONS_A_SECOND, JointBound, can_be_bounded
from optimiser.boards.problems import board_families, carry_limit, price_of_a_board
from optimiser.cutting.problem import CuttingProblem, Objective
from optimiser.joints.layout import LaidPiece
from optimiser.model.plan import Staging
from optimiser.model.planned_boards import Proof
from optimiser.model.project import Project, Run

MOST_POSITIONS = 6_000_000  # joint positions, some 40 floors of 150 m
LEAST_ITERATIONS = 3  # for each of many parts that are bounded by themselves


def with_bounds_over_joints(
    project: Project,
    pieces: Sequence[LaidPiece],
    staging: Staging,
    proofs: Iterable[Proof],
    seconds_left: Callable[[], float] | None = None,
) -> tuple[Proof, ...]:
    """The proofs with what no layout of as few joints can go below; as they are where `seconds_left` is too short.

    The pieces given are one of those layouts, so the bound is never above the cutting's own.
    """
    families = {family.codes: family.problem for family in board_families(project, pieces, staging)}
    laid = {piece.run for piece in pieces}
    found = []
    for proof in proofs:
        runs = tuple(run for run in project.runs if run.board[0] in proof.codes and run.run in laid)
        bound = bound_over_joints(project, runs, families[proof.codes], staging, proof, seconds_left)
        found.append(proof if bound is None else _with_bound(project, proof, bound))
    return tuple(found)


def bound_over_joints(
    project: Project,
    runs: Sequence[Run],
    problem: CuttingProblem,
    staging: Staging,
    proof: Proof,
    seconds_left: Callable[[], float] | None = None,
) -> int | None:
    """Boards, or cents (for several sizes), that every layout of as few joints costs at the least; None where it is
    not known: no price, an offcut larger than its product, runs of several details that share boards, no time, or more
    than MOST_POSITIONS millimetres of edge, where it would take longer than the plan.

    Runs that share no boards are bounded apart and each bound is rounded up, unless they may share offcuts.
    """
    if len({run.detail for run in runs}) > 1:
        return None
    if problem.objective is Objective.LEAST_AREA or not can_be_bounded(problem):
        return None
    if sum(run.length_mm for run in runs) > MOST_POSITIONS:
        return None
    parts = [tuple(runs)] if problem.offcuts else _apart(project, runs, staging)
    iterations = MOST_ITERATIONS if len(parts) == 1 else max(LEAST_ITERATIONS, MOST_ITERATIONS // len(parts))
    known = proof.lower_bound if problem.counts_boards else proof.lower_bound_cents
    enough = Fraction(known) / problem.unit if len(parts) == 1 else None
    total = Fraction(0)
    for part in parts:
        joint_bound = JointBound(project, part, problem)
        if seconds_left and seconds_left() < joint_bound.positions / POSITIONS_A_SECOND:
            return None
        bound = joint_bound.best(iterations, enough, seconds_left) * problem.unit
        total += ceil(bound) if problem.counts_boards else bound
    return ceil(total)


def _apart(project: Project, runs: Sequence[Run], staging: Staging) -> list[tuple[Run, ...]]:
    """The runs by what they may share boards with: a level that is still nominal with its own delivery alone, and
    every delivery by itself where nothing is carried."""
    forecast = forecast_levels(project)
    stage_of = project.building.stage_of_level
    each = carry_limit(project, staging) == 0
    parts: dict[tuple[bool, int | None], list[Run]] = {}
    for run in runs:
        nominal = run.level in forecast
        parts.setdefault((nominal, stage_of[run.level] if nominal or each else None), []).append(run)
    return [tuple(part) for part in parts.values()]


def _with_bound(project: Project, proof: Proof, bound: int) -> Proof:
    if len(proof.codes) > 1:
        return proof.model_copy(
            update={"lower_bound_cents_any_joints": max(0, min(bound, proof.lower_bound_cents))}
        )
    boards = max(0, min(bound, proof.lower_bound))
    cents = ceil(price_of_a_board(project.building.boards[proof.codes[0]]) * boards)
    return proof.model_copy(update={"lower_bound_any_joints": boards, "lower_bound_cents_any_joints": cents})
