"""The crew and the inspector at the slab edge: ticks go on record, slips are taken back, pages suit gloves."""

from __future__ import annotations

import httpx
import pytest
from playwright.sync_api import Page, expect

from tests.builders.job import JobOnSite
from tests.pages.conftest import no_finding
from tests.pages.slab_edge.conftest import (
    PHONE,
    Job,
    Service,
    all_sent,
    cards,
    named,
    opened,
    picture,
    small_project,
)

pytestmark = pytest.mark.browser


def test_a_remainder_is_kept_as_it_was_measured_and_taken_for_its_level(phone: Page, carried: Job) -> None:
    opened(phone, f"{carried.address}/levels/1")
    named(phone)
    (part,) = carried.plan.remainders
    remainder = phone.locator(f"[data-kept='{part.name}']")
    step = phone.locator("[data-step]", has=remainder)
    expect(remainder.get_by_label("Width")).to_be_hidden()
    step.get_by_role("button", name="Cut", exact=True).first.click()
    remainder.get_by_label("Width").fill("")
    remainder.get_by_role("button", name="Kept, so measured").click()
    expect(remainder.get_by_role("alert")).to_contain_text("whole millimetres")
    remainder.get_by_label("Width").fill(str(part.width_mm - 3))
    remainder.get_by_role("button", name="Kept, so measured").click()
    expect(remainder.locator("[data-kept-words]")).to_contain_text(f"x {part.width_mm - 3}")
    picture(phone, "remainder")
    all_sent(phone)
    event = carried.events()[-1]
    assert (event["event"], event["board"], event["width_mm"]) == ("kept", part.name, part.width_mm - 3)
    phone.goto(f"/buildings/{carried.id}")
    expect(phone.locator("#job")).to_contain_text(f"1200 x {part.width_mm - 3}")
    phone.goto(f"{carried.address}/labels/{part.name}")
    taken = phone.locator(f"[id='label-{part.name}']")
    expect(taken).to_be_focused()
    expect(taken.get_by_role("heading", level=2)).to_contain_text(f"Take {part.name}")
    assert "/levels/2#" in phone.url


def test_a_damaged_piece_was_cut_and_a_slip_is_taken_back(phone: Page, job: Job) -> None:
    opened(phone, f"{job.address}/levels/1")
    named(phone)
    first = cards(phone).first
    first.get_by_role("button", name="Damaged").click()
    first.get_by_role("button", name="cut too small").click()
    expect(first).to_have_attribute("data-state", "damaged")
    all_sent(phone)
    assert [(event["event"], event["note"]) for event in job.events()] == [
        ("cut", ""),
        ("scrapped", "cut too small"),
    ]
    phone.reload()
    expect(phone.locator("[data-ready=yes]")).to_be_attached()
    expect(first.locator("[data-state-words]")).to_have_text("damaged")
    first.get_by_role("button", name="Take back").click()
    expect(first).to_have_attribute("data-state", "cut")
    first.get_by_role("button", name="Take back").click()
    expect(first).to_have_attribute("data-state", "planned")
    all_sent(phone)
    phone.reload()
    expect(first.locator("[data-state-words]")).to_have_text("to cut")


def test_an_event_of_a_piece_that_the_newest_plan_lacks_is_told_and_taken_back(phone: Page, job: Job) -> None:
    elsewhere = JobOnSite()
    elsewhere.write("cut", piece="L1-N-999")
    job.send(elsewhere)
    opened(phone, job.address)
    named(phone)
    told = phone.get_by_role("note")
    expect(told).to_contain_text("L1-N-999")
    told.get_by_role("button", name="Take back: cut L1-N-999").click()
    all_sent(phone)
    assert [event["event"] for event in job.events()] == ["cut", "undone"]
    phone.reload()
    expect(told).to_have_count(0)


def test_nobody_ticks_without_a_name(phone: Page, job: Job) -> None:
    opened(phone, f"{job.address}/levels/1")
    cards(phone).first.get_by_role("button", name="Cut", exact=True).click()
    expect(phone.get_by_label("Your name")).to_be_focused()
    expect(cards(phone).first).to_have_attribute("data-state", "planned")
    assert job.events() == []


def test_what_is_seen_goes_on_record_by_part_and_into_the_report(phone: Page, job: Job) -> None:
    opened(phone, f"{job.address}/levels/1/inspect")
    named(phone, "inspector")
    first = cards(phone).first
    piece = first.get_attribute("data-piece")
    first.get_by_text("Each part on its own").click()
    part = first.locator("[data-part]").first
    part.get_by_label("Remark").fill("anchor loose")
    part.get_by_role("button", name="Seen", exact=True).click()
    expect(part.locator("[data-seen-words]")).to_contain_text("seen by inspector: anchor loose")
    first.get_by_role("button", name="All of it seen").click()
    all_sent(phone)
    told = [(event["event"], event["piece"], event["note"]) for event in job.events()]
    assert told == [("inspected", piece, "bracket at 300: anchor loose"), ("inspected", piece, "")]
    phone.reload()
    expect(first).to_contain_text("not on record as fitted; all seen")
    for form in ("PDF", "csv"):
        with phone.expect_download() as report:
            phone.get_by_role("link", name=f"Report, {form}").click()
        content = report.value.path().read_bytes()
        assert content.startswith(b"%PDF") if form == "PDF" else b"anchor loose" in content


@pytest.mark.parametrize(
    "part", ["", "/levels/1", "/levels/1/fit", "/levels/1/measure", "/levels/1/inspect", "/receiving"]
)
def test_each_page_is_accessible_fits_the_phone_and_can_be_hit_with_gloves(
    phone: Page, job: Job, part: str
) -> None:
    office = JobOnSite()
    office.order_all(job.plan)
    job.send(office)
    opened(phone, job.address + part)
    assert phone.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    no_finding(phone)
    low = phone.evaluate(
        """() => Array.from(document.querySelectorAll(".edge button, .edge .big, .edge-nav a, .edge select"))
            .filter((one) => one.checkVisibility() && one.getBoundingClientRect().height < 48)
            .map((one) => one.outerHTML)"""
    )
    assert low == []
    phone.set_viewport_size({"width": 1280, "height": 900})
    no_finding(phone)


def test_a_building_without_a_plan_says_so(phone: Page, service: Service) -> None:
    kept_id = httpx.post(f"{service.address}/v1/projects", json=small_project()).json()["id"]
    answer = phone.goto(f"/site/{kept_id}")
    assert answer is not None
    assert answer.status == 404
    expect(phone.locator("main")).to_contain_text("has no plan yet")
