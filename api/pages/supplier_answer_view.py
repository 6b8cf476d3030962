"""A supplier's answer as its sheet shows it: what differs from the order, what that endangers, and what helps."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from api.pages.receiving_view import goods
from api.sending.answered_lines import AnsweredLine
from api.sending.answers import SupplierAnswer
from optimiser.model.money import total_of
from optimiser.model.plan import Plan
from optimiser.model.record import Event, Record
from optimiser.ordering.working_days import working_days_of
from optimiser.replanning.receiving import days_of


@dataclass(frozen=True)
class AnsweredRow:
    """A product for a level beside what was `ordered` (of goods that were sent: what is on record as ordered). `came`
    is what came of it in all, with this document; `short` what is ordered and will not be there, as far as record and
    document say; `reorder_by` the last day on which that can be ordered and still come in time, and `later` the levels
    after this one that bring the same."""

    line: AnsweredLine
    ordered: int
    needed_on: date | None
    per_pack: int
    pack_name: str
    came: int
    short: int
    reorder_by: date | None
    later: tuple[str, ...]

    @property
    def late(self) -> bool:
        """Whether the last of it is promised for a day after that on which it is needed."""
        promised = self.line.promised_on
        return promised is not None and self.needed_on is not None and promised > self.needed_on

    @property
    def early(self) -> bool:
        """Whether the last of it is promised for an earlier day than it was ordered for."""
        promised, ordered = self.line.promised_on, self.line.deliver_on
        return promised is not None and ordered is not None and promised < ordered

    @property
    def differs(self) -> bool:
        """Whether anything is other than it was ordered."""
        line = self.line
        return line.answered != line.ordered or bool(line.promised_on) or line.confirmed_price is not None


@dataclass(frozen=True)
class SupplierAnswerView:
    """What a document answers, row by row in the sequence of deliveries; `dearer` is what its prices make the order
    cost more, before tax."""

    answer: SupplierAnswer
    rows: tuple[AnsweredRow, ...]
    dearer: Decimal

    @property
    def confirms(self) -> bool:
        """Whether it confirms an order; else it says what was sent."""
        return self.answer.kind == "OrderResponse"

    @property
    def other(self) -> tuple[AnsweredRow, ...]:
        """The rows that are not as ordered; of what was sent all."""
        return tuple(row for row in self.rows if row.differs or not self.confirms)

    @property
    def short(self) -> tuple[AnsweredRow, ...]:
        """The rows of which too little will be there."""
        return tuple(row for row in self.rows if row.short)

    @property
    def late(self) -> tuple[AnsweredRow, ...]:
        """The rows that are promised for later than they are needed."""
        return tuple(row for row in self.rows if row.late)

    @property
    def early(self) -> tuple[AnsweredRow, ...]:
        """The rows that come earlier than they were ordered for."""
        return tuple(row for row in self.rows if row.early)


def supplier_answer_view(plan: Plan, record: str, answer: SupplierAnswer) -> SupplierAnswerView:
    """An answer to the order of a plan beside the `record` of its job, which is JSON text and holds nothing of the
    answer yet, or all of it."""
    told = Record.model_validate({"events": json.loads(record)})
    after = told.with_events(tuple(Event.model_validate(one) for one in json.loads(answer.events)))
    came = {(level.level, line.code): line for level in goods(plan, after) for line in level.lines}
    in_order = [level.level for level in plan.project.levels_in_order()]
    place = {level: number for number, level in enumerate(in_order)}
    ordered = {
        (event.level, event.code) for event in after.standing if event.event == "ordered" and event.quantity
    }
    building, calendar = plan.project.building, working_days_of(plan.project.project.country)

    def row(line: AnsweredLine) -> AnsweredRow:
        product, level = building.products[line.code], building.levels.get(line.level)
        received = came.get((line.level, line.code))
        counted = None if answer.kind == "OrderResponse" else received
        return AnsweredRow(
            line=line,
            ordered=counted.ordered if counted else line.ordered,
            needed_on=None if level is None else level.needed_on,
            per_pack=product.per_pack,
            pack_name=product.pack_name or "pack",
            came=received.came if received else 0,
            short=counted.short if counted else line.short,
            reorder_by=days_of(plan.project, line.level, product, calendar)[1],
            later=tuple(
                one for one in in_order[place.get(line.level, -1) + 1 :] if (one, line.code) in ordered
            ),
        )

    trade = {product.code: number for number, product in enumerate(building.in_trade_order)}
    lines = sorted(
        answer.lines,
        key=lambda line: (place.get(line.level, len(place)), trade.get(line.code, len(trade))),
    )
    return SupplierAnswerView(
        answer, tuple(row(line) for line in lines), total_of(line.dearer for line in lines)
    )
