"""The tasks of the estimator, the scheduler and the crew, each from the page that is theirs."""

from __future__ import annotations

import re

import httpx
import pytest
from playwright.sync_api import Page, expect

from tests.pages.conftest import planned

pytestmark = pytest.mark.browser


def test_the_estimator_compares_gaps_and_reads_which_takes_fewest_boards(screen: Page, small: str) -> None:
    screen.goto(f"{small}/options")
    screen.get_by_label("Every run at a gap from").fill("140")
    screen.get_by_label("to", exact=True).fill("156")
    screen.get_by_label("mm, every").fill("4")
    screen.get_by_role("button", name="Compare").click()
    table = screen.get_by_role("region", name="Gap options as a table")
    expect(table).to_be_visible()
    rows = table.locator("tbody tr:has(th)")
    assert [row.locator("th").inner_text() for row in rows.all()] == ["140", "144", "148", "152", "156"]
    boards = [int(re.sub(r"\D", "", row.locator("td").nth(2).inner_text())) for row in rows.all()]
    fewest = [row.get_by_text("fewest").count() == 1 for row in rows.all()]
    assert [count for count, marked in zip(boards, fewest, strict=True) if marked] == [min(boards)]
    scrap = [float(row.locator("td").nth(5).inner_text().split()[-2]) for row in rows.all()]
    least = [row.get_by_text("wastes least").count() == 1 for row in rows.all()]
    assert [share for share, marked in zip(scrap, least, strict=True) if marked] == [min(scrap)]
    expect(screen.get_by_text("least scrap, the share of the bought board")).to_be_visible()
    lines = screen.locator("polyline.option").evaluate_all(
        "lines => lines.map(line => line.getAttribute('points'))"
    )
    assert len(lines) == 2  # boards and scrap


def test_gaps_are_compared_with_other_limits_and_stagings_side_by_side(screen: Page, small: str) -> None:
    screen.goto(f"{small}/options")
    screen.get_by_label("Every run at a gap from").fill("148")
    screen.get_by_label("to", exact=True).fill("152")
    screen.get_by_text("With other choices").click()
    screen.get_by_label("Oversize limits").fill("0.10:0.15 0.12:nothing")
    screen.get_by_role("button", name="Compare").click()
    expect(screen.get_by_role("alert")).to_contain_text("0.12:nothing")
    expect(screen.get_by_label("Oversize limits")).to_have_value("0.10:0.15 0.12:nothing")
    screen.get_by_label("Oversize limits").fill("0.10:0.15 0.12:0.15")
    screen.get_by_role("button", name="Compare").click()
    table = screen.get_by_role("region", name="Gap options as a table")
    expect(table).to_contain_text("oversize 12% to 15%")
    with screen.expect_download() as download:
        screen.get_by_role("link", name="These options as CSV").click()
    assert (
        download.value.path().read_text().startswith("gap_mm,boards,lower_bound,scrap_fraction,cost,joints")
    )


def test_the_estimator_sees_where_the_board_goes_and_what_a_staging_costs(screen: Page, small: str) -> None:
    screen.goto(f"{small}/options")
    shares = [
        float(text.split(" ")[0]) for text in screen.locator(".figures.three dd:not(.note)").all_inner_texts()
    ]
    assert sum(shares) == pytest.approx(100, abs=0.02)
    screen.get_by_role("button", name="Plan with staging 'level' too").click()
    planned(screen)
    screen.get_by_role("link", name="Waste and options").click()
    modes = screen.get_by_role("region", name="What each staging of offcuts costs")
    expect(modes.get_by_role("link", name="whole")).to_be_visible()
    expect(modes.get_by_role("link", name="level")).to_be_visible()


def test_the_scheduler_weighs_boards_against_waiting_and_takes_the_plan_in_which_nothing_waits(
    screen: Page, small: str
) -> None:
    screen.goto(f"{small}/options")
    screen.get_by_role("button", name="Show boards against waiting").click()
    table = screen.get_by_role("region", name="Boards against waiting as a table")
    expect(table).to_be_visible()
    rows = table.locator("tbody tr").count()
    assert screen.locator("circle.plan").count() == rows
    screen.get_by_label("Plan so: choice 1", exact=True).click()
    planned(screen)
    screen.get_by_role("link", name="Deliveries").first.click()
    expect(screen.get_by_text("choice 1").first).to_be_visible()


def test_the_estimator_simulates_what_is_not_measured_yet(screen: Page, small: str) -> None:
    screen.goto(f"{small}/options")
    screen.get_by_label("Draw the tolerances").fill("40")
    screen.get_by_role("button", name="Simulate").click()
    table = screen.get_by_role("region", name="Quantities at the service level")
    expect(table).to_be_visible()
    board = table.get_by_role("row", name=re.compile("^B-120"))
    planned, median, order = (int(board.locator("td").nth(place).inner_text()) for place in range(3))
    assert median <= order
    assert order >= planned * 0.8
    assert "short in" in board.inner_text()


def test_the_scheduler_sees_the_next_order_date_and_what_stands_on_site(
    screen: Page, site: str, tower: str
) -> None:
    screen.goto(tower)
    first = screen.locator("tr.next, tr.late").first
    order_by = first.locator("td").first.inner_text()
    screen.get_by_role("navigation", name="Sheets of this plan").get_by_role(
        "link", name="Deliveries"
    ).click()
    date = re.search(r"\d+ \w{3}", order_by)
    assert date is not None
    expect(screen.locator(".figures .first")).to_contain_text(date[0])
    line = screen.get_by_role("img", name="Time line of the deliveries")
    expect(line).to_be_visible()
    expect(screen.get_by_role("img", name="Boards by delivery")).to_be_visible()
    calendar = httpx.get(site + tower + "/deliveries.ics").raise_for_status().text
    assert calendar.count("SUMMARY:") >= 14
    table = screen.get_by_role("region", name="What arrives, what is cut, what stands on site")
    assert table.locator("tbody tr").count() == 14
    last = table.locator("tbody tr").last.locator("td")
    assert last.nth(5).inner_text() == "0"  # no piece waits for a level after the last


def test_the_crew_finds_its_level_its_run_and_its_cuts(screen: Page, tower: str) -> None:
    screen.goto(tower)
    screen.get_by_role("link", name=re.compile("^Level L03:")).click()
    expect(screen.get_by_role("heading", level=1)).to_have_text("Level L03")
    screen.get_by_role("link", name=re.compile("L03-S")).click()
    expect(screen.get_by_role("heading", level=1)).to_contain_text("Run L03-S")
    drawing = screen.locator(".wide-drawing svg")
    expect(drawing).to_be_visible()
    rows = screen.locator("tbody tr")
    assert drawing.locator(".piece").count() >= rows.count()
    assert drawing.locator(".mullion").count() > 0
    assert drawing.locator(".bracket").count() > 0

    row = rows.nth(2)
    piece = row.locator("th").get_attribute("id") or ""
    row.get_by_role("link").click()
    expect(screen.get_by_role("heading", level=1)).to_contain_text("pattern")
    expect(screen.locator(".large .wide-drawing svg")).to_contain_text(piece)


def test_boards_are_drawn_by_level_a_dozen_at_a_time(screen: Page, tower: str) -> None:
    screen.goto(f"{tower}/boards?level=1")
    assert screen.locator(".layouts .wide-drawing svg").count() == 12
    screen.get_by_role("navigation", name="Parts").get_by_role("link", name="2").click()
    assert 0 < screen.locator(".layouts .wide-drawing svg").count() <= 12
    screen.get_by_role("navigation", name="Boards by level").get_by_role(
        "link", name=re.compile("L02")
    ).click()
    expect(screen.get_by_role("heading", level=1)).to_have_text("Boards to cut with level L02")
