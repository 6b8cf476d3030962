"""A telephone of 360 px at the slab edge, and a service that can be killed and started again."""

from __future__ import annotations

import json
import os
import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import httpx
import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from optimiser.model.plan import Plan
from tests.builders.job import JobOnSite
from tests.pages.conftest import SAMPLES, plan_of, watched_page
from tests.service.postgresql import free_port
from tests.service.running import POLL_SECONDS, Running, environment, wait_for

PHONE = {"width": 360, "height": 740}


class Service:
    """A service on a database and a port of its own, that can be killed and started again."""

    def __init__(self, folder: Path, **settings: object) -> None:
        self.folder, self.port, self.settings = folder, free_port(), settings
        self.address = f"http://127.0.0.1:{self.port}"
        self.start()

    def start(self) -> None:
        """Starts it, and waits until it answers."""
        program = f"from api.serving import serve; serve(port={self.port})"
        url = f"sqlite:///{self.folder}/edge.sqlite"
        env = environment(url, poll_seconds=POLL_SECONDS, rate_per_minute=0, **self.settings)
        self.running = Running(program, self.folder / "log", env)
        wait_for(self._workers, 60, "the service and its worker")

    def kill(self) -> None:
        """kill -9."""
        self.running.kill()

    def _workers(self) -> bool | None:
        try:
            return httpx.get(f"{self.address}/readyz").json().get("workers") or None
        except httpx.TransportError:
            return None


@dataclass(frozen=True)
class Job:
    """A building's job: its id, its plan and whoever asks the service for it."""

    id: str
    plan: Plan
    client: httpx.Client

    @property
    def address(self) -> str:
        """The pages at the slab edge."""
        return f"/site/{self.id}"

    def events(self) -> list[dict[str, Any]]:
        """What is on record, in the order in which it was received."""
        found = self.client.get(f"/v1/projects/{self.id}/events", params={"limit": 200}).json()["items"]
        return list(reversed(found))

    def send(self, job: JobOnSite) -> None:
        """Puts events on record from elsewhere."""
        sent = [json.loads(event.model_dump_json(exclude_defaults=True)) for event in job.events]
        self.client.post(f"/v1/projects/{self.id}/events", json=sent).raise_for_status()


@pytest.fixture(scope="package")
def started(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    running = Service(tmp_path_factory.mktemp("edge"))
    yield running
    running.running.stop()


@pytest.fixture
def service(started: Service) -> Service:
    """The service, running, whatever an earlier test did to it."""
    if started.running.process.poll() is not None:
        started.start()
    return started


@pytest.fixture
def job(service: Service) -> Iterator[Job]:
    """The small job, planned; nothing of it is on record."""
    with httpx.Client(base_url=service.address, timeout=60) as client:
        found = client.get(plan_of(service.address, "small").replace("/schedules/", "/plans/")).json()
        yield Job(found["project_id"], Plan.model_validate(found["plan"]), client)


@pytest.fixture
def nominal(service: Service) -> Iterator[Job]:
    """The small job with a second level that is not measured, planned."""
    project = small_project()
    for gap in project["gaps"]:
        if gap["run"].startswith("L2"):
            gap.update(basis="nominal", tolerance_mm=8)
    yield from planned(service, project)


@pytest.fixture
def carried(service: Service) -> Iterator[Job]:
    """Two levels of four wide pieces each: three to a board, so that a remainder of the first serves the second."""
    project = small_project()
    project["runs"] = [
        {"run": f"{level}-N", "level": level, "length_mm": 4800, "board": ["B-120"]} for level in ("L1", "L2")
    ]
    project["gaps"] = [{"run": run["run"], "at_mm": 0, "gap_mm": 290} for run in project["runs"]]
    project["stock"] = []  # it would let every level be cut by itself
    for product in project["products"]:
        product["per_pack"] = 1
    yield from planned(service, project)


def small_project() -> dict[str, Any]:
    """The small invented job of the samples."""
    found: dict[str, Any] = json.loads((SAMPLES / "small" / "small.json").read_text())
    return found


def planned(service: Service, project: dict[str, Any]) -> Iterator[Job]:
    """A project, kept and planned."""
    with httpx.Client(base_url=service.address, timeout=120) as client:
        made = client.post("/v1/order-schedules", json=project)
        made.raise_for_status()
        address = made.headers["Location"]
        wait_for(lambda: client.get(address).json()["status"] == "done" or None, 120, "the plan")
        found = client.get(address).json()
        yield Job(found["project_id"], Plan.model_validate(found["plan"]), client)


@pytest.fixture
def phone(chromium: Browser, service: Service) -> Iterator[Page]:
    """A telephone's browser."""
    context = chromium.new_context(base_url=service.address, viewport=PHONE, has_touch=True)
    with watched_page(context, 20_000) as page:
        yield page


def picture(page: Page, name: str) -> None:
    """Keeps a picture where PICTURES says, for whoever wants to look."""
    if folder := os.environ.get("PICTURES"):
        page.screenshot(path=Path(folder) / f"edge-{name}.png", full_page=True)


def opened(page: Page, address: str) -> None:
    """Goes to a page and waits until its buttons can be pressed."""
    page.goto(address)
    expect(page.locator("[data-ready=yes]")).to_be_attached()


def kept(page: Page) -> None:
    """Waits until the phone has kept the page and those that belong to it."""
    expect(page.locator("[data-kept-pages]")).to_have_text("Kept on this phone.")


def named(page: Page, name: str = "crew 2") -> None:
    """Says who holds the phone."""
    page.get_by_text("This phone:").click()
    page.get_by_label("Your name").fill(name)
    page.get_by_label("Your name").blur()


def send_now(page: Page) -> None:
    """Has the phone send what waits, if it has not noticed the network yet, and waits until it has."""
    page.evaluate("document.querySelector('[data-send-now]').click()")
    all_sent(page)


def all_sent(page: Page) -> None:
    expect(page.locator("[data-outbox]")).to_have_text("Everything is sent")


def cards(page: Page) -> Locator:
    return page.locator("[data-piece]")


def card(page: Page, piece: str) -> Locator:
    return page.locator(f'li[data-piece="{piece}"]')


def png() -> bytes:
    """A picture of four red dots."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    rows = b"\0\xff\0\0\xff\0\0" * 2
    head = struct.pack(">IIBBBBB", 2, 2, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(rows))
        + chunk(b"IEND", b"")
    )
