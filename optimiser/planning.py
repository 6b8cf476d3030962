"""The whole story in one function: lay out, cut, count, order, check.

Pure: nothing is read or written here, and no clock is looked at but the solver's own.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence

from optimiser.accessories import count_by_level
from optimiser.allowances import allowances_of
from optimiser.broken_rules import BreaksRules
from optimiser.checking import broken_rules_of_plan
from optimiser.cutting.problem import Layout
from optimiser.cutting_pieces import PlanProgress, cut_with_joints
from optimiser.cutting_stages import Cut, carry_limit, stock_names
from optimiser.deliveries import batch
from optimiser.joints import LaidPiece, lay_out
from optimiser.left_overs import usable_left_over
from optimiser.ordering import deliveries_of, needed_by_level, order_for
from optimiser.plan import NotPlanned, Plan, PlannedPiece, Staging
from optimiser.planned_pieces import piece_id, planned_pieces
from optimiser.project import Project
from optimiser.reading.problems import CannotBeDone
from optimiser.warnings_and_cautions import CAUTIONS, warnings_of
from optimiser.waste import waste_of
from optimiser.working_days import working_days_of


def plan(
    project: Project,
    *,
    staging: Staging = "whole",
    joint_rounds: int = 0,
    time_limit: float | None = None,
    seed: int = 0,
    progress: Callable[[PlanProgress], None] | None = None,
) -> Plan:
    """The plan of a whole project, judged before it is handed out.

    `staging` says which later deliveries an offcut may serve, `joint_rounds` how often the joints are laid anew
    at the prices of the cutting (as many joints, less board), `time_limit` (seconds) cuts the solver short, and
    equal projects and seeds give equal plans unless it did. Raises CannotBeDone when nothing at all can
    be planned, and BreaksRules when the judge finds a broken rule. Places that cannot be built as they stand
    are in `not_planned`, each with its reason and mend.
    """
    _refuse_confusing_codes(project)

    laid = lay_out(project)
    if not laid.pieces:
        raise CannotBeDone(_nothing_planned(laid.not_planned))

    laid, cut = cut_with_joints(
        project, laid, staging, joint_rounds=joint_rounds, time_limit=time_limit, seed=seed, progress=progress
    )
    pieces, without_bracket = planned_pieces(project, laid.pieces, _straight_widths(laid.pieces, cut))
    not_planned = (*laid.not_planned, *without_bracket)
    counts = dict(count_by_level(project, pieces))

    needed = needed_by_level(project, bought_by_level(project, pieces, cut.layouts), counts)
    in_all: Counter[str] = Counter()
    for here in needed.values():
        in_all.update(here)
    calendar = working_days_of(project.project.country)
    usable = usable_left_over(project, pieces, cut.left_over)
    try:
        allowances = allowances_of(project, in_all, seed, staging)
        order = order_for(project, needed, allowances.fractions, calendar)
        batched = batch(project, order, pieces, cut.layouts, usable, calendar, seed)
    except ValueError as error:
        raise CannotBeDone([str(error)]) from error
    if batched is not None:
        order = batched.order

    made = Plan(
        project=project,
        staging=staging,
        max_carry_stages=carry_limit(project, staging),
        boards=cut.boards,
        proofs=cut.proofs,
        waste=waste_of(project, pieces, cut.layouts, cut.left_over, _stock_sizes(project)),
        pieces=pieces,
        not_planned=not_planned,
        layouts=cut.layouts,
        left_over=cut.left_over,
        counts=counts,
        order=order,
        deliveries=(batched and batched.deliveries) or deliveries_of(project, order),
        warnings=(
            *warnings_of(project, pieces, not_planned, counts, needed, order, calendar),
            *allowances.warnings,
            *(batched.warnings if batched else ()),
        ),
        cautions=CAUTIONS,
        usable_left_over=usable,
    )
    if broken := broken_rules_of_plan(made, project):
        raise BreaksRules(broken)
    return made


def bought_by_level(
    project: Project, pieces: Sequence[PlannedPiece], layouts: Sequence[Layout]
) -> dict[str, dict[str, int]]:
    """Bought boards by the level that they are delivered for, and by code.

    A board comes with its stage's delivery: for the first level of that sequence (in the table's order) that
    one of its pieces belongs to, or simply the first of that sequence.
    """
    on_site = set(stock_names(project))
    level_of = {piece.id: piece.level for piece in pieces}
    together: dict[int, list[str]] = {}
    for level in project.levels:
        together.setdefault(level.sequence, []).append(level.level)
    bought: dict[str, dict[str, int]] = {}
    for layout in layouts:
        if layout.stock in on_site:
            continue
        served = {level_of[piece.id] for strip in layout.strips for piece in strip.pieces}
        levels = together[layout.stage]
        level_name = next((name for name in levels if name in served), levels[0])
        here = bought.setdefault(level_name, {})
        here[layout.code] = here.get(layout.code, 0) + layout.repeat
    return bought


def _straight_widths(pieces: Sequence[LaidPiece], cut: Cut) -> dict[str, tuple[int, int]]:
    """The cutting's widths; a tapered piece keeps its own ends whatever strip it lies in."""
    names = [piece_id(piece) for piece in pieces if not piece.tapered]
    return {name: (cut.widths[name], cut.widths[name]) for name in names}


def _refuse_confusing_codes(project: Project) -> None:
    """Layouts name a row of the stock table `stock-1`: a product of that code would be taken for it."""
    codes = {product.code for product in project.products}
    confusing = [name for name in stock_names(project) if name in codes]
    if confusing:
        raise CannotBeDone(
            [
                f"the product code {name} is what the plan calls a row of the stock table; rename the product"
                for name in confusing
            ]
        )


def _nothing_planned(not_planned: Sequence[NotPlanned]) -> list[str]:
    return [
        "nothing can be planned:",
        *(f"level {place.level}, {place.reason}; {place.mend}" for place in not_planned),
    ]


def _stock_sizes(project: Project) -> Mapping[str, tuple[int, int]]:
    return {
        name: (item.length_mm, item.width_mm)
        for name, item in zip(stock_names(project), project.stock, strict=True)
    }
