"""A service as `make serve` starts it, on a database of its own, and a Chromium that looks at its pages."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx
import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from tests.ensure_browser import WHAT_TO_DO, browser
from tests.service.postgresql import free_port
from tests.service.running import POLL_SECONDS, ROOT, Running, environment, wait_for

SAMPLES = ROOT / "sample_orders"
SWITCHES = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]


expect.set_options(timeout=20_000)  # ms: beside the other tests, on two processors, a page may take its time


@contextmanager
def served(folder: Path) -> Iterator[str]:
    """The address of a running service with one embedded worker; its database and log are in `folder`."""
    port = free_port()
    program = f"from api.serving import serve; serve(port={port})"
    env = environment(f"sqlite:///{folder}/site.sqlite", poll_seconds=POLL_SECONDS, rate_per_minute=0)
    service = Running(program, folder / "log", env, afresh=True)
    address = f"http://127.0.0.1:{port}"

    def ready() -> bool | None:
        try:
            return httpx.get(f"{address}/readyz").json().get("workers") or None
        except httpx.TransportError:
            return None

    try:
        wait_for(ready, 180, "the service and its worker")
        yield address
    finally:
        service.stop()


@pytest.fixture(scope="package")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with served(tmp_path_factory.mktemp("site")) as address:
        yield address


@pytest.fixture(scope="package")
def chromium() -> Iterator[Browser]:
    path = browser()
    if path is None:
        pytest.fail(WHAT_TO_DO)
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=path, args=SWITCHES)
        yield started
        started.close()


@contextmanager
def watched_page(context: BrowserContext, timeout_ms: int) -> Iterator[Page]:
    """A page of the context; whatever the browser complains of (a blocked script or style) fails the test."""
    page = context.new_page()
    page.set_default_timeout(timeout_ms)
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on(
        "console",
        lambda said: complaints.append(said.text) if "Content Security Policy" in said.text else None,
    )
    yield page
    context.close()
    assert complaints == []


@pytest.fixture
def screen(chromium: Browser, site: str) -> Iterator[Page]:
    """A page at desk size."""
    context = chromium.new_context(base_url=site, viewport={"width": 1280, "height": 900})
    with watched_page(context, 30_000) as page:
        yield page


def upload(page: Page, *files: Path) -> None:
    """Chooses files in the page's form and sends it, as a user does."""
    page.get_by_label("workbook", exact=False).or_(page.locator("input[type=file]")).first.set_input_files(
        list(files)
    )
    page.get_by_role("button", name="Read it and plan the order").click()


def planned(page: Page) -> None:
    """Waits until the plan that is being made is shown as an order."""
    page.get_by_role("heading", name="Order summary", exact=True, level=1).wait_for()


def no_finding(page: Page) -> None:
    """axe-core finds nothing at all; each page has one h1, a main landmark and a language."""
    found = [
        (finding["id"], finding["impact"], [node["html"][:120] for node in finding["nodes"][:3]])
        for finding in Axe().run(page).response["violations"]
    ]
    assert found == [], page.url
    assert page.locator("h1").count() == 1
    assert page.get_by_role("main").count() == 1


def no_finding_in_any_look(page: Page) -> None:
    """axe-core finds nothing at desk and at telephone size, light and dark, and a telephone need not scroll sideways.

    The page is left at telephone size, dark.
    """
    for width, height in ((1280, 900), (360, 740)):
        page.set_viewport_size({"width": width, "height": height})
        for scheme in ("light", "dark"):
            page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
            no_finding(page)
    assert page.evaluate("document.documentElement.scrollWidth") <= 360, page.url


def picture(page: Page, name: str) -> None:
    """Keeps pictures where PICTURES says, for whoever wants to look: at desk and telephone size, light and dark."""
    if folder := os.environ.get("PICTURES"):
        for width in (1280, 360):
            page.set_viewport_size({"width": width, "height": 900})
            for scheme in ("light", "dark"):
                page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
                page.screenshot(path=Path(folder) / f"{name}-{width}-{scheme}.png", full_page=True)
        page.set_viewport_size({"width": 1280, "height": 900})


def plan_of(site: str, sample: str) -> str:
    """The address of the finished plan of a sample, made through the API."""
    workbook = SAMPLES / sample / f"{sample}.xlsx"
    with httpx.Client(base_url=site, timeout=120) as client:
        answer = client.post("/order-schedules", files={"workbook": (workbook.name, workbook.read_bytes())})
        answer.raise_for_status()
        address = answer.headers["Location"]
        wait_for(lambda: client.get(address).json()["status"] == "done" or None, 120, f"the plan of {sample}")
    return address.replace("/plans/", "/schedules/")


@pytest.fixture(scope="package")
def small(site: str) -> str:
    """The small sample's plan: the address of its order."""
    return plan_of(site, "small")


@pytest.fixture(scope="package")
def tower(site: str) -> str:
    """The 14-level tower's plan: the address of its order."""
    return plan_of(site, "tower")
