"""The estimator takes a supplier's prices over: sees what would change, saves it as a survey, plans with it."""

from __future__ import annotations

import re
from typing import Any

import httpx
import pytest
from playwright.sync_api import Page, expect

from tests.builders.supplier_documents import quotation
from tests.pages.conftest import SAMPLES, no_finding_in_any_look, picture, planned

pytestmark = pytest.mark.browser
QUOTED = quotation(
    [
        {"code": "B-120", "price": "99.50", "per_pack": 4},
        {"code": "B-120", "price": "95.00", "from_packs": 10},
        {"code": "K-999", "price": "12.00"},
    ]
)


@pytest.fixture
def building(screen: Page, site: str) -> str:
    """The address of the small sample's building, which its page shows."""
    workbook = SAMPLES / "small" / "small.xlsx"
    kept = httpx.post(f"{site}/projects", files={"workbook": (workbook.name, workbook.read_bytes())})
    address = f"/buildings/{kept.raise_for_status().json()['id']}"
    screen.goto(address)
    return address


def chosen(page: Page, *files: tuple[str, bytes]) -> None:
    """Chooses a supplier's files and asks what they would change."""
    sent: list[Any] = [{"name": name, "mimeType": "text/plain", "buffer": content} for name, content in files]
    page.get_by_label(re.compile("UBL quotation or catalogue")).set_input_files(sent)
    page.get_by_role("button", name="See what would change").click()


def test_a_quotation_shows_what_it_would_change_and_is_saved_as_the_next_survey(
    screen: Page, building: str, site: str
) -> None:
    screen.get_by_role("link", name="Or take over a supplier's prices").click()
    no_finding_in_any_look(screen)
    screen.get_by_label(re.compile("^Prices that hold on")).fill("2027-02-10")
    chosen(screen, ("quotation.xml", QUOTED))
    changes = screen.get_by_role("region", name="What Northern Wool (invented) would change")
    price = changes.get_by_role("row").filter(has_text="B-120").filter(has_text=re.compile("price.*108"))
    expect(price.first).to_contain_text("99.5")
    expect(changes.get_by_role("row").filter(has_text="per_pack")).to_contain_text("4")
    expect(changes.get_by_role("row").filter(has_text="Price breaks")).to_contain_text("95")
    expect(screen.get_by_role("region", name="Left aside of the offer")).to_contain_text(
        "K-999: no product of the project"
    )
    picture(screen, "prices")
    no_finding_in_any_look(screen)

    screen.get_by_role("button", name="Save as survey 2").click()
    expect(screen.get_by_role("heading", level=1)).to_contain_text("Survey 2")
    expect(screen.get_by_role("row").filter(has_text="per_pack")).to_contain_text("4")
    kept = httpx.get(f"{site}/v1/projects/{building.rpartition('/')[2]}").json()
    assert kept["version"] == 2
    board = next(one for one in kept["project"]["products"] if one["code"] == "B-120")
    assert (board["price"], board["per_pack"], board["supplier"]) == ("99.50", 4, "Northern Wool (invented)")


def test_saved_prices_are_planned_with_at_once(screen: Page, building: str) -> None:
    screen.goto(f"{building}/prices")
    screen.get_by_label(re.compile("^Prices that hold on")).fill("2027-02-10")
    chosen(screen, ("quotation.xml", QUOTED))
    screen.get_by_role("button", name="Save and plan").click()
    planned(screen)
    expect(screen.get_by_role("row", name=re.compile("^B-120 board"))).to_contain_text("99.50")


def test_of_several_suppliers_one_is_chosen_and_what_was_sent_stays(screen: Page, building: str) -> None:
    screen.goto(f"{building}/prices")
    rows = (
        "supplier,currency,code,price\nSecond (invented),AUD,B-120,90.00\nThird (invented),AUD,B-120,80.00\n"
    )
    chosen(screen, ("offers.csv", rows.encode()))
    expect(screen.get_by_role("alert")).to_contain_text("Choose whose prices are taken over")
    no_finding_in_any_look(screen)
    screen.get_by_label("Whose prices").select_option("Third (invented)")
    screen.get_by_role("button", name="See what would change").click()
    expect(screen.get_by_role("region", name="What Third (invented) would change")).to_contain_text("80")


def test_what_is_wrong_with_an_offer_is_said_with_its_place_and_mend(screen: Page, building: str) -> None:
    screen.goto(f"{building}/prices")
    alert = screen.get_by_role("alert")
    screen.get_by_role("button", name="See what would change").click()
    expect(alert).to_contain_text("choose the supplier's file")
    chosen(screen, ("offers.csv", b"supplier,currency,code,price\nSecond (invented),AUD,B-120,cheap\n"))
    expect(alert).to_contain_text("row 2, price is 'cheap'")
    chosen(screen, ("offers.csv", b"supplier,currency,code,price\nSecond (invented),EUR,B-120,90.00\n"))
    expect(alert).to_contain_text("offers in EUR, the project is in AUD")
    picture(screen, "prices-faults")
    no_finding_in_any_look(screen)


def test_prices_that_do_not_hold_on_the_day_change_nothing(screen: Page, building: str) -> None:
    screen.goto(f"{building}/prices")
    screen.get_by_label(re.compile("^Prices that hold on")).fill("2027-03-10")
    chosen(screen, ("quotation.xml", QUOTED))
    expect(screen.get_by_text("none of the offer's holds on this day")).to_be_visible()
    expect(screen.get_by_text("B-120: no price holds on 2027-03-10")).to_be_visible()
    expect(screen.get_by_role("button", name=re.compile("^Save"))).to_have_count(0)


def test_a_survey_that_was_kept_meanwhile_is_not_overwritten(screen: Page, building: str, site: str) -> None:
    screen.goto(f"{building}/prices")
    screen.get_by_label(re.compile("^Prices that hold on")).fill("2027-02-10")
    chosen(screen, ("quotation.xml", QUOTED))
    project = f"{site}/projects/{building.rpartition('/')[2]}"
    now = httpx.get(project)
    other = now.json()["project"]
    other["project"]["name"] = "Renamed meanwhile (invented)"
    httpx.put(project, json=other, headers={"If-Match": now.headers["ETag"]}).raise_for_status()
    screen.get_by_role("button", name="Save as survey 2").click()
    expect(screen.get_by_role("alert")).to_contain_text("Survey 2 was kept meanwhile, and nothing was saved")
    screen.get_by_role("button", name="Save as survey 3").click()
    expect(screen.get_by_role("heading", level=1)).to_contain_text("Survey 3 of Renamed meanwhile")
