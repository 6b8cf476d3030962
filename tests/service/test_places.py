"""Places that are given out by turns of their companies."""

from __future__ import annotations

import asyncio

import pytest

from api.http.places import FairPlaces, NoPlace


def test_a_company_with_many_requests_does_not_hold_up_another() -> None:
    async def served() -> list[str]:
        places, order = FairPlaces(3, spare=1, most_waiting=100), []

        async def one(company: str) -> None:
            async with places.place(company):
                order.append(company)
                await asyncio.sleep(0)

        async with asyncio.TaskGroup() as group:
            for company in ["north"] * 80 + ["south"] * 2:
                group.create_task(one(company))
        assert (places.taken, places.waiting) == (0, 0)
        return order

    order = asyncio.run(served())
    assert len(order) == 82
    assert order.index("south") <= 2, "the spare place is there for whoever holds none"


def test_those_who_wait_are_let_in_company_by_company() -> None:
    async def served() -> list[str]:
        places, order = FairPlaces(1, most_waiting=100), []
        await places.acquire("north")

        async def one(company: str) -> None:
            async with places.place(company):
                order.append(company)

        async with asyncio.TaskGroup() as group:
            for company in [*["north"] * 3, *["south"] * 2, "west"]:
                group.create_task(one(company))
            await asyncio.sleep(0)
            places.release("north")
        return order

    assert asyncio.run(served()) == ["north", "south", "west", "north", "south", "north"]


def test_who_has_too_many_waiting_is_told_to_come_again_and_others_are_not() -> None:
    async def refused() -> NoPlace:
        places = FairPlaces(1, most_waiting=1)
        await places.acquire("north")
        waiting = asyncio.create_task(places.acquire("north"))
        await asyncio.sleep(0)
        with pytest.raises(NoPlace) as beyond:
            await places.acquire("north")
        another = asyncio.create_task(places.acquire("south"))
        await asyncio.sleep(0)
        assert places.waiting == 2
        for task in (waiting, another):
            task.cancel()
        await asyncio.gather(waiting, another, return_exceptions=True)
        assert (places.taken, places.waiting) == (1, 0)
        return beyond.value

    problem = asyncio.run(refused())
    assert problem.status == 429
    assert problem.headers == {"Retry-After": "10"}


def test_nobody_waits_for_ever_and_who_gives_up_leaves_no_place_taken() -> None:
    async def tried() -> tuple[int, int, int]:
        places = FairPlaces(1, wait_seconds=0.01)
        await places.acquire("north")
        with pytest.raises(NoPlace) as late:
            await places.acquire("south")
        places.release("north")
        await places.acquire("south")
        return late.value.status, places.taken, places.waiting

    assert asyncio.run(tried()) == (503, 1, 0)
