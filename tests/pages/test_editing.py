"""A survey edited in its pages: pasted, undone, refused at its cell, saved as a version, downloaded, planned."""

from __future__ import annotations

import re
from io import BytesIO

import httpx
import pytest
from openpyxl import load_workbook
from playwright.sync_api import Page, expect

from optimiser.reading import project_from_workbook, read_project
from tests.pages.conftest import SAMPLES, no_finding, planned

pytestmark = pytest.mark.browser

PASTE = """([cell, text]) => {
    const clipboard = new DataTransfer();
    clipboard.setData("text/plain", text);
    document.querySelectorAll("input[name=cell]")[cell].dispatchEvent(
        new ClipboardEvent("paste", {clipboardData: clipboard, bubbles: true, cancelable: true}));
}"""


@pytest.fixture
def editor(screen: Page, site: str) -> Page:
    """The gaps of the small sample's first level, of a building of its own."""
    workbook = SAMPLES / "small" / "small.xlsx"
    kept = httpx.post(f"{site}/projects", files={"workbook": (workbook.name, workbook.read_bytes())})
    screen.goto(f"/buildings/{kept.raise_for_status().json()['id']}")
    screen.get_by_role("link", name=re.compile("edit survey 1 here")).click()
    screen.get_by_role("navigation", name="Levels").get_by_role("link", name="L1").click()
    return screen


def test_an_invented_building_is_tried_with_a_press(screen: Page) -> None:
    screen.goto("/")
    screen.get_by_role("button", name="Try the small building").click()
    expect(screen.get_by_role("main")).to_contain_text("Invented")
    screen.wait_for_url(re.compile("/schedules/"))


def test_gaps_are_pasted_undone_refused_at_their_cell_and_saved_as_a_version(editor: Page, site: str) -> None:
    gap = [editor.get_by_label(f"gap_mm, row {row}", exact=True) for row in (1, 2, 3)]
    before = [cell.input_value() for cell in gap]
    no_finding(editor)

    # three rows of two columns from a spreadsheet, into the second column
    at = editor.locator("input[name=cell]").evaluate_all(
        "cells => cells.findIndex(cell => cell.getAttribute('aria-label') === 'at_mm, row 1')"
    )
    editor.evaluate(PASTE, [at, "0\t151\r\n1500\t15 cm\r\n3000\t153\r\n"])
    assert [cell.input_value() for cell in gap] == ["151", "15 cm", "153"]
    expect(editor.get_by_role("status")).to_contain_text("3 cells changed")
    editor.get_by_role("button", name="Undo").click()
    assert [cell.input_value() for cell in gap] == before
    editor.get_by_role("button", name="Redo").click()
    gap[2].fill("154")
    gap[2].press("Control+z")
    assert [cell.input_value() for cell in gap] == ["151", "15 cm", "153"]

    editor.get_by_role("button", name="Save as survey 2").click()
    expect(editor.get_by_role("alert")).to_contain_text("Not saved: 1 fault")
    refused = editor.get_by_label("gap_mm, row 2", exact=True)
    assert refused.get_attribute("aria-invalid") == "true"
    expect(editor.locator(f"#{refused.get_attribute('aria-describedby')}")).to_contain_text("write 150")
    assert gap[0].input_value() == "151"  # what was written is kept
    no_finding(editor)

    refused.fill("152")
    editor.get_by_role("button", name="Save as survey 2").click()
    expect(editor.get_by_role("heading", level=1)).to_contain_text("Survey 2")
    changes = editor.get_by_role("row", name=re.compile("L1-N 1500")).inner_text()
    assert changes.split("\t") == ["Gaps", "L1-N 1500", "gap_mm", before[1], "152"]
    no_finding(editor)

    # each version as a workbook: the first is the sample's, the second has the new gap
    address = editor.url
    first = httpx.get(address.replace("surveys/2", "surveys/1") + "/survey.xlsx").raise_for_status()
    assert project_from_workbook(first.content) == read_project(SAMPLES / "small" / "small.xlsx")
    second = httpx.get(address + "/survey.xlsx").raise_for_status()
    assert load_workbook(BytesIO(second.content))["gaps"]["C3"].value == 152
    building = address.partition("/surveys")[0].replace("/buildings/", "/projects/")
    log = httpx.get(building + "/changes").json()["items"]
    assert ("version 2, gaps", "3 changed") in [(line["subject"], line["action"]) for line in log]


@pytest.mark.parametrize("table", ["products", "levels", "gaps"])
def test_every_cell_is_as_wide_as_what_stands_in_it(screen: Page, small: str, table: str) -> None:
    """A pack 'box of 100' that is cut off behind 'box of 10' would be read as another pack."""
    screen.goto(small)
    building = screen.locator(".title-block").get_by_role("link").first.get_attribute("href")
    screen.goto(f"{building}/edit/{table}")
    cut_off = screen.locator("input[name=cell]").evaluate_all(
        "cells => cells.filter(cell => cell.scrollWidth > cell.clientWidth).map(cell => cell.value)"
    )
    assert cut_off == []


def test_a_date_is_typed_and_planned_and_a_later_save_keeps_what_was_typed(editor: Page, site: str) -> None:
    building = editor.url.partition("/edit")[0]
    editor.goto(f"{building}/edit/levels")
    date = editor.get_by_label("needed_on, row 1", exact=True)
    date.fill("2027-04-06")
    # meanwhile somebody else keeps a survey
    kept = building.replace("/buildings/", "/projects/")
    document = httpx.get(kept)
    httpx.put(kept, json=document.json()["project"], headers={"If-Match": document.headers["ETag"]})
    editor.get_by_role("button", name="Save and plan").click()
    expect(editor.get_by_role("alert")).to_contain_text("Survey 2 was kept meanwhile")
    assert editor.get_by_label("needed_on, row 1", exact=True).input_value() == "2027-04-06"
    editor.get_by_role("button", name="Save and plan").click()
    planned(editor)
    expect(editor.locator("main")).to_contain_text("6 Apr 2027")


@pytest.mark.parametrize(
    ("table", "label", "wrong", "fix"),
    [
        ("deliveries", "minimum_order, value", "a lot", "write"),
        ("detail", "oversize_min, value", "0.4", "oversize_min must be at most oversize_max"),
        ("products", "price, row 1", "cheap", "write"),
    ],
)
def test_limits_rules_and_prices_say_their_faults_at_the_cell(
    screen: Page, small: str, table: str, label: str, wrong: str, fix: str
) -> None:
    screen.goto(small)
    building = screen.locator(".title-block").get_by_role("link").first.get_attribute("href")
    screen.goto(f"{building}/edit/{table}")
    screen.get_by_label(label, exact=True).fill(wrong)
    screen.get_by_role("button", name=re.compile("Save as survey")).click()
    cell = screen.get_by_label(label, exact=True)
    assert cell.input_value() == wrong
    expect(screen.locator(f"#{cell.get_attribute('aria-describedby')}")).to_contain_text(fix)
    screen.set_viewport_size({"width": 360, "height": 740})
    assert screen.evaluate("document.documentElement.scrollWidth") <= 360
