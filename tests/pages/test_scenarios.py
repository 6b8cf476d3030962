"""The estimator's page of scenarios: rows of options, a fault that keeps them, results, and a plan of one of them."""

from __future__ import annotations

import re
from itertools import pairwise

import httpx
import pytest
from playwright.sync_api import Page, expect

from api.pages.scenario_fields import FIELDS
from api.pages.scenario_form import MOST_ROWS, FormRow, ScenarioForm, form_of, form_of_request
from api.studies.scenario_schemas import ScenariosRequest
from optimiser.model.project import Project
from optimiser.reading.scenario_rows import OPTIONS
from tests.builders.levels import building
from tests.pages.conftest import no_finding, planned

SECONDS = 400_000  # ms: parts of a comparison give way to all other work of the machine


def test_every_option_of_a_scenario_has_one_field() -> None:
    assert sorted(field.option for field in FIELDS) == sorted(OPTIONS)


def test_rows_are_added_copied_and_removed_where_they_stand() -> None:
    form = ScenarioForm(rows=(FormRow({"name": "a"}), FormRow({"name": "b", "seed": "1"})), survey=1)
    added, at = form.changed("add")
    assert ([row.text("name") for row in added.rows], at) == (["a", "b", ""], 3)
    copied, at = form.changed("copy-1")
    assert ([row.text("name") for row in copied.rows], at) == (["a", "a again", "b"], 2)
    removed, at = form.changed("remove-2")
    assert ([row.text("name") for row in removed.rows], at) == (["a"], 1)
    assert removed.changed("remove-1")[0] == removed
    full = ScenarioForm(rows=(FormRow({}),) * MOST_ROWS, survey=1)
    assert full.changed("add")[0] == full


def test_what_is_asked_for_comes_back_into_the_form_several_gaps_in_one_row() -> None:
    fields = {
        "survey": "2", "on": "2027-01-04", "draws": "40", "name-1": "a", "staging-1": "level", "name-2": "gaps",
        "gap_mm-2": "148 150-151", "boards-2": "B-120 B-100", "truck_pallets-2": "none",
    }  # fmt: skip
    asked, form = form_of(fields, (), 1).asked()
    assert asked is not None, form.all_faults
    assert [scenario.name for scenario in asked.scenarios] == [
        "a",
        "gaps, 148 mm",
        "gaps, 150 mm",
        "gaps, 151 mm",
    ]
    again = form_of_request(ScenariosRequest.model_validate_json(asked.model_dump_json()), asked.survey or 0)
    assert [dict(row.cells) for row in again.rows] == [
        {"name": "a", "staging": "level"},
        {"name": "gaps", "gap_mm": "148 150 151", "boards": "B-120 B-100", "truck_pallets": "none"},
    ]
    assert (again.survey, again.on, again.draws) == (2, "2027-01-04", "40")


def test_a_faulty_form_says_what_is_wrong_and_keeps_what_was_typed() -> None:
    fields = {
        "name-1": "a",
        "oversize_max-1": "9",
        "gap_mm-2": "wide",
        "name-2": "b",
        "on": "soon",
        "draws": "many",
    }
    asked, form = form_of(fields, (), 1).asked()
    assert asked is None
    assert form.rows[0].faulty("oversize_max")
    assert form.rows[1].faulty("gap_mm")
    assert form.rows[1].text("gap_mm") == "wide"
    assert form.all_faults[0] == "scenario 'a', oversize_max is 9: it is too large; give at most 1"
    right = {"name-1": "a", "on": "soon", "draws": "many"}
    assert form_of(right, (), 1).asked()[1].all_faults == (
        "the day of ordering is 'soon'; write it as 2027-03-01",
        "the surveys to draw is 'many'; give a whole number from 1 to 20000",
    )


@pytest.fixture(scope="module")
def measured(site: str) -> str:
    """The address of the scenarios of a building of three measured levels, of which a plan takes a moment."""
    project: Project = building()
    with httpx.Client(base_url=site, timeout=120) as client:
        answer = client.post(
            "/projects", json=project.model_dump(mode="json", by_alias=True, exclude_unset=True)
        )
        answer.raise_for_status()
    return f"/buildings/{answer.json()['id']}/scenarios"


@pytest.mark.browser
def test_scenarios_are_typed_without_a_mouse_mended_compared_sorted_and_planned(
    screen: Page, measured: str
) -> None:
    screen.goto(measured)
    no_finding(screen)
    screen.get_by_role("button", name="Add a scenario").press("Enter")
    expect(screen.locator("#name-3")).to_be_focused()
    screen.keyboard.type("gaps")
    screen.keyboard.press("Tab")
    screen.keyboard.type("148-152/2")
    screen.get_by_role("button", name="Copy scenario 2").press("Enter")
    expect(screen.locator("#name-3")).to_be_focused()
    screen.locator("#name-3").fill("wide")
    screen.locator("#oversize_max-3").fill("9")
    screen.keyboard.press("Enter")
    expect(screen.get_by_role("alert")).to_contain_text("scenario 'wide', oversize_max is 9: it is too large")
    expect(screen.locator("#gap_mm-4")).to_have_value("148-152/2")
    expect(screen.locator("#oversize_max-3")).to_have_attribute("aria-invalid", "true")
    no_finding(screen)
    screen.locator("#oversize_max-3").fill("0.2")
    screen.keyboard.press("Enter")
    table = screen.get_by_role("region", name="Scenarios as a table")
    table.wait_for(timeout=SECONDS)
    names = table.locator("tbody th")
    typed = ["as surveyed", "each level on its own", "wide", "gaps, 148 mm", "gaps, 150 mm", "gaps, 152 mm"]
    assert names.all_inner_texts() == typed
    expect(screen.locator("#gap_mm-4")).to_have_value("148 150 152")
    expect(screen.get_by_text("Least board area wasted (scrap):")).to_be_visible()
    assert table.get_by_text("least cost").count() >= 1
    assert table.get_by_role("button", name=re.compile("^Plan this")).count() == 3
    assert table.get_by_text("compare only").count() == 3

    table.get_by_role("button", name="Cost, AUD").click()
    costs = [
        float(re.sub(r"[^0-9.]", "", row.locator("td").nth(1).inner_text().split(" ")[0]))
        for row in table.locator("tbody tr").all()
    ]
    assert costs == sorted(costs)

    steps = screen.locator("polyline.scenario-steps").get_attribute("points") or ""
    points = [point.split(",") for point in steps.split()]
    assert all(one[0] == after[0] or one[1] == after[1] for one, after in pairwise(points))
    assert screen.locator("circle.scenario").count() > 0
    for form in ("CSV", "XLSX"):
        with screen.expect_download() as download:
            screen.get_by_role("link", name=form).click()
        assert download.value.suggested_filename.endswith(form.lower())
    no_finding(screen)
    screen.emulate_media(color_scheme="dark")
    no_finding(screen)
    screen.set_viewport_size({"width": 360, "height": 740})
    assert screen.evaluate("document.documentElement.scrollWidth") <= 360

    table.get_by_role("button", name="Plan this: each level on its own").click()
    planned(screen)
    expect(screen.get_by_text("Planned as the scenario 'each level on its own'")).to_be_visible()
    screen.locator(".title-block").get_by_role("link").first.click()
    expect(screen.get_by_role("region", name="Plans as a table")).to_contain_text(
        "scenario each level on its own"
    )


@pytest.mark.browser
def test_offers_are_read_from_files_and_a_faulty_one_is_told(screen: Page, measured: str) -> None:
    screen.goto(measured)
    screen.get_by_text("Suppliers' offers, and surveys to draw").click()
    heads = b"supplier,currency,code,price\n"
    field = screen.get_by_label("Offers to add")
    field.set_input_files(
        {"name": "bad.csv", "mimeType": "text/csv", "buffer": heads + b"Second,AUD,B-120,cheap\n"}
    )
    screen.get_by_role("button", name="Add a scenario").click()
    expect(screen.get_by_role("alert")).to_contain_text("cheap")
    offer = heads + b"Second Supplier (invented),AUD,B-120,1.00\n"
    field.set_input_files({"name": "offer.csv", "mimeType": "text/csv", "buffer": offer})
    screen.get_by_role("button", name="Add a scenario").click()
    expect(screen.get_by_text("Second Supplier (invented): 1 price")).to_be_visible()
