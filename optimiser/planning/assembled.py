"""Pieces and how they are cut, counted, ordered and scheduled: a plan that is not judged yet."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from optimiser.boards.carrying import CarryPrice
from optimiser.boards.cutting_sequence import cutting_sequence
from optimiser.boards.family_cuts import Cut
from optimiser.boards.forecast_levels import forecast_levels, with_cut_ready
from optimiser.boards.problems import carry_limit
from optimiser.boards.thin_rips import thin_rips
from optimiser.boards.usable_offcuts import usable_left_over
from optimiser.boards.waste import waste_of
from optimiser.errors.problems import CannotBeDone
from optimiser.model.money import believable, cents_of, from_cents
from optimiser.model.needs import LevelNeeds
from optimiser.model.plan import Plan, Staging
from optimiser.model.planned_pieces import NotPlanned, PlannedPiece
from optimiser.model.progress import Job
from optimiser.model.project import Project
from optimiser.model.record import Record
from optimiser.ordering.bought_boards import bought_by_level
from optimiser.ordering.deliveries import batch
from optimiser.ordering.delivery_warnings import StagingPeak
from optimiser.ordering.measuring_days import level_statuses, readings_too_old, with_measuring_days
from optimiser.ordering.order import ToOrder, deliveries_of, needed_by_level, order_for
from optimiser.ordering.site_floor import on_site_over_time
from optimiser.ordering.working_days import working_days_of
from optimiser.planning.allowances import allowances_of
from optimiser.planning.paid import what_waits, with_packs
from optimiser.planning.warnings import CAUTIONS, warnings_of
from optimiser.survey.questions import questions_of
from optimiser.takeoff.bracket_choice import costs_of_choices
from optimiser.takeoff.brackets import count_by_level
from optimiser.takeoff.junctions import junctions_between
from optimiser.takeoff.moved_brackets import moved_brackets


def assembled(
    project: Project,
    staging: Staging,
    pieces: tuple[PlannedPiece, ...],
    not_planned: tuple[NotPlanned, ...],
    fitting: Mapping[str, tuple[str, ...]],
    cut: Cut,
    *,
    seed: int,
    tried_stagings: Callable[[], Iterator[StagingPeak]] = lambda: iter(()),
    beyond_supply: Callable[[LevelNeeds, LevelNeeds | None], ToOrder] = ToOrder,
    price: CarryPrice | None = None,
    waiting_choice: int | None = None,
    record: Record | None = None,
    job: Job | None = None,
) -> Plan:
    """Pieces and how they are cut, counted, ordered and scheduled: a plan that is not judged yet.

    `pieces` that are done keep their place, and nothing is cut for them; of the others `fitting` tells the bracket
    sizes that fit, by piece id. `beyond_supply` leaves of what is needed, by level and code, what must be ordered, and
    tells what was supplied; `record` and `job` say why. `price` is that of carrying. `tried_stagings` tells what other
    stagings take of the site's storage, and is asked only where it is not kept. Raises CannotBeDone where no order can
    be made.
    """
    counts = dict(count_by_level(project, pieces))
    open_pieces = tuple(piece for piece in pieces if not piece.done)
    layouts = with_cut_ready(cut.layouts, open_pieces, forecast_levels(project))
    in_all = needed_by_level(project, bought_by_level(project, open_pieces, layouts), counts)
    calendar = working_days_of(project.project.country)
    usable = usable_left_over(project, open_pieces, cut.left_over)
    remainders = cutting_sequence(project, open_pieces, layouts, cut.left_over).remainders
    waiting = what_waits(project, open_pieces, layouts, cut.waiting, remainders)
    carrying = None
    if price is not None:
        bought = {code: count.count for code, count in cut.boards.items()}
        carrying = price.in_the_plan(bought, waiting.remainder_stages, cut.sum_bound_cents)
    try:
        allowances = allowances_of(project, in_all, open_pieces, layouts, seed, staging)
        to_order = beyond_supply(in_all, allowances.on_top)
        needed = to_order.needed
        order = order_for(project, needed, allowances.fractions, calendar, to_order.on_top)
        batched = batch(
            project,
            order,
            open_pieces,
            layouts,
            usable,
            calendar,
            seed,
            waiting_cents=cents_of(carrying.carrying) if carrying else 0,
            other_stagings=tried_stagings,
        )
    except ValueError as error:
        raise CannotBeDone([str(error)]) from error
    if batched is not None:
        order = batched.order
    levels = level_statuses(project, order, calendar)
    costs = costs_of_choices(project, pieces, fitting)
    order = with_measuring_days(order, levels)
    return Plan(
        project=project,
        staging=staging,
        max_carry_stages=carry_limit(project, staging),
        boards=with_packs(project, cut.boards),
        proofs=cut.proofs,
        waste=waste_of(project, sum(piece.twice_area_mm2 for piece in open_pieces), layouts, cut.left_over),
        pieces=pieces,
        not_planned=not_planned,
        layouts=layouts,
        left_over=cut.left_over,
        counts=counts,
        order=order,
        deliveries=(batched and batched.deliveries) or deliveries_of(project, order),
        questions=questions_of(project),
        warnings=(
            *warnings_of(project, not_planned, counts, needed, order, calendar),
            *allowances.warnings,
            *readings_too_old(project, levels),
            *(batched.warnings if batched else ()),
        ),
        cautions=CAUTIONS,
        usable_left_over=usable,
        levels=levels,
        forecast=allowances.cover,
        delivery_costs=batched.costs if batched else None,
        on_site=on_site_over_time(project, open_pieces, layouts, usable, order),
        waiting=waiting,
        remainders=remainders,
        carrying=carrying,
        waiting_choice=waiting_choice,
        record=record or Record(),
        job=(job or Job()).model_copy(update={"supplied": to_order.supplied}),
        junctions=junctions_between(project, pieces),
        brackets_moved=moved_brackets(project, pieces),
        bracket_choices={
            choice: believable(from_cents(cents)) for choice, cents in (costs.cents if costs else {}).items()
        },
        thin_rips=thin_rips(project, open_pieces, layouts, cut.left_over),
        bracket_lower_bound=believable(from_cents(costs.least_cents)) if costs else None,
    )
