"""Finding and reading: search, names in addresses, tables that sort, filter and copy, forms that keep their values."""

from __future__ import annotations

import httpx
import pytest
from playwright.sync_api import Page, expect

from api.pages.finding import find
from optimiser.planning.plan import plan
from optimiser.writing.drawing.plan_index import PlanIndex
from tests.builders.forecast import forecast_project
from tests.builders.small_plan import small_plan
from tests.pages.conftest import plan_of

INDEX = PlanIndex(small_plan())


def test_pieces_runs_boards_remainders_and_levels_are_found_by_a_part_of_their_name() -> None:
    piece = INDEX.plan.pieces[0]
    found, count = find(INDEX, piece.id)
    assert (found[0].what, found[0].name, count) == ("piece", piece.id, 1)
    everything, _ = find(INDEX, "l01")
    assert {one.what for one in everything} >= {"level", "run", "piece"}
    names = [part.name for step in INDEX.sequence.steps for part in step.kept]
    assert [one.what for one in find(INDEX, names[0])[0]] == ["remainder"]
    assert find(INDEX, "b001")[0][0].what == "board"
    assert find(INDEX, "  ") == ((), 0)
    assert find(INDEX, "no such thing") == ((), 0)


def test_what_is_found_of_a_forecast_level_says_so_and_no_width_to_cut() -> None:
    index = PlanIndex(plan(forecast_project(), advise=False))
    for name, forecast in (("L02-N", False), ("L03-N", True), ("L04-E", True)):
        for one in find(index, name)[0]:
            assert ("forecast" in one.says or "not ready to cut" in one.says) is forecast, one
            assert (", cut " in one.says) is (one.what == "piece" and not forecast), one
    assert find(index, "L03")[0][0].says.endswith("a forecast")
    piece = next(piece for piece in index.plan.pieces if piece.run == "L04-E")
    assert f"nominal {piece.cut_width_start_mm} mm, not ready to cut" in find(index, piece.id)[0][0].says


@pytest.mark.browser
def test_a_piece_is_found_from_any_sheet_and_a_table_sorted_filtered_and_copied(
    screen: Page, tower: str
) -> None:
    screen.context.grant_permissions(["clipboard-read", "clipboard-write"])
    screen.goto(f"{tower}/deliveries")
    screen.get_by_role("searchbox", name="A piece, run").fill("l03-n-00")
    screen.get_by_role("button", name="Find", exact=True).click()
    expect(screen.get_by_role("heading", level=1)).to_contain_text("9 things")
    table = screen.get_by_role("table")
    table.get_by_role("button", name="Name").click()
    table.get_by_role("button", name="Name").click()
    expect(table.locator("tbody tr").first).to_contain_text("L03-N-009")
    screen.get_by_label("Show only rows with these words").fill("004")
    expect(table.locator("tbody tr:visible")).to_have_count(1)
    screen.get_by_role("button", name="Copy table").click()
    expect(screen.get_by_role("status")).to_contain_text("2 rows copied")
    copied = screen.evaluate("navigator.clipboard.readText()")
    assert copied.splitlines()[0] == "What\tName\tWhere and how"
    assert "L03-N-004" in copied
    screen.get_by_role("link", name="L03-N-004").click()
    expect(screen.get_by_role("heading", level=1)).to_contain_text("Run L03-N")


@pytest.mark.browser
def test_addresses_take_names_and_those_of_forms_answer_a_page(site: str, small: str) -> None:
    with httpx.Client(base_url=site, follow_redirects=True) as client:
        for by_name, by_place in (("levels/L1", "levels/1"), ("runs/L1-N", "runs/1")):
            assert client.get(f"{small}/{by_name}").text == client.get(f"{small}/{by_place}").text
        assert client.get(f"{small}/levels/nowhere").status_code == 404
        for address in ("/buildings", "/samples/small", f"{small}/comparisons"):
            answer = client.get(address)
            assert (answer.status_code, answer.headers["content-type"]) == (200, "text/html; charset=utf-8")


@pytest.mark.browser
def test_a_comparison_that_cannot_be_made_keeps_what_was_written(screen: Page, small: str) -> None:
    screen.goto(f"{small}/options")
    screen.get_by_label("Every run at a gap from").fill("160")
    screen.get_by_label("to", exact=True).fill("140")
    screen.get_by_role("button", name="Compare").click()
    expect(screen.get_by_role("alert")).to_contain_text("swap them")
    expect(screen.get_by_label("Every run at a gap from")).to_have_value("160")


@pytest.mark.browser
def test_another_staging_is_planned_on_the_survey_that_is_shown(screen: Page, site: str) -> None:
    own = plan_of(site, "small")  # a newer survey of it changes nothing for other tests
    plan = httpx.get(site + own.replace("/schedules/", "/plans/")).json()
    building = f"{site}/projects/{plan['project_id']}"
    kept = httpx.get(building)
    httpx.put(building, json=kept.json()["project"], headers={"If-Match": kept.headers["ETag"]})
    screen.goto(f"{own}/options")
    screen.get_by_role("button", name="Plan with staging 'carry' too").click()
    made = httpx.get(site + screen.url.partition(site)[2].replace("/schedules/", "/plans/")).json()
    assert (made["project_version"], made["request"]["staging"]) == (plan["project_version"], "carry")
