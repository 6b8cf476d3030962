"""The whole story in one function: lay out, cut, count, order, check.

Pure: nothing is read or written here, and no clock is looked at but the solver's own.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from decimal import Decimal

from optimiser.boards.carrying import CarryPrice
from optimiser.boards.cut import PlanProgress, cut_as_chosen, cut_with_joints
from optimiser.boards.family_cuts import Cut
from optimiser.boards.thin_rips import with_thin_rips_absorbed
from optimiser.checking import broken_rules_of_plan
from optimiser.cutting.clock import stopping_after
from optimiser.errors.broken_rules import BreaksRules
from optimiser.errors.problems import CannotBeDone
from optimiser.joints.layout import LaidPiece, lay_out
from optimiser.model.plan import Plan, Staging
from optimiser.model.planned_pieces import NotPlanned
from optimiser.model.project import Project
from optimiser.ordering.delivery_warnings import StagingPeak
from optimiser.planning.assembled import assembled
from optimiser.planning.other_stagings import other_stagings
from optimiser.planning.pieces import planned_pieces
from optimiser.planning.warnings import SEARCH_STOPPED


def plan(
    project: Project,
    *,
    staging: Staging = "whole",
    joint_rounds: int | None = None,
    time_limit: float | None = None,
    seed: int = 0,
    progress: Callable[[PlanProgress], None] | None = None,
    advise: bool = True,
    carry_cost: Decimal | None = None,
    waiting_choice: int | None = None,
    stop_after: float | None = None,
) -> Plan:
    """The plan of a whole project: laid out, cut, counted, ordered, and judged before it is handed out.

    Parameters
    ----------
    project
        The building.
    staging
        Where an offcut may serve: any later delivery ('whole'), the next ones ('carry': the project's
        `max_carry_stages`, 1 when not given), or its own level only ('level').
    joint_rounds
        How often the joints are laid again at the prices of the cutting: as many joints, at times a board less. None:
        where it may pay and takes a small part of the plan's time.
    time_limit
        Of the solver, in seconds; None: until it is done.
    seed
        Equal projects and seeds give equal plans, unless a time limit cut one short.
    progress
        Is told how the cutting goes.
    advise
        Bound every layout of as few joints, for the proof, as far as the time limit allows. And where the site's
        storage is not kept, plan the other stagings too and name those that keep it; never done under a time limit.
    carry_cost
        What it costs to keep one remainder from one delivery to the next, in the project's currency; None: what the
        project says, if anything. With a price boards and carrying are one sum with one bound (`Plan.carrying`);
        without it the least is paid for boards first and waiting is the second aim.
    waiting_choice
        The number of a plan on the frontier of boards against waiting, as `stagings(project).frontier` shows it for the
        staging 'whole': 1 where nothing waits, the last with the fewest boards. None: the least is paid for boards,
        then as little waits as can be. Equal project, staging and seed give the same frontier.
    stop_after
        So many seconds after the start every search for a better cutting ends as it stands, which a warning then says;
        until then nothing differs from a plan without it, where a time limit shares its seconds out.

    Returns
    -------
    Plan
        Pieces, cutting patterns, counts, order and deliveries, with the proved lower bound; places that cannot be
        built as they stand are in `not_planned`, each with its reason.

    Raises
    ------
    CannotBeDone
        Where nothing at all can be planned, or boards cannot be cut together, with every reason; where `carry_cost` is
        no amount of money, or a board has no price to set it against; where the frontier has no plan `waiting_choice`,
        or it is asked for together with `carry_cost` or `joint_rounds`.
    BreaksRules
        Where the judge finds a broken rule: a fault of this program.
    """
    _refuse_confusing_codes(project)
    with stopping_after(stop_after) as stop:
        made = _planned(
            project,
            staging,
            joint_rounds,
            time_limit,
            seed,
            progress,
            advise,
            carry_cost,
            waiting_choice,
        )
    return made.model_copy(update={"warnings": (SEARCH_STOPPED, *made.warnings)}) if stop.met else made


def _planned(
    project: Project,
    staging: Staging,
    joint_rounds: int | None,
    time_limit: float | None,
    seed: int,
    progress: Callable[[PlanProgress], None] | None,
    advise: bool,
    carry_cost: Decimal | None,
    waiting_choice: int | None,
) -> Plan:
    price = CarryPrice.of(project, carry_cost)
    if waiting_choice is not None and (carry_cost is not None or joint_rounds):
        other = (
            "joint_rounds, which changes the pieces" if joint_rounds else "carry_cost, which chooses by money"
        )
        raise CannotBeDone(
            [f"waiting_choice {waiting_choice} is given together with {other}: give one of them"]
        )

    laid = lay_out(project)
    if not laid.pieces:
        raise CannotBeDone(_nothing_planned(laid.not_planned))

    if waiting_choice is not None:
        cut = cut_as_chosen(project, laid.pieces, staging, waiting_choice, time_limit, seed, price)
    else:
        laid, cut = cut_with_joints(
            project,
            laid,
            staging,
            joint_rounds=joint_rounds,
            over_joints=advise,
            time_limit=time_limit,
            seed=seed,
            progress=progress,
            price=price,
        )

    def tried_stagings() -> Iterator[StagingPeak]:
        if advise and time_limit is None:
            yield from other_stagings(
                lambda mode: plan(
                    project,
                    staging=mode,
                    joint_rounds=joint_rounds,
                    seed=seed,
                    advise=False,
                    carry_cost=carry_cost,
                ),
                staging,
            )

    cut = with_thin_rips_absorbed(project, laid.pieces, cut)
    pieces, without_bracket, fitting = planned_pieces(project, laid.pieces, straight_widths(laid.pieces, cut))
    made = assembled(
        project,
        staging,
        pieces,
        (*laid.not_planned, *without_bracket),
        fitting,
        cut,
        seed=seed,
        tried_stagings=tried_stagings,
        price=price,
        waiting_choice=waiting_choice,
    )
    if broken := broken_rules_of_plan(made, project):
        raise BreaksRules(broken)
    return made


def straight_widths(pieces: Sequence[LaidPiece], cut: Cut) -> dict[str, tuple[int, int]]:
    """The cutting's widths by piece; a tapered piece keeps its own ends whatever strip it lies in."""
    names = [piece.id for piece in pieces if not piece.tapered]
    return {name: (cut.widths[name], cut.widths[name]) for name in names}


def _refuse_confusing_codes(project: Project) -> None:
    """Layouts name a row of the stock table `stock-1`: a product of that code would be taken for it."""
    confusing = [name for name in project.building.stock if name in project.building.products]
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
