"""The scheduler moves deliveries: drags, steps or types a day, reads what breaks, takes one that fits, plans again."""

from __future__ import annotations

import re

import httpx
import pytest
from playwright.sync_api import Browser, Page, expect

from optimiser.model.project import DeliveryLimits, Project
from tests.builders.levels import building, week, weekly
from tests.pages.conftest import no_finding, planned, watched_page
from tests.service.running import wait_for

pytestmark = pytest.mark.browser


def yard(site: str, **limits: int) -> str:
    """The address of the finished plan of an invented building of four weekly levels with limits."""
    return schedule_of(site, weekly(**limits))


def schedule_of(site: str, project: Project, **options: str) -> str:
    """The address of a project's finished plan."""
    heading = project.project.model_copy(update={"name": "Invented Yard"})
    project = project.model_copy(update={"project": heading})
    with httpx.Client(base_url=site, timeout=120) as client:
        sent = project.model_dump_json(by_alias=True)
        answer = client.post(
            "/order-schedules", params=options, content=sent, headers={"Content-Type": "application/json"}
        )
        address = answer.raise_for_status().headers["Location"]
        wait_for(lambda: client.get(address).json()["status"] == "done" or None, 120, "the plan of the yard")
    return str(address).replace("/plans/", "/schedules/")


def dragged(page: Page, place: int, days: int) -> None:
    """Drags a delivery by so many days, with a mouse."""
    handle = page.locator(f".handle[data-place='{place}'] .hit")
    handle.scroll_into_view_if_needed()
    box = handle.bounding_box()
    assert box is not None
    a_day = float(page.locator("svg.dateline").get_attribute("data-a-day") or 0)
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + days * a_day / 2, y)
    page.mouse.move(x + days * a_day, y)
    page.mouse.up()


def test_a_dragged_delivery_says_what_breaks_and_takes_the_day_that_fits(screen: Page, site: str) -> None:
    screen.goto(f"{yard(site, truck_pallets=2, trucks_a_delivery=1, site_storage_m2=9)}/dates")
    answer = screen.locator("#answer")
    expect(answer).to_contain_text("Nothing breaks as planned")
    dragged(screen, 2, -7)
    expect(answer).to_contain_text("2 things break on these days")
    expect(answer).to_contain_text(f"2 truckloads come on {week(1)} for L1, L2")
    expect(answer).to_contain_text("No room on site. 9.6 m2")
    expect(screen.locator(".datechart rect.over")).to_have_count(1)
    no_finding(screen)
    answer.get_by_role("button", name=re.compile("Use Tue 2 Mar 2027")).click()
    expect(answer).to_contain_text("Nothing breaks on these days")
    expect(answer).to_contain_text("L2 on Tue 2 Mar 2027 instead of Mon 8 Mar 2027")
    assert "day=2027-03-02" in screen.url


def test_what_is_saved_is_the_next_survey_that_says_what_changed_and_is_planned(
    screen: Page, site: str
) -> None:
    schedule = yard(site, site_storage_m2=9)
    screen.goto(f"{schedule}/dates")
    screen.get_by_label("Delivery", exact=True).select_option("3")
    screen.get_by_label("comes on").fill("2027-03-17")
    screen.get_by_role("button", name="See what breaks").click()
    expect(screen.locator("#answer")).to_contain_text("Nothing breaks on these days")
    dragged(screen, 4, 1)
    expect(screen.locator("#answer")).to_contain_text(
        "L3 on Wed 17 Mar 2027 instead of Mon 15 Mar 2027; L4 on"
    )
    screen.get_by_role("button", name="Save and plan again").click()
    planned(screen)
    screen.get_by_role("link", name="Delivery dates").click()
    comes = screen.get_by_role("region", name="Each delivery").locator("tbody tr td:nth-child(2)")
    expect(comes).to_have_text(["Mon 1 Mar 2027", "Mon 8 Mar 2027", "Wed 17 Mar 2027", "Tue 23 Mar 2027"])
    screen.get_by_role("link", name="Invented Yard").click()
    screen.get_by_role("link", name="Survey 2 and what it changed").click()
    expect(screen.get_by_role("main")).to_contain_text("2027-03-17")
    screen.goto(f"{schedule}/dates?moved=3=2027-03-18")  # the plan before: its survey is the newest no more
    expect(screen.get_by_role("button", name="Save and plan again")).to_have_count(0)
    sent = httpx.post(f"{site}{schedule}/dates", data={"survey": "1", "moved": "3=2027-03-18"})
    assert sent.status_code == 412


def test_the_arrow_keys_move_the_delivery_that_has_the_focus(screen: Page, site: str) -> None:
    screen.goto(f"{yard(site, site_storage_m2=9)}/dates")
    screen.locator(".handle[data-place='4']").focus()
    screen.keyboard.press("ArrowRight")
    expect(screen.locator("#answer")).to_contain_text("Tue 23 Mar 2027")
    expect(screen.locator(".handle[data-place='4']")).to_be_focused()
    screen.keyboard.press("Shift+ArrowLeft")
    expect(screen.locator("#answer")).to_contain_text("L4 on Tue 16 Mar 2027")


def test_without_a_script_the_form_and_its_links_do_the_same(chromium: Browser, site: str) -> None:
    schedule = yard(site, trucks_a_delivery=1, truck_pallets=2)
    context = chromium.new_context(base_url=site, java_script_enabled=False)
    with watched_page(context, 30_000) as page:
        page.goto(f"{schedule}/dates")
        page.get_by_role("region", name="Each delivery").get_by_role("link", name="2: L2").click()
        expect(page.get_by_label("comes on")).to_have_value("2027-03-08")
        page.get_by_label("comes on").fill("2027-03-14")
        page.get_by_role("button", name="See what breaks").click()
        expect(page.locator("#answer")).to_contain_text(
            "No delivery comes on 2027-03-14: it is no working day"
        )
        page.get_by_role("button", name="Use Fri 12 Mar 2027").click()
        expect(page.locator("#answer")).to_contain_text("Nothing breaks on these days")
        page.get_by_role("link", name="take back").click()
        expect(page.locator("#answer")).to_contain_text("Nothing breaks as planned")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_thumb_drags_on_a_telephone_and_the_page_does_not_scroll_sideways(
    chromium: Browser, site: str, scheme: str
) -> None:
    schedule = yard(site, site_storage_m2=9)
    context = chromium.new_context(
        base_url=site,
        viewport={"width": 360, "height": 800},
        has_touch=True,
        color_scheme=scheme,  # type: ignore[arg-type]
    )
    with watched_page(context, 30_000) as page:
        page.goto(f"{schedule}/dates", wait_until="networkidle")
        assert page.evaluate("document.documentElement.scrollWidth") <= 360
        handle = page.locator(".handle[data-place='1'] .hit")
        handle.scroll_into_view_if_needed()
        box = handle.bounding_box()
        assert box is not None
        a_day = float(page.locator("svg.dateline").get_attribute("data-a-day") or 0)
        x, y = box["x"] + 14, box["y"] + 13
        session = context.new_cdp_session(page)
        for kind, at in (("touchStart", x), ("touchMove", x - a_day), ("touchMove", x - 3 * a_day)):
            session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [{"x": at, "y": y}]})
        session.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
        expect(page.locator("#answer")).to_contain_text("L1 on Fri 26 Feb 2027 instead of Mon 1 Mar 2027")
        sizes = page.locator("svg text").evaluate_all(
            "texts => texts.map(text => parseFloat(getComputedStyle(text).fontSize)"
            " * (text.closest('svg').getBoundingClientRect().width / text.closest('svg').viewBox.baseVal.width))"
        )
        assert min(sizes) >= 10.99
        no_finding(page)


def halves() -> Project:
    """Six weekly levels that each need half a board: cut level by level, the other half of each stands for the next."""
    base = building(storeys=6, gap_mm=150, length_mm=3600, deliveries=(DeliveryLimits(site_storage_m2=2),))
    levels = tuple(
        level.model_copy(update={"needed_on": week(number)}) for number, level in enumerate(base.levels, 1)
    )
    products = tuple(
        product.model_copy(update={"per_pack": 1}) if product.kind == "board" else product
        for product in base.products
    )
    return base.model_copy(update={"levels": levels, "products": products})


def test_a_plan_that_keeps_a_limit_not_names_the_staging_that_keeps_it(screen: Page, site: str) -> None:
    schedule = schedule_of(site, halves(), staging="level")
    for sheet in ("", "/deliveries"):
        screen.goto(schedule + sheet)
        main = screen.get_by_role("main")
        expect(main).to_contain_text("Limits that are not kept")
        expect(main).not_to_contain_text("take staging")
    screen.get_by_role("button", name="Plan with staging 'whole' too").click()
    planned(screen)
    kept = screen.url
    for sheet in ("", "/deliveries", "/dates"):
        screen.goto(schedule + sheet)
        expect(screen.get_by_role("main")).to_contain_text("take staging 'whole': with it nothing breaks")
        no_finding(screen)
    expect(screen.locator("#answer")).to_contain_text("No room on site.")
    screen.get_by_role("link", name="Its plan").click()
    assert screen.url == kept


def test_a_day_that_is_none_is_refused_in_words(screen: Page, site: str, small: str) -> None:
    for query, says in (
        ("moved=1=soon", "names no delivery and day"),
        ("delivery=99&day=2027-03-01", "The plan has no delivery 99"),
        ("delivery=1&day=2099-03-01", "more than two years"),
    ):
        answer = httpx.get(f"{site}{small}/dates?{query}")
        assert answer.status_code == 422
        assert says in answer.text


def test_the_calendar_feed_is_made_shown_once_and_revoked(screen: Page, site: str) -> None:
    schedule = yard(site, site_storage_m2=9)
    screen.goto(f"{schedule}/deliveries")
    screen.get_by_role("link", name="Subscribe to it").click()
    screen.get_by_role("button", name="Make an address").click()
    address = screen.get_by_label("Address of the feed").input_value()
    no_finding(screen)
    assert httpx.get(address).text.count("SUMMARY:Draft: ") >= 4
    screen.get_by_role("link", name="Back to the building").click()
    expect(screen.get_by_role("main")).not_to_contain_text(address)
    expect(screen.get_by_text("last read")).to_be_visible()
    screen.get_by_role("button", name="Revoke it").click()
    expect(screen.get_by_role("button", name="Make an address")).to_be_visible()
    assert httpx.get(address).status_code == 404
