"""The databases that every test of the service runs on, the application on each, and two workers beside it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from api.app import create_app
from api.settings import Settings, usable_database_url
from tests.service.issued_places import IssuedPlace, issued_place
from tests.service.postgresql import PostgreSQL
from tests.service.running import POLL_SECONDS, ROOT, start_workers

DATABASES = ("sqlite", "postgresql")
SMALL = ROOT / "sample_orders" / "small"


@pytest.fixture(scope="session")
def postgresql() -> Iterator[PostgreSQL]:
    server = PostgreSQL()
    yield server
    server.close()


def empty_database(kind: str, request: pytest.FixtureRequest, name: str) -> str:
    """The URL of an empty database."""
    if kind == "sqlite":
        folder: Path = request.getfixturevalue("tmp_path_factory").mktemp(name)
        return f"sqlite:///{folder}/{name}.sqlite"
    server: PostgreSQL = request.getfixturevalue("postgresql")
    return server.url(name)


@dataclass
class Place:
    """A database with the application on it, as a client sees it, and two workers."""

    url: str
    settings: Settings
    client: TestClient


@pytest.fixture(scope="package", params=DATABASES)
def place(request: pytest.FixtureRequest) -> Iterator[Place]:
    """A place on each database in turn, shared by the tests of all files: they leave their rows behind."""
    factory: pytest.TempPathFactory = request.getfixturevalue("tmp_path_factory")
    url = empty_database(request.param, request, f"place_{request.param}")
    settings = replace(
        Settings(),
        database_url=usable_database_url(url),
        poll_seconds=POLL_SECONDS,
        at_once_seconds=60,  # beside the other tests a small plan may take more than the usual ten
    )
    with TestClient(create_app(settings), raise_server_exceptions=False) as client:
        workers = start_workers(url, factory.mktemp("logs"), 2)
        yield Place(url, settings, client)
        for worker in workers:
            worker.kill()


@pytest.fixture(scope="package", params=DATABASES)
def issued_template(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory, small_project: dict[str, Any]
) -> IssuedPlace:
    """The small job with two revisions and two plans that are not issued, on each database: copied, never altered."""
    url = empty_database(request.param, request, f"issued_{request.param}")
    folder = tmp_path_factory.mktemp(f"issued_{request.param}")
    return issued_place(url, folder, small_project, plans=4, issued=2)


@pytest.fixture
def issued_copy(issued_template: IssuedPlace, tmp_path: Path) -> IssuedPlace:
    """A copy of it to meddle with."""
    return issued_template.copied(tmp_path, "copy")


@pytest.fixture
def client(place: Place) -> TestClient:
    return place.client


@pytest.fixture(scope="session")
def small_project() -> dict[str, Any]:
    """The small invented job of the samples."""
    found: dict[str, Any] = json.loads(next(SMALL.glob("*.json")).read_text())
    return found
