"""The buyer reads a supplier's answer to an issued order: what differs, what that endangers, and onto the record."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from typing import Any

import httpx
import pytest
from playwright.sync_api import Page, expect

from tests.builders.supplier_documents import despatch_advice, order_response
from tests.builders.supplier_job import supplier_job
from tests.pages.conftest import no_finding_in_any_look, picture
from tests.pages.test_moving_deliveries import schedule_of

pytestmark = pytest.mark.browser


@dataclass(frozen=True)
class Issued:
    """An issued plan: where its sheets are, and the lines of its order by number as its UBL document has them."""

    address: str
    client: httpx.Client

    @property
    def building(self) -> str:
        plan = self.client.get(self.address.replace("/schedules/", "/v1/plans/")).json()
        return str(plan["project_id"])

    def ordered(self) -> dict[tuple[str, str], int]:
        """What the record holds as ordered, in single units by level and product."""
        items = self.client.get(f"/v1/projects/{self.building}/events", params={"limit": 200}).json()["items"]
        undone = {event["undoes"] for event in items if event["event"] == "undone"}
        found: dict[tuple[str, str], int] = {}
        for event in items:
            if event["event"] == "ordered" and event["id"] not in undone:
                found[event["level"], event["code"]] = (
                    found.get((event["level"], event["code"]), 0) + event["quantity"]
                )
        return found


def planned_order(site: str) -> str:
    """The address of the finished plan of a job that orders under QY-3; its line 2 is three packs of 25 brackets K-110,
    two of them for L01 and one for L02, for 1 March 2027."""
    return schedule_of(site, supplier_job())


@pytest.fixture
def issued(site: str) -> Issued:
    address = planned_order(site)
    client = httpx.Client(base_url=site, timeout=60)
    client.post(address.replace("/schedules/", "/v1/plans/") + "/issue").raise_for_status()
    return Issued(address, client)


def sent(page: Page, document: bytes) -> None:
    """Chooses a document and has it read."""
    file: Any = {"name": "answer.xml", "mimeType": "application/xml", "buffer": document}
    page.get_by_label(re.compile("UBL order response")).set_input_files(file)
    page.get_by_role("button", name="See what it answers").click()


def test_a_short_late_and_dear_answer_says_what_it_endangers_and_goes_on_record_once(
    screen: Page, issued: Issued
) -> None:
    before = issued.ordered()
    screen.goto(issued.address)
    screen.get_by_role("link", name="Read the supplier's answer").click()
    expect(screen.get_by_role("heading", level=1)).to_have_text("Supplier's answer")
    no_finding_in_any_look(screen)

    line = {"line": 2, "quantity": 2, "day": date(2027, 3, 29), "price": "70.00"}
    sent(screen, order_response([line]))
    differing = screen.get_by_role("region", name="Other than ordered").locator("tbody tr")
    expect(differing).to_have_count(2)
    expect(differing.nth(0)).to_contain_text("K-110")
    expect(differing.nth(0)).to_contain_text("L01")
    expect(differing.nth(1)).to_contain_text("L02")
    expect(differing.nth(0)).to_contain_text("Mon 29 Mar")
    expect(differing.nth(1)).not_to_contain_text("Mon 29 Mar")  # nothing is promised of what does not come
    expect(differing.nth(1)).to_contain_text("70.00")
    dangers = screen.get_by_role("region", name="What it endangers, and what to do")
    expect(dangers).to_contain_text("25 x K-110 for L02, needed")
    expect(dangers).to_contain_text("Bring forward from L03, or order by")
    expect(dangers).to_contain_text("K-110 for L01 is promised for Mon 29 Mar, needed")
    expect(dangers).to_contain_text("dearer")
    assert issued.ordered() == before, "nothing is on record before it was seen"
    picture(screen, "answer")
    no_finding_in_any_look(screen)

    screen.get_by_role("button", name=re.compile("^Put on record")).click()
    expect(screen.get_by_role("status")).to_contain_text("On record")
    assert issued.ordered() == {**before, ("L02", "K-110"): 0} or issued.ordered() == {
        goods: number for goods, number in before.items() if goods != ("L02", "K-110")
    }
    picture(screen, "answer-on-record")
    no_finding_in_any_look(screen)

    sent(screen, order_response([line]))
    expect(screen.get_by_text("Nothing of it is new")).to_be_visible()
    expect(screen.get_by_role("button", name=re.compile("^Put on record"))).to_have_count(0)


def test_an_order_that_is_confirmed_as_it_was_given_endangers_nothing(screen: Page, issued: Issued) -> None:
    screen.goto(f"{issued.address}/answer")
    sent(screen, order_response())
    expect(screen.get_by_text("everything is confirmed as it was ordered")).to_be_visible()
    expect(screen.get_by_role("heading", name="What it endangers")).to_have_count(0)
    expect(screen.get_by_text("Nothing of it is new")).to_be_visible()


def test_what_was_sent_is_counted_on_its_day_and_what_is_short_says_what_to_do(
    screen: Page, issued: Issued
) -> None:
    screen.goto(f"{issued.address}/answer")
    screen.get_by_label("Arrived and counted on").fill("2027-03-02")
    sent(screen, despatch_advice([{"line": 2, "quantity": 1, "outstanding": 2}]))
    rows = screen.get_by_role("region", name="What was sent").locator("tbody tr")
    expect(rows).to_have_count(1)
    expect(rows).to_have_text(re.compile("^K-110L01"))
    expect(screen.get_by_role("region", name="What it endangers")).to_contain_text("25 x K-110 for L01")
    picture(screen, "despatch")
    no_finding_in_any_look(screen)
    screen.get_by_role("button", name="Put on record: 1 event").click()
    expect(screen.get_by_role("status")).to_contain_text("On record: 1 event added")
    screen.get_by_role("link", name="received on site").click()
    expect(screen.get_by_text("25 of 50 came")).to_be_visible()


def test_a_faulty_document_says_each_fault_with_its_mend_and_the_day_stays(
    screen: Page, issued: Issued
) -> None:
    screen.goto(f"{issued.address}/answer")
    screen.get_by_role("button", name="See what it answers").click()
    expect(screen.get_by_role("alert")).to_contain_text("choose the file that the supplier sent")
    screen.get_by_label("Arrived and counted on").fill("2027-03-02")
    sent(screen, order_response([{"line": 99, "quantity": 1}, {"line": 2, "quantity": "1", "unit": "MTR"}]))
    alert = screen.get_by_role("alert")
    expect(alert).to_contain_text("nothing is added")
    expect(alert.get_by_role("listitem")).to_have_count(2)
    expect(alert).to_contain_text("is no line of QY-3")
    expect(alert).to_contain_text("is not how K-110 is ordered")
    expect(screen.get_by_label("Arrived and counted on")).to_have_value("2027-03-02")
    picture(screen, "answer-faults")
    no_finding_in_any_look(screen)
    sent(screen, b"<html></html>")
    expect(screen.get_by_role("alert")).to_contain_text("not a UBL OrderResponse or DespatchAdvice")


def test_an_order_that_is_not_issued_has_no_answer(screen: Page, site: str) -> None:
    screen.goto(f"{planned_order(site)}/answer")
    expect(screen.get_by_text("not issued, so there is nothing to answer")).to_be_visible()
    expect(screen.get_by_label(re.compile("UBL order response"))).to_have_count(0)
    no_finding_in_any_look(screen)
