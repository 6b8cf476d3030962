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
from tests.pages.conftest import no_finding, plan_of, planned

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
    no_finding(screen)
    _picture(screen, "job-1280")
    if len(job.events) > 25:
        screen.get_by_role("link", name=re.compile("Earlier")).click()
        expect(lines).to_have_count(min(25, len(job.events) - 25))
        screen.get_by_role("link", name="The latest").click()

    screen.get_by_role("button", name="Plan the rest of the job").click()
    planned(screen)
    expect(screen.get_by_text("For the rest of the job")).to_be_visible()
    no_finding(screen)
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
    no_finding(screen)


def test_a_building_without_a_record_says_what_comes_there(screen: Page, site: str) -> None:
    with httpx.Client(base_url=site, timeout=60) as client:
        found = client.get(plan_of(site, "small").replace("/schedules/", "/plans/")).json()
    screen.set_viewport_size({"width": 360, "height": 740})
    screen.goto(f"/buildings/{found['project_id']}")
    assert screen.evaluate("document.documentElement.scrollWidth") <= 360
    expect(screen.locator("#job")).to_contain_text("Nothing is on record yet")


def test_what_is_issued_is_on_order_and_the_next_revision_says_why_it_differs(
    screen: Page, site: str
) -> None:
    schedule = plan_of(site, "small")
    plan_address = schedule.replace("/schedules/", "/plans/")
    with httpx.Client(base_url=site, timeout=60) as client:
        found = client.get(plan_address).json()
        made = Plan.model_validate(found["plan"])
        client.post(f"{plan_address}/issue").raise_for_status()
        ordered = sum(line.packs * line.per_pack for line in made.order.lines if line.kind == "board")
        address = f"/buildings/{found['project_id']}"
        screen.goto(address)
        assert _figure(screen, "On order") == f"{ordered} boards"
        expect(screen.get_by_role("region", name="What happened")).to_contain_text("revision 1")
        _picture(screen, "on-order-1280")

        level = made.project.levels_in_order()[0].level
        job = JobOnSite()
        job.deliver(made, level)
        job.cut_and_fit(of_level(made, level))
        spoilt = of_level(made, level)[:12]
        for piece in spoilt:
            job.write("scrapped", piece=piece.id)
        _send(client, found["project_id"], job)
        wider = made.project.model_dump(mode="json", exclude_unset=True, by_alias=True)
        last = wider["levels"][-1]["level"]
        wider["levels"][-1]["needed_on"] = "2027-06-14"
        runs = {run["run"] for run in wider["runs"] if run["level"] == last}
        for gap in wider["gaps"]:
            gap["gap_mm"] += 25 * (gap["run"] in runs)
        put = client.put(f"/projects/{found['project_id']}", json=wider, headers={"If-Match": '"1"'})
        put.raise_for_status()
    screen.goto(address)
    screen.get_by_role("button", name="Plan the rest of the job").click()
    planned(screen)
    change = screen.get_by_role("region", name="What this plan would change")
    expect(change).to_contain_text("survey")
    expect(change).to_contain_text("damage")
    expect(change).to_contain_text(spoilt[0].id)
    expect(change).to_contain_text("date")
    expect(change).to_contain_text("14 Jun 2027")
    no_finding(screen)
    _picture(screen, "difference-1280")
    screen.get_by_text("Issue this order as revision 2").click()
    screen.get_by_role("button", name="Issue revision 2").click()
    expect(screen.get_by_role("region", name="Revision 1", exact=True)).to_contain_text("superseded by 2")
    no_finding(screen)
    _picture(screen, "revisions-1280")

    screen.goto(schedule)
    expect(screen.get_by_role("note").first).to_contain_text("revision 2 of the order is the one that counts")
    no_finding(screen)
    _picture(screen, "superseded-1280")
    screen.set_viewport_size({"width": 360, "height": 740})
    assert screen.evaluate("document.documentElement.scrollWidth") <= 360
    _picture(screen, "superseded-360")
