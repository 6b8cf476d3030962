"""Every command of the command line is reached by a page or says why not; every option of those that are has its place
in the pages and in the interface, or a reason.

The lists are the specification: a new command or option fails here until its place, or why it has none, is written
down; a place that is named and not there fails too.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import typer

from api.app import CALLS
from api.pages.scenario_fields import FIELDS
from api.plans.schemas import PlanRequest
from api.refits.schemas import RefitRequest
from api.replans.schemas import ReplanRequest
from api.studies.scenario_schemas import ScenariosRequest
from api.studies.schemas import AllowanceRequest, ComparisonRequest, FrontierRequest
from api.studies.suppliers import SuppliersRequest
from optimiser.commands.main import app
from optimiser.model.scenario import Scenario

TEMPLATES = Path(__file__).parents[2] / "api" / "pages" / "templates"


@dataclass(frozen=True)
class Page:
    """A field or link of a template: `words` is what stands there."""

    template: str
    words: str


@dataclass(frozen=True)
class Row:
    """An option of a scenario, with its field on the scenarios' page."""

    option: str


@dataclass(frozen=True)
class Call:
    """A member of a request body."""

    model: Any
    member: str


@dataclass(frozen=True)
class Query:
    """A parameter of a call of the interface."""

    operation: str
    name: str


@dataclass(frozen=True)
class Because:
    """Why there is no place."""

    reason: str


Place = Page | Row | Call | Query | Because
UPLOAD = (
    Page("_parts.html", 'name="workbook"'),
    Because("the interface takes it as the body of createProject"),
)
FILES = (Because("files are links to download, in the pages and in the interface"),)
JSON = (Because("the interface answers with JSON; the pages show it"),)
MARKED = (Page("faults.html", "marked"), Because("the interface lists every fault with its cell"))
SERVICE_SECONDS = Because("a page gives the solver as long as the service is set to")
ONE_SEED = Because("a page takes one seed, so that the same is answered again; others are for studies")


def of_scenario(option: str, *more: Place) -> tuple[Place, ...]:
    return (Row(option), Call(Scenario, option), *more)


PLACES: dict[str, dict[str, tuple[Place, ...]]] = {
    "plan": {
        "project": UPLOAD,
        "--out": FILES,
        "--staging": of_scenario("staging", Page("building.html", 'name="staging"'), Call(PlanRequest, "staging")),
        "--levels": (Page("level.html", "cutting-sheets.pdf?level="), Query("readCuttingSheets", "level")),
        "--paper": (Page("order.html", "paper=Letter"), Query("readCuttingSheets", "paper")),
        "--label-order": (Page("order.html", "labels.pdf?order=run"), Query("readLabels", "order")),
        "--with-nominal": (Page("_parts.html", "with_nominal=true"), Query("readLabels", "with_nominal")),
        "--joint-rounds": of_scenario("joint_rounds", Call(PlanRequest, "joint_rounds")),
        "--carry-cost": of_scenario(
            "carry_cost", Page("options.html", 'name="carry_cost"'), Call(PlanRequest, "carry_cost")
        ),
        "--waiting-choice": of_scenario(
            "waiting_choice", Page("options.html", 'name="waiting_choice"'), Call(PlanRequest, "waiting_choice")
        ),
        "--supplier": (
            Because("an issued order has all products of the plan and is followed as one; the command line writes one"
                    " for each of several suppliers"),
        ),
        "--replaces": (
            Page("order.html", 'name="after"'),
            Because("issuing makes the next revision of what was issued last; the interface names it by If-Match"),
        ),
        "--time-limit": of_scenario("time_limit", Call(PlanRequest, "time_limit")),
        "--seed": of_scenario("seed", Call(PlanRequest, "seed")),
        "--marked": MARKED,
        "--json": JSON,
    },
    "gaps": {
        "project": UPLOAD,
        "--from": (Page("options.html", 'name="from_mm"'), Call(ComparisonRequest, "from_mm")),
        "--to": (Page("options.html", 'name="to_mm"'), Call(ComparisonRequest, "to_mm")),
        "--step": (Page("options.html", 'name="step_mm"'), Call(ComparisonRequest, "step_mm")),
        "--out": FILES,
        "--boards": (
            Page("options.html", 'name="boards"'), Page("options.html", 'name="board_sets"'),
            *of_scenario("boards"), Call(ComparisonRequest, "boards"),
        ),
        "--oversize": (Page("options.html", 'name="oversize"'), *of_scenario("oversize_max"),
                       Call(ComparisonRequest, "oversize")),
        "--insertion": (Page("options.html", 'name="insertion"'), *of_scenario("bracket_insertion"),
                        Call(ComparisonRequest, "insertion")),
        "--brackets": (Page("options.html", 'name="brackets"'), *of_scenario("brackets"),
                       Call(ComparisonRequest, "brackets")),
        "--runs": (Page("options.html", 'name="runs"'), *of_scenario("runs"), Call(ComparisonRequest, "runs")),
        "--shifted": (Page("options.html", 'name="shifted"'), *of_scenario("shifted"),
                      Call(ComparisonRequest, "shifted")),
        "--time-limit": (Page("options.html", 'name="time_limit"'), Call(ComparisonRequest, "time_limit")),
        "--seed": (Page("options.html", 'id="gap-seed"'), Call(ComparisonRequest, "seed")),
        "--marked": MARKED,
        "--json": JSON,
    },
    "allowance": {
        "project": UPLOAD,
        "--draws": (Page("options.html", 'name="draws"'), Call(AllowanceRequest, "draws")),
        "--seed": (Page("options.html", 'id="allowance-seed"'), Call(AllowanceRequest, "seed")),
        "--service-level": (Page("options.html", 'name="service_level"'), *of_scenario("service_level"),
                            Call(AllowanceRequest, "service_level")),
        "--shortage-cost": (Page("options.html", 'name="shortage_cost"'), Call(AllowanceRequest, "shortage_cost")),
        "--surplus-cost": (Page("options.html", 'name="surplus_cost"'), Call(AllowanceRequest, "surplus_cost")),
        "--staging": (Page("options.html", 'id="allowance-staging"'), Call(AllowanceRequest, "staging")),
        "--out": FILES,
        "--marked": MARKED,
        "--json": JSON,
    },
    "stagings": {
        "project": UPLOAD,
        "--out": FILES,
        "--time-limit": of_scenario("time_limit"),
        "--seed": of_scenario("seed", Call(FrontierRequest, "seed")),
        "--frontier": (Page("options.html", "Show boards against waiting"),
                       Query("weighBoardsAgainstWaiting", "project_id")),
        "--marked": MARKED,
        "--json": JSON,
    },
    "scenarios": {
        "project": UPLOAD,
        "--scenarios": (Page("scenarios.html", "Add a scenario"), Call(ScenariosRequest, "scenarios")),
        "--offers": (Page("scenarios.html", 'name="offers"'), Call(ScenariosRequest, "offers")),
        "--on": (Page("scenarios.html", 'name="on"'), Call(ScenariosRequest, "on")),
        "--draws": (Page("scenarios.html", 'name="draws"'), Call(ScenariosRequest, "draws")),
        "--out": FILES,
        "--time-limit": of_scenario("time_limit", Call(ScenariosRequest, "time_limit")),
        "--marked": MARKED,
        "--json": JSON,
    },
    "precut": {
        "project": UPLOAD,
        "--draws": (Page("precut.html", 'name="draws"'), Query("comparePrecut", "draws")),
        "--seed": (Page("precut.html", 'name="seed"'), Query("comparePrecut", "seed")),
        "--time-limit": (
            *of_scenario("time_limit"),
            Because("what is weighed is a plan that is made already, with the seconds that it was given"),
        ),
        "--marked": MARKED,
        "--json": JSON,
    },
    "suppliers": {
        "plan": (Because("it stands on a plan's own page, and in the address of the call"),),
        "--offers": (Page("suppliers.html", 'name="offers"'), Call(SuppliersRequest, "offers")),
        "--on": (Page("suppliers.html", 'name="on"'), Call(SuppliersRequest, "on")),
        "--out": (Because("the page shows what the two files hold, and its tables can be copied; nothing is kept"),),
    },
    "prices": {
        "project": UPLOAD,
        "--offer": (Page("prices.html", 'name="offers"'), Page("scenarios.html", 'name="offers"'),
                    Call(ScenariosRequest, "offers")),
        "--supplier": of_scenario("supplier", Page("prices.html", 'name="supplier"')),
        "--on": (Page("prices.html", 'name="on"'), Page("scenarios.html", 'name="on"'), Call(ScenariosRequest, "on")),
        "--out": (
            Page("prices.html", "Save as survey"),
            Because("in the interface the plan of a scenario with a supplier holds the project at these prices"),
        ),
    },
    "answer": {
        "document": (Page("supplier_answer.html", 'name="document"'),
                     Because("the interface takes it as the body of addSupplierAnswer")),
        "--order": (Page("order.html", "/answer"), Query("addSupplierAnswer", "plan_id")),
        "--record": (Because("the building's own record is read, and written to"),),
        "--received-on": (Page("supplier_answer.html", 'name="received_on"'),
                          Query("addSupplierAnswer", "received_on")),
        "--out": (Page("supplier_answer.html", 'name="record"'), Query("addSupplierAnswer", "plan_id")),
    },
    "refit": {
        "plan": (Because("it stands on a plan's own page, and in the address of the call"),),
        "--survey": (Page("refits.html", "upload_form"), Page("refits.html", "/refits/newest"),
                     Because("the interface takes it as the body of refitPlan")),
        "--cut-levels": (Page("refits.html", 'name="cut"'), Call(RefitRequest, "cut_levels")),
        "--fitted-levels": (Page("refits.html", 'name="fitted"'), Call(RefitRequest, "fitted_levels")),
        "--out": FILES,
        "--time-limit": (Call(RefitRequest, "time_limit"), SERVICE_SECONDS),
        "--seed": (Call(RefitRequest, "seed"), ONE_SEED),
        "--marked": MARKED,
        "--json": JSON,
    },
    "replan": {
        "plan": (Page("building.html", 'name="plan_id"'), Query("replanPlan", "plan_id")),
        "--record": (Because("the building's own record is read"),),
        "--survey": (Because("the building's newest survey is taken: a newer one is uploaded first"),),
        "--out": FILES,
        "--today": (Because("a running service judges order days by the day that it is"),),
        "--change-cost": (
            Because("what changes in goods and money is shown; a supplier's fee for a change is not kept"),
        ),
        "--paper": (Page("order.html", "paper=Letter"), Query("readCuttingSheets", "paper")),
        "--replaces": (
            Page("order.html", 'name="after"'),
            Because("issuing makes the next revision of what was issued last; the interface names it by If-Match"),
        ),
        "--time-limit": (Call(ReplanRequest, "time_limit"), SERVICE_SECONDS),
        "--seed": (Call(ReplanRequest, "seed"), ONE_SEED),
        "--json": JSON,
    },
    "survey": {
        "project": UPLOAD,
        "--out": (Page("sheet.html", "Questions to the survey"), Page("sheet.html", "re-measure.pdf"),
                  Because("in the interface the questions are in the plan")),
        "--paper": (Page("sheet.html", "re-measure.pdf?paper=Letter"),
                    Because("the interface has no sheet of the questions alone")),
        "--marked": MARKED,
        "--json": JSON,
    },
    "template": {
        "file": (Page("start.html", "/template.xlsx"),
                 Because("the interface answers readSurveyTemplate with it")),
    },
}  # fmt: skip

WITHOUT_PAGE = {
    "cut": "a bare cutting problem has no building, no order and no crew: the pages are of buildings",
    "check": "every plan is judged before a page shows it and again before it is issued; the command judges files",
    "serve": "it is what shows the pages",
    "worker": "it runs beside the service, which says at /readyz whether one does",
    "verify": "whoever runs the machine asks it of the whole database; the revisions' page computes a building's anew",
    "backup": "it is of all companies: whoever runs the machine does it",
    "restore": "it goes into an empty database, before there is a page",
    "export": "it is of a whole company: whoever runs the machine does it",
    "erase": "what it takes away cannot be had back: whoever runs the machine does it, with the anchor at hand",
    "retention": "it deletes buildings with their issued orders: whoever runs the machine does it",
    "help": "the pages say beside each form what it does, the interface at /docs",
}
"""The commands that no page reaches, and why."""


def options_of(command: str) -> list[str]:
    found = typer.main.get_command(app).commands[command].params  # type: ignore[attr-defined]
    return [
        next((name for name in one.opts if name.startswith("--")), one.name)
        for one in found
        if one.name != "help"
    ]


def test_every_command_is_reached_by_a_page_or_says_why_not() -> None:
    commands = set(typer.main.get_command(app).commands)  # type: ignore[attr-defined]
    assert commands == PLACES.keys() | WITHOUT_PAGE.keys()
    assert not PLACES.keys() & WITHOUT_PAGE.keys()
    for command, options in PLACES.items():
        places = [place for found in options.values() for place in found]
        assert any(isinstance(place, (Page, Row)) for place in places), f"{command} is reached by no page"
    assert all(len(reason) > 20 for reason in WITHOUT_PAGE.values())


@pytest.mark.parametrize("command", PLACES)
def test_every_option_has_its_place_or_a_reason(command: str) -> None:
    assert sorted(PLACES[command]) == sorted(options_of(command))
    for option, places in PLACES[command].items():
        for reason in (one.reason for one in places if isinstance(one, Because)):
            assert len(reason) > 20, option
        if not any(isinstance(one, Because) for one in places):
            assert any(isinstance(one, (Page, Row)) for one in places), f"{option} has no place in the pages"
            assert any(isinstance(one, (Call, Query)) for one in places), (
                f"{option} has none in the interface"
            )


def parameters() -> dict[str, set[str]]:
    """The parameters of each call by the name of its operation."""
    found: dict[str, set[str]] = {}
    for router in CALLS:
        for route in router.routes:
            dependant: Any = route.dependant  # type: ignore[attr-defined]
            names = {one.alias for one in (*dependant.query_params, *dependant.path_params)}
            found[route.operation_id] = names  # type: ignore[attr-defined]
    return found


def test_every_place_that_is_named_is_there() -> None:
    calls = parameters()
    fields = {field.option for field in FIELDS}
    for command, options in PLACES.items():
        for option, places in options.items():
            for place in places:
                where = f"{command} {option}: {place}"
                if isinstance(place, Page):
                    assert place.words in (TEMPLATES / place.template).read_text(encoding="utf-8"), where
                elif isinstance(place, Row):
                    assert place.option in fields, where
                elif isinstance(place, Call):
                    assert place.member in place.model.model_fields, where
                elif isinstance(place, Query):
                    assert place.name in calls[place.operation], where
