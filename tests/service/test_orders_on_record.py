"""What issued orders put on the record, beside what is told by hand: one order counts once, whoever tells it first."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import datetime
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from api.orders.on_record import NOTHING_PLACED, Line, Placed, events_beside, events_of_revision, is_own
from optimiser.model.record import Event, Record

NOW = datetime(2027, 3, 1, 8)
L1: Line = ("L1", "B-120")
L2: Line = ("L2", "B-120")


class Office:
    """A project's record, its issued orders, and what is told by hand."""

    def __init__(self) -> None:
        self.record = Record()
        self.last = NOTHING_PLACED
        self.told = 0

    def issue(
        self, units: dict[Line, int], *, aware: bool = False, standing: dict[Line, int] | None = None
    ) -> list[Event]:
        """The next revision orders so much in all; `aware`: its plan knew of everything on record; so much of the last
        one is `standing` (None: all)."""
        known = frozenset(event.id for event in self.record.events) if aware else frozenset()
        placed = Placed(self.last.revision + 1, units, known)
        last = self.last if standing is None else replace(self.last, units=standing)
        added = events_of_revision(self.record, last, placed, NOW, "office")
        self.record = Record(events=(*self.record.events, *added))
        self.last = placed
        return list(added)

    def tell(self, **fields: Any) -> Event:
        """An event by hand, and what follows."""
        self.told += 1
        event = Event(at=NOW, id=f"hand-{self.told}", **{"event": "ordered", "code": "B-120", **fields})
        self.record = Record(events=(*self.record.events, event))
        added = events_beside(self.record, {event.id}, self.last, NOW, "office")
        self.record = Record(events=(*self.record.events, *added))
        return event

    def take_back(self, event: Event) -> None:
        self.tell(event="undone", code="", undoes=event.id)

    @property
    def ordered(self) -> dict[Line, int]:
        """What stands on record as ordered."""
        found: Counter[Line] = Counter()
        for event in self.record.standing:
            if event.event == "ordered":
                found[event.level, event.code] += event.quantity or 0
        return dict(found)


def test_the_first_revision_puts_every_line_on_record() -> None:
    office = Office()
    (event, *_) = office.issue({L1: 12, L2: 4})
    assert office.ordered == {L1: 12, L2: 4}
    assert (event.event, event.by, event.note) == ("ordered", "office", "revision 1")
    assert is_own(event)


def test_an_id_follows_from_revision_and_line() -> None:
    first, again = Office(), Office()
    assert [event.id for event in first.issue({L1: 12})] == [event.id for event in again.issue({L1: 12})]
    other = Office()
    assert other.issue({L2: 12})[0].id != again.record.events[0].id


def test_a_later_revision_puts_the_difference() -> None:
    office = Office()
    office.issue({L1: 12})
    (more,) = office.issue({L1: 16}, aware=True)
    assert (more.quantity, more.note) == (4, "revision 2")
    assert office.ordered == {L1: 16}


def test_fewer_are_taken_back_and_what_stays_is_put_on_record_again() -> None:
    office = Office()
    office.issue({L1: 12, L2: 4})
    back, rest = office.issue({L1: 8, L2: 4})
    assert (back.event, back.undoes) == ("undone", office.record.events[0].id)
    assert (rest.quantity, rest.level) == (8, "L1")
    assert office.ordered == {L1: 8, L2: 4}
    office.issue({L2: 4})
    assert office.ordered == {L2: 4}


def test_what_was_told_by_hand_before_counts_towards_the_order() -> None:
    office = Office()
    office.tell(level="L1", quantity=5)
    office.issue({L1: 12})
    assert office.ordered == {L1: 12}
    office = Office()
    office.tell(level="L1", quantity=20)
    office.issue({L1: 12})
    assert office.ordered == {L1: 20}


def test_what_is_told_by_hand_afterwards_counts_once() -> None:
    office = Office()
    office.issue({L1: 12, L2: 4})
    office.tell(level="L1", quantity=12)
    office.tell(level="L2", quantity=6)
    assert office.ordered == {L1: 12, L2: 6}
    office.tell(level="L3", quantity=2)
    assert office.ordered["L3", "B-120"] == 2, "what no revision orders counts beside it"


def test_what_is_told_without_a_level_is_taken_off_the_lines_in_their_order() -> None:
    office = Office()
    office.issue({L1: 12, L2: 4})
    told = office.tell(quantity=14)
    assert office.ordered == {("", "B-120"): 14, L2: 2}
    office.take_back(told)
    assert office.ordered == {L1: 12, L2: 4}


def test_what_is_taken_back_by_hand_comes_back_as_the_revision_ordered_it() -> None:
    office = Office()
    office.issue({L1: 12})
    slip = office.tell(level="L1", quantity=5)
    assert sum(office.ordered.values()) == 12
    office.take_back(slip)
    assert office.ordered == {L1: 12}
    assert all(is_own(event) for event in office.record.standing)


def test_who_takes_back_an_event_of_a_revision_cancels_it() -> None:
    office = Office()
    office.issue({L1: 12, L2: 4})
    office.take_back(office.record.events[0])
    assert office.ordered == {L2: 4}
    office.tell(level="L1", quantity=10)
    assert office.ordered == {L1: 10, L2: 4}
    office.issue({L1: 15, L2: 4}, aware=True)
    assert office.ordered == {L1: 13, L2: 4}, "three more than the plan knew of"


def test_a_revision_after_a_lesser_answer_puts_on_record_what_goes_beyond_the_answer() -> None:
    office = Office()
    office.issue({L1: 12, L2: 4})
    office.take_back(office.record.events[0])
    office.tell(level="L1", quantity=10)
    (more,) = office.issue({L1: 13, L2: 4}, aware=True, standing={L1: 10, L2: 4})
    assert (more.level, more.quantity) == ("L1", 3)
    assert office.ordered == {L1: 13, L2: 4}
    office.issue({L1: 13, L2: 5}, aware=True)
    assert office.ordered == {L1: 13, L2: 5}


def test_what_the_plan_knew_of_counts_beside_its_revision() -> None:
    office = Office()
    office.issue({L1: 12})
    office.tell(level="L1", quantity=20)
    office.issue({L1: 16}, aware=True)
    assert office.ordered == {L1: 24}
    office.tell(level="L1", quantity=4)
    assert office.ordered == {L1: 24}


def test_an_order_of_before_orders_were_put_on_record_is_put_there_once() -> None:
    office = Office()
    office.last = Placed(1, {L1: 12, L2: 4})
    office.tell(level="L1", quantity=5)
    assert office.ordered == {L1: 12, L2: 4}
    assert events_beside(office.record, (), office.last, NOW, "office") == ()


lines = st.sampled_from([L1, L2, ("L1", "K-110"), ("L2", "K-110")])
steps = st.lists(
    st.one_of(
        st.tuples(st.just("issue"), st.dictionaries(lines, st.integers(1, 30), max_size=4)),
        st.tuples(st.just("told"), lines, st.integers(1, 30)),
        st.tuples(st.just("taken back"), st.integers(0, 9)),
    ),
    max_size=9,
)


@given(steps)
def test_the_larger_of_what_is_issued_and_what_is_told_stands_on_record(drawn: list[Any]) -> None:
    """Where every plan is made without a record, a line's orders are the larger of the two at any time."""
    office = Office()
    by_hand: list[Event] = []
    for what, *step in drawn:
        if what == "issue":
            office.issue(step[0])
        elif what == "told":
            (level, code), quantity = step
            by_hand.append(office.tell(level=level, code=code, quantity=quantity))
        elif len(by_hand) > step[0]:
            office.take_back(by_hand.pop(step[0]))
        told: Counter[Line] = Counter()
        for event in by_hand:
            told[event.level, event.code] += event.quantity or 0
        expected = {line: max(number, told[line]) for line, number in office.last.units.items()}
        expected |= {line: number for line, number in told.items() if line not in expected}
        assert office.ordered == {line: number for line, number in expected.items() if number}
