"""Garbage is collected between requests: after the last answer, never while another is being made."""

from __future__ import annotations

import asyncio
import gc
from collections.abc import Iterator

import pytest
from starlette.types import Message, Receive, Scope, Send

from api.operation.collecting import MOST_YOUNG, YOUNG, CollectingBetween, collect_seldom


@pytest.fixture
def collected(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The generations that are collected, in order."""
    found: list[int] = []
    monkeypatch.setattr(gc, "collect", lambda generation=2: found.append(generation) or 0)
    return found


async def _nothing() -> Message:
    return {"type": "http.request"}


async def _sent(message: Message) -> None:
    return None


def test_it_is_collected_after_the_last_of_several_answers(collected: list[int]) -> None:
    seen: list[list[int]] = []

    async def run() -> None:
        go_on = asyncio.Event()

        async def app(scope: Scope, receive: Receive, send: Send) -> None:
            if scope["path"] == "/slow":
                await go_on.wait()

        serving = CollectingBetween(app)
        slow = asyncio.create_task(serving({"type": "http", "path": "/slow"}, _nothing, _sent))
        await asyncio.sleep(0)
        await serving({"type": "http", "path": "/quick"}, _nothing, _sent)
        seen.append(list(collected))
        go_on.set()
        await slow
        seen.append(list(collected))

    asyncio.run(run())
    assert seen == [[], [YOUNG]]


def test_it_is_collected_after_an_answer_that_failed_and_not_after_what_is_no_request(
    collected: list[int],
) -> None:
    async def app(scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http":
            raise ValueError("a fault")

    serving = CollectingBetween(app)
    asyncio.run(serving({"type": "lifespan"}, _nothing, _sent))
    assert collected == []
    with pytest.raises(ValueError, match="a fault"):
        asyncio.run(serving({"type": "http", "path": "/"}, _nothing, _sent))
    assert collected == [YOUNG]
    assert serving.answering == 0


@pytest.fixture
def as_it_was() -> Iterator[None]:
    before = gc.get_threshold()
    yield
    gc.set_threshold(*before)
    gc.unfreeze()


def test_between_them_it_is_looked_for_after_many_objects_only(as_it_was: None) -> None:
    collect_seldom()
    assert gc.get_threshold()[0] == MOST_YOUNG
    assert gc.get_freeze_count() > 0
