"""A newer survey against a plan that is partly cut: re-use, re-cut, order the difference.

1. The newer survey's places: the old joints wherever a width still serves (`optimiser.replanning.places`).
2. The most cut pieces find a place, then the most area, by an assignment with a proof (`optimiser.replanning.reuse`).
   A piece may move to any place not yet fitted whose board product is its own. A longer piece may be shortened;
   a wider one may be trimmed where the detail allows it; nothing can be extended. Mullion notches are cut
   when a piece is fitted, so they bind no piece to its place.
3. What no piece serves is re-cut: from left-overs, ends of shortened pieces and stock where that saves boards,
   then from boards bought and not cut yet, then from boards to order.
4. The order's difference, product by product over the levels in delivery order, the allowance kept.

The stock table of the plan counts, not the survey's: what stands on site follows from the plan.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from optimiser.boards.forecast_levels import forecast_levels, with_cut_ready
from optimiser.checking.refits import broken_rules_of_refit
from optimiser.errors.broken_rules import BreaksRules
from optimiser.errors.problems import CannotBeDone
from optimiser.model.needs import LevelNeeds
from optimiser.model.plan import Plan
from optimiser.model.planned_pieces import NotPlanned, PlannedPiece
from optimiser.model.project import Project
from optimiser.model.refit import Recut, Refit
from optimiser.ordering.order import needed_by_level
from optimiser.planning.pieces import planned_pieces
from optimiser.planning.warnings import CAUTIONS
from optimiser.replanning.account import account
from optimiser.replanning.inventory import inventory_of
from optimiser.replanning.places import Places, places_of
from optimiser.replanning.recut import RecutResult, recut_places
from optimiser.replanning.reuse import reuse_most
from optimiser.replanning.supplement import (
    SupplementaryOrder,
    boards_cut_by_level,
    new_boards_by_level,
    supplementary_order,
    units_bought,
)
from optimiser.takeoff.brackets import count_by_level


def refit(
    plan: Plan,
    survey: Project,
    *,
    cut_levels: Collection[str] | None = None,
    fitted_levels: Collection[str] = (),
    time_limit: float | None = None,
    seed: int = 0,
) -> Refit:
    """The best use of a plan's cut pieces for a newer survey, and what must be cut and ordered on top.

    Parameters
    ----------
    plan
        What was planned, and cut so far as `cut_levels` says.
    survey
        The building as measured now.
    cut_levels
        Levels whose pieces are cut; None: all.
    fitted_levels
        Levels whose pieces are cut and fitted: they cannot move, and their places need nothing.
    time_limit
        Of the cutting, in seconds; None: until it is done.
    seed
        Equal input and seeds give an equal refit, unless a time limit cut the cutting short.

    Returns
    -------
    Refit
        Where each cut piece goes, what is cut again from what, and the difference to order.

    Raises
    ------
    CannotBeDone
        Where plan and survey do not belong together, with every reason.
    BreaksRules
        Where the judge finds a broken rule: a fault of this program.
    """
    refuse_strangers(plan, survey, cut_levels, fitted_levels)
    closed = frozenset(fitted_levels)
    cut = (
        frozenset(level.level for level in plan.project.levels)
        if cut_levels is None
        else frozenset(cut_levels)
    )
    inventory = inventory_of(plan, cut | closed)
    asked = places_of(plan, survey, closed)
    fitted = tuple(piece for piece, _ in inventory.pieces if piece.level in closed)
    free = tuple((piece, code) for piece, code in inventory.pieces if piece.level not in closed)

    used = reuse_most(survey, free, asked.places)
    # every open place, with its brackets; the widths of what is re-cut follow
    widths = {name: (reuse.width_start_mm, reuse.width_end_mm) for name, reuse in used.fitted.items()}
    pieces, without_bracket, _ = planned_pieces(survey, asked.places, widths)
    missing = [place for place in asked.places if place.id not in used.fitted]
    recut = recut_places(plan, survey, inventory, used.ends, missing, time_limit, seed)
    pieces = tuple(_with_width(piece, recut.widths) for piece in pieces)

    cut_boards = boards_cut_by_level(plan, survey, inventory.cut_layouts)
    new_boards = new_boards_by_level(survey, pieces, recut.layouts)
    fitted_counts = {level: plan.counts[level] for level in closed if level in plan.counts}
    open_counts = dict(count_by_level(_open_part(survey, closed), pieces))
    more = supplementary_order(
        plan,
        survey,
        used=needed_by_level(survey, cut_boards, fitted_counts),
        in_all=needed_by_level(survey, cut_boards + new_boards, fitted_counts | open_counts),
    )
    uncut = _uncut(plan, survey, more, cut_boards, new_boards)
    reuses = [used.fitted[piece.id] for piece in pieces if piece.id in used.fitted]
    made = Refit(
        cut_pieces=len(inventory.pieces),
        closed_pieces=len(fitted),
        reused_pieces=len(reuses),
        most_reusable=used.most,
        most_reused_mm2=used.most_area_mm2,
        stays=tuple(reuse for reuse in reuses if reuse.piece in used.own),
        moves=tuple(reuse for reuse in reuses if reuse.piece not in used.own),
        recut=tuple(_recut(piece, recut) for piece in pieces if piece.id not in used.fitted),
        kept_pieces=used.kept,
        not_planned=(*asked.not_planned, *without_bracket),
        pieces=(*fitted, *pieces),
        materials=recut.materials,
        layouts=with_cut_ready(recut.layouts, pieces, forecast_levels(survey)),
        left_over=recut.left_over,
        recut_boards=dict(sorted(recut.boards.items())),
        recut_lower_bound=recut.lower_bound,
        uncut_boards=uncut,
        order=more.order,
        brought_forward=more.brought_forward,
        account=account(plan, survey, inventory, reuses, used.kept, recut, pieces, fitted, more.units, uncut),
        cut_levels=plan.project.building.in_delivery_order(cut | closed),
        fitted_levels=plan.project.building.in_delivery_order(closed),
        warnings=tuple(_warnings(plan, survey, asked, without_bracket, pieces, more)),
        cautions=CAUTIONS,
    )
    if broken := broken_rules_of_refit(made, plan, survey):
        raise BreaksRules(broken)
    return made


def refuse_strangers(
    plan: Plan, survey: Project, cut_levels: Collection[str] | None, fitted_levels: Collection[str]
) -> None:
    """Raises CannotBeDone, with every reason, where a plan and a newer survey do not belong together: levels that one
    of them does not have, a board of another size under its code, another currency."""
    known = {level.level for level in plan.project.levels}
    surveyed = {level.level for level in survey.levels}
    wrong = [
        f"{option} names {level}, which is no level of the plan; its levels are {', '.join(sorted(known))}"
        for option, levels in (("--cut-levels", cut_levels or ()), ("--fitted-levels", fitted_levels))
        for level in levels
        if level not in known
    ]
    wrong += [
        f"level {level} is fitted, but the survey has no such level; keep it in the survey"
        for level in fitted_levels
        if level in known and level not in surveyed
    ]
    for product in plan.project.boards:
        other = survey.building.boards.get(product.code)
        if other and other.size != product.size:
            wrong.append(
                f"{product.code} is {product.length_mm} x {product.width_mm} mm in the plan and {other.length_mm} x"
                f" {other.width_mm} mm in the survey; give a board of another size a code of its own"
            )
    if plan.project.project.currency != survey.project.currency:
        wrong.append(
            f"the plan is in {plan.project.project.currency} and the survey in {survey.project.currency}; write the"
            " same currency"
        )
    if wrong:
        raise CannotBeDone(wrong)


def _with_width(piece: PlannedPiece, widths: dict[str, int]) -> PlannedPiece:
    """The piece at the width that its cutting chose; tapered and re-used ones have theirs already."""
    width = widths.get(piece.id)
    if width is None or piece.tapered:
        return piece
    return piece.model_copy(update={"cut_width_start_mm": width, "cut_width_end_mm": width})


def _open_part(survey: Project, closed: Collection[str]) -> Project:
    """The survey without the runs of closed levels."""
    return survey.with_runs(run for run in survey.runs if run.level not in closed)


def _uncut(
    plan: Plan, survey: Project, more: SupplementaryOrder, cut_boards: LevelNeeds, new_boards: LevelNeeds
) -> dict[str, int]:
    """Boards bought or ordered that neither the plan's cutting nor the recut takes, by code."""
    bought = units_bought(plan)
    found: dict[str, int] = {}
    for product in survey.boards:
        taken = (cut_boards.total() + new_boards.total())[product.code]
        if left := bought[product.code] + more.units[product.code] - taken:
            found[product.code] = left
    return found


def _recut(piece: PlannedPiece, recut: RecutResult) -> Recut:
    source, code = recut.source[piece.id]
    return Recut(
        place=piece.id,
        level=piece.level,
        run=piece.run,
        from_mm=piece.from_mm,
        to_mm=piece.to_mm,
        width_min_mm=piece.width_min_mm,
        width_max_mm=piece.width_max_mm,
        cut_width_start_mm=piece.cut_width_start_mm,
        cut_width_end_mm=piece.cut_width_end_mm,
        source=source,
        code=code,
    )


def _warnings(
    plan: Plan,
    survey: Project,
    asked: Places,
    without_bracket: Sequence[NotPlanned],
    pieces: Sequence[PlannedPiece],
    more: SupplementaryOrder,
) -> list[str]:
    found = []
    missing = [*asked.not_planned, *without_bracket]
    if missing:
        runs = ", ".join(dict.fromkeys(place.run for place in missing))
        found.append(
            f"{len(missing)} place{'' if len(missing) == 1 else 's'} cannot be built as surveyed, on {runs}: see"
            " 'not planned' for the reason and the mend."
        )
    if asked.runs_with_new_joints:
        found.append(
            f"New joints on {', '.join(asked.runs_with_new_joints)}: the old ones do not serve the newer survey."
        )
    if nominal := forecast_levels(survey) & {piece.level for piece in pieces}:
        levels = survey.building.in_delivery_order(nominal)
        found.append(
            f"Still nominal, so a forecast: {', '.join(levels)}. Measure before cutting or moving a piece."
        )
    for move in more.brought_forward:
        packs = f"{move.packs} pack{'' if move.packs == 1 else 's'} of {move.code}"
        found.append(
            f"Bring forward {packs} from the delivery for {move.from_level} to that for {move.to_level}."
        )
    if plan.project.stock or survey.stock:
        found.append("Stock is counted from the plan's own table; the survey's stock table is not read.")
    found.append(
        "Mullion notches are taken to be cut when a piece is fitted: a piece that is notched already fits its own"
        " place only, so check before moving it."
    )
    return found
