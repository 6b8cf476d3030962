"""Sound plans of every kind of building, and ways to break one thing in their JSON tables."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from functools import cache
from typing import Any, NamedTuple

from optimiser.model.plan import Plan
from optimiser.planning.plan import plan
from optimiser.replanning.replan import replan
from tests.boards.test_carrying import two_on_a_board
from tests.boards.test_thin_rips import a_level
from tests.builders.closed_level import closed_level
from tests.builders.job import JobOnSite, of_level
from tests.builders.levels import week, weekly
from tests.ordering.test_site_floor import weighed
from tests.replanning.test_replan import house

Tables = dict[str, Any]


@cache
def begun() -> Plan:
    """The first level is cut and fitted, a piece of the second is cut and one was spoilt; planned again."""
    made = plan(house(storeys=3, length_mm=7200), advise=False)
    job = JobOnSite()
    job.order_all(made)
    job.deliver(made, "L1")
    job.cut_and_fit(of_level(made, "L1"))
    cut, spoilt, *_ = of_level(made, "L2")
    job.write("cut", piece=cut.id)
    job.write("cut", piece=spoilt.id)
    job.write("scrapped", piece=spoilt.id)
    return replan(made, job.record)


@cache
def in_loads() -> Plan:
    """Two loads on crane days."""
    days = tuple(week(n) for n in range(1, 5))
    return plan(weekly(truck_pallets=4, combine="fewest_loads", crane_days=days), advise=False)


@cache
def priced() -> Plan:
    """A load and storage cost money."""
    return plan(weekly(delivery_cost="20.00", storage_cost="3.00"), advise=False)


@cache
def stacked() -> Plan:
    """Boards stand in stacks on a floor that carries little."""
    return plan(weighed(stack_layers=4, floor_load_kg_m2=60), advise=False)


@cache
def limited() -> Plan:
    """More than the site's storage, a minimum order that no delivery comes to."""
    return plan(weekly(site_storage_m2=4, minimum_order="1000.00"), advise=False)


@cache
def closed() -> Plan:
    """A loop of three runs with a curve and brackets that give way to mullions."""
    return plan(closed_level(), advise=False)


@cache
def carried() -> Plan:
    """A remainder that waits costs money."""
    return plan(two_on_a_board(carry_cost="9.00"), advise=False)


@cache
def ripped() -> Plan:
    """A strip thinner than the least one."""
    return plan(a_level(150, 6, 1040, 60), advise=False)


class Broken(NamedTuple):
    """A sound plan, what is changed in its JSON tables, and what must be told."""

    sound: Callable[[], Plan]
    change: Callable[[Tables], Tables]
    told: str


def to(value: object, *path: object) -> Callable[[Tables], Tables]:
    """The value at one place."""
    return lambda _: {".".join(map(str, path)): value}


def more(by: object, *path: object) -> Callable[[Tables], Tables]:
    """The number at one place, so much larger."""

    def change(tables: Tables) -> Tables:
        at: Any = tables
        for step in path:
            at = at[step]
        return {".".join(map(str, path)): at + by}

    return change


def piece(status: str, field: str, value: object) -> Callable[[Tables], Tables]:
    """A field of the first piece of a status."""
    return lambda tables: {
        f"pieces.{next(n for n, one in enumerate(tables['pieces']) if one['status'] == status)}.{field}": value
    }


def told_too(event: str, status: str) -> Callable[[Tables], Tables]:
    """One more event, of the first piece of a status."""

    def change(tables: Tables) -> Tables:
        name = next(one["id"] for one in tables["pieces"] if one["status"] == status)
        events = tables["record"]["events"]
        return {f"record.events.{len(events)}": {"at": "2027-05-01T07:00", "event": event, "piece": name}}

    return change


def unsaid(event: str) -> Callable[[Tables], Tables]:
    """The events of a kind left out."""
    return lambda tables: {
        "record.events": [one for one in tables["record"]["events"] if one["event"] != event]
    }


def undone(event: str) -> Callable[[Tables], Tables]:
    """The first event of a kind taken back."""

    def change(tables: Tables) -> Tables:
        events = tables["record"]["events"]
        name = next(one["id"] for one in events if one["event"] == event)
        told = {"at": "2027-05-01T07:00", "event": "undone", "undoes": name, "id": "taken back"}
        return {f"record.events.{len(events)}": told}

    return change


def at_hand(**fields: object) -> Callable[[Tables], Tables]:
    """Fields of the first thing at hand."""
    return lambda _: {f"job.at_hand.0.{field}": value for field, value in fields.items()}


def discarded_and_at_hand(tables: Tables) -> Tables:
    return {"job.discarded": [tables["job"]["at_hand"][0]]}


def more_whole_boards(tables: Tables) -> Tables:
    place = next(
        n for n, one in enumerate(tables["job"]["at_hand"]) if one["kind"] in ("on site", "on order")
    )
    name = tables["job"]["at_hand"][place]["name"]
    row = next(n for n, one in enumerate(tables["project"]["stock"]) if one["name"] == name)
    return {f"job.at_hand.{place}.quantity": 99, f"project.stock.{row}.quantity": 99}


def opened_number(tables: Tables) -> Tables:
    return {"layouts.0.number": tables["job"]["cut_boards"][0]["number"]}


def two_of_a_number(tables: Tables) -> Tables:
    first, second = (one["number"] for one in tables["layouts"][:2])
    assert first != second
    return {"layouts.1.number": first}


def opened_twice(tables: Tables) -> Tables:
    boards = tables["job"]["cut_boards"]
    return {f"job.cut_boards.{len(boards)}": boards[0]}


def later(days: int, *path: object) -> Callable[[Tables], Tables]:
    def change(tables: Tables) -> Tables:
        at: Any = tables
        for step in path:
            at = at[step]
        return {".".join(map(str, path)): (date.fromisoformat(at) + timedelta(days=days)).isoformat()}

    return change


def silent(tables: Tables) -> Tables:
    return {"warnings": [line for line in tables["warnings"] if not line.startswith("Deliveries")]}
