"""What a supplier answers, product by product and level by level, beside what was ordered.

How many are answered is read from the events that follow from the document, so that this says what the record will
say; the days and prices, which make no events, are read from the document's lines.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from pydantic import BaseModel, ConfigDict, Field

from optimiser.errors.problems import ProblemList
from optimiser.model.answer import Answer
from optimiser.model.money import Money, MoneyDifference, total_of
from optimiser.model.purchase_order import OrderedLine, PurchaseOrder
from optimiser.model.record import Record
from optimiser.reading.order_response import Goods, number_of, pack_price, promised_day
from optimiser.reading.ubl_document import root_of


class AnsweredLine(BaseModel):
    """One product for one level, counted singly, as it was ordered and as the supplier answers."""

    model_config = ConfigDict(
        frozen=True,
        json_schema_extra={
            "example": {
                "level": "L02", "code": "K-110", "lines": [2], "ordered": 75, "answered": 50,
                "deliver_on": "2027-02-22", "promised_on": "2027-03-01", "price": "108.00", "confirmed_price": None,
                "dearer": "0.00",
            }
        },
    )  # fmt: skip
    level: str
    code: str
    lines: list[int] = Field(description="The numbers of the order's lines that order it for this level.")
    ordered: int = Field(description="Boards, brackets, anchors or rolls that were ordered.")
    answered: int = Field(
        description="How many of them are confirmed; of a despatch advice, how many it sent."
    )
    deliver_on: date | None = Field(description="When the last of it was to come; null: to be agreed.")
    promised_on: date | None = Field(
        description="When the last of it is promised, where that is another day than was ordered; else null."
    )
    price: Money | None = Field(
        description="The price of a pack as ordered; null where no line orders it now."
    )
    confirmed_price: Money | None = Field(
        description="The price that is confirmed, where that is another; else null."
    )
    dearer: MoneyDifference = Field(
        description="What the packs that were ordered cost more at it; below nought where less."
    )

    @property
    def short(self) -> int:
        """How many fewer are answered than were ordered."""
        return max(0, self.ordered - self.answered)


@dataclass(frozen=True)
class Terms:
    """What a response confirms of a line of the order: its day and the price of a pack; None: as ordered."""

    day: date | None
    price: Decimal | None


def answered_lines(
    order: PurchaseOrder, told: Record, answer: Answer, document: bytes
) -> tuple[AnsweredLine, ...]:
    """Every product of every level that a response answers, or that a despatch advice sends, in the order's sequence.

    `told` is the record before the answer, `document` the bytes that `answer` was read from without a fault.
    """
    ordered = _ordered(order)
    if answer.kind == "OrderResponse":
        after: Counter[Goods] = Counter()
        for event in told.with_events(answer.events).standing:
            if event.event == "ordered":
                after[event.level, event.code] += event.quantity or 0
        answered: Mapping[Goods, int] = {goods: after[goods] for goods in ordered}
    else:
        sent: Counter[Goods] = Counter()
        for event in answer.events:
            sent[event.level, event.code] += event.quantity or 0
        answered = sent
    terms = _terms(document) if answer.kind == "OrderResponse" else {}
    return tuple(
        _line(order, goods, ordered.get(goods, 0), number, terms)
        for goods, number in answered.items()
        if number or ordered.get(goods, 0)
    )


def _ordered(order: PurchaseOrder) -> Counter[Goods]:
    """Single units by level and product: those of the order's lines, and those that were on order beside it."""
    found: Counter[Goods] = Counter()
    for line in order.lines:
        for level, packs in line.packs_for.items():
            found[level, line.code] += packs * line.per_pack
    for code, by_level in order.ordered_besides.items():
        for level, number in by_level.items():
            found[level, code] += number
    return found


def _line(
    order: PurchaseOrder, goods: Goods, ordered: int, answered: int, terms: Mapping[int, Terms]
) -> AnsweredLine:
    level, code = goods
    lines = [
        (line, load.deliver_on)
        for load in order.truckloads
        for line in load.lines
        if line.code == code and level in line.packs_for
    ]
    days = [day for _, day in lines]
    promised = [_terms_of(line, terms).day or day for line, day in lines]
    changed = [
        (line, price)
        for line, _ in lines
        if (price := _terms_of(line, terms).price) is not None and price != line.price
    ]
    return AnsweredLine(
        level=level,
        code=code,
        lines=[line.number for line, _ in lines],
        ordered=ordered,
        answered=answered,
        deliver_on=_last(days),
        promised_on=_last(promised) if answered and promised != days else None,
        price=changed[0][0].price if changed else lines[0][0].price if lines else None,
        confirmed_price=changed[0][1] if changed else None,
        dearer=total_of((price - line.price) * line.packs_for[level] for line, price in changed),
    )


def _terms_of(line: OrderedLine, terms: Mapping[int, Terms]) -> Terms:
    return terms.get(line.number, Terms(None, None))


def _last(days: Iterable[date | None]) -> date | None:
    """The last of some days; None where one of them is open, or there is none."""
    known = list(days)
    return max((day for day in known if day is not None), default=None) if None not in known else None


def _terms(document: bytes) -> dict[int, Terms]:
    """The terms of a response's lines by their numbers in the order; of a line that is answered in parts, the last
    day and the highest price."""
    found: dict[int, Terms] = {}
    for number, terms in _terms_of_parts(document):
        before = found.get(number, terms)
        found[number] = Terms(
            max(filter(None, (before.day, terms.day)), default=None),
            max((price for price in (before.price, terms.price) if price is not None), default=None),
        )
    return found


def _terms_of_parts(document: bytes) -> Iterator[tuple[int, Terms]]:
    _, root = root_of(document, "the document", ("OrderResponse",), ProblemList())
    for part in root.parts("cac:OrderLine"):
        item = part.part("cac:LineItem")
        if item is None:
            continue
        price = pack_price(item)
        if price is not None and price * 100 != int(price * 100):
            price = None
        yield int(number_of(part, item)), Terms(promised_day(item), price)
