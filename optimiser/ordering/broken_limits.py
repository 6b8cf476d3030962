"""What breaks when deliveries come on these days: one finding a kind, with its days, how much, and a sentence.

It stands on the quantities of a plan as it is (`optimiser.ordering.dated_plan`) and leaves every other delivery where
it stands: the next plan may find days for those too, and keeps each limit at least as nearly.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from itertools import pairwise
from typing import Literal

from optimiser.errors.listed import listed
from optimiser.model.money import NOTHING, cents_of, from_cents, money_text, total_of
from optimiser.model.order import OrderLine
from optimiser.ordering.dated_plan import DatedPlan, Dates
from optimiser.ordering.delivery_days import loads_of
from optimiser.ordering.price_breaks import price_of
from optimiser.ordering.site_floor import shown_m2
from optimiser.tables.text import counted

Kind = Literal[
    "order date", "delivery day", "truck", "minimum order", "material", "delivery order", "storage"
]
_MANY = 4  # days and levels spelt out in a sentence


@dataclass(frozen=True)
class Broken:
    """One kind of finding: the days on which it is found, how much in all (days late, days, truckloads, cents, pieces
    missing, levels, floor's mm2 / parts: a measure to compare equal kinds by), and what it is in words."""

    kind: Kind
    days: tuple[date, ...]
    much: int
    says: str


@dataclass(frozen=True)
class Judged:
    """Dates of a plan, to be looked through on a day; of what is `ordered` no order date is missed but that of what
    shall come earlier."""

    dated: DatedPlan
    dates: Dates
    today: date
    ordered: bool = False
    order_days: dict[tuple[date, int], date] = field(default_factory=dict)  # found before; shared by a search

    def broken(self) -> tuple[Broken, ...]:
        """Everything that breaks, one finding a kind."""
        return tuple(self.findings())

    def findings(self) -> Iterator[Broken]:
        """As `broken`, one after the other, what is found quickly first."""
        yield from self._order_dates()
        yield from self._delivery_days()
        yield from self._trucks()
        yield from self._minimum_order()
        yield from self._delivery_order()
        yield from self._material()
        yield from self._storage()

    @cached_property
    def _by_day(self) -> dict[date, list[OrderLine]]:
        found: dict[date, list[OrderLine]] = defaultdict(list)
        for line, day in zip(self.dated.lines, self.dates.arrives, strict=True):
            found[day].append(line)
        return dict(sorted(found.items()))

    def packs_on(self, day: date) -> dict[str, int]:
        """The packs that arrive on a day, by product."""
        packs: dict[str, int] = defaultdict(int)
        for line in self._by_day.get(day, ()):
            packs[line.code] += line.packs
        return dict(packs)

    def loads(self) -> dict[date, int]:
        """The truckloads of each day on which something comes; 1 where no truck's size is given."""
        project, limits = self.dated.project, self.dated.limits
        return {day: loads_of(project, limits, self.packs_on(day)) for day in self._by_day}

    def order_by(self, lead_days: int, day: date) -> date:
        """By when that must be ordered which comes on a day."""
        if (day, lead_days) not in self.order_days:
            self.order_days[day, lead_days] = self.dated.calendar.before(day, lead_days)
        return self.order_days[day, lead_days]

    def _order_dates(self) -> Iterator[Broken]:
        late: dict[date, tuple[date, int]] = {}  # by day: the earliest order date, and the line that has it
        asked = set()
        for number, (day, planned) in enumerate(
            zip(self.dates.arrives, self.dated.planned.arrives, strict=True)
        ):
            lead = self.dated.lead_days[number]
            if (day, lead) in asked or (self.ordered and day >= planned):
                continue
            asked.add((day, lead))
            if (by := self.order_by(lead, day)) < self.today:
                late[day] = min(late.get(day, (by, number)), (by, number))
        if late:
            worst = min(late, key=lambda day: late[day])
            by, number = late[worst]
            line = self.dated.lines[number]
            passed = (self.today - by).days
            what = "would have had to be asked for" if self.ordered else "must be ordered"
            yield Broken(
                "order date",
                tuple(sorted(late)),
                sum((self.today - by).days for by, _ in late.values()),
                f"{line.code} for {line.level} {what} by {by} to come on {worst}: {counted(passed, 'day')} ago"
                f"{_more_days(late, worst)}.",
            )

    def _delivery_days(self) -> Iterator[Broken]:
        may_come = self.dated.delivery_days(self.dates)
        days = [day for day in self._by_day if may_come.on_or_before(day) != day]
        if days:
            yield Broken(
                "delivery day",
                tuple(days),
                len(days),
                f"No delivery comes on {days[0]}: {self._why_no_delivery(days[0])}{_more_days(days, days[0])}.",
            )

    def _why_no_delivery(self, day: date) -> str:
        limits = self.dated.limits
        if limits.crane_days:
            return "it is no crane day"
        if not self.dated.calendar.is_working_day(day):
            return "it is no working day"
        step = f"every {limits.every_days} days" if limits.every_days else "every week"
        weekday = f" on {limits.delivery_weekday}" if limits.delivery_weekday else ""
        return f"deliveries come {step}{weekday}, counted from the first"

    def _trucks(self) -> Iterator[Broken]:
        most = self.dated.limits.trucks_a_delivery
        if most is None:
            return
        over = {day: loads for day, loads in self.loads().items() if loads > most}
        if over:
            worst = max(over, key=lambda day: over[day])
            yield Broken(
                "truck",
                tuple(over),
                sum(loads - most for loads in over.values()),
                f"{counted(over[worst], 'truckload')} come on {worst} for {self._levels_on(worst)},"
                f" {over[worst] - most} more than the {most} of a day{_more_days(over, worst)}.",
            )

    def _minimum_order(self) -> Iterator[Broken]:
        least = self.dated.limits.minimum_order or NOTHING
        project = self.dated.project
        short = {}
        for day in self._by_day if least else ():
            amount = total_of(
                packs * price_of(project, code, packs) for code, packs in self.packs_on(day).items()
            )
            if amount < least:
                short[day] = cents_of(least) - cents_of(amount)
        if short:
            worst = max(short, key=lambda day: short[day])
            currency = project.project.currency
            yield Broken(
                "minimum order",
                tuple(short),
                sum(short.values()),
                f"What comes on {worst} for {self._levels_on(worst)} is worth {currency}"
                f" {money_text(least - from_cents(short[worst]))}, {currency} {money_text(from_cents(short[worst]))}"
                f" less than the minimum order of {currency} {money_text(least)}{_more_days(short, worst)}.",
            )

    def _delivery_order(self) -> Iterator[Broken]:
        against = [
            (later.level, earlier.level)
            for earlier, later in pairwise(self.dated.levels)
            if self.dates.needed[later.level] < self.dates.needed[earlier.level]
        ]
        if against:
            later, earlier = against[0]
            needed = self.dates.needed
            yield Broken(
                "delivery order",
                tuple(sorted(needed[level] for level, _ in against)),
                len(against),
                f"{later} is needed on {needed[later]}, before {earlier} on {needed[earlier]}, which comes first in the"
                " order of delivery: what is left of its boards would not be there"
                f"{f', and {len(against) - 1} more' if len(against) > 1 else ''}.",
            )

    def _material(self) -> Iterator[Broken]:
        """Levels that need more of a product by their day than has come: beyond what the plan lacks as it is."""
        known = {} if self.dates is self.dated.planned else self.dated.lacking_as_planned
        short = {
            key: number
            for key, number in self.dated.lacking(self.dates).items()
            if number > known.get(key, 0)
        }
        for line, at in zip(self.dated.lines, self.dates.arrives, strict=True):
            if at > self.dates.needed[line.level]:
                short.setdefault((line.level, line.code), min(line.needed, line.packs * line.per_pack))
        if short:
            (level, code), number = next(iter(short.items()))
            levels = tuple(dict.fromkeys(level for level, _ in short))
            more = f"; {listed(levels[1:], _MANY)} too" if len(levels) > 1 else ""
            yield Broken(
                "material",
                tuple(sorted({self.dates.needed[level] for level in levels})),
                sum(short.values()),
                f"{level} is fitted from {self.dates.needed[level]} on, before its material: {number:,} of {code} come"
                f" later{more}.",
            )

    def _storage(self) -> Iterator[Broken]:
        limits, parts = self.dated.limits, self.dated.floor.parts
        if limits.site_storage_m2 is None:
            return
        most = limits.site_storage_m2 * 10**6 * parts
        standing = self.dated.standing(self.dates, tuple(self._by_day))
        over = {day: area - most for day, area in standing.items() if area > most}
        if over:
            worst = max(over, key=lambda day: over[day])
            what = "of floor are taken by board" if limits.stacked else "of board stand on site"
            yield Broken(
                "storage",
                tuple(over),
                sum(over.values()),
                f"{shown_m2(over[worst] + most, parts)} m2 {what} on {worst}, {shown_m2(over[worst], parts)} m2 more"
                f" than the {limits.site_storage_m2} m2 that there is room for{_more_days(over, worst)}.",
            )

    def _levels_on(self, day: date) -> str:
        return listed(tuple(dict.fromkeys(line.level for line in self._by_day[day])), _MANY)


def much_of(found: Iterable[Broken]) -> Mapping[Kind, int]:
    """How much breaks, by kind."""
    return {one.kind: one.much for one in found}


def _more_days(days: Iterable[date], told: date) -> str:
    others = sorted(set(days) - {told})
    if not others:
        return ""
    return f"; the same on {listed(tuple(str(day) for day in others), _MANY)}"
