"""The purchasing officer's tasks: from an upload to an issued order, through faults, and again after a re-survey."""

from __future__ import annotations

import io
import json
import re
from pathlib import Path

import httpx
import pytest
from openpyxl import load_workbook
from playwright.sync_api import Browser, Page, expect

from tests.pages.conftest import SAMPLES, no_finding, planned, upload

pytestmark = pytest.mark.browser
SMALL = SAMPLES / "small" / "small.xlsx"


def test_a_workbook_becomes_an_order_that_is_downloaded_and_issued(screen: Page, site: str) -> None:
    screen.goto("/")
    upload(screen, SMALL)
    planned(screen)

    # what to order next, what it costs, what is proved, what is missing: all on the first screen
    for label in ("Next order due by", "Order total", "Boards needed", "Not planned"):
        place = screen.locator("dt", has_text=label).bounding_box()
        assert place is not None
        assert place["y"] < 400, label
    body = screen.locator("main").inner_text()
    assert re.search(r"AUD [\d,]+\.\d\d", body)
    assert "Open slab edge" in body
    assert "compliant" not in body.lower()

    begins = {"pdf": b"%PDF", "xlsx": b"PK", "xml": b"<?xml", "csv": b"", "json": b"{"}
    links = screen.get_by_role("group", name="Files").get_by_role("link")
    # beside the order: deliveries, the crew's papers (labels run by run too, both on Letter), office workbook, plan
    assert links.count() == len(begins) + 8
    for link in links.all():
        address = link.get_attribute("href") or ""
        content = httpx.get(site + address, timeout=60).raise_for_status().content
        assert len(content) > 100
        assert content.startswith(begins[address.partition("?")[0].rpartition(".")[2]])

    screen.get_by_text("Issue this order as revision 1").click()
    screen.get_by_role("button", name="Issue revision 1").click()
    expect(screen.get_by_role("heading", name="Revision 1", exact=True)).to_be_visible()
    expect(screen.locator("main")).to_contain_text("none was altered")
    screen.get_by_role("navigation", name="Sheets of this plan").get_by_role("link", name="Order").click()
    expect(screen.locator(".issued")).to_contain_text("Revision 1")


def test_a_workbook_is_dropped_on_the_form(screen: Page) -> None:
    screen.goto("/")
    content = list(SMALL.read_bytes())
    screen.evaluate(
        """(content) => {
            const carried = new DataTransfer();
            carried.items.add(new File([new Uint8Array(content)], "dropped.xlsx"));
            document.querySelector("form[data-drop]").dispatchEvent(
                new DragEvent("drop", {dataTransfer: carried, bubbles: true, cancelable: true}));
        }""",
        content,
    )
    planned(screen)


def test_everything_works_without_javascript(chromium: Browser, site: str) -> None:
    context = chromium.new_context(base_url=site, java_script_enabled=False)
    page = context.new_page()
    page.goto("/")
    upload(page, SMALL)
    planned(page)  # the page of the plan being made comes back by itself until it is done
    context.close()


def test_a_plan_is_watched_and_cancelled(screen: Page) -> None:
    screen.goto("/")
    upload(screen, SAMPLES / "tower" / "tower.xlsx")
    expect(screen.get_by_role("heading", name="The order is being planned")).to_be_visible()
    expect(screen.get_by_text("Working.")).to_be_visible()
    expect(screen.locator("[aria-current=step]")).to_have_text("joints, cutting, brackets, order")
    screen.get_by_role("button", name="Cancel this plan").click()
    expect(screen.get_by_role("heading", name="This plan was cancelled")).to_be_visible()


def test_the_making_of_a_plan_is_told_to_screen_readers_too(screen: Page) -> None:
    screen.route("**/events", lambda route: route.abort())  # so that the page stays as it is
    screen.goto("/")
    upload(screen, SMALL)
    expect(screen.get_by_role("status")).to_be_visible()
    expect(
        screen.get_by_role("progressbar", name="How close the plan is to the proved minimum")
    ).to_be_visible()
    no_finding(screen)


def test_a_survey_that_cannot_be_planned_at_all_says_why_and_where(screen: Page, tmp_path: Path) -> None:
    survey = json.loads((SAMPLES / "small" / "small.json").read_text())
    for gap in survey["gaps"]:
        gap["gap_mm"] = 900
    survey["project"]["name"] = "Yard <b>9</b> </svg><script>document.title='taken'</script>"
    (tmp_path / "wide.json").write_text(json.dumps(survey))
    screen.goto("/")
    upload(screen, tmp_path / "wide.json")
    expect(screen.get_by_role("heading", name="No plan could be made")).to_be_visible()
    expect(screen.locator(".notes")).to_contain_text("the gap goes up to 900 mm, outside the tested range")
    expect(screen.get_by_role("heading", level=1)).to_have_text(survey["project"]["name"])
    assert screen.title() != "taken"


def test_places_that_are_not_planned_stand_on_the_first_screen_of_the_order(
    screen: Page, tmp_path: Path
) -> None:
    survey = json.loads((SAMPLES / "small" / "small.json").read_text())
    survey["gaps"][0]["gap_mm"] = 700
    (tmp_path / "part.json").write_text(json.dumps(survey))
    screen.goto("/")
    upload(screen, tmp_path / "part.json")
    planned(screen)
    link = screen.get_by_role("link", name="where, why, and how to fix it")
    place = link.bounding_box()
    assert place is not None
    assert place["y"] < 400
    link.click()
    expect(screen.locator("#not-planned li").first).to_contain_text("outside the tested range")
    expect(screen.get_by_role("link", name=re.compile("Level L1:.*not planned"))).to_be_visible()


def test_faults_are_shown_on_their_cells_and_the_corrected_workbook_is_planned(screen: Page) -> None:
    screen.goto("/")
    upload(screen, SAMPLES / "faulty" / "faulty.xlsx")
    said = (SAMPLES / "faulty" / "expected_messages.txt").read_text().splitlines()
    expect(screen.get_by_role("heading", level=1)).to_have_text(f"{len(said)} faults to fix in faulty.xlsx")

    gaps = screen.get_by_role("region", name="gaps")
    marked = gaps.locator("td.bad", has_text="15 cm")
    expect(marked).to_be_visible()
    explained = gaps.locator(f"#{marked.get_attribute('aria-describedby')}")
    expect(explained).to_contain_text("C4")
    expect(explained).to_contain_text("a length must be a whole number of millimetres")
    expect(explained.locator(".fix")).to_have_text("write 150")
    assert screen.locator("td.bad").count() == len(said)
    with screen.expect_download() as download:
        screen.get_by_role("link", name="every faulty cell coloured and commented").click()
    marked_copy = load_workbook(io.BytesIO(Path(download.value.path()).read_bytes()))
    assert marked_copy["gaps"]["C4"].comment.text.endswith("write 150")
    assert marked_copy["faults"]["A2"].value.startswith(f"{len(said)} faults")

    upload(screen, SMALL)
    planned(screen)


def test_questions_to_the_survey_stand_before_the_warnings_with_a_sheet_to_measure_again_with(
    screen: Page, tmp_path: Path
) -> None:
    survey = json.loads((SAMPLES / "small" / "small.json").read_text())
    survey["gaps"][3]["gap_mm"] = "~" + str(survey["gaps"][3]["gap_mm"])
    survey["gaps"] = [gap for gap in survey["gaps"] if gap["run"] != "L1-E" or gap["at_mm"] <= 6000]
    (tmp_path / "asked.json").write_text(json.dumps(survey))
    screen.goto("/")
    upload(screen, tmp_path / "asked.json")
    planned(screen)
    headings = screen.get_by_role("heading", level=2).all_text_contents()
    titles = ("Questions to the survey: 1", "How cells of the survey were read", "Warnings")
    order = [headings.index(title) for title in titles]
    assert order == sorted(order)
    expect(screen.locator("#questions li")).to_contain_text("The last 10800 mm have no reading.")
    with screen.expect_download() as download:
        screen.get_by_role("link", name="sheet to measure again with").click()
    assert Path(download.value.path()).read_bytes().startswith(b"%PDF-")
    screen.get_by_role("link", name="Levels and runs").click()
    screen.get_by_role("link", name=re.compile("L1")).first.click()
    expect(screen.get_by_role("note").last).to_contain_text("1 question to this level's survey")


def test_a_faulty_csv_is_shown_as_its_cells_too(screen: Page, tmp_path: Path) -> None:
    for file in (SAMPLES / "small" / "csv").iterdir():
        (tmp_path / file.name).write_bytes(file.read_bytes())
    gaps = (tmp_path / "gaps.csv").read_text().splitlines()
    gaps[2] = re.sub(r"(?<=,)\d+(?=,m|,n|$)", "15 cm", gaps[2], count=1)
    (tmp_path / "gaps.csv").write_text("\n".join(gaps))
    screen.goto("/")
    upload(screen, *sorted(tmp_path.iterdir()))
    expect(screen.locator("td.bad", has_text="15 cm")).to_be_visible()


def test_what_is_no_workbook_is_refused_in_plain_words(screen: Page, tmp_path: Path) -> None:
    (tmp_path / "survey.xlsx").write_bytes(b"%PDF-1.7 not a workbook")
    screen.goto("/")
    upload(screen, tmp_path / "survey.xlsx")
    expect(screen.locator("main")).to_contain_text("is a PDF, not a workbook")


def test_a_newer_survey_is_planned_and_its_order_told_as_the_difference(screen: Page, tmp_path: Path) -> None:
    screen.goto("/")
    upload(screen, SMALL)
    planned(screen)
    screen.get_by_text("Issue this order as revision 1").click()
    screen.get_by_role("button", name="Issue revision 1").click()

    survey = json.loads((SAMPLES / "small" / "small.json").read_text())
    for gap in survey["gaps"]:
        gap["gap_mm"] += 22
    newer = tmp_path / "newer.json"
    newer.write_text(json.dumps(survey))
    screen.locator(".title-block").get_by_role("link").first.click()
    expect(screen.get_by_role("heading", name="A newer survey")).to_be_visible()
    upload(screen, newer)
    planned(screen)
    expect(screen.locator(".title-block")).to_contain_text("Survey2")

    change = screen.get_by_role("region", name="What this plan would change")
    assert change.locator("tbody tr").count() > 1
    screen.get_by_text("Issue this order as revision 2").click()
    screen.get_by_role("button", name="Issue revision 2").click()
    told = screen.get_by_role("region", name="Difference of revision 2")
    expect(told).to_be_visible()
    assert any("+" in row.inner_text() for row in told.locator("tbody tr").all())
    expect(screen.get_by_role("heading", name="Revision 1", exact=True)).to_be_visible()


def test_two_newer_surveys_at_once_do_not_overwrite_each_other(screen: Page, chromium: Browser) -> None:
    screen.goto("/")
    upload(screen, SMALL)
    planned(screen)
    screen.locator(".title-block").get_by_role("link").first.click()
    other = screen.context.new_page()
    other.goto(screen.url)
    upload(other, SMALL)
    planned(other)
    upload(screen, SMALL)
    expect(screen.locator("main")).to_contain_text("Somebody kept a newer survey meanwhile")
