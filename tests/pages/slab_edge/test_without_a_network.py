"""Ticked, scanned and photographed without a network, the service killed in between: each of it arrives, once."""

from __future__ import annotations

from pathlib import Path

import httpx
import pytest
from playwright.sync_api import Browser, Page, Route, expect

from api.accounts.service import add_key
from api.storage.engine import Storage
from tests.pages.slab_edge.conftest import (
    PHONE,
    Job,
    Service,
    all_sent,
    card,
    cards,
    kept,
    named,
    opened,
    picture,
    png,
    send_now,
    small_project,
)
from tests.service.running import wait_for

pytestmark = pytest.mark.browser


def test_what_is_ticked_without_a_network_arrives_once_though_the_service_is_killed(
    phone: Page, job: Job, service: Service
) -> None:
    opened(phone, f"{job.address}/levels/1")
    kept(phone)
    named(phone)
    phone.context.set_offline(True)
    service.kill()

    phone.reload()
    expect(phone.locator("[data-ready=yes]")).to_be_attached()
    names = [cards(phone).nth(place).get_attribute("data-piece") or "" for place in range(3)]
    for name in names:
        expect(phone.locator("[data-next-piece] a")).to_have_text(name)
        phone.locator("[data-next-piece]").get_by_role("button", name="Cut").click()
        expect(card(phone, name).locator("[data-state-words]")).to_have_text("cut, to fit, waits to be sent")
    expect(phone.locator("[data-outbox]")).to_have_text("3 to be sent: no network")
    picture(phone, "offline")

    phone.get_by_role("link", name="Fit", exact=True).click()
    expect(phone.locator("[data-ready=yes]")).to_be_attached()
    expect(card(phone, names[0])).to_have_attribute("data-state", "cut")
    card(phone, names[0]).get_by_role("button", name="Fitted").click()
    expect(phone.locator("[data-outbox]")).to_contain_text("4 to be sent")

    service.start()
    service.kill()
    phone.reload()
    expect(card(phone, names[0])).to_have_attribute("data-state", "fitted")
    service.start()
    phone.context.set_offline(False)
    send_now(phone)
    told = [(event["event"], event["piece"], event["by"]) for event in job.events()]
    assert told == [*(("cut", name, "crew 2") for name in names), ("fitted", names[0], "crew 2")]
    phone.reload()
    expect(card(phone, names[0]).locator("[data-state-words]")).to_have_text("fitted")


def test_an_answer_that_is_lost_makes_nothing_count_twice(phone: Page, job: Job, service: Service) -> None:
    opened(phone, f"{job.address}/levels/1")
    named(phone)
    lost: list[int] = []

    def arrives_but_the_answer_does_not(route: Route) -> None:
        if lost:
            route.continue_()
            return
        lost.append(route.fetch().status)
        service.kill()
        route.abort()

    phone.route("**/v1/projects/*/events", arrives_but_the_answer_does_not)
    first = cards(phone).first
    first.get_by_role("button", name="Cut", exact=True).click()
    expect(phone.locator("[data-outbox]")).to_have_text("1 to be sent: no network")
    assert lost == [201]
    service.start()
    send_now(phone)
    assert [event["event"] for event in job.events()] == ["cut"]


def test_two_pages_of_one_phone_send_what_waits_once(phone: Page, job: Job) -> None:
    opened(phone, f"{job.address}/levels/1")
    kept(phone)
    named(phone)
    phone.context.set_offline(True)
    second = phone.context.new_page()
    opened(second, f"{job.address}/levels/1/fit")
    for place in range(4):
        cards(phone).nth(place).get_by_role("button", name="Cut", exact=True).click()
    phone.context.set_offline(False)
    for page in (phone, second):
        send_now(page)
    all_sent(phone)
    assert len(job.events()) == 4


def test_a_label_opens_its_piece_with_a_network_and_without(phone: Page, job: Job) -> None:
    piece = next(piece for piece in job.plan.pieces if piece.level == "L1" and piece.from_mm > 6000)
    phone.goto(f"{job.address}/labels/{piece.id}")
    expect(card(phone, piece.id)).to_be_focused()
    assert phone.url.endswith(f"/levels/1/fit#label-{piece.id}")
    kept(phone)
    phone.context.set_offline(True)
    phone.goto(f"{job.address}/labels/{piece.id}")
    expect(card(phone, piece.id)).to_be_focused()
    expect(card(phone, piece.id)).to_be_in_viewport()
    picture(phone, "label")
    phone.goto(f"{job.address}/levels/2")
    expect(phone.get_by_role("heading", name="No network")).to_be_visible()
    phone.context.set_offline(False)
    answer = phone.goto(f"{job.address}/labels/nowhere-1")
    assert answer is not None
    assert answer.status == 404


def test_what_the_service_refuses_is_told_and_the_rest_arrives(phone: Page, job: Job) -> None:
    opened(phone, f"{job.address}/levels/1")
    kept(phone)
    named(phone)
    phone.context.set_offline(True)
    for place in range(2):
        cards(phone).nth(place).get_by_role("button", name="Cut", exact=True).click()
        expect(cards(phone).nth(place)).to_have_attribute("data-state", "cut")
    refusals: list[str] = []

    def refuse_the_first(route: Route) -> None:
        if refusals:
            route.continue_()
            return
        refusals.append("one")
        faults = [{"place": "record[0].piece", "message": "is of another job", "mend": "scan it again"}]
        route.fulfill(status=422, json={"detail": "1 fault", "errors": faults})

    phone.route("**/v1/projects/*/events", refuse_the_first)
    phone.context.set_offline(False)
    send_now(phone)
    refused = phone.locator("[data-refused]")
    expect(refused).to_contain_text("is of another job: scan it again")
    all_sent(phone)
    assert len(job.events()) == 1
    expect(cards(phone).first).to_have_attribute("data-state", "planned")
    picture(phone, "refused")
    refused.get_by_role("button", name="Remove from this phone").click()
    expect(refused).to_be_hidden()


def test_what_the_newest_plan_does_not_have_is_told_as_soon_as_it_is_sent(phone: Page, job: Job) -> None:
    """The phone keeps the pages of a plan; meanwhile a newer one has a run less."""
    opened(phone, f"{job.address}/levels/1")
    kept(phone)
    named(phone)
    phone.context.set_offline(True)
    name = cards(phone).first.get_attribute("data-piece") or ""
    cards(phone).first.get_by_role("button", name="Cut", exact=True).click()
    expect(cards(phone).first).to_have_attribute("data-state", "cut")
    _planned_without(job, next(piece.run for piece in job.plan.pieces if piece.id == name))
    phone.context.set_offline(False)
    send_now(phone)
    warned = phone.locator("[data-warned]")
    expect(warned).to_contain_text(f"cut {name}: the newest plan has no such piece")
    assert [event["piece"] for event in job.events()] == [name]
    picture(phone, "warned")
    warned.get_by_role("button", name="Seen").click()
    expect(warned).to_be_hidden()
    phone.reload()
    expect(warned).to_be_hidden()


def _planned_without(job: Job, run: str) -> None:
    """A newer survey without the run, planned."""
    project = small_project()
    for table, rows in project.items():
        if isinstance(rows, list):
            project[table] = [row for row in rows if row.get("run") != run]
    address = f"/v1/projects/{job.id}"
    etag = job.client.get(address).headers["ETag"]
    job.client.put(address, json=project, headers={"If-Match": etag}).raise_for_status()
    made = job.client.post(f"{address}/plans").raise_for_status().headers["Location"]
    wait_for(lambda: job.client.get(made).json()["status"] == "done" or None, 120, "the newer plan")


def test_a_joint_is_photographed_without_a_network(phone: Page, job: Job) -> None:
    opened(phone, f"{job.address}/levels/1/fit")
    kept(phone)
    named(phone)
    phone.context.set_offline(True)
    first = cards(phone).first
    piece = first.get_attribute("data-piece")
    first.locator("input[data-what=joint]").set_input_files(
        {"name": "joint.png", "mimeType": "image/png", "buffer": png()}
    )
    expect(first.locator("[data-count-words]")).to_have_text("1 taken, 1 to be sent")
    phone.reload()
    expect(first.locator("[data-count-words]")).to_have_text("1 taken, 1 to be sent")
    phone.context.set_offline(False)
    send_now(phone)
    (shot,) = job.client.get(f"/v1/projects/{job.id}/photographs").json()["items"]
    assert (shot["what"], shot["piece"], shot["by"], shot["media_type"]) == (
        "joint", piece, "crew 2", "image/jpeg",
    )  # fmt: skip
    phone.reload()
    expect(first.locator("[data-count-words]")).to_have_text("1 taken")


def test_with_keys_a_phone_that_was_signed_out_signs_in_again_and_loses_nothing(
    chromium: Browser, tmp_path: Path
) -> None:
    service = Service(tmp_path, keys_required=True)
    storage = Storage(f"sqlite:///{tmp_path}/edge.sqlite")
    with storage.writing() as connection:
        key = add_key(connection, "Invented Co", "crew's phone", "plan")
    storage.close()
    bearer = {"Authorization": f"Bearer {key}"}
    with httpx.Client(base_url=service.address, headers=bearer, timeout=120) as client:
        address = client.post("/v1/order-schedules", json=small_project()).headers["Location"]
        wait_for(lambda: client.get(address).json()["status"] == "done" or None, 120, "the plan")
        project = client.get(address).json()["project_id"]
        context = chromium.new_context(base_url=service.address, viewport=PHONE)
        page = context.new_page()
        page.goto(f"/site/{project}/levels/1")
        page.get_by_label("API key").fill(key)
        page.get_by_role("button", name="Sign in").click()
        expect(page.locator("[data-ready=yes]")).to_be_attached()
        named(page)
        context.clear_cookies()
        cards(page).first.get_by_role("button", name="Cut", exact=True).click()
        expect(page.locator("[data-outbox]")).to_have_text("1 to be sent: sign in again to send")
        page.locator(".carried").get_by_role("link", name="Sign in").click()
        page.get_by_label("API key").fill(key)
        page.get_by_role("button", name="Sign in").click()
        expect(page.locator("[data-ready=yes]")).to_be_attached()
        all_sent(page)
        (event,) = client.get(f"/v1/projects/{project}/events").json()["items"]
        assert (event["event"], event["by"], event["received_by"][:12]) == ("cut", "crew 2", "crew's phone")
        context.close()
    service.running.stop()
