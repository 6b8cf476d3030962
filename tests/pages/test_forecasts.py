"""A building with nominal levels on the pages: what shows one of its levels, order lines, boards or pieces says that
it is a forecast, by when to measure it, and that nothing of it is ready to cut."""

from __future__ import annotations

import io

import httpx
import pytest
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from optimiser.model.plan import Plan
from optimiser.writing.drawing.not_ready import NOT_READY
from optimiser.writing.drawing.sheet_frame import NOT_FOR_CUTTING
from tests.builders.forecast import FORECAST, MEASURED, forecast_project
from tests.pages.conftest import no_finding
from tests.service.running import wait_for


@pytest.fixture(scope="module")
def made(site: str) -> tuple[str, Plan]:
    """The address of the order's sheet, and the plan."""
    with httpx.Client(base_url=site, timeout=120) as client:
        answer = client.post(
            "/order-schedules",
            content=forecast_project().model_dump_json(by_alias=True),
            headers={"content-type": "application/json"},
        )
        answer.raise_for_status()
        address = answer.headers["Location"]
        wait_for(lambda: client.get(address).json()["status"] == "done" or None, 120, "the plan")
        plan = Plan.model_validate_json(client.get(f"{address}/plan.json").content)
    return address.replace("/plans/", "/schedules/"), plan


def pages(made: tuple[str, Plan]) -> list[str]:
    """Every page of the plan that shows levels, runs, boards or order lines."""
    address, plan = made
    levels, runs = len(plan.project.levels), len(plan.project.runs)
    return [
        *(f"{address}{part}" for part in ("", "/deliveries", "/levels", "/boards", "/revisions")),
        *(f"{address}/levels/{n}" for n in range(1, levels + 1)),
        *(f"{address}/runs/{n}" for n in range(1, runs + 1)),
        *(f"{address}/boards?level={n}" for n in range(1, levels + 1)),
        *(f"{address}/boards/{n}" for n in range(1, len(plan.layouts) + 1)),
    ]


def test_no_page_shows_a_piece_of_a_nominal_level_unmarked(site: str, made: tuple[str, Plan]) -> None:
    nominal = [piece.id for piece in made[1].pieces if piece.level in FORECAST]
    marked = []
    for address in pages(made):
        text = httpx.get(site + address).raise_for_status().text
        shows = any(piece in text for piece in nominal)
        drawn = "<svg" in text and shows
        assert ("not ready to cut" in text) >= shows, address
        assert (NOT_READY in text) >= (drawn and '<figure class="drawing' in text), address
        marked += [address] if shows else []
    assert len(marked) >= 4 + 2 + sum(not layout.cut_ready for layout in made[1].layouts)


@pytest.mark.parametrize("part", ["", "/deliveries", "/levels", "/levels/3", "/boards?level=3", "/runs/5"])
def test_status_and_day_to_measure_stand_where_a_nominal_level_is_shown(
    screen: Page, made: tuple[str, Plan], part: str
) -> None:
    day = next(level.measure_by for level in made[1].levels if level.level == "L03")
    assert day is not None
    screen.goto(made[0] + part)
    shown = screen.get_by_role("main").inner_text()
    assert "forecast" in shown
    assert f"{day.day} {day:%b}" in shown
    no_finding(screen)
    assert screen.evaluate("document.documentElement.scrollWidth") <= 1280


def test_a_measured_level_is_said_to_be_firm_and_lists_what_to_open_take_and_keep(
    screen: Page, made: tuple[str, Plan]
) -> None:
    remainders = made[1].remainders
    assert remainders
    for place, level in enumerate(MEASURED, 1):
        screen.goto(f"{made[0]}/levels/{place}")
        assert screen.get_by_text("2 runs; firm").is_visible()
        taken = [part for part in remainders if part.waits_for == level]
        kept = [part for part in remainders if part.level == level]
        for heading, parts, also in (
            ("Take these remainders from the rack", taken, "level"),
            ("Keep these remainders", kept, "waits_for"),
        ):
            assert screen.get_by_role("heading", name=f"{heading}: {len(parts)}").is_visible()
            for part in parts:
                row = screen.get_by_role("region", name=heading).get_by_role("row", name=part.name)
                assert part.size in row.inner_text()
                assert getattr(part, also) in row.inner_text()


def test_the_order_is_issued_knowing_what_of_it_is_a_forecast(screen: Page, made: tuple[str, Plan]) -> None:
    screen.goto(made[0])
    screen.get_by_text("Issue this order as revision").click()
    asked = screen.locator("details.issue").inner_text()
    assert "Forecast, not measured yet: L03, L04." in asked
    assert "firm AUD" in asked
    assert "L03: measure by" in asked


def test_deliveries_show_the_sum_beside_its_proved_minimum_and_what_stands_on_site(
    screen: Page, made: tuple[str, Plan]
) -> None:
    costs = made[1].delivery_costs
    assert costs is not None
    for part in ("", "/deliveries"):
        screen.goto(made[0] + part)
        table = screen.get_by_role("region", name="Deliveries and storage").inner_text()
        assert f"{costs.total:,}" in table.split("Total with delivery and storage")[1]
        assert f"{costs.lower_bound:,}" in table.split("Proved minimum")[1]
    brought = screen.get_by_role("region", name="What each delivery brings").inner_text()
    assert all(f"{delivery.weight_kg:,.0f}" in brought for delivery in made[1].deliveries)
    standing = screen.get_by_role("region", name="What board stands on site before it is cut")
    assert standing.get_by_role("row").count() == 1 + len(made[1].on_site)
    assert screen.get_by_text("date open").count() == 0, "a level of a delivery for several has its day"


def test_what_is_to_be_moved_says_which_of_it_is_a_forecast(screen: Page, made: tuple[str, Plan]) -> None:
    screen.goto(f"{made[0]}/dates")
    rows = screen.get_by_role("region", name="Each delivery").locator("tbody tr")
    status = {level.level: level.status for level in made[1].levels}
    for place, delivery in enumerate(made[1].deliveries):
        is_forecast = any(status[level] == "forecast" for level in delivery.levels or (delivery.level,))
        assert ("forecast" in rows.nth(place).inner_text()) is is_forecast
        drawn = screen.locator(f".handle[data-place='{place + 1}'] .name").inner_html()
        assert drawn.startswith("(") is is_forecast


def test_a_run_with_a_nominal_gap_counts_it_as_no_reading_and_sets_gaps_in_brackets(
    screen: Page, made: tuple[str, Plan]
) -> None:
    for run, said in (
        ("L02-E", "by 2 readings."),
        ("L03-E", "by 1 reading and 1 nominal gap."),
        ("L04-E", "by 2 nominal gaps."),
    ):
        screen.goto(f"{made[0]}/runs/{run}")
        expect(screen.locator("p.lead").first).to_contain_text(said)
        gap = screen.locator("tbody tr").first.locator("td").last.inner_text()
        assert gap.startswith("(") is ("nominal" in said)


def test_sheets_are_withheld_from_downloads_unless_they_are_asked_for(
    site: str, screen: Page, made: tuple[str, Plan]
) -> None:
    screen.goto(f"{made[0]}/levels/3")
    note = screen.get_by_text("Withheld from cutting sheets and labels: L03.")
    assert note.is_visible()
    for link, marked in (
        ("sheets with nominal levels", NOT_FOR_CUTTING),
        ("labels with nominal levels", "DO NOT CUT"),
    ):
        address = screen.get_by_role("link", name=link).get_attribute("href") or ""
        asked_for = httpx.get(site + address).raise_for_status().content
        plain = httpx.get(site + address.replace("with_nominal=true&", "")).raise_for_status().content
        with_them, without = (
            " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split())
            for pdf in (asked_for, plain)
        )
        assert "L03-E-002" in with_them
        assert marked in with_them
        assert "L03-E-002" not in without
        assert "Withheld, because their gaps are still nominal" in without
