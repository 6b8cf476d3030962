"""Records and replans: events as a crew or a phone sends them, and the next plan by whatever record was accepted.

Events are read as a file, as a list that is sent, and put on record; what is accepted comes back equal from its own
JSON, counts once however often it is sent, and gives a plan that the judge accepts or a reason why there is none.
"""

from __future__ import annotations

import json
import random
import tempfile
from functools import cache
from typing import Any

from tests.fuzzing import mutations
from tests.fuzzing.promises import NotHeld, begun_plan, plan_by_hand, refused_well

FIELDS = (
    "piece",
    "board",
    "level",
    "code",
    "quantity",
    "length_mm",
    "width_mm",
    "event",
    "undoes",
    "id",
    "at",
)


def read_record_file(data: bytes) -> bool:
    """A record in a file, csv or JSON, alone and as the record of a plan."""
    from optimiser.reading import read_record
    from optimiser.reading.record_file import record_from_json

    with tempfile.NamedTemporaryFile(prefix="fuzzing", suffix=".csv") as file:
        file.write(data)
        file.flush()
        found = refused_well(lambda: read_record(file.name))
        refused_well(lambda: read_record(file.name, plan_by_hand()))
    if found is None:
        return False
    if record_from_json(json.loads(found.model_dump_json())["events"]) != found:
        raise NotHeld("a record read from its own JSON is another")
    if found.with_events(found.events) != found:
        raise NotHeld("a record that is sent twice counts twice")
    return True


def read_events(data: bytes) -> bool:
    """A list of events as it is sent to the service, put at the end of a record."""
    from optimiser.model.record import Record
    from optimiser.reading import events_from_json
    from optimiser.reading.json_text import parse_json

    value = refused_well(lambda: parse_json(data, "events.json"))
    events = refused_well(lambda: events_from_json(value, survey=plan_by_hand().project))
    if events is None:
        return False
    record = Record().with_events(events)
    if record.with_events(events) != record:
        raise NotHeld("events that are sent twice count twice")
    again = json.loads(record.model_dump_json())["events"]
    if events_from_json(again, survey=plan_by_hand().project) != record.events:
        raise NotHeld("events read from their own JSON are others")
    return True


def read_replan(data: bytes) -> bool:
    """The next plan by a record: of a plan that was never begun and of one in the middle of its job."""
    from optimiser.reading.json_text import parse_json
    from optimiser.reading.record_file import record_from_json

    record = refused_well(lambda: record_from_json(refused_well(lambda: parse_json(data, "record.json"))))
    if record is None:
        return False
    at_its_start, in_the_middle = _next_plan(plan_by_hand(), record), _next_plan(begun_plan(), record)
    return at_its_start or in_the_middle


def _next_plan(plan: Any, record: Any) -> bool:
    """Whether there is a next plan; it is judged as it is made, and comes back equal from its own JSON."""
    from optimiser.model.plan import Plan
    from optimiser.replanning.replan import replan
    from optimiser.writing.data.plan_json import plan_json

    made = refused_well(lambda: replan(plan, record, time_limit=1.0))
    if made is None:
        return False
    if Plan.model_validate_json(plan_json(made)) != made:
        raise NotHeld("a replanned plan read from its own JSON is another")
    known = {event.id for event in made.record.events}
    if any(event not in made.record.events and event.id not in known for event in record.events):
        raise NotHeld("a replanned plan forgets events")
    again = refused_well(lambda: replan(made, record, time_limit=1.0))
    if again is None:
        raise NotHeld("what a plan holds already cannot be told to it again")
    if (again.job.cut_boards, again.record) != (made.job.cut_boards, made.record):
        raise NotHeld("a record that is told twice opens boards twice")
    return True


def changed_record(data: bytes, seed: int, blindly: mutations.BlindChange) -> bytes:
    """A record with an event moved, repeated, left out, or with a field of another event; sometimes any value."""
    dice = random.Random(seed)
    try:
        events = json.loads(data)
        sound = isinstance(events, list) and events and all(isinstance(event, dict) for event in events)
    except (ValueError, RecursionError):
        sound = False
    if not sound or dice.random() < 0.3:
        return mutations.changed_json(data, seed, blindly)
    for _ in range(dice.choice((1, 1, 2, 4, 8))):
        if not events:
            break
        at, other = dice.randrange(len(events)), dice.randrange(len(events))
        what = dice.randrange(7)
        if what == 0:
            events.pop(at)
        elif what == 1:
            events[at], events[other] = events[other], events[at]
        elif what == 2:
            events.insert(other, events[at] | {"id": f"more-{dice.randrange(99)}"})
        elif what == 3:
            events.append(
                {"at": "2027-05-01", "event": "undone", "undoes": events[at].get("id"), "id": f"undo-{seed}"}
            )
        elif what == 4:
            events[at] = {key: events[at][key] for key in events[at] if dice.random() < 0.8}
        else:
            field = dice.choice(FIELDS)
            events[at] = events[at] | {field: dice.choice(_values(events, field, dice))}
    return json.dumps(events).encode("utf-8", "surrogatepass")


def _values(events: list[dict[str, Any]], field: str, dice: random.Random) -> list[Any]:
    """What a field may be given: what stands in it elsewhere, what the plan has, numbers near by."""
    there = [event[field] for event in events if field in event]
    if field in ("quantity", "length_mm", "width_mm"):
        return [*there, 1, 2, 3, 10, dice.randrange(1, 1300), 10**6, 0]
    if field in ("piece", "board"):
        named = json.loads(_names())
        return [*there, *named[field], *named["piece"]]
    return there or [""]


@cache
def _names() -> str:
    """The pieces and boards of the small plan, as JSON."""
    plan = plan_by_hand()
    boards = [str(number) for number, _ in plan.numbered_layouts] + [part.name for part in plan.remainders]
    return json.dumps({"piece": [piece.id for piece in plan.pieces], "board": [*boards, "B001", "B001-R1"]})


@cache
def record_seeds() -> tuple[bytes, ...]:
    """A job of the small plan from its order to the last piece, and one with mishaps."""
    from tests.builders.job import JobOnSite, of_level

    plan = plan_by_hand()
    levels = [level.level for level in plan.project.levels]
    whole, mishaps = JobOnSite(), JobOnSite()
    for job in (whole, mishaps):
        job.order_all(plan)
        job.deliver(plan, levels[0], short=0 if job is whole else 1)
    for level in levels:
        whole.cut_and_fit(of_level(plan, level))
    first, second, *_ = of_level(plan, levels[0])
    cut = mishaps.write("cut", piece=first.id)
    mishaps.write("undone", undoes=cut.id)
    mishaps.write("cut", board="1", level=levels[0])
    mishaps.write("kept", board="1", length_mm=500, width_mm=200)
    mishaps.write("scrapped", piece=second.id)
    mishaps.write("scrapped", code=plan.order.lines[0].code, quantity=1)
    mishaps.write("fitted", piece=first.id)
    mishaps.write("inspected", level=levels[0])
    mishaps.write("measured", level=levels[-1])
    return tuple(_as_json(job.events) for job in (whole, mishaps))


def record_file_seeds() -> list[bytes]:
    """The two records as JSON, as JSON lines and as csv."""
    found = list(record_seeds())
    for data in record_seeds():
        events = json.loads(data)
        heads = list(dict.fromkeys(key for event in events for key in event))
        rows = [heads, *([str(event.get(key, "")) for key in heads] for event in events)]
        found.append("\n".join(",".join(row) for row in rows).encode())
        found.append("\n".join(json.dumps(event) for event in events).encode())
    return found


def changed_record_file(data: bytes, seed: int, blindly: mutations.BlindChange) -> bytes:
    """A record's file changed as what it is: a JSON list, JSON lines or csv."""
    if data.lstrip()[:1] == b"[":
        return changed_record(data, seed, blindly)
    lines = data.split(b"\n")
    if data.lstrip()[:1] == b"{" and lines:
        at = random.Random(seed).randrange(len(lines))
        lines[at] = mutations.changed_json(lines[at], seed, blindly)
        return b"\n".join(lines)
    return mutations.changed_csv(data, seed, blindly)


def _as_json(events: list[Any]) -> bytes:
    plain = [
        {key: value for key, value in event.model_dump(mode="json").items() if value not in ("", None)}
        for event in events
    ]
    return json.dumps(plain).encode()
