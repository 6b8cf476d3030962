"""What a supplier answers, product by product and level by level, beside what was ordered."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest

from api.sending.answered_lines import AnsweredLine, answered_lines
from optimiser.model.purchase_order import OrderedLine, PurchaseOrder
from optimiser.model.record import Event, Record
from optimiser.reading.supplier_answer import answer_of
from tests.builders.supplier_documents import despatch_advice, order_response
from tests.builders.supplier_job import first_order


@pytest.fixture(scope="module")
def order() -> PurchaseOrder:
    return first_order()


def answered(order: PurchaseOrder, document: bytes, told: Record | None = None) -> list[AnsweredLine]:
    told = told or Record()
    return list(answered_lines(order, told, answer_of(document, "it", order, told), document))


def of(lines: list[AnsweredLine], level: str) -> AnsweredLine:
    """The answer for the brackets of a level that line 2 brings."""
    (found,) = (one for one in lines if (one.code, one.level) == ("K-110", level))
    return found


@pytest.fixture(scope="module")
def brackets(order: PurchaseOrder) -> OrderedLine:
    """Line 2: three packs of 25 brackets, two for L01 and one for L02, and no other line brings these levels any."""
    (line,) = (line for line in order.lines if line.number == 2)
    assert (line.code, line.per_pack, line.packs_for) == ("K-110", 25, {"L01": 2, "L02": 1})
    return line


def day_of(order: PurchaseOrder, line: OrderedLine) -> date:
    (day,) = (load.deliver_on for load in order.truckloads if line in load.lines)
    assert day is not None
    return day


def test_what_no_line_names_is_as_it_was_ordered(order: PurchaseOrder) -> None:
    lines = answered(order, order_response())
    goods = {(level, line.code) for line in order.lines for level in line.levels}
    assert {(line.level, line.code) for line in lines} == goods
    for line in lines:
        assert (line.answered, line.promised_on, line.confirmed_price) == (line.ordered, None, None)
        assert line.dearer == 0
    assert sum(line.ordered for line in lines) == sum(line.packs * line.per_pack for line in order.lines)


def test_fewer_on_another_day_at_another_price_are_each_told(
    order: PurchaseOrder, brackets: OrderedLine
) -> None:
    day = day_of(order, brackets)
    later, dearer = day + timedelta(days=9), brackets.price + 5
    lines = answered(order, order_response([{"line": 2, "quantity": 2, "day": later, "price": dearer}]))
    first, second = of(lines, "L01"), of(lines, "L02")
    assert (first.ordered, first.answered, first.short) == (50, 50, 0), "the first level is served first"
    assert (second.ordered, second.answered, second.short) == (25, 0, 25)
    assert (first.promised_on, second.promised_on) == (later, None), (
        "nothing is promised of what does not come"
    )
    for told in (first, second):
        assert (told.lines, told.deliver_on) == ([2], day)
        assert (told.price, told.confirmed_price) == (brackets.price, dearer)
    assert (first.dearer, second.dearer) == (10, 5)


def test_a_line_that_comes_in_two_parts_counts_both_and_is_there_with_the_last(
    order: PurchaseOrder, brackets: OrderedLine
) -> None:
    day = day_of(order, brackets)
    later = day + timedelta(days=7)
    parts = [{"line": 2, "quantity": 1, "day": day}, {"line": 2, "quantity": 2, "day": later}]
    told = of(answered(order, order_response(parts)), "L02")
    assert (told.short, told.promised_on) == (0, later)


def test_of_a_refused_order_nothing_is_answered(order: PurchaseOrder) -> None:
    lines = answered(order, order_response(code="RE"))
    assert [line.answered for line in lines] == [0] * len(lines)
    assert all(line.short == line.ordered > 0 for line in lines)


def test_a_cheaper_price_makes_the_order_cheaper_and_one_of_parts_of_a_cent_is_left_to_the_remarks(
    order: PurchaseOrder, brackets: OrderedLine
) -> None:
    def at(price: Decimal) -> AnsweredLine:
        return of(answered(order, order_response([{"line": 2, "quantity": 3, "price": price}])), "L01")

    assert at(brackets.price - 1).dearer == -2
    odd = at(brackets.price + Decimal("0.005"))
    assert (odd.confirmed_price, odd.dearer) == (None, 0)


def test_a_despatch_advice_lists_what_it_sent_and_nothing_else(
    order: PurchaseOrder, brackets: OrderedLine
) -> None:
    document = despatch_advice([{"line": 2, "quantity": 1}])
    lines = answered(order, document)
    assert [(one.code, one.level) for one in lines] == [("K-110", "L01")]
    assert (lines[0].answered, lines[0].short) == (25, 25)
    assert (lines[0].promised_on, lines[0].confirmed_price) == (None, None)

    known = answer_of(document, "it", order, Record()).events
    assert answered(order, document, Record(events=known)) == lines, "read again it says the same"
    come = Event(at=known[0].at, event="delivered", level="L01", code="K-110", quantity=40, id="by hand")
    rest = answered(order, document, Record(events=(come,)))
    assert [(one.level, one.answered) for one in rest] == [("L01", 10), ("L02", 15)]
