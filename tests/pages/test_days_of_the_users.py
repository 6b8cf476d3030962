"""A day of each of the four who use the pages, step by step as they would spend it, and what they see after each."""

from __future__ import annotations

import re
from datetime import datetime

import httpx
import pytest
from playwright.sync_api import Browser, Page, expect

from optimiser.model.plan import Plan
from tests.pages.conftest import no_finding_in_any_look, plan_of, planned, watched_page
from tests.pages.slab_edge.conftest import PHONE, all_sent, card, cards, kept, named, opened, send_now
from tests.pages.test_moving_deliveries import dragged, halves, schedule_of

pytestmark = pytest.mark.browser
SECONDS = 400_000  # ms: parts of a comparison give way to all other work of the machine


def sheet(page: Page, name: str) -> None:
    """Goes to another sheet of the plan that is shown."""
    page.get_by_role("navigation", name="Sheets of this plan").get_by_role("link", name=name).click()


def to_the_building(page: Page) -> None:
    """Goes from a sheet of a plan to its building."""
    page.locator(".title-block").get_by_role("link").first.click()


def downloaded(page: Page, name: str) -> bytes:
    """What a link that stands on the page gives."""
    with page.expect_download() as download:
        page.get_by_role("link", name=name, exact=True).first.click()
    return download.value.path().read_bytes()


def days_of(feed: str) -> dict[str, str]:
    """The day on which each level's goods arrive, as a calendar program reads it."""
    entries = httpx.get(feed).raise_for_status().text
    goods = re.findall(
        r"SUMMARY:Draft: [A-Z][a-z]+(?: and [a-z]+)? for (.+)\r?\nDTSTART;VALUE=DATE:(\d+)", entries
    )
    return {level: day for levels, day in goods for level in levels.strip().split("\\, ")}


def issue(page: Page, revision: int) -> None:
    """Issues the order that is shown."""
    page.get_by_text(f"Issue this order as revision {revision}").click()
    page.get_by_role("button", name=f"Issue revision {revision}").click()
    expect(page.get_by_role("heading", name=f"Revision {revision}", exact=True)).to_be_visible()


def test_the_day_of_the_estimator(screen: Page) -> None:
    # a first look: an invented building is planned with one press
    screen.goto("/")
    screen.get_by_role("button", name="Try the small building").click()
    planned(screen)

    # a gap was typed wrong: the fault is said at its cell, what was typed stays, and it is mended there
    to_the_building(screen)
    screen.get_by_role("link", name=re.compile("edit survey 1 here")).click()
    screen.get_by_role("navigation", name="Levels").get_by_role("link", name="L1").click()
    gap = screen.get_by_label("gap_mm, row 2", exact=True)
    expect(gap).to_have_value("140")
    gap.fill("14 cm")
    screen.get_by_role("button", name="Save as survey 2").click()
    expect(screen.get_by_role("alert")).to_contain_text("Not saved: 1 fault")
    expect(gap).to_have_value("14 cm")
    expect(screen.locator(f"#{gap.get_attribute('aria-describedby')}")).to_contain_text("write 140")
    gap.fill("143")
    screen.get_by_role("button", name="Save as survey 2").click()
    expect(screen.get_by_role("heading", level=1)).to_contain_text("Survey 2")
    expect(screen.get_by_role("row", name=re.compile("L1-N 1500"))).to_contain_text("143")

    # which gap, board and staging waste least?
    screen.get_by_role("heading", level=1).get_by_role("link").click()
    screen.get_by_role("link", name="Or compare scenarios").click()
    for place in (3, 4):
        screen.get_by_role("button", name="Add a scenario").click()
        expect(screen.locator(f"#name-{place}")).to_be_focused()
    for field, value in {"name-3": "gap", "gap_mm-3": "150", "name-4": "board", "boards-4": "B-100"}.items():
        screen.locator(f"#{field}").fill(value)
    screen.get_by_text("Suppliers' offers, and surveys to draw").click()
    screen.get_by_label("Surveys to draw for pre-cutting").fill("20")
    screen.get_by_role("button", name="Compare").first.click()
    table = screen.get_by_role("region", name="Scenarios as a table")
    table.wait_for(timeout=SECONDS)
    names = ["as surveyed", "each level on its own", "gap", "board"]
    assert table.locator("tbody th").all_inner_texts() == names
    least = screen.get_by_role("listitem").filter(has_text="Least board area wasted (scrap):").locator("b")
    expect(table.get_by_role("row").filter(has_text="least scrap").first).to_contain_text(
        least.inner_text().split(",")[0]
    )
    expect(
        screen.get_by_text("Least scrap is the least board area that is neither fitted nor kept")
    ).to_be_visible()
    expect(screen.get_by_text("nothing may be cut to it.")).to_be_visible()

    # the table goes to the office
    rows = downloaded(screen, "as CSV").decode("utf-8-sig").splitlines()
    assert [row.split(",")[0].strip('"') for row in rows[1:]][:2] == names[:2]
    assert downloaded(screen, "These scenarios as XLSX").startswith(b"PK")
    no_finding_in_any_look(screen)


def test_the_day_of_the_scheduler(screen: Page, site: str) -> None:
    # the plan breaks a limit of the site, and names a way out, which keeps it
    screen.goto(schedule_of(site, halves(), staging="level"))
    expect(screen.get_by_role("main")).to_contain_text("Limits that are not kept")
    sheet(screen, "Deliveries")
    screen.get_by_role("button", name="Plan with staging 'whole' too").click()
    planned(screen)
    expect(screen.get_by_role("main")).not_to_contain_text("Limits that are not kept")

    # the calendar is subscribed to before anything moves
    sheet(screen, "Deliveries")
    screen.get_by_role("link", name="Subscribe to it").click()
    screen.get_by_role("button", name="Make an address").click()
    feed = screen.get_by_label("Address of the feed").input_value()
    before = days_of(feed)
    assert before["L4"] == "20270322"
    screen.go_back()
    screen.go_back()

    # the crane is away on a day, so one delivery is typed to the next; another one is dragged where there is no room
    sheet(screen, "Delivery dates")
    answer = screen.locator("#answer")
    expect(answer).to_contain_text("Nothing breaks as planned")
    screen.get_by_label("Delivery", exact=True).select_option("4")
    screen.get_by_label("comes on").fill("2027-03-23")
    screen.get_by_role("button", name="See what breaks").click()
    expect(answer).to_contain_text("Nothing breaks on these days")
    dragged(screen, 5, -10)
    expect(answer).to_contain_text("L5 on Mon 15 Mar 2027 instead of")
    expect(answer).to_contain_text("No room on site.")
    no_finding_in_any_look(screen)
    screen.set_viewport_size({"width": 1280, "height": 900})

    # a day that fits is taken, both are saved, and the plan is made again
    use = answer.get_by_role("button", name=re.compile("^Use ")).first
    day = datetime.strptime(use.inner_text(), "Use %a %d %b %Y").strftime("%Y%m%d")
    use.click()
    expect(answer).to_contain_text("Nothing breaks on these days")
    screen.get_by_role("button", name="Save and plan again").click()
    planned(screen)
    expect(screen.get_by_role("main")).not_to_contain_text("Limits that are not kept")
    sheet(screen, "Delivery dates")
    expect(answer).to_contain_text("Nothing breaks as planned")

    # and whoever subscribed reads the new days at the same address
    after = days_of(feed)
    assert after["L4"] == "20270323"
    assert after["L5"] == day
    assert {level for level in before if before[level] != after[level]} == {"L4", "L5"}


def test_the_day_of_the_purchasing_officer(screen: Page, site: str) -> None:
    # the order is read, downloaded in the three forms that a supplier takes, and issued
    schedule = plan_of(site, "small")
    plan = Plan.model_validate(httpx.get(site + schedule.replace("/schedules/", "/plans/")).json()["plan"])
    screen.goto(schedule)
    for name, begins in (("Order, PDF", b"%PDF"), ("Order, workbook", b"PK"), ("Order, UBL 2.1", b"<?xml")):
        assert downloaded(screen, name).startswith(begins)
    issue(screen, 1)
    to_the_building(screen)
    building = screen.url

    # the truck comes short: two boards are missing, and two are wet
    board = next(line for line in plan.order.lines if line.kind == "board" and line.level == "L1")
    ordered = board.packs * board.per_pack
    screen.get_by_role("link", name="At the slab edge").click()
    expect(screen.locator("[data-ready=yes]")).to_be_attached()
    named(screen, "storeman")
    screen.get_by_role("link", name="Receive goods").click()
    expect(screen.locator("[data-ready=yes]")).to_be_attached()
    form = screen.locator(f"[data-goods][data-code='{board.code}'][data-level='L1']")
    screen.locator("summary", has_text=board.code).first.click()
    form.get_by_label("Came now").fill(str(ordered - 2))
    form.get_by_label("of it damaged").fill("2")
    form.get_by_role("button", name="Put on record").click()
    all_sent(screen)
    screen.reload()
    short = screen.get_by_role("region", name="Short", exact=True)
    expect(short).to_contain_text(f"4 x {board.code} for L1")
    expect(short).to_contain_text("Not come yet for L1:")

    # at the desk it stands beside what was ordered, and the rest of the job is planned from there
    screen.goto(building)
    supply = screen.get_by_role("region", name="Ordered and delivered").get_by_role("row", name=board.code)
    assert supply.inner_text().split()[1:] == ["12", "4", "8", "0", "2"]
    screen.get_by_role("button", name="Plan the rest of the job").click()
    planned(screen)
    changed = screen.get_by_role("region", name="What this plan would change").get_by_role("row")
    first = changed.filter(has_text="L1").inner_text().split("\t")
    assert (first[1], first[2], first[5], first[-1]) == ("firm", board.code, "+1", "damage")

    # the supplier gets the difference, and who opens the first order is told that another one counts
    issue(screen, 2)
    told = screen.get_by_role("region", name="Difference of revision 2")
    expect(told.get_by_role("row").filter(has_text="L1")).to_contain_text("+1")
    screen.goto(schedule)
    expect(screen.get_by_role("note").first).to_contain_text("revision 2 of the order is the one that counts")


def test_the_day_of_the_crew(chromium: Browser, site: str) -> None:
    found = httpx.get(site + plan_of(site, "small").replace("/schedules/", "/plans/")).json()
    context = chromium.new_context(base_url=site, viewport=PHONE, has_touch=True)
    with watched_page(context, 20_000) as phone:
        # the morning: today's level, with everything that is to be done there
        opened(phone, f"/site/{found['project_id']}")
        named(phone)
        today = phone.get_by_role("region", name="Today: level L1")
        expect(today).to_contain_text("0 of 34 cut, 0 fitted")

        # a gap is measured again before it is cut
        today.get_by_role("link", name="Measure").click()
        expect(phone.locator("[data-ready=yes]")).to_be_attached()
        reading = phone.locator("[data-reading]").nth(1)
        expect(reading.locator("h3")).to_contain_text("140")
        reading.get_by_label("Top").fill("141")
        reading.get_by_label("Bottom").fill("140")
        phone.get_by_role("button", name="Send 1 reading").click()
        all_sent(phone)
        phone.reload()
        expect(reading.locator("h3")).to_contain_text("141 (top 141, bottom 140")

        # pieces are cut and ticked off, one of them in the basement without a network
        phone.get_by_role("navigation").get_by_role("link", name="Cut", exact=True).click()
        expect(phone.locator("[data-ready=yes]")).to_be_attached()
        kept(phone)
        first, second = (cards(phone).nth(place).get_attribute("data-piece") or "" for place in range(2))
        upcoming = phone.get_by_role("complementary", name="The next piece")
        expect(upcoming.get_by_role("link")).to_have_text(first)
        upcoming.get_by_role("button", name="Cut").click()
        expect(upcoming.get_by_role("link")).to_have_text(second)
        all_sent(phone)
        phone.context.set_offline(True)
        upcoming.get_by_role("button", name="Cut").click()
        expect(card(phone, second).locator("[data-state-words]")).to_have_text(
            "cut, to fit, waits to be sent"
        )
        expect(phone.locator("[data-outbox]")).to_have_text("1 to be sent: no network")

        # they are fitted, still without one, and all of it is sent as soon as there is one
        phone.get_by_role("link", name="Fit", exact=True).click()
        expect(phone.locator("[data-ready=yes]")).to_be_attached()
        for piece in (first, second):
            card(phone, piece).get_by_role("button", name="Fitted").click()
            expect(card(phone, piece)).to_have_attribute("data-state", "fitted")
        expect(phone.locator("[data-outbox]")).to_contain_text("3 to be sent")
        phone.context.set_offline(False)
        send_now(phone)

        # what is fitted is inspected
        phone.get_by_role("link", name="Inspect", exact=True).click()
        expect(phone.locator("[data-ready=yes]")).to_be_attached()
        seen = card(phone, first)
        expect(seen).to_contain_text("fitted by crew 2")
        seen.get_by_role("button", name="All of it seen").click()
        all_sent(phone)
        phone.reload()
        expect(seen).to_contain_text("all seen")

        # the office sees the same
        phone.goto(f"/buildings/{found['project_id']}")
        row = phone.get_by_role("region", name="Done, by level").get_by_role("row", name=re.compile("^L1"))
        assert row.inner_text().split() == ["L1", "34", "2", "2"]
