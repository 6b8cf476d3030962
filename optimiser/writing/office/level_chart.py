"""The boards of each delivery as a chart: how many arrive, how many stand on site then, how many are used.

Greys and hatching only, each bar with its number, so that it reads as well in print.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Literal

from optimiser.model.plan import Plan
from optimiser.ordering.site_storage import Standing, standing_over_time
from optimiser.writing.drawing.charts import Chart, Scale, round_ticks, shown_number
from optimiser.writing.drawing.shapes import SMALLEST_TEXT, wrapped
from optimiser.writing.words import counted, square_metres

Bar = Literal["arriving", "standing", "used"]

LOOKS: dict[Bar, tuple[str, str]] = {
    "arriving": ("#ffffff", "arriving"),
    "standing": ("#b5b5b5", "standing on site when they have arrived"),
    "used": ("#404040", "used"),
}
_NOTE = (
    "Below each day: the level that uses its boards then, and the board face area on site (uncut boards, remainders"
    " that wait, stock, and left-overs of use to a later level)."
)
_IN_BRACKETS = "A level in brackets: a forecast, not measured yet."
_COLUMN, _BAR, _LEFT, _RIGHT, _TOP, _PLOT = 58.0, 16.0, 46.0, 20.0, 70.0, 226.0
_BELOW_PLOT = 58.0  # of a row: day, levels, area, and a space
_LINE = 11.0  # from one line of words to the next
_NARROWEST = 420.0
_IN_A_ROW = 15  # deliveries side by side; more are too small on a page


def level_chart_svg(plan: Plan) -> str:
    """The chart as an SVG document; numbers of boards, and the board face area on site in m2."""
    moments = standing_over_time(
        plan.project, plan.pieces, plan.layouts, plan.usable_left_over or (), plan.order
    )
    rows = [moments[start : start + _IN_A_ROW] for start in range(0, len(moments), _IN_A_ROW)] or [moments]
    width = max(_NARROWEST, _LEFT + _RIGHT + _COLUMN * len(rows[0]))
    name = plan.project.project.name or "Order"
    planned = {piece.level for piece in plan.pieces}
    forecast = frozenset(level.level for level in plan.levels if level.status == "forecast")
    called = {level: f"({level})" if level in forecast else level for level in planned}
    notes = wrapped(_NOTE, width - _LEFT - _RIGHT, SMALLEST_TEXT)
    if forecast & planned:
        notes += wrapped(_IN_BRACKETS, width - _LEFT - _RIGHT, SMALLEST_TEXT)
    bottom = 18 + _LINE * len(notes)
    height = _TOP + len(rows) * (_PLOT + _BELOW_PLOT) + bottom - 14
    chart = Chart(width, height, f"Boards by delivery: {name}", _in_words(plan, moments))
    chart.text(_LEFT, 20, "Boards arriving, standing and used", 12, bold=True)
    chart.text(_LEFT, 35, f"{name}; staging '{plan.staging}'", 8.5)
    highest = max((_largest(moment) for moment in moments), default=1)
    ticks = round_ticks(0, max(1, highest), whole=True)
    _legend(chart, height - bottom + 12, notes)
    for number, row in enumerate(rows):
        _row(chart, row, ticks, _TOP + number * (_PLOT + _BELOW_PLOT), width, called)
    if not moments:
        chart.text(width / 2, height / 2, "no boards are ordered or used", 9, "middle")
    return chart.svg("levels")


def _row(
    chart: Chart,
    moments: Sequence[Standing],
    ticks: Sequence[float],
    top: float,
    width: float,
    called: Mapping[str, str],
) -> None:
    """Deliveries side by side over one axis; all rows have the same scale."""
    scale = Scale(0, ticks[-1], top + _PLOT, top)
    for tick in ticks:
        y = scale.at(tick)
        chart.line([(_LEFT, y), (width - _RIGHT, y)], "#cccccc", name="grid")
        chart.text(_LEFT - 6, y + 3, shown_number(tick), 8, "end")
    chart.text(14, top + _PLOT / 2, "boards", 8.5, "middle", turned=True)
    for number, moment in enumerate(moments):
        _column(chart, scale, _LEFT + _COLUMN * (number + 0.5), moment, called)
    chart.line([(_LEFT, scale.start), (width - _RIGHT, scale.start)], width=1.0, name="axis")


def _column(chart: Chart, scale: Scale, middle: float, moment: Standing, called: Mapping[str, str]) -> None:
    for place, (kind, number) in enumerate(_bars(moment)):
        x = middle + (place - 1.5) * _BAR
        top = scale.at(number)
        if number:
            chart.bar(x, top, _BAR, scale.start - top, LOOKS[kind][0], kind)
        chart.text(x + _BAR / 2, top - 3, str(number), 7, "middle", halo=True)
    below = scale.start
    day = moment.day.strftime("%d %b") if moment.day else "no day"
    levels = [called[level] for level in moment.levels if level in called]
    shown = " ".join(levels) if len(levels) < 3 else f"{levels[0]} to {levels[-1]}"
    chart.text(middle, below + 13, day, 8, "middle")
    chart.text(middle, below + 25, shown[:11] if shown else "-", 8, "middle", bold=True)
    chart.text(middle, below + 37, f"{moment.standing_mm2 / 1e6:,.1f} m2", 7.5, "middle")


def _bars(moment: Standing) -> tuple[tuple[Bar, int], ...]:
    return (
        ("arriving", moment.arriving_boards),
        ("standing", moment.standing_boards),
        ("used", moment.used_boards),
    )


def _largest(moment: Standing) -> int:
    return max(number for _, number in _bars(moment))


def _legend(chart: Chart, below: float, notes: Sequence[str]) -> None:
    x = _LEFT
    for grey, words in LOOKS.values():
        chart.bar(x, 45, 10, 9, grey, "key")
        chart.text(x + 14, 53, words, 8)
        x += 30 + 4.6 * len(words)
    for number, note in enumerate(notes):
        chart.text(_LEFT, below + _LINE * number, note, SMALLEST_TEXT)


def _in_words(plan: Plan, moments: Sequence[Standing]) -> str:
    """What the chart shows, for those who cannot see it."""
    forecast = {level.level for level in plan.levels if level.status == "forecast"}

    def called(level: str) -> str:
        return f"{level}, forecast" if level in forecast else level

    said = [
        f"{moment.day or 'no day'} ({', '.join(map(called, moment.levels)) or 'no level'}):"
        f" {counted(moment.arriving_boards, 'board')} arriving,"
        f" {moment.standing_boards:,} standing, {moment.used_boards:,} used,"
        f" {square_metres(moment.standing_mm2)} of board on site"
        for moment in moments
    ]
    return f"Boards by delivery, staging {plan.staging}. {'; '.join(said) or 'No boards'}."
