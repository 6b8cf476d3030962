"""The task of those who follow the job: what happened, how it stands, planning the rest, through the pages."""

from __future__ import annotations

import json
import os
import re
from pathlib import Path
from typing import Any

import httpx
import pytest
from playwright.sync_api import Page, expect

from optimiser.model.plan import Plan
from tests.builders.job import JobOnSite, of_level
from tests.pages.conftest import no_serious_finding, plan_of, planned

pytestmark = pytest.mark.browser


def _picture(page: Page, name: str) -> None:
    """Keeps a picture where PICTURES says, for whoever wants to look."""
    if folder := os.environ.get("PICTURES"):
        page.screenshot(path=Path(folder) / f"{name}.png", full_page=True)


@pytest.fixture
def begun(site: str) -> tuple[str, Plan, JobOnSite]:
    """The address of the small job's building, its plan, and a record: the first level is fitted but for two pieces."""
    with httpx.Client(base_url=site, timeout=60) as client:
        found = client.get(plan_of(site, "small").replace("/schedules/", "/plans/")).json()
        made = Plan.model_validate(found["plan"])
        level = made.project.levels_in_order()[0].level
        job = JobOnSite()
        job.order_all(made)
        job.deliver(made, level)
        first, second, *others = of_level(made, level)
        job.cut_and_fit(others)
        job.write("cut", piece=first.id)
        slip = job.write("scrapped", piece=first.id, note="dropped, as it seemed")
        job.write("undone", undoes=slip.id)
        job.write("cut", piece=second.id)
        _send(client, found["project_id"], job)
    return f"/buildings/{found['project_id']}", made, job


def _send(client: httpx.Client, project_id: str, job: JobOnSite) -> None:
    sent: list[dict[str, Any]] = [
        json.loads(event.model_dump_json(exclude_defaults=True)) for event in job.events
    ]
    client.post(f"/v1/projects/{project_id}/events", json=sent).raise_for_status()


def _figure(page: Page, label: str) -> str:
    return page.locator("#job .figures > div", has_text=label).locator("dd").first.inner_text()


def test_the_building_says_how_its_job_stands_and_plans_the_rest(
    screen: Page, begun: tuple[str, Plan, JobOnSite]
) -> None:
    address, made, job = begun
    screen.goto(address)
    first_level = of_level(made, made.project.levels_in_order()[0].level)
    assert _figure(screen, "Fitted") == str(len(first_level) - 2)
    assert int(_figure(screen, "Cut, not fitted")) >= 2
    assert re.fullmatch(r"[1-9][0-9]* boards", _figure(screen, "On order"))
    lines = screen.get_by_role("region", name="What happened").locator("tbody tr")
    expect(lines).to_have_count(min(25, len(job.events)))
    expect(lines.nth(1)).to_contain_text("Taken back")
    expect(lines.nth(2)).to_contain_text(re.compile("Scrapped piece .* taken back"))
    expect(lines.nth(2)).to_contain_text("dropped, as it seemed")
    no_serious_finding(screen)
    _picture(screen, "job-1280")
    if len(job.events) > 25:
        screen.get_by_role("link", name=re.compile("Earlier")).click()
        expect(lines).to_have_count(min(25, len(job.events) - 25))
        screen.get_by_role("link", name="The latest").click()

    screen.get_by_role("button", name="Plan the rest of the job").click()
    planned(screen)
    expect(screen.get_by_text("For the rest of the job")).to_be_visible()
    no_serious_finding(screen)
    _picture(screen, "rest-1280")
    with screen.expect_download() as labels:
        screen.get_by_role("link", name="Labels to change, CSV").click()
    assert labels.value.path().read_text().splitlines()[0] == "level,name,what,was,now"
    schedule = screen.url
    for sheet in ("Deliveries", "Levels and runs", "Boards to cut", "Waste and options", "Revisions"):
        screen.get_by_role("navigation", name="Sheets of this plan").get_by_role("link", name=sheet).click()
        expect(screen.locator("h1")).not_to_contain_text("wrong")
        assert screen.url != schedule
    screen.goto(address)
    expect(screen.get_by_role("region", name="Plans").first).to_contain_text("rest of the job")


def test_on_a_telephone_nothing_is_wider_than_the_screen(
    screen: Page, begun: tuple[str, Plan, JobOnSite]
) -> None:
    screen.set_viewport_size({"width": 360, "height": 740})
    screen.goto(begun[0])
    assert screen.evaluate("document.documentElement.scrollWidth") <= 360
    expect(screen.get_by_role("button", name="Plan the rest of the job")).to_be_visible()
    _picture(screen, "job-360")


def test_an_event_that_the_plan_does_not_know_is_told_with_its_mend(
    screen: Page, site: str, begun: tuple[str, Plan, JobOnSite]
) -> None:
    address, _, job = begun
    job.write("cut", piece="nowhere-1")
    with httpx.Client(base_url=site, timeout=60) as client:
        _send(client, address.rpartition("/")[2], job)
    screen.goto(address)
    expect(screen.locator("#job").get_by_role("note")).to_contain_text("nowhere-1")
    no_serious_finding(screen)


def test_a_building_without_a_record_says_what_comes_there(screen: Page, site: str) -> None:
    with httpx.Client(base_url=site, timeout=60) as client:
        found = client.get(plan_of(site, "small").replace("/schedules/", "/plans/")).json()
    screen.set_viewport_size({"width": 360, "height": 740})
    screen.goto(f"/buildings/{found['project_id']}")
    assert screen.evaluate("document.documentElement.scrollWidth") <= 360
    expect(screen.locator("#job")).to_contain_text("Nothing is on record yet")
