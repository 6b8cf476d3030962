"""The frontier: boards against waiting, plan by plan, from 'nothing waits' to the fewest boards.

The scheduler takes one of these with its number (`plan(project, waiting_choice=3)`), or says what keeping a remainder
costs and has the sum made least (`carry_cost`).
"""

from __future__ import annotations

from math import ceil

from optimiser.boards.cut import forecast_pieces
from optimiser.boards.forecast_levels import forecast_levels
from optimiser.boards.frontier import FrontierPlan, frontier_plans
from optimiser.boards.paid_packs import packs_of
from optimiser.boards.problems import BoardFamily, board_families
from optimiser.boards.waiting_count import WaitingCount
from optimiser.errors.problems import CannotBeDone
from optimiser.joints.layout import lay_out
from optimiser.model.immutable import Immutable
from optimiser.model.money import Money, from_cents
from optimiser.model.plan import Staging
from optimiser.model.project import Project


class FrontierPoint(Immutable):
    """One plan of the trade-off, with its bounds.

    `number` is what `waiting_choice` takes: 1 where nothing waits, the last with the fewest boards. No plan buys fewer
    boards than `lower_bound`, or fewer packs of a code than `lower_bound_packs`; both packs are empty where a level is
    nominal, since simulation decides them, and a code that shares its runs with others has no bound of its own. `paid`
    is for those packs (for the boards alone where there are none) at the products' prices, `cost` what the boards that
    are cut are worth. No plan whose boards cost as little waits less than `lower_bound_piece_stages` pieces times
    deliveries. `least_for_paid`: no plan that pays as little waits less; the others are of use only where a board that
    stays whole is worth more than its waiting.
    """

    number: int
    boards: int
    lower_bound: int
    boards_by_code: dict[str, int]
    packs: dict[str, int]
    lower_bound_packs: dict[str, int]
    cost: Money
    paid: Money
    waiting: WaitingCount
    remainder_stages: int
    lower_bound_piece_stages: int
    least_for_paid: bool


def frontier(
    project: Project, *, staging: Staging = "whole", time_limit: float | None = None, seed: int = 0
) -> tuple[FrontierPoint, ...]:
    """Boards against waiting, 'nothing waits' first, the fewest boards last.

    Parameters
    ----------
    project
        The building.
    staging
        Where an offcut may serve, as in `plan`.
    time_limit
        Of the solver, in seconds; None: until it is done.
    seed
        Equal projects and seeds give an equal frontier, unless a time limit cut it short.

    Returns
    -------
    tuple of FrontierPoint
        At most twelve plans, each waiting less than all that cost as little, with what is proved of it.

    Raises
    ------
    CannotBeDone
        Where nothing can be planned.
    """
    pieces = lay_out(project).pieces
    if not pieces:
        raise CannotBeDone(["nothing can be planned, so there is nothing to choose from"])
    families = board_families(project, pieces, staging)
    plans = frontier_plans(project, families, forecast_pieces(project, pieces), time_limit, seed)
    return tuple(_point(project, families, found) for found in plans)


def _point(project: Project, families: tuple[BoardFamily, ...], found: FrontierPlan) -> FrontierPoint:
    packs, fewest = {}, {}
    if not forecast_levels(project):
        packs = packs_of(project, found.bought)
        for family, result in zip(families, found.results, strict=True):
            if len(family.codes) == 1:
                fewest.update(packs_of(project, {family.codes[0]: result.lower_bound}))
    boards = project.building.boards
    priced = all(boards[code].price for code in found.bought)
    return FrontierPoint(
        number=found.number,
        boards=sum(found.bought.values()),
        lower_bound=sum(result.lower_bound for result in found.results),
        boards_by_code=found.bought,
        packs=packs,
        lower_bound_packs=fewest if len(fewest) == len(packs) else {},
        cost=from_cents(ceil(found.cost) if priced else 0),
        paid=from_cents(ceil(found.paid_cents)),
        waiting=WaitingCount(
            pieces=found.waiting.pieces,
            piece_stages=found.waiting.piece_stages,
            remainders=found.waiting.remainders,
        ),
        remainder_stages=found.waiting.remainder_stages,
        lower_bound_piece_stages=found.lower_bound_piece_stages,
        least_for_paid=found.least_for_paid,
    )
