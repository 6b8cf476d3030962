"""A supplier's answer as events: confirmed is ordered, sent is delivered, what is other than ordered is told."""

from __future__ import annotations

from collections import Counter
from contextlib import suppress
from datetime import date, datetime
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimiser.errors.problems import UnusableInput
from optimiser.model.record import Event, Record
from optimiser.reading import read_answer
from optimiser.reading.supplier_answer import answer_of
from tests.builders.supplier_documents import despatch_advice, order_response, without
from tests.builders.supplier_job import first_order, second_order

ORDER = first_order()
NOTHING = Record()


def held(record: Record, what: str = "ordered") -> Counter[tuple[str, str]]:
    """Single units by level and code that the record holds."""
    found: Counter[tuple[str, str]] = Counter()
    for event in record.standing:
        if event.event == what:
            found[event.level, event.code] += event.quantity or 0
    return found


def wanted(order: object = ORDER) -> Counter[tuple[str, str]]:
    found: Counter[tuple[str, str]] = Counter()
    for line in order.lines:  # type: ignore[attr-defined]
        for level, packs in line.packs_for.items():
            found[level, line.code] += packs * line.per_pack
    return found


def faults(content: bytes) -> tuple[str, ...]:
    with pytest.raises(UnusableInput) as refused:
        answer_of(content, "answer.xml", ORDER, NOTHING)
    return refused.value.lines()


class TestResponse:
    def test_an_order_that_is_accepted_whole_is_ordered_as_it_was_sent(self, tmp_path: Path) -> None:
        path = tmp_path / "answer.xml"
        path.write_bytes(order_response())
        answer = read_answer(path, ORDER)
        assert (answer.kind, answer.document, answer.issued_on) == (
            "OrderResponse",
            "OR-11",
            date(2027, 1, 13),
        )
        assert answer.remarks == ()
        record = NOTHING.with_events(answer.events)
        assert held(record) == wanted()
        assert {event.at for event in answer.events} == {datetime(2027, 1, 13, 9, 30)}

    def test_reading_it_twice_counts_once(self) -> None:
        record = NOTHING.with_events(answer_of(order_response(), "a", ORDER, NOTHING).events)
        assert answer_of(order_response(), "a", ORDER, record).events == ()

    def test_less_that_is_confirmed_is_less_that_is_ordered_in_packs_or_in_pieces(self) -> None:
        """Line 2 is of 3 boxes of 25, line 9 of 2 pallets of 3 boards."""
        content = order_response(
            [{"line": 2, "quantity": 2, "unit": "XBX"}, {"line": 9, "quantity": 5, "unit": "H87"}]
        )
        answer = answer_of(content, "a", ORDER, NOTHING)
        record = NOTHING.with_events(answer.events)
        less = wanted()
        less["L02", "K-110"] -= 25
        less["L02", "B-90"] -= 1
        assert held(record) == +less
        assert answer.remarks == (
            "line 2, K-110: 50 are confirmed, 75 were ordered",
            "line 9, B-90: 5 are confirmed, 6 were ordered",
        )

    def test_what_was_written_down_as_ordered_is_taken_back_where_less_is_confirmed(self) -> None:
        at = datetime(2027, 1, 11)
        record = Record(
            events=tuple(
                Event(at=at, event="ordered", level=level, code=code, quantity=number, id=f"mine-{n}")
                for n, ((level, code), number) in enumerate(wanted().items())
            )
        )
        assert answer_of(order_response(), "a", ORDER, record).events == ()
        cancelled = order_response(
            [{"line": 4, "status": "Cancelled"}, {"line": 2, "quantity": 2, "unit": "XBX"}]
        )
        answer = answer_of(cancelled, "a", ORDER, record)
        after = record.with_events(answer.events)
        less = wanted()
        less["L01", "K-130"] = 0
        less["L02", "K-110"] = 0
        assert held(after) == +less

    def test_an_event_without_an_id_cannot_be_taken_back_and_that_is_told(self) -> None:
        record = Record(
            events=(Event(at=datetime(2027, 1, 11), event="ordered", level="L01", code="K-130", quantity=50),)
        )
        answer = answer_of(order_response(), "a", ORDER, record)
        assert any(
            "50 of K-130 for L01 are on record as ordered, 25 are confirmed" in r for r in answer.remarks
        )

    def test_a_revision_that_is_confirmed_takes_back_what_it_cancels(self) -> None:
        first = NOTHING.with_events(answer_of(order_response(), "a", ORDER, NOTHING).events)
        content = order_response(to="QY-3-R2", document="OR-12")
        second = answer_of(content, "a", second_order(), first)
        after = first.with_events(second.events)
        assert held(after) == wanted(second_order())
        assert answer_of(content, "a", second_order(), after).events == ()

    def test_an_order_on_top_of_others_leaves_those_on_record(self) -> None:
        on_record = {"K-130": {"L01": 50}}
        order = ORDER.model_copy(update={"ordered_besides": on_record})
        record = Record(
            events=(
                Event(
                    at=datetime(2027, 1, 1), event="ordered", level="L01", code="K-130", quantity=50, id="x"
                ),
            )
        )
        after = record.with_events(answer_of(order_response(), "a", order, record).events)
        assert held(after)["L01", "K-130"] == 75

    def test_an_answer_to_the_first_order_is_none_to_a_supplementary_one(self) -> None:
        on_top = ORDER.model_copy(
            update={"ordered_besides": {"K-130": {"L01": 50}}, "document": f"{ORDER.reference}-S20270301"}
        )
        with pytest.raises(UnusableInput, match="answers another order"):
            answer_of(order_response(to=ORDER.reference), "a", on_top, NOTHING)
        assert answer_of(order_response(to=on_top.document), "a", on_top, NOTHING).events

    def test_a_rejected_order_orders_nothing(self) -> None:
        answer = answer_of(order_response(code="RE", note="no stock"), "a", ORDER, NOTHING)
        assert answer.events == ()
        assert len(answer.remarks) == len(ORDER.lines) + 1
        assert answer.remarks[-1] == "The supplier writes: no stock"

    def test_a_single_one_that_is_confirmed_is_told_as_one(self) -> None:
        answer = answer_of(order_response([{"line": 9, "quantity": 1, "unit": "H87"}]), "a", ORDER, NOTHING)
        assert answer.remarks == ("line 9, B-90: 1 is confirmed, 6 were ordered",)

    def test_another_day_or_price_is_told(self) -> None:
        content = order_response(
            [{"line": 1, "quantity": 1, "unit": "XPX", "day": "2027-03-04", "price": "212.00"}]
        )
        assert answer_of(content, "a", ORDER, NOTHING).remarks == (
            "line 1, B-120: promised for 2027-03-04, ordered for 2027-03-01: 3 days later for L01; agree an earlier"
            " day, or move needed_on and plan the rest again",
            "line 1, B-120: confirmed at 212.00 a pack, ordered at 204.35",
        )

    def test_an_earlier_day_is_told_without_a_mend(self) -> None:
        content = order_response([{"line": 1, "quantity": 1, "unit": "XPX", "day": "2027-02-26"}])
        assert answer_of(content, "a", ORDER, NOTHING).remarks == (
            "line 1, B-120: promised for 2027-02-26, ordered for 2027-03-01",
        )


class TestDespatch:
    def test_what_was_sent_is_delivered_on_the_day_it_arrives(self) -> None:
        answer = answer_of(
            despatch_advice([{"line": 1, "quantity": 1, "unit": "XPX", "code": "B-120"},
                             {"line": 2, "quantity": 3, "unit": "XBX"}]),
            "a", ORDER, NOTHING,
        )  # fmt: skip
        assert [(e.event, e.level, e.code, e.quantity, e.at.date()) for e in answer.events] == [
            ("delivered", "L01", "B-120", 4, date(2027, 3, 1)),
            ("delivered", "L01", "K-110", 50, date(2027, 3, 1)),
            ("delivered", "L02", "K-110", 25, date(2027, 3, 1)),
        ]
        assert answer.remarks == ("What was sent is not counted yet: count it on arrival.",)

    def test_a_second_despatch_serves_the_levels_that_the_first_left(self) -> None:
        first = answer_of(despatch_advice([{"line": 2, "quantity": 1, "unit": "XBX"}]), "a", ORDER, NOTHING)
        record = NOTHING.with_events(first.events)
        rest = despatch_advice([{"line": 2, "quantity": 2, "unit": "XBX"}], document="DA-6")
        after = record.with_events(answer_of(rest, "a", ORDER, record).events)
        assert held(after, "delivered") == {("L01", "K-110"): 50, ("L02", "K-110"): 25}
        again = after.with_events(answer_of(rest, "a", ORDER, after).events)
        assert again == after

    def test_it_is_counted_on_the_day_that_is_given_and_what_is_outstanding_is_told(self) -> None:
        content = despatch_advice([{"line": 9, "quantity": 1, "unit": "XPX", "outstanding": 1}], arrives=None)
        answer = answer_of(content, "a", ORDER, NOTHING, date(2027, 3, 2))
        assert [event.at for event in answer.events] == [datetime(2027, 3, 2)]
        assert answer.remarks == ("DA-5: B-90: 1 outstanding: next week",)

    def test_goods_that_were_not_ordered_on_the_line_are_refused(self) -> None:
        told = faults(despatch_advice([{"line": 1, "quantity": 1, "unit": "XPX", "code": "B-90"}]))
        codes = ", ".join(dict.fromkeys(line.code for line in ORDER.lines))
        assert told == (
            "DespatchAdvice/DespatchLine[1], ID = 'B-90': was sent for B-120, line 1 of QY-3, which orders"
            f" {codes}; ask the supplier for the document with the right code or line; or leave it, count"
            " what came and write all of it down as delivered (nothing of the document is on record)",
        )

    def test_a_line_of_another_order_on_the_same_truck_is_refused(self) -> None:
        content = despatch_advice(
            [{"line": 1, "quantity": 1, "order": "QY-3"}, {"line": 1, "quantity": 1, "order": "ZZ-8"}]
        )
        assert faults(content) == (
            "DespatchAdvice/DespatchLine[2], ID = 'ZZ-8': answers another order than QY-3; give that order's file",
        )


@pytest.mark.parametrize(
    ("content", "fault"),
    [
        (b"", "is no XML"),
        (b"<a>", "is no XML"),
        (b"<!DOCTYPE a [<!ENTITY b 'c'>]><a>&b;</a>", "declares a document type"),
        (b"<a/>", "answer.xml: holds <a>, not a UBL OrderResponse or DespatchAdvice"),
        (order_response(to="QY-4"), "= 'QY-4': answers another order than QY-3"),
        (order_response([{"line": 99, "quantity": 1}]), "= 99: is no line of QY-3; its lines are 1, 2, 3"),
        (order_response([{"line": 1, "quantity": 1, "unit": "KGM"}]), "= 'KGM': is not how B-120 is ordered; ask for"
         " it in XPX (packs of 4) or H87 (pieces)"),
        (order_response([{"line": 1, "quantity": 10**11}]), "Quantity = 100000000000: is above 10,000,000,000"),
        (order_response([{"line": 1, "quantity": "0.3", "unit": "XPX"}]), "= 0.3: is no whole number of B-120"),
        (order_response([{"line": 1, "quantity": -1, "unit": "XPX"}]), "= -1: must be a number, not negative"),
        (order_response([{"line": 1}]), "OrderResponse/OrderLine[1]/LineItem[1], Quantity: is missing"),
        (without(order_response(), "cbc:IssueDate"), "OrderResponse, IssueDate: is missing"),
    ],
)  # fmt: skip
def test_what_cannot_be_used_is_told_with_its_place_and_its_mend(content: bytes, fault: str) -> None:
    assert any(fault in line for line in faults(content)), faults(content)


def test_more_than_a_record_holds_is_asked_about() -> None:
    """In one line, or in two of one line together."""
    alone = order_response([{"line": 1, "quantity": 1_000_001, "unit": "H87"}])
    assert any("is more than 1,000,000 of" in line for line in faults(alone))
    together = order_response([{"line": 1, "quantity": 600_000, "unit": "H87"}] * 2)
    assert any("comes to more than 1,000,000 of" in line for line in faults(together))


def test_all_faults_are_told_at_once() -> None:
    lines = faults(
        order_response(
            [{"line": 98, "quantity": 1}, {"line": 99, "quantity": 1}, {"line": 1, "quantity": -1}]
        )
    )
    assert len(lines) == 3


@settings(max_examples=150, deadline=None)
@given(
    st.sampled_from(
        (
            order_response([{"line": 1, "quantity": 1, "unit": "XPX"}]),
            despatch_advice([{"line": 1, "quantity": 1}]),
        )
    ),
    st.integers(0, 10**6),
    st.binary(max_size=6),
    st.integers(0, 8),
)
def test_a_damaged_document_is_read_or_refused_and_never_more(
    content: bytes, at: int, more: bytes, less: int
) -> None:
    at %= len(content)
    with suppress(UnusableInput):
        answer_of(content[:at] + more + content[at + less :], "answer.xml", ORDER, NOTHING)


def test_a_line_of_an_order_that_orders_nothing_any_more_is_told_so() -> None:
    nothing = ORDER.model_copy(update={"truckloads": ()})
    with pytest.raises(UnusableInput) as refused:
        answer_of(order_response([{"line": 1, "quantity": 1}]), "a", nothing, NOTHING)
    assert "is no line of QY-3; it orders nothing: give the order that is answered" in str(refused.value)
