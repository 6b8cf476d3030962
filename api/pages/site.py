"""The pages at the slab edge: what to cut, fit, measure and inspect today, on a telephone that may have no network."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, Response

from api import clock
from api.accounts.access import OPEN_TO_ALL
from api.accounts.service import Caller
from api.admission import rendering
from api.context import AppContext, Context
from api.events.service import whole_record
from api.http.problem_details import Problem
from api.http.responses import file_response
from api.inspection.making import photographs_of_parts
from api.inspection.service import inspection_report
from api.jobs.model import Job
from api.jobs.service import jobs_page
from api.orders.putting import with_what_is_issued
from api.orders.service import issued_orders
from api.pages.answers import PageRoute, go_to, module_file, or_404, page
from api.pages.begun_plan import label_places
from api.pages.measuring_view import runs_to_measure
from api.pages.plan_source import PlanSource, source_of
from api.pages.receiving_view import goods
from api.pages.sign_in import Reader
from api.pages.site_view import LevelAtSite, SiteView
from api.photographs.service import all_photographs
from api.projects.reading import kept_project
from api.projects.service import Project, get_project, stored_project
from api.readings.service import all_readings
from optimiser.takeoff.inspection import by_piece, inspection

router = APIRouter(prefix="/site", route_class=PageRoute, include_in_schema=False)
PARTS = {"": "Cut", "/fit": "Fit", "/measure": "Measure", "/inspect": "Inspect"}


@dataclass(frozen=True)
class Site:
    """A building with the plan that is worked by, which is its newest, and the record of its job."""

    building: Project
    job: Job
    view: SiteView
    events: int

    @property
    def address(self) -> str:
        """Where the building's pages at the slab edge are."""
        return f"/site/{self.building.id}"

    def kept_with(self, level: LevelAtSite | None) -> list[str]:
        """The pages that a phone keeps together with one of a level."""
        found = [self.address, f"{self.address}/receiving", f"{self.address}/labels.json"]
        if level is not None:
            found += [f"{self.address}/levels/{level.place}{part}" for part in PARTS]
        return found


def planned_site(context: AppContext, caller: Caller, building_id: str, place: int | None = None) -> Site:
    """A building's site, whole the level at a place of the delivery order. Raises Problem 404, also while the building
    has no finished plan."""
    building = get_project(context, caller, building_id)
    source = plan_worked_by(context, caller, building_id)
    levels = [level.level for level in source.plan.project.levels_in_order()]
    here = levels[place - 1 : place] if place else []
    record = whole_record(context, caller, building_id)
    return Site(building, source.job, SiteView.of(source, record, here), len(json.loads(record)))


def plan_worked_by(context: AppContext, caller: Caller, building_id: str) -> PlanSource:
    """Where a building's newest finished plan is read from. Raises Problem 404 while it has none."""
    newest = jobs_page(context, caller, building_id, "plan", 1, status="done")
    if not newest:
        raise Problem(
            404, "not-found", "This building has no plan yet: plan it, then its work is shown here."
        )
    return source_of(context, caller, newest[0].id)


def site_page(
    request: Request,
    template: str,
    caller: Caller,
    site: Site,
    level: LevelAtSite | None = None,
    **values: Any,
) -> Response:
    """A page at the slab edge, with what each of them shows and keeps."""
    return page(
        request,
        template,
        caller=caller,
        site=site,
        view=site.view,
        level=level,
        parts=PARTS,
        made=clock.now(),
        here=request.url.path,
        keep=json.dumps(site.kept_with(level or site.view.today)),
        **values,
    )


def _level_of(site: Site, place: int) -> LevelAtSite:
    return or_404(site.view.level, place)


@router.get("/worker.js", dependencies=OPEN_TO_ALL)
def worker() -> Response:
    """The service worker of these pages, asked for anew each time."""
    return Response(
        module_file("worker.js"),
        media_type="text/javascript; charset=utf-8",
        headers={"Cache-Control": "no-cache"},
    )


@router.get("/{building_id}")
def today_page(building_id: str, request: Request, context: Context, caller: Reader) -> Response:
    """Where the job stands, level by level, and which one is worked on."""
    site = planned_site(context, caller, building_id)
    return site_page(request, "site_today.html", caller, site)


@router.get("/{building_id}/labels.json")
def labels(building_id: str, context: Context, caller: Reader) -> Response:
    """Where what is written on each label is shown."""
    return JSONResponse(label_places(plan_worked_by(context, caller, building_id).plan))


@router.get("/{building_id}/labels/{name:path}")
def label(building_id: str, name: str, context: Context, caller: Reader) -> Response:
    """Opens the piece or the remainder whose name a label bears. Raises Problem 404 for a name of neither."""
    found = label_places(plan_worked_by(context, caller, building_id).plan).get(name)
    if found is None:
        raise Problem(
            404,
            "not-found",
            f"The newest plan has no piece and no remainder {name[:60]}: its label may be of an earlier plan.",
        )
    where, _, fragment = found.partition("#")
    return go_to(f"/site/{building_id}/{where}#{quote(fragment)}")


@router.get("/{building_id}/levels/{place}")
def cut_page(building_id: str, place: int, request: Request, context: Context, caller: Reader) -> Response:
    """What is cut for a level: boards to open, remainders to take, piece after piece."""
    site = planned_site(context, caller, building_id, place)
    level = _level_of(site, place)
    steps = site.view.steps(level)
    return site_page(request, "site_cut.html", caller, site, level, steps=steps)


@router.get("/{building_id}/levels/{place}/fit")
def fit_page(building_id: str, place: int, request: Request, context: Context, caller: Reader) -> Response:
    """A level's pieces along its runs: fitted, damaged, the joint photographed."""
    site = planned_site(context, caller, building_id, place)
    level = _level_of(site, place)
    return site_page(
        request,
        "site_fit.html",
        caller,
        site,
        level,
        runs=site.view.runs(level),
        **_parts(context, caller, site, level),
    )


@router.get("/{building_id}/levels/{place}/inspect")
def inspect_page(
    building_id: str, place: int, request: Request, context: Context, caller: Reader
) -> Response:
    """Joint by joint, bracket by bracket: who fitted it, who saw it."""
    site = planned_site(context, caller, building_id, place)
    level = _level_of(site, place)
    return site_page(
        request,
        "site_inspect.html",
        caller,
        site,
        level,
        runs=site.view.runs(level),
        **_parts(context, caller, site, level),
    )


def _parts(context: AppContext, caller: Caller, site: Site, level: LevelAtSite) -> dict[str, Any]:
    """What was said of a level's joints and brackets, all and by piece."""
    about = [one.model_dump(mode="json") for one in all_photographs(context, caller, site.building.id)]
    plan = site.view.plan
    (seen,) = inspection(plan, site.view.record, photographs_of_parts(about, plan), [level.level])
    return {"seen": seen, "of_piece": by_piece(seen.parts)}


@router.get("/{building_id}/levels/{place}/inspection.{form}")
@rendering
def inspection_file(building_id: str, place: int, form: str, context: Context, caller: Reader) -> Response:
    """The report of a level's inspection, as PDF or csv."""
    if form not in ("pdf", "csv"):
        raise Problem(404, "not-found", "The report comes as inspection.pdf and inspection.csv.")
    site = planned_site(context, caller, building_id, place)
    level = _level_of(site, place)
    return file_response(inspection_report(context, caller, site.job.id, form, "A4", [level.level]))


@router.get("/{building_id}/levels/{place}/measure")
def measure_page(
    building_id: str, place: int, request: Request, context: Context, caller: Reader
) -> Response:
    """A level's gaps to measure: top, bottom, or not accessible."""
    site = planned_site(context, caller, building_id)
    level = _level_of(site, place)
    row, stored = stored_project(context, caller, building_id)
    assert stored is not None  # nobody said that they know it
    sent = all_readings(context, caller, building_id)
    shots = all_photographs(context, caller, building_id)
    survey = kept_project(stored.document.decode())
    runs = or_404(runs_to_measure, survey, level.level, sent, shots)
    return site_page(request, "site_measure.html", caller, site, level, runs=runs, survey=row.version)


@router.get("/{building_id}/receiving")
def receiving_page(building_id: str, request: Request, context: Context, caller: Reader) -> Response:
    """Goods against order: what came, what of it is damaged or wrong, what is short."""
    site = planned_site(context, caller, building_id)
    issued = issued_orders(context, caller, building_id)
    view = site.view
    record = with_what_is_issued(view.record, issued[-1] if issued else None)
    deliveries = goods(view.plan, record)
    return site_page(
        request,
        "site_receiving.html",
        caller,
        site,
        deliveries=deliveries,
        revision=issued[-1]["revision"] if issued else None,
        today=clock.today(),
        products=view.plan.project.building.products,
    )
