"""What stands on site and how many trucks come, day by day, on the time axis of the delivery dates."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from markupsafe import Markup

from api.pages.charts import TEXT
from optimiser.ordering.broken_limits import Judged
from optimiser.ordering.dated_plan import DatedPlan
from optimiser.writing.drawing.charts import Chart, Scale, round_ticks, shown_number

LEFT, RIGHT = 44.0, 230.0
_LEAST_WIDTH = 1180.0
_LEAST_A_DAY = 5.0
_PANEL = 104.0  # height of the storage; half of it is that of the trucks
_GAP = 30.0


@dataclass(frozen=True)
class Frame:
    """The days that are shown, the width they are shown on, and that of one day, in CSS pixels."""

    first: date
    last: date
    width: float
    a_day: float

    @classmethod
    def of(cls, first: date, last: date) -> Frame:
        """Days as wide as the page, and never so narrow that one cannot be told from the next."""
        count = max(1, (last - first).days)
        a_day = max(_LEAST_A_DAY, (_LEAST_WIDTH - LEFT - RIGHT) / count)
        return cls(first, last, round(LEFT + RIGHT + a_day * count), a_day)

    def x(self, day: date) -> float:
        """Where a day lies."""
        return round(LEFT + (day - self.first).days * self.a_day, 1)


def dates_chart(dated: DatedPlan, judged: Judged, frame: Frame) -> Markup:
    """Storage as steps against its limit, and the truckloads of each day against theirs."""
    limits = dated.limits
    steps = dated.steps(judged.dates)
    room, most_loads = limits.site_storage_m2, limits.trucks_a_delivery
    loads = judged.loads()
    told = "; ".join(f"{step.day}: {step.area_mm2 / 1e6:.1f} m2" for step in steps)
    coming = "; ".join(f"{day}: {number}" for day, number in loads.items())
    top = 22.0
    height = top + _PANEL + _GAP + _PANEL / 2 + 14
    chart = Chart(frame.width, height, "Board on site and truckloads, day by day", f"{told}. Loads: {coming}")
    peak = max([step.area_mm2 / 1e6 for step in steps] + ([float(room)] if room is not None else []))
    ticks = round_ticks(0, max(1.0, peak), most=3)
    up = Scale(0, ticks[-1], top + _PANEL, top)
    right = frame.x(frame.last)
    what = "floor taken by board, m2" if limits.stacked else "board on site, m2 of face area"
    chart.text(LEFT, top - 8, what, TEXT, bold=True)
    for tick in ticks:
        chart.line([(LEFT, up.at(tick)), (right, up.at(tick))], "#cccccc", name="grid")
        chart.text(LEFT - 5, up.at(tick) + 4, shown_number(tick), TEXT, "end")
    points = [(LEFT, up.at(0))]
    for step in steps:
        points += [(frame.x(step.day), points[-1][1]), (frame.x(step.day), up.at(step.area_mm2 / 1e6))]
    chart.line([*points, (right, points[-1][1])], width=1.6, name="standing")
    if room is not None:
        chart.line([(LEFT, up.at(room)), (right, up.at(room))], dash="6 3", width=1.2, name="room")
        chart.text(right + 4, up.at(room) + 4, f"room for {room:,} m2", TEXT)
    _loads(chart, frame, loads, most_loads, top + _PANEL + _GAP)
    return Markup(chart.svg("dates-chart"))


def _loads(chart: Chart, frame: Frame, loads: dict[date, int], most: int | None, top: float) -> None:
    """The truckloads of each day; those of a day with too many are dark."""
    foot, right = top + _PANEL / 2, frame.x(frame.last)
    ticks = round_ticks(0, max([*loads.values(), most or 1]), most=2, whole=True)
    up = Scale(0, ticks[-1], foot, top)
    chart.text(LEFT, top - 8, "truckloads a day", TEXT, bold=True)
    for tick in ticks:
        chart.line([(LEFT, up.at(tick)), (right, up.at(tick))], "#cccccc", name="grid")
        chart.text(LEFT - 5, up.at(tick) + 4, shown_number(tick), TEXT, "end")
    width = max(3.0, frame.a_day * 0.8)
    for day, number in loads.items():
        shade = "#404040" if most is not None and number > most else "#cfcfcf"
        chart.bar(
            frame.x(day) - width / 2, up.at(number), width, foot - up.at(number), shade,
            "loads over" if shade == "#404040" else "loads",
        )  # fmt: skip
    chart.line([(LEFT, foot), (right, foot)], name="axis")
    if most is not None:
        chart.line([(LEFT, up.at(most)), (right, up.at(most))], dash="6 3", width=1.2, name="most")
        chart.text(right + 4, up.at(most) + 4, f"at most {most:,} a day", TEXT)
