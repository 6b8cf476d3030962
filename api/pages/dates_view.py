"""The delivery dates of a plan to move: each delivery on a time line, and what would break on the days asked for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

from markupsafe import Markup

from api.pages import words
from api.pages.dates_chart import Frame, dates_chart
from optimiser.ordering.broken_limits import Broken, Judged, Kind
from optimiser.ordering.dated_plan import DatedPlan, Dates
from optimiser.ordering.delivery_days import grams_of
from optimiser.ordering.fitting_days import FittingDay, Moved, fitting_days
from optimiser.ordering.site_floor import to_the_gram
from optimiser.ordering.working_days import ONE_DAY

FURTHEST_DAYS = 730
"""How far from its planned day a delivery may be asked for."""
ROW = 26
_HEAD = 34
_AROUND = timedelta(days=10)

HEADINGS: dict[Kind, str] = {
    "order date": "Order date passed",
    "delivery day": "No delivery that day",
    "truck": "Too many truckloads",
    "minimum order": "Below the minimum order",
    "delivery order": "Against the order of delivery",
    "material": "Fitted before its material",
    "storage": "No room on site",
}


@dataclass(frozen=True)
class DeliveryRow:
    """A delivery on its row: what it brings, its days, and where they lie on the time line."""

    place: int  # in the plan's list, from 1
    levels: str
    planned: date
    day: date
    order_by: date
    boards: int
    packs: int
    loads: int | None  # None where no truck's size is given
    weight_kg: Decimal | None
    standing_mm2: int
    order_x: float
    planned_x: float
    day_x: float
    y: int
    late: bool

    @property
    def moved(self) -> bool:
        """Whether it was asked for on another day than the plan has."""
        return self.day != self.planned

    @property
    def brings(self) -> str:
        """'12 boards, 8 packs, 1,720 kg, 2 loads'."""
        parts = [words.count(self.boards, "board")] if self.boards else []
        parts.append(words.count(self.packs, "pack"))
        parts += [f"{round(self.weight_kg):,} kg"] if self.weight_kg is not None else []
        parts += [words.count(self.loads, "load")] if self.loads is not None else []
        return ", ".join(parts)


@dataclass(frozen=True)
class Tick:
    """A Monday, or a month's first day where weeks are narrow."""

    x: float
    label: str


@dataclass(frozen=True)
class Closed:
    """Days on which no delivery may come."""

    x: float
    width: float


@dataclass(frozen=True)
class Problem:
    """A kind of what breaks, under its heading; `new` where the plan's own dates do not break it as much."""

    heading: str
    says: str
    new: bool


@dataclass(frozen=True)
class DatesView:
    """The page: the rows, the time line they lie on, and what was found for the days asked for."""

    rows: tuple[DeliveryRow, ...]
    frame: Frame
    ticks: tuple[Tick, ...]
    closed: tuple[Closed, ...]
    today_x: float | None
    height: int
    chart: Markup
    chosen: DeliveryRow | None
    moved: tuple[DeliveryRow, ...]
    needs: tuple[tuple[str, date, date], ...]  # level, needed on as planned, needed on now
    problems: tuple[Problem, ...]
    fits: tuple[FittingDay, ...]

    @property
    def row(self) -> int:
        """The height of a row."""
        return ROW


@dataclass(frozen=True)
class Asked:
    """The days asked for: by a delivery's place from 1, in the order in which they were asked; the last one is
    answered. `chosen` is the delivery whose day is typed next (0: none)."""

    days: Mapping[int, date]
    chosen: int = 0


def dates_of(dated: DatedPlan, asked: Asked) -> tuple[Dates, Dates]:
    """The dates before the last delivery was moved, and with it. Raises ValueError for what cannot be asked for."""
    before = dates = dated.planned
    for place, day in asked.days.items():
        if not 1 <= place <= len(dated.brought):
            raise ValueError(f"The plan has no delivery {place}.")
        planned = dated.day_of(dated.planned, place - 1)
        if abs((day - planned).days) > FURTHEST_DAYS:
            raise ValueError(f"{day} is more than two years from {planned}, the day as planned.")
        before, dates = dates, dated.moved(dates, place - 1, day)
    return before, dates


def dates_view(dated: DatedPlan, asked: Asked, today: date, *, ordered: bool) -> DatesView:
    """The page for these days. Raises ValueError for what cannot be asked for."""
    before, dates = dates_of(dated, asked)
    judged = Judged(dated, dates, today, ordered)
    broken = judged.broken()
    own = {one.kind: one.much for one in Judged(dated, dated.planned, today, ordered).broken()}
    fits: tuple[FittingDay, ...] = ()
    if asked.days and broken:
        place, day = list(asked.days.items())[-1]
        fits = fitting_days(Moved(dated, before, place - 1, day, today, ordered))
    frame = _frame(dated, dates)
    rows = _rows(dated, judged, frame, today, ordered)
    needs = dated.changed_needs(dates)
    return DatesView(
        rows,
        frame,
        _ticks(frame),
        _closed(dated, dates, frame),
        frame.x(today) if frame.first <= today <= frame.last else None,
        _HEAD + len(rows) * ROW + 6,
        dates_chart(dated, judged, frame),
        next((row for row in rows if row.place == asked.chosen), None),
        tuple(row for row in rows if row.moved),
        tuple((level, dated.planned.needed[level], day) for level, day in needs.items()),
        tuple(_problem(one, own) for one in broken),
        fits,
    )


def _problem(one: Broken, own: Mapping[Kind, int]) -> Problem:
    return Problem(HEADINGS[one.kind], one.says, one.much > own.get(one.kind, 0))


def _frame(dated: DatedPlan, dates: Dates) -> Frame:
    """From the first order date to the last arrival, planned and moved ones, with some days around them."""
    days = [*dated.planned.arrives, *dates.arrives]
    orders = [line.order_by for line in dated.lines if line.order_by is not None]
    return Frame.of(min(days + orders) - _AROUND, max(days) + _AROUND)


def _rows(
    dated: DatedPlan, judged: Judged, frame: Frame, today: date, ordered: bool
) -> tuple[DeliveryRow, ...]:
    project, limits = dated.project, dated.limits
    sized = limits.truck_pallets is not None or limits.truck_payload_kg is not None
    unweighed = {product.code for product in project.products if product.weight_kg is None}
    loads = judged.loads()
    standing = dated.standing(judged.dates, sorted(set(judged.dates.arrives)))
    boards = project.building.boards
    found = []
    for number, here in enumerate(dated.brought):
        lines = [dated.lines[line] for line in here]
        day = dated.day_of(judged.dates, number)
        planned = dated.day_of(dated.planned, number)
        packs = {line.code: 0 for line in lines}
        for line in lines:
            packs[line.code] += line.packs
        by = min(judged.order_by(dated.lead_days[line], day) for line in here)
        names = list(dict.fromkeys(line.level for line in lines))
        weighed = not unweighed & (packs.keys() & boards.keys()) and bool(packs.keys() & boards.keys())
        found.append(
            DeliveryRow(
                number + 1,
                names[0] if len(names) == 1 else f"{names[0]}\N{EN DASH}{names[-1]}",
                planned,
                day,
                by,
                sum(line.packs * line.per_pack for line in lines if line.code in boards),
                sum(packs.values()),
                loads[day] if sized else None,
                to_the_gram(Fraction(grams_of(project, packs), 1000)) if weighed else None,
                -(-max(0, standing[day]) // dated.floor.parts),
                frame.x(max(by, frame.first)),
                frame.x(planned),
                frame.x(day),
                _HEAD + number * ROW,
                by < today and not (ordered and day >= planned),
            )
        )
    return tuple(found)


def _ticks(frame: Frame) -> tuple[Tick, ...]:
    """Mondays where there is room for their dates, else the first days of months."""
    days = [frame.first + ONE_DAY * count for count in range((frame.last - frame.first).days + 1)]
    weekly = frame.a_day * 7 >= 48
    chosen = [day for day in days if (day.weekday() == 0 if weekly else day.day == 1)]
    return tuple(
        Tick(frame.x(day), words.short_day(day) if weekly else f"{day:%b %Y}")
        for day in chosen
        if frame.x(day) < frame.width - 60
    )


def _closed(dated: DatedPlan, dates: Dates, frame: Frame) -> tuple[Closed, ...]:
    """Stretches of days on which no delivery may come."""
    may_come = dated.delivery_days(dates)
    found: list[Closed] = []
    start: date | None = None
    day = frame.first
    while day <= frame.last + ONE_DAY:
        closed = day <= frame.last and may_come.on_or_before(day) != day
        if closed and start is None:
            start = day
        elif not closed and start is not None:
            x = frame.x(start) - frame.a_day / 2
            found.append(Closed(round(x, 1), round(frame.x(day) - frame.a_day / 2 - x, 1)))
            start = None
        day += ONE_DAY
    return tuple(found)
