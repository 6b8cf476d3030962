"""The task of those who measured again: the newer survey against what is cut, through the pages."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import httpx
import pytest
from playwright.sync_api import Page, expect

from tests.pages.conftest import SAMPLES, no_finding, planned, upload

pytestmark = pytest.mark.browser
SMALL = SAMPLES / "small" / "small.xlsx"
BUTTON = "Read it and refit the pieces"


@pytest.fixture(scope="module")
def newer(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small job measured again: two runs of its last level are wider."""
    survey: dict[str, Any] = json.loads((SAMPLES / "small" / "small.json").read_text())
    level = survey["levels"][-1]["level"]
    runs = [run["run"] for run in survey["runs"] if run["level"] == level]
    for gap in survey["gaps"]:
        gap["gap_mm"] += {runs[0]: 24, runs[-1]: 5}.get(gap["run"], 0)
    path = tmp_path_factory.mktemp("newer") / "newer.json"
    path.write_text(json.dumps(survey))
    return path


def _resurvey_page(page: Page) -> None:
    """The refit's sheet of a plan made for this test."""
    page.goto("/")
    upload(page, SMALL)
    planned(page)
    page.get_by_role("navigation", name="Sheets of this plan").get_by_role("link", name="Refit").click()


def _send(page: Page, *files: Path) -> None:
    page.locator("input[type=file]").set_input_files(list(files))
    page.get_by_role("button", name=BUTTON).click()


def _figure(page: Page, label: str) -> str:
    return page.locator(".figures > div", has_text=label).locator("dd").first.inner_text()


def test_a_newer_survey_says_which_pieces_serve_move_or_are_recut_and_what_to_order(
    screen: Page, site: str, newer: Path
) -> None:
    _resurvey_page(screen)
    screen.get_by_text("Which levels are cut, and which are fitted?").click()
    screen.get_by_label("L1 is fitted").check()
    _send(screen, newer)
    expect(screen.get_by_role("heading", name="Level by level")).to_be_visible()
    expect(screen.get_by_role("heading", level=1)).to_contain_text("Refit to survey 2")
    expect(screen.locator(".title-block")).to_contain_text("newest is 2")

    refit = httpx.get(
        site + (screen.get_by_role("link", name="Refit, JSON").get_attribute("href") or "")
    ).json()
    open_pieces = refit["cut_pieces"] - refit["closed_pieces"]
    assert _figure(screen, "Reused") == f"{refit['reused_pieces']} of {open_pieces}"
    assert _figure(screen, "Of which moved") == str(len(refit["moves"]))
    assert _figure(screen, "Re-cut") == str(len(refit["recut"]))
    assert refit["recut"]

    table = screen.get_by_role("region", name="Level by level")
    expect(table.get_by_role("row", name=re.compile("^L1"))).to_contain_text("fitted: nothing changes here")
    table.get_by_role("link", name="L2").click()
    work = screen.get_by_role("region", name="L2", exact=True)
    expect(work).to_contain_text("forecast: not ready to cut")
    expect(screen.get_by_role("region", name="How to cut")).to_contain_text("not ready to cut")
    for place in refit["recut"]:
        expect(work).to_contain_text(f"{place['place']}: {place['to_mm'] - place['from_mm']} mm long")
    for reuse in refit["moves"]:
        expect(work).to_contain_text(reuse["piece"])
    expect(screen.locator("#proof-title").locator("..")).to_contain_text(
        f"can use more than {refit['most_reusable']}, nor more of their area: proved by duality"
    )
    order = screen.locator("#order-title + *")
    for line in refit["order"]["lines"]:
        expect(order).to_contain_text(line["code"])

    no_finding(screen)
    screen.set_viewport_size({"width": 360, "height": 740})
    assert screen.evaluate("document.documentElement.scrollWidth") <= 360
    no_finding(screen)


def test_a_supplementary_order_is_issued_as_the_difference(screen: Page, newer: Path) -> None:
    _resurvey_page(screen)
    screen.get_by_role("navigation", name="Sheets of this plan").get_by_role("link", name="Order").click()
    screen.get_by_text("Issue this order as revision 1").click()
    screen.get_by_role("button", name="Issue revision 1").click()
    screen.get_by_role("link", name="Refit", exact=True).click()
    _send(screen, newer)
    screen.get_by_text("Issue the order with this supplement as revision 2").click()
    screen.get_by_role("button", name="Issue revision 2").click()
    expect(screen.get_by_role("region", name="Difference of revision 2")).to_be_visible()
    expect(screen.locator("main")).to_contain_text("none was altered")
    screen.get_by_role("link", name="Its refit").click()
    expect(screen.locator(".issued")).to_contain_text("Revision 2")


def test_a_survey_that_is_kept_already_is_refitted_without_sending_it_again(
    screen: Page, newer: Path
) -> None:
    _resurvey_page(screen)
    _send(screen, newer)
    expect(screen.get_by_role("heading", name="Level by level")).to_be_visible()
    screen.get_by_role("link", name="All refits of this plan").click()
    screen.get_by_role("button", name="Refit to survey 2").click()
    expect(screen.get_by_role("heading", name="Level by level")).to_be_visible()
    screen.get_by_role("link", name="All refits of this plan").click()
    assert screen.get_by_role("region", name="Refits of this plan").locator("tbody tr").count() == 2
    expect(screen.locator(".title-block")).to_contain_text("newest is 2")


def test_a_faulty_survey_is_shown_on_its_cells_and_its_levels_are_remembered(
    screen: Page, newer: Path
) -> None:
    _resurvey_page(screen)
    screen.get_by_text("Which levels are cut, and which are fitted?").click()
    screen.get_by_label("L1 is fitted").check()
    _send(screen, SAMPLES / "faulty" / "faulty.xlsx")
    expect(screen.locator("td.bad").first).to_be_visible()
    expect(screen.locator("main")).to_contain_text("Nothing was saved")
    _send(screen, newer)
    expect(screen.get_by_role("region", name="Level by level")).to_contain_text(
        "fitted: nothing changes here"
    )


def test_a_refit_shows_the_work_of_a_level_at_a_time_so_that_its_page_stays_short(
    screen: Page, tmp_path: Path
) -> None:
    survey: dict[str, Any] = json.loads((SAMPLES / "small" / "small.json").read_text())
    for gap in survey["gaps"]:
        gap["gap_mm"] += 24
    wider = tmp_path / "wider.json"
    wider.write_text(json.dumps(survey))
    _resurvey_page(screen)
    _send(screen, wider)
    expect(screen.get_by_role("heading", name="What to do on L1")).to_be_visible()
    works = screen.locator(".refit-level")
    expect(works).to_have_count(1)
    assert screen.get_by_role("region", name="How to cut").locator("tbody tr").count() <= 20
    screen.get_by_role("link", name="all, to print").click()
    expect(screen.get_by_role("heading", name="What to do on each level")).to_be_visible()
    expect(works).to_have_count(2)
