"""Who fitted and who saw each joint and bracket: what people said, no more, and what nobody has said yet."""

from __future__ import annotations

from datetime import datetime, timedelta
from functools import cache
from typing import Any

import pytest

from optimiser.model.plan import Plan
from optimiser.model.record import Event, Record
from optimiser.planning.plan import plan
from optimiser.takeoff.inspection import (
    JOINT,
    LevelInspection,
    Part,
    PhotographOf,
    inspection,
    part_and_remark,
)
from tests.builders.closed_level import closed_level


@cache
def loop() -> Plan:
    """A level of three runs that close a loop, planned."""
    return plan(closed_level())


def record(*events: dict[str, Any]) -> Record:
    """Events an hour apart, told by the crew unless they say otherwise."""
    begun = datetime(2027, 3, 1, 7)
    return Record(
        events=tuple(
            Event(**{"at": begun + timedelta(hours=n), "id": f"e{n}", "by": "crew 2", **event})
            for n, event in enumerate(events)
        )
    )


def seen(*events: dict[str, Any], photographs: tuple[PhotographOf, ...] = ()) -> LevelInspection:
    """What is on record of the loop's level."""
    (level,) = inspection(loop(), record(*events), photographs)
    return level


def part(level: LevelInspection, piece: str, name: str) -> Part:
    return next(one for one in level.parts if (one.piece, one.name) == (piece, name))


def first_two() -> tuple[str, str]:
    """The first two pieces of run A."""
    row = sorted((piece for piece in loop().pieces if piece.run == "A"), key=lambda piece: piece.from_mm)
    return row[0].id, row[1].id


def test_there_are_as_many_joints_and_brackets_as_the_plan_counts() -> None:
    level = seen()
    counts = loop().counts["L1"]
    assert level.counted("joint") == (counts.joints, 0, 0)
    assert level.counted("bracket") == (sum(counts.brackets.values()), 0, 0)
    assert level.not_covered == level.parts
    assert all(one.open == ("fitted", "seen") for one in level.parts)


def test_a_joint_belongs_to_the_piece_that_ends_there_and_says_what_it_meets() -> None:
    first, second = first_two()
    joint = part(seen(), first, JOINT)
    assert (joint.meets, joint.at_mm) == (second, next(p.to_mm for p in loop().pieces if p.id == first))
    ends = [one.meets for one in seen().parts if one.meets.startswith("run ")]
    assert ends == ["run B", "run C", "run A"]


def test_fitted_is_said_of_the_piece_seen_of_each_part_by_its_name() -> None:
    first, _ = first_two()
    level = seen(
        {"event": "fitted", "piece": first},
        {"event": "inspected", "piece": first, "note": f"{JOINT}: tape lifts", "by": "inspector"},
    )
    joint = part(level, first, JOINT)
    assert joint.fitted is not None
    assert joint.seen is not None
    assert (joint.fitted.by, joint.seen.by, joint.seen.remark) == ("crew 2", "inspector", "tape lifts")
    assert joint.open == ()
    bracket = next(one for one in level.parts if one.piece == first and one.kind == "bracket")
    assert bracket.open == ("seen",)
    assert level.remarks == (joint,)


def test_seeing_the_whole_piece_covers_its_parts_and_takes_no_remark_away() -> None:
    first, _ = first_two()
    level = seen(
        {"event": "inspected", "piece": first, "note": f"{JOINT}: tape lifts"},
        {"event": "inspected", "piece": first, "by": "inspector"},
    )
    mine = [one.seen for one in level.parts if one.piece == first]
    assert [(said.how, said.remark) for said in mine if said is not None][-1] == ("itself", "tape lifts")
    assert {said.how for said in mine[:-1] if said is not None} == {"with its piece"}


def test_a_level_that_was_seen_at_once_says_so_of_each_part() -> None:
    level = seen({"event": "fitted", "level": "L1"}, {"event": "inspected", "level": "L1"})
    assert level.not_covered == ()
    assert {one.seen.how for one in level.parts if one.seen} == {"with its level"}


def test_a_scrapped_piece_takes_with_it_what_was_said_of_it_and_of_the_joint_before_it() -> None:
    first, second = first_two()
    level = seen(
        {"event": "fitted", "level": "L1"},
        {"event": "inspected", "level": "L1"},
        {"event": "scrapped", "piece": second},
    )
    gone = {(one.piece, one.name) for one in level.not_covered}
    assert (first, JOINT) in gone
    assert {(one.piece, one.name) for one in level.parts if one.piece == second} <= gone
    assert part(level, first, JOINT).open == ("seen",)
    assert all(one.piece in (first, second) for one in level.not_covered)


def test_what_is_taken_back_was_not_said() -> None:
    first, _ = first_two()
    level = seen({"event": "inspected", "piece": first}, {"event": "undone", "undoes": "e0"})
    assert level.not_covered == level.parts
    assert all(one.seen is None for one in level.parts)


def test_photographs_stand_with_the_part_that_they_are_of() -> None:
    first, _ = first_two()
    bracket = next(one for one in seen().parts if one.piece == first and one.kind == "bracket")
    shots = (PhotographOf("p1", first, "joint"), PhotographOf("p2", first, "bracket", bracket.at_mm))
    level = seen(photographs=shots)
    assert part(level, first, JOINT).photographs == ("p1",)
    assert [one.name for one in level.parts if one.photographs == ("p2",)] == [bracket.name]


def test_a_photograph_of_one_bracket_is_not_one_of_its_neighbour() -> None:
    several = next(piece for piece in loop().pieces if len(piece.brackets_at_mm) > 1)
    at = several.from_mm + several.brackets_at_mm[-1]
    brackets = [one for one in seen().parts if one.piece == several.id and one.kind == "bracket"]
    last = next(one for one in brackets if one.at_mm in (at, several.brackets_at_mm[-1]))
    level = seen(photographs=(PhotographOf("p", several.id, "bracket", last.at_mm),))
    assert [one.at_mm for one in level.parts if one.photographs] == [last.at_mm]
    whole = seen(photographs=(PhotographOf("p", several.id, "bracket"),))
    assert len([one for one in whole.parts if one.photographs]) == len(brackets)


@pytest.mark.parametrize(
    ("note", "meant"),
    [
        ("", ("", "")),
        ("dry and clean", ("", "dry and clean")),
        ("bracket at 300", ("bracket at 300", "")),
        ("bracket at 300: loose", ("bracket at 300", "loose")),
        ("bracket at 300 mm is loose", ("", "bracket at 300 mm is loose")),
        ("joint at its end: lifts: badly", (JOINT, "lifts: badly")),
    ],
)
def test_a_note_may_begin_with_the_part_that_it_is_of(note: str, meant: tuple[str, str]) -> None:
    assert part_and_remark(note) == meant
