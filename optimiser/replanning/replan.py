"""The next plan, from what was planned, what happened since, and the newest survey.

1. The record says which pieces are done, what is on the rack, and what was supplied (`happened`, `supply`).
2. The newest survey's places around the pieces that are done; old joints stay wherever they serve (`open_places`).
3. Cut pieces that lost their place serve others where they can (`reuse`).
4. What is open is cut from what is at hand, then from boards to order: as it was planned where that costs as little as
   can be proved, else again as a whole, and the cheaper of the two is taken.
5. It is counted, ordered and judged like any plan. The order is what must be ordered beyond what was.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from optimiser.boards.family_cuts import Cut
from optimiser.boards.forecast_levels import forecast_levels
from optimiser.boards.thin_rips import with_thin_rips_absorbed
from optimiser.checking import broken_rules_of_plan
from optimiser.cutting.clock import stopping_after
from optimiser.errors.broken_rules import BreaksRules
from optimiser.errors.problems import CannotBeDone
from optimiser.joints.layout import LaidPiece
from optimiser.model.plan import Plan, Staging
from optimiser.model.planned_pieces import PlannedPiece
from optimiser.model.progress import AtHand, Job
from optimiser.model.project import Project, Stock
from optimiser.model.record import Record
from optimiser.planning.assembled import assembled
from optimiser.planning.pieces import planned_pieces
from optimiser.planning.plan import straight_widths
from optimiser.planning.warnings import SEARCH_STOPPED
from optimiser.replanning.cutting import cut_open_places, sampled_levels
from optimiser.replanning.happened import happened
from optimiser.replanning.job_state import Happened
from optimiser.replanning.keep import kept_boards
from optimiser.replanning.open_places import open_places
from optimiser.replanning.own_stock import own_stock
from optimiser.replanning.rack import racked_and_discarded
from optimiser.replanning.refit import refuse_strangers
from optimiser.replanning.reuse import Reused, reuse_most
from optimiser.replanning.still_to_come import still_to_come
from optimiser.replanning.supply import Supply, fitted_needs, supplied, used_units, whole_boards


def replan(
    plan: Plan,
    record: Record,
    survey: Project | None = None,
    *,
    staging: Staging | None = None,
    time_limit: float | None = None,
    seed: int = 0,
) -> Plan:
    """The next plan of a job that has begun.

    Parameters
    ----------
    plan
        The plan that the site works by.
    record
        What happened since, or everything that ever did: events that the plan holds already count once.
    survey
        The newest one; None: the plan's own. Its stock table is read only while nothing is on record: then what is on
        site follows from the record.
    staging
        None: the plan's own.
    time_limit
        Of the cutting, in seconds; None: until it is done. Where it was met a warning says so.
    seed
        Equal input and seeds give an equal plan, unless a time limit cut the cutting short.

    Returns
    -------
    Plan
        For the rest of the job. Pieces that are done keep their place in it with their `status`; pieces and boards that
        do not change keep their names. `record` holds every event, `job` how things stood; `order` is what must be
        ordered beyond what was; where deliveries of that are still to come a warning says so.

    Raises
    ------
    CannotBeDone
        Where the record, the plan and the survey do not belong together, with every reason.
    BreaksRules
        Where the judge finds a broken rule: a fault of this program.
    """
    with stopping_after(None) as stop:
        made = _replanned(plan, record, survey, staging, time_limit, seed)
    more = (*([SEARCH_STOPPED] if stop.met else []), *still_to_come(made))
    return made.model_copy(update={"warnings": (*more, *made.warnings)})


def _replanned(
    plan: Plan,
    record: Record,
    survey: Project | None,
    staging: Staging | None,
    time_limit: float | None,
    seed: int,
) -> Plan:
    newest = (survey or plan.project).model_copy(update={"stock": ()})
    staging = staging or plan.staging
    refuse_strangers(plan, newest, (), ())
    told = plan.record.with_events(record.events)
    state = happened(plan, told)
    _refuse_lost_products(plan, newest, state)
    code_of = _codes(plan, state)
    opened = open_places(plan, newest, state, code_of)
    measured = _measured(newest, opened.places)
    reused = reuse_most(newest, [(piece, code_of[piece.id]) for piece in opened.free], measured)
    moved = _moved(newest, opened.free, reused, opened.places)
    places = tuple(place for place in opened.places if place.id not in reused.fitted)
    done = (*opened.done, *moved)

    fitted = fitted_needs(newest, done, {piece.id for piece in done if piece.status == "fitted"})
    supplies = supplied(newest, used_units(state, fitted), state)
    if told.events:
        at_hand = (*_rack(state, reused), *whole_boards(newest, supplies, state))
        project = newest.model_copy(update={"stock": tuple(_row(item) for item in at_hand)})
    else:  # nothing happened yet, so that the survey's own stock is what is at hand
        project = survey or plan.project
        at_hand = own_stock(project)
    later = sampled_levels(project, staging, seed)
    cut = cut_open_places(
        project,
        places,
        kept_boards(plan, project, places, state, at_hand),
        at_hand,
        later,
        {number for number, _ in plan.numbered_layouts} | state.opened,
        staging,
        time_limit,
        seed,
    )
    discarded: tuple[AtHand, ...] = ()
    if told.events:
        at_hand, discarded = racked_and_discarded(at_hand, {layout.stock for layout in cut.layouts}, later)
        project = project.model_copy(update={"stock": tuple(_row(item) for item in at_hand)})
    cut = with_thin_rips_absorbed(project, places, cut)
    sizes = {piece.id: piece.bracket for piece in plan.pieces if piece.bracket is not None}
    pieces, without, fitting = planned_pieces(project, places, straight_widths(places, cut), sizes)
    supply = Supply(project, fitted, supplies, _whole_boards_cut(cut, at_hand))
    made = assembled(
        project,
        staging,
        _in_order(project, (*done, *pieces)),
        (*opened.not_planned, *without),
        fitting,
        cut,
        seed=seed,
        beyond_supply=supply.beyond,
        record=told,
        job=Job(cut_boards=tuple(state.boards), at_hand=at_hand, discarded=discarded),
    )
    if broken := broken_rules_of_plan(made):
        raise BreaksRules(broken)
    return made


def _refuse_lost_products(plan: Plan, survey: Project, state: Happened) -> None:
    """Raises CannotBeDone where the survey's products lack one that the job has to do with already."""
    used = {
        "is on record": {*state.ordered, *state.delivered, *state.lost},
        "is cut": {board.code for board in state.boards},
        "is fitted": {piece.bracket for piece in plan.pieces if piece.bracket and piece.id in state.fitted},
    }
    wrong: dict[str, str] = {}
    for how, codes in used.items():
        for code in sorted(codes - survey.building.products.keys()):
            wrong.setdefault(code, f"{code} {how}, but the survey's products have no {code}; keep it there")
    if wrong:
        raise CannotBeDone(tuple(wrong.values()))


def _whole_boards_cut(cut: Cut, at_hand: Sequence[AtHand]) -> Counter[str]:
    """How many of the whole boards on site and on order the plan cuts, by code."""
    whole = {item.name: item.code for item in at_hand if item.whole}
    found: Counter[str] = Counter()
    for layout in cut.layouts:
        if layout.stock in whole:
            found[whole[layout.stock]] += layout.repeat
    return found


def _codes(plan: Plan, state: Happened) -> dict[str, str]:
    """The code of the board that each cut piece was cut from."""
    found = {name: board.code for board in state.boards for name in board.pieces}
    for piece in plan.pieces:
        if piece.id in state.cut and piece.id not in found:
            found[piece.id] = piece.boards[0]
    return found


def _rack(state: Happened, reused: Reused) -> tuple[AtHand, ...]:
    """Remainders, stock, the ends of shortened pieces, and cut pieces that serve no place any more."""
    kept = [
        AtHand(
            name=f"piece {item.piece}",
            kind="piece",
            code=item.code,
            length_mm=item.length_mm,
            width_mm=min(item.width_start_mm, item.width_end_mm),
        )
        for item in reused.kept
    ]
    ends = [
        AtHand(name=f"end of {piece}", kind="remainder", code=code, length_mm=length, width_mm=width)
        for piece, code, length, width in reused.ends
    ]
    return (*(state.rack[name] for name in sorted(state.rack)), *kept, *ends)


def _row(item: AtHand) -> Stock:
    return Stock(
        name=item.name,
        code=item.code,
        length_mm=item.length_mm,
        width_mm=item.width_mm,
        quantity=item.quantity,
        level=item.level,
    )


def _moved(
    survey: Project, free: Sequence[PlannedPiece], reused: Reused, places: Sequence[LaidPiece]
) -> tuple[PlannedPiece, ...]:
    """Cut pieces in the new places that they serve: under their own names, which are written on them."""
    at = {place.id: place for place in places}
    by_name = {piece.id: piece for piece in free}
    taken = [(at[name], reuse) for name, reuse in reused.fitted.items()]
    widths = {place.id: (reuse.width_start_mm, reuse.width_end_mm) for place, reuse in taken}
    made = planned_pieces(survey, [place for place, _ in taken], widths).pieces
    return tuple(
        piece.model_copy(update={"id": by_name[reuse.piece].id, "status": "cut"})
        for piece, (_, reuse) in zip(made, taken, strict=True)
    )


def _measured(survey: Project, places: Sequence[LaidPiece]) -> list[LaidPiece]:
    """The places of levels that are wholly measured: only there is it known whether a cut piece serves."""
    forecast = forecast_levels(survey)
    return [place for place in places if place.level not in forecast]


def _in_order(project: Project, pieces: Sequence[PlannedPiece]) -> tuple[PlannedPiece, ...]:
    place = {run.run: number for number, run in enumerate(project.runs)}
    return tuple(sorted(pieces, key=lambda piece: (place[piece.run], piece.from_mm)))
