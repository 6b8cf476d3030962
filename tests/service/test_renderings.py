"""Documents are rendered once: kept while there is room, and not made twice when several ask at the same time."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import Any

import pytest
import sqlalchemy as sa
from fastapi.testclient import TestClient

from api.app import create_app
from api.context import AppContext
from api.http.once import OneAtATime
from api.plans import renderings
from api.plans.renderings import Rendered, rendered
from tests.service.issued_places import IssuedPlace


@pytest.fixture
def made(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The work that was done, by the name of its function; run in this process, and slowly."""
    done: list[str] = []

    def run(work: Callable[..., Any], *arguments: Any, **_: Any) -> Any:
        time.sleep(0.05)
        done.append(work.__name__)
        return work(*arguments)

    monkeypatch.setattr(renderings, "run_limited", run)
    return done


def test_a_document_is_made_for_the_first_who_asks_and_given_to_all_after(
    issued_copy: IssuedPlace, made: list[str]
) -> None:
    address = f"/plans/{issued_copy.plans[-1]}/labels.pdf"
    with issued_copy.client() as client:
        first = client.get(address, params={"level": "L1"})
        again = client.get(address, params={"level": "L1"})
        assert first.status_code == 200
        assert (again.content, again.headers["ETag"]) == (first.content, first.headers["ETag"])
        assert made == ["labels"]
        for other in ({"level": "L2"}, {"level": "L1", "paper": "Letter"}, {"level": "L1", "order": "run"}):
            assert client.get(address, params=other).status_code == 200
        assert made == ["labels"] * 4, "each other level, paper and order is another document"
    with issued_copy.client() as client:  # newly started
        assert client.get(address, params={"level": "L1"}).content == first.content
    assert len(made) == 4


def test_what_an_extract_of_an_issued_plan_says_of_later_revisions_is_never_kept_too_long(
    issued_copy: IssuedPlace, made: list[str]
) -> None:
    last, following = issued_copy.plans[issued_copy.issued - 1], issued_copy.plans[-1]
    address = f"/plans/{last}/deliveries.csv"
    with issued_copy.client() as client:
        assert client.get(address).text.splitlines()[1].endswith(f"{issued_copy.issued},")
        assert client.post(f"/plans/{following}/issue").status_code == 201
        assert client.get(address).text.splitlines()[1].endswith(f",{issued_copy.issued + 1}")


def test_those_who_ask_at_the_same_time_wait_for_one_rendering(
    issued_copy: IssuedPlace, made: list[str]
) -> None:
    address = f"/plans/{issued_copy.plans[-1]}/order.pdf"
    with issued_copy.client() as client, ThreadPoolExecutor(4) as readers:
        answers = list(readers.map(lambda _: client.get(address), range(4)))
    assert {answer.status_code for answer in answers} == {200}
    assert len({answer.content for answer in answers}) == 1
    assert made == ["order_as"]


def test_the_oldest_documents_give_way_and_without_room_none_is_kept(
    issued_copy: IssuedPlace, monkeypatch: pytest.MonkeyPatch, made: list[str]
) -> None:
    monkeypatch.setattr(renderings, "run_limited", lambda work, *arguments, **_: work(*arguments))
    settings = replace(issued_copy.settings, renderings_megabytes=1)
    job = issued_copy.plans[-1]
    with TestClient(create_app(settings)) as client:
        context: AppContext = client.app.state.context  # type: ignore[attr-defined]
        for number in range(6):
            rendered(context, job, _noise, lambda: (), number, seconds=1)
        with context.storage.reading() as connection:
            sizes = connection.scalars(sa.text("SELECT bytes FROM renderings")).all()
        assert 0 < sum(sizes) <= 2**20
        assert len(sizes) == 3, "of 300 kB each"
        assert rendered(context, job, _noise, _never, 5, seconds=1).content == _noise(5)
        none = replace(context, settings=replace(settings, renderings_megabytes=0))
        rendered(none, job, _noise, lambda: (), 7, seconds=1)
        with context.storage.reading() as connection:
            assert len(connection.scalars(sa.text("SELECT bytes FROM renderings")).all()) == 3


def _noise(number: int) -> bytes:
    """300 kB that no coding makes smaller."""
    from random import Random

    return Random(number).randbytes(300_000)


def _never() -> tuple[str | None, ...]:
    raise AssertionError("it was kept")


def test_a_document_is_kept_in_the_coding_that_makes_it_smaller() -> None:
    text, noise = b"level,run\n" * 1000, _noise(1)
    assert len(Rendered.of(text).coded) < len(text) / 10
    assert Rendered.of(text).coding == "deflate"
    assert Rendered.of(noise) == Rendered(noise, "")
    assert Rendered.of(text).content == text


def test_one_key_is_worked_on_by_one_at_a_time_and_others_by_as_many_as_like() -> None:
    once, at_work, most = OneAtATime(), set[str](), list[int]()
    guard = threading.Lock()

    def work(key: str) -> None:
        with once.of(key):
            with guard:
                assert key not in at_work
                at_work.add(key)
                most.append(len(at_work))
            time.sleep(0.01)
            with guard:
                at_work.remove(key)

    with ThreadPoolExecutor(8) as workers:
        list(workers.map(work, ["north", "south"] * 8))
    assert max(most) == 2
    assert not once._locks
