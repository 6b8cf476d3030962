"""A plan weighed on its pages: cut ahead or on site by level, and several suppliers for its order."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from tests.pages.conftest import no_finding, no_finding_in_any_look

pytestmark = pytest.mark.browser


def test_the_estimator_weighs_cutting_ahead_against_cutting_on_site(screen: Page, small: str) -> None:
    screen.goto(f"{small}/options")
    screen.get_by_role("link", name="Pre-cut or cut on site").click()
    screen.get_by_label("Draw the tolerances").fill("40")
    screen.get_by_role("button", name="Draw").click()
    table = screen.get_by_role("region", name="Pre-cutting by level")
    nominal = table.get_by_role("row", name="L2")
    expect(nominal).to_contain_text("%")
    expect(screen.get_by_text("40 drawn surveys")).to_be_visible()
    no_finding_in_any_look(screen)


def test_suppliers_are_compared_for_an_order_and_offers_are_kept_after_a_fault(
    screen: Page, small: str
) -> None:
    screen.goto(f"{small}/suppliers")
    no_finding(screen)
    screen.get_by_role("button", name="Compare suppliers").click()
    expect(screen.get_by_role("alert")).to_contain_text("choose the file of one")
    rows = "supplier,currency,code,price,lead_days\nSecond Supplier (invented),AUD,B-120,1.00,1\n"
    offer = {"name": "offer.csv", "mimeType": "text/csv", "buffer": rows.encode()}
    screen.get_by_label("Offers to add").set_input_files(offer)
    screen.get_by_label("Day of ordering").fill("soon")
    screen.get_by_role("button", name="Compare suppliers").click()
    expect(screen.get_by_role("alert")).to_contain_text("write it as 2027-03-01")
    expect(screen.get_by_text("Second Supplier (invented): 1 price")).to_be_visible()
    screen.get_by_label("Day of ordering").fill("2027-01-04")
    screen.get_by_role("button", name="Compare suppliers").click()
    wholes = screen.get_by_role("region", name="All from one, or split")
    expect(wholes.get_by_role("row", name="Cheapest split")).to_be_visible()
    expect(screen.get_by_text("bought here").first).to_be_visible()
    no_finding_in_any_look(screen)
