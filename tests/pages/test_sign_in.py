"""With keys: nobody sees a page without one, another company's plan is not there, and no other site sends a form."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from api.accounts.service import add_key
from api.app import create_app
from api.settings import Settings
from tests.service.running import ROOT

SMALL = ROOT / "sample_orders" / "small" / "small.xlsx"


@pytest.fixture(scope="module")
def keyed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[TestClient, dict[str, str]]]:
    """The application where a key is needed, and a key of each of two companies, one that only reads."""
    folder: Path = tmp_path_factory.mktemp("keyed")
    settings = replace(
        Settings(),
        database_url=f"sqlite:///{folder}/keyed.sqlite",
        keys_required=True,
        rate_per_minute=0,
        at_once_seconds=300,  # beside the other tests a small plan may take more than the usual ten seconds
        parse_seconds=300,
    )
    app = create_app(settings)
    with app.state.context.storage.writing() as connection:
        keys = {
            "north": add_key(connection, "north", "north office", "issue"),
            "south": add_key(connection, "south", "south office", "issue"),
            "reader": add_key(connection, "north", "north site", "read"),
            "east": add_key(connection, "east", "east office", "issue"),
            "east reader": add_key(connection, "east", "east site", "read"),
        }
    with TestClient(app, base_url="https://testserver") as client:
        yield client, keys


def signed_in(client: TestClient, key: str) -> TestClient:
    client.cookies.clear()
    answer = client.post("/sign-in", data={"key": key, "next": "/"}, follow_redirects=False)
    assert answer.status_code == 303
    return client


def test_without_a_key_every_page_asks_to_sign_in(keyed: tuple[TestClient, dict[str, str]]) -> None:
    client, _ = keyed
    client.cookies.clear()
    for address in (
        "/",
        "/buildings/x",
        "/schedules/x",
        "/schedules/x/files/plan.json",
        "/schedules/x/events",
    ):
        answer = client.get(address, follow_redirects=False)
        assert answer.status_code == 303, address
        assert answer.headers["Location"] == f"/sign-in?next={address}"


def test_the_session_is_kept_where_no_script_and_no_other_site_has_it(
    keyed: tuple[TestClient, dict[str, str]],
) -> None:
    client, keys = keyed
    client.cookies.clear()
    answer = client.post("/sign-in", data={"key": keys["north"], "next": "/"}, follow_redirects=False)
    cookie = answer.headers["Set-Cookie"]
    for part in ("HttpOnly", "SameSite=strict", "Secure", "Path=/"):
        assert part in cookie
    assert keys["north"].rpartition("_")[2] not in cookie
    assert "Sign out" in client.get("/").text


def test_a_wrong_key_is_refused(keyed: tuple[TestClient, dict[str, str]]) -> None:
    client, _ = keyed
    client.cookies.clear()
    answer = client.post("/sign-in", data={"key": "bo_nonsense", "next": "/"}, follow_redirects=False)
    assert answer.status_code == 401
    assert "Set-Cookie" not in answer.headers


@pytest.mark.parametrize("next", ["https://elsewhere.example/", "//elsewhere.example", "/\\elsewhere", "x"])
def test_signing_in_leads_nowhere_else(keyed: tuple[TestClient, dict[str, str]], next: str) -> None:
    client, keys = keyed
    answer = client.post("/sign-in", data={"key": keys["north"], "next": next}, follow_redirects=False)
    assert answer.headers["Location"] == "/"


def test_another_company_sees_nothing_of_a_building(keyed: tuple[TestClient, dict[str, str]]) -> None:
    client, keys = keyed
    signed_in(client, keys["north"])
    files = {"workbook": (SMALL.name, SMALL.read_bytes())}
    answer = client.post("/buildings", files=files, data={"once": "a1"}, follow_redirects=False)
    plan = answer.headers["Location"]
    again = client.post("/buildings", files=files, data={"once": "a1"}, follow_redirects=False)
    assert again.headers["Location"] == plan  # the same form sent twice makes one plan
    building = client.get(plan).text.split('href="/buildings/')[1].split('"')[0]
    signed_in(client, keys["south"])
    assert building not in client.get("/").text
    for address in (plan, f"{plan}/deliveries", f"{plan}/events", f"{plan}/files/plan.json"):
        assert client.get(address).status_code == 404, address
    assert client.get(f"/buildings/{building}").status_code == 404
    for address in (f"{plan}/cancel", f"{plan}/issue", f"{plan}/comparisons", f"/buildings/{building}/plans"):
        data = {"from_mm": 1, "to_mm": 2, "staging": "whole"}
        assert client.post(address, data=data).status_code == 404, address
    assert client.post(f"/buildings/{building}/surveys", files=files).status_code == 404


def test_a_reader_looks_but_does_not_plan(keyed: tuple[TestClient, dict[str, str]]) -> None:
    client, keys = keyed
    signed_in(client, keys["reader"])
    assert client.get("/").status_code == 200
    answer = client.post("/buildings", files={"workbook": (SMALL.name, SMALL.read_bytes())})
    assert answer.status_code == 403
    assert "role is read" in answer.text


def _pages_from(client: TestClient, start: str) -> dict[str, str]:
    """Every page that links lead to from one, by its address: of boards, levels and runs the first ones."""
    found: dict[str, str] = {}
    waiting = [start]
    while waiting:
        address = waiting.pop()
        many = re.search(r"/(?:boards|levels|runs)/(\d+)", address)
        if address in found or (many and int(many[1]) > 1):
            continue
        answer = client.get(address)
        if answer.headers["Content-Type"].startswith("text/html"):
            assert answer.status_code == 200, address
            assert "Sign in</h1>" not in answer.text, address
            found[address] = answer.text
            waiting += re.findall(r'href="(/(?!sign-in|static|v1)[^".#?]*)"', answer.text)  # no downloads
    return found


def _forms_in(pages: dict[str, str]) -> set[str]:
    """The forms, inputs and ticks of pages, but those that only ask (GET), sign out, or are a phone's own."""
    asking = re.compile(r'<form[^>]*method="get".*?</form>', re.DOTALL)
    forms = [
        form
        for text in pages.values()
        for form in re.findall(r"<form[^>]*>|data-does=|<input[^>]*>", asking.sub("", text))
    ]
    harmless = ('role="search"', 'type="search"', "/sign-out", 'name="everywhere"', "data-name")
    return {form for form in forms if not any(part in form for part in harmless)}


def test_a_readers_pages_have_no_forms(keyed: tuple[TestClient, dict[str, str]]) -> None:
    client, keys = keyed
    signed_in(client, keys["east"])
    files = {"workbook": (SMALL.name, SMALL.read_bytes())}
    made = client.post("/order-schedules", files=files, headers={"Authorization": f"Bearer {keys['east']}"})
    assert made.status_code == 200, made.text  # it is planned while its request waits
    plan = made.headers["Location"].replace("/plans/", "/schedules/")
    building = client.get(plan).text.split('href="/buildings/')[1].split('"')[0]
    site = f"/site/{building}/levels/1"
    issuers = {
        one: client.get(one).text for one in (plan, f"{plan}/options", f"{plan}/refits", f"{site}/measure")
    }
    signed_in(client, keys["east reader"])
    readers = _pages_from(client, "/") | _pages_from(client, f"/site/{building}")
    assert {plan, f"{plan}/options", f"{plan}/refits", f"/buildings/{building}"} <= set(readers)
    assert {site, f"{site}/fit", f"{site}/measure", f"{site}/inspect"} <= set(readers)
    # What whoever may issue is shown, so that this test could fail.
    sent_to = " ".join(_forms_in(issuers))
    for form in ("/issue", "/plans", "/comparisons", "/refits", "data-measuring"):
        assert form in sent_to, form
    assert _forms_in(readers) == set()


@pytest.mark.parametrize(
    "headers",
    [
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
        {"Origin": "https://elsewhere.example"},
    ],
)
def test_a_form_of_another_site_is_not_taken(
    keyed: tuple[TestClient, dict[str, str]], headers: dict[str, str]
) -> None:
    client, keys = keyed
    signed_in(client, keys["north"])
    for address in (
        "/buildings",
        "/buildings/x/plans",
        "/schedules/x/issue",
        "/schedules/x/cancel",
        "/sign-out",
    ):
        answer = client.post(address, data={"staging": "whole"}, headers=headers, follow_redirects=False)
        assert answer.status_code == 403, address


def test_signing_out_forgets_the_session(keyed: tuple[TestClient, dict[str, str]]) -> None:
    client, keys = keyed
    signed_in(client, keys["north"]).post("/sign-out")
    assert client.get("/", follow_redirects=False).status_code == 303
