"""The excerpts of a plan: all that its pages show of it, made in one go in a limited process."""

from __future__ import annotations

import hashlib

from pydantic import TypeAdapter

import api.pages.begun_plan
import api.pages.cut_on_site
import api.pages.deliveries_view
import api.pages.finding
import api.pages.section_view  # noqa: F401 (these have figures)
from api.jobs.excerpts import packed
from api.pages.boards_view import ListedSteps, listed_steps
from api.pages.figures import FIGURES
from api.pages.kept_plan import own_tables, small_tables
from api.pages.level_view import LevelView, level_view
from api.pages.plan_part import parts_of
from api.pages.refit_view import Cutting, LevelWork, RefitView, cuttings_of, refit_view, work_of_levels
from api.refits.schemas import RefitResult
from optimiser.model.plan import Plan
from optimiser.writing.drawing.plan_index import PlanIndex

SMALL, PLAN_HASH = "small tables", "SHA-256"
LEVEL_VIEW, LISTED_STEPS = TypeAdapter(LevelView), TypeAdapter(ListedSteps)
REFIT, REFIT_VIEW = "refit", TypeAdapter(RefitView)
"""The name of the excerpt of a refit, and its form."""
LEVEL_WORK, CUTTINGS = TypeAdapter(LevelWork), TypeAdapter(tuple[Cutting, ...])
CUTTINGS_IN_A_PART = 20


def name_of_level(place: int) -> str:
    """The name of the excerpt of a level's page, by its place in delivery order, from 1."""
    return f"level {place}"


def name_of_steps(place: int) -> str:
    """The name of the excerpt that lists what is cut with a level, by its place."""
    return f"steps {place}"


def excerpts_of(plan: str) -> dict[str, str]:
    """The excerpts of a plan, given as JSON text, by their names, each packed: its hash, its small tables, those of
    OWN, its figures, its levels, and a part for each run and each layout."""
    index = PlanIndex(Plan.model_validate_json(plan))
    made = {PLAN_HASH: hashlib.sha256(plan.encode()).hexdigest().encode()}
    made |= {SMALL: small_tables(index.plan), **own_tables(index.plan)}
    made |= {figure.name: figure.as_json(index) for figure in FIGURES}
    for place in range(1, len(index.levels) + 1):
        made[name_of_level(place)] = LEVEL_VIEW.dump_json(level_view(index, place))
        made[name_of_steps(place)] = LISTED_STEPS.dump_json(listed_steps(index, place))
    made |= {name: part.model_dump_json(by_alias=True).encode() for name, part in parts_of(index)}
    return {name: packed(text) for name, text in made.items()}


def name_of_work(place: int) -> str:
    """The name of the excerpt of a refit with the work on a level, by its place in the refit's levels, from 1."""
    return f"work {place}"


def name_of_cuttings(part: int) -> str:
    """The name of the excerpt of a refit with a part of its cuttings, from 1."""
    return f"cuttings {part}"


def excerpts_of_refit(plan: str, refit: str) -> dict[str, str]:
    """The excerpts of a refit of a plan, both given as JSON text, by their names, each packed: its page without
    the work of each level and the cuttings, the work of every level that has any, and the cuttings by parts."""
    of, made = Plan.model_validate_json(plan), RefitResult.model_validate_json(refit)
    work, cuttings = work_of_levels(of, made), cuttings_of(made)
    view = refit_view(of, made, work)
    found = {REFIT: REFIT_VIEW.dump_json(view)}
    for place, (one, level) in enumerate(zip(work, view.levels, strict=True), 1):
        if level.has_work:
            found[name_of_work(place)] = LEVEL_WORK.dump_json(one)
    for part, start in enumerate(range(0, len(cuttings), CUTTINGS_IN_A_PART), 1):
        found[name_of_cuttings(part)] = CUTTINGS.dump_json(cuttings[start : start + CUTTINGS_IN_A_PART])
    return {name: packed(text) for name, text in found.items()}
