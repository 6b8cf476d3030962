"""Gaps measured in become the next survey; goods are received against the order."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from tests.builders.job import JobOnSite
from tests.pages.slab_edge.conftest import Job, all_sent, cards, kept, named, opened, picture, send_now

pytestmark = pytest.mark.browser


def test_gaps_are_measured_in_and_become_the_next_survey(phone: Page, nominal: Job) -> None:
    address = f"{nominal.address}/levels/2"
    opened(phone, address)
    expect(phone.get_by_role("note")).to_contain_text("not ready to cut")
    expect(cards(phone)).to_have_count(0)
    phone.get_by_role("link", name="Measure level L2").click()
    expect(phone.locator("[data-ready=yes]")).to_be_attached()
    kept(phone)
    named(phone, "surveyor")
    phone.context.set_offline(True)
    rows = phone.locator("[data-reading]")
    rows.nth(0).get_by_label("Top").fill("151")
    rows.nth(0).get_by_label("Bottom").fill("148")
    rows.nth(1).get_by_label("Not accessible").check()
    rows.nth(1).get_by_text("Note, photograph").click()
    rows.nth(1).get_by_label("Note").fill("behind the hoist")
    run = phone.locator("[data-run-of]").first
    run.get_by_label("Another place").fill("777")
    run.get_by_role("button", name="Add it").click()
    phone.locator("[data-reading][data-at-mm='777']").get_by_label("Bottom").fill("149")
    expect(phone.locator("[data-filled]")).to_have_text("3")
    phone.reload()
    expect(phone.locator("[data-ready=yes]")).to_be_attached()
    expect(phone.locator("[data-filled]")).to_have_text("3")
    expect(rows.nth(0).get_by_label("Top")).to_have_value("151")
    picture(phone, "measure")
    phone.get_by_role("button", name="Send 3 readings").click()
    expect(rows.nth(0).locator("[data-kept-words]")).to_have_text("read: 151 and 148, waits to be sent")
    phone.context.set_offline(False)
    send_now(phone)
    kept_project = nominal.client.get(f"/v1/projects/{nominal.id}").json()
    assert kept_project["version"] == 2
    gaps = {(gap["run"], gap["at_mm"]): gap for gap in kept_project["project"]["gaps"]}
    measured = {
        place: gap["gap_mm"]
        for place, gap in gaps.items()
        if gap["run"].startswith("L2") and gap["basis"] == "measured"
    }
    assert measured == {("L2-N", 0): 151, ("L2-N", 777): 149}
    phone.reload()
    expect(rows.nth(0).locator("h3")).to_contain_text("151 (top 151, bottom 148")
    expect(phone.locator("[data-measuring]")).to_contain_text("surveyor: behind the hoist")


def test_a_reading_that_is_no_number_is_told_and_not_sent(phone: Page, nominal: Job) -> None:
    opened(phone, f"{nominal.address}/levels/2/measure")
    named(phone)
    phone.locator("[data-reading]").first.get_by_label("Top").fill("15a")
    phone.get_by_role("button", name=re.compile("Send 1 reading")).click()
    expect(phone.locator(".send").get_by_role("alert")).to_contain_text("15a is no gap in whole millimetres")
    all_sent(phone)


def test_goods_are_received_against_the_order_and_what_is_short_is_told(phone: Page, job: Job) -> None:
    office = JobOnSite()
    office.order_all(job.plan)
    job.send(office)
    line = next(line for line in job.plan.order.lines if line.kind == "board" and line.level == "L1")
    ordered = line.packs * line.per_pack
    opened(phone, f"{job.address}/receiving")
    named(phone, "storeman")
    form = phone.locator(f"[data-goods][data-code='{line.code}'][data-level='L1']")
    phone.locator("summary", has_text=line.code).first.click()
    form.get_by_label("of it damaged").fill("2")
    form.get_by_role("button", name="Put on record").click()
    expect(form.get_by_role("alert")).to_contain_text("damaged came too")
    form.get_by_label("Came now").fill(str(ordered - 3))
    form.get_by_label("Note").fill("wet corner")
    form.get_by_role("button", name="Put on record").click()
    expect(form.locator("[data-own]")).to_contain_text(f"{ordered - 3} came")
    all_sent(phone)
    delivered, scrapped = job.events()[-2:]
    assert (delivered["event"], delivered["quantity"]) == ("delivered", ordered - 3)
    assert delivered["note"] == "2 damaged; wet corner"
    assert (scrapped["event"], scrapped["quantity"]) == ("scrapped", 2)
    phone.reload()
    short = phone.locator("section", has=phone.get_by_role("heading", name="Short")).first
    expect(short).to_contain_text(f"5 x {line.code} for L1")
    expect(short).to_contain_text("Bring forward from L2")
    picture(phone, "receiving")
