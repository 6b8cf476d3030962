"""Scenarios drawn: scrap against the gap as steps, and cost against waiting or against deliveries with its frontier."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from optimiser.model.scenario import Scenario
from optimiser.studies.scenario_result import Against, ScenarioComparison, ScenarioResult
from optimiser.tables.amounts import grouped_money
from optimiser.writing.drawing.charts import LINE_STYLES, Chart, Scale, round_ticks, shown_number

WIDTH, LEFT, RIGHT = 760.0, 78.0, 14.0
PANEL, TOP, BELOW = 250.0, 60.0, 62.0
_LETTER, _LINE = 5.2, 11.0  # how wide a letter of a label is at the most, and how high a line

Point = tuple[int, float]
"""A gap in mm, and the share of the board that is scrap there in per cent."""

_MEASURES: Mapping[Against, str] = {
    "waiting_piece_stages": "waiting, pieces times deliveries",
    "deliveries": "deliveries",
}
_TITLES: Mapping[Against, str] = {
    "waiting_piece_stages": "Cost against waiting",
    "deliveries": "Cost against deliveries",
}


def gap_series(found: ScenarioComparison) -> dict[str, list[Point]]:
    """By what else differs, the gaps that were compared and the scrap there; only where there are two gaps or more."""
    series: dict[str, list[Point]] = {}
    for result in found.results:
        if result.scenario.gap_mm is None or not result.whole or result.figures is None:
            continue
        series.setdefault(_without_gap(result.scenario), []).append(
            (result.scenario.gap_mm, 100 * result.figures.scrap_fraction)
        )
    return {words: sorted(points) for words, points in series.items() if len(points) > 1}


def _without_gap(scenario: Scenario) -> str:
    return scenario.model_copy(update={"gap_mm": None}).words


def gap_steps_svg(found: ScenarioComparison, name: str) -> str:
    """Scrap against the gap as an SVG document, '' where no two gaps were compared; `name` is the building's."""
    series = gap_series(found)
    if not series:
        return ""
    several = len(series) > 1
    top = TOP + (14.0 * len(series) if several else 0.0)
    title = f"Scrap against the gap: {name}" if name else "Scrap against the gap"
    told = "; ".join(
        f"{words}: {', '.join(f'{gap} mm {share:.1f} %' for gap, share in points)}"
        for words, points in series.items()
    )
    chart = Chart(WIDTH, top + PANEL + BELOW, title, f"Step lines of scrap against the gap. {told}.")
    chart.text(LEFT, 22, title, size=12, bold=True)
    chart.text(LEFT, 38, "Scrap is the share of the board area that is neither fitted nor kept.", 8.5)
    gaps = sorted({gap for points in series.values() for gap, _ in points})
    shares = round_ticks(0.0, max(1.0, *(share for points in series.values() for _, share in points)), most=6)
    across = Scale(gaps[0] - 0.5, gaps[-1] + 0.5, LEFT, WIDTH - RIGHT)
    up = Scale(0.0, shares[-1], top + PANEL, top)
    _grid(chart, up, shares, " %", "scrap, % of board")
    for gap in _apart(gaps, across, 26):
        chart.line([(across.at(gap), up.start), (across.at(gap), up.start + 4)], name="tick")
        chart.text(across.at(gap), up.start + 14, str(gap), anchor="middle")
    for number, (words, points) in enumerate(series.items()):
        style = LINE_STYLES[number % len(LINE_STYLES)]
        chart.line(_steps(points, across, up), *style, name="scenario-steps")
        for gap, share in points:
            chart.disc(across.at(gap), up.at(share), 2.2, "compared")
        if several:
            y = 54.0 + 14 * number
            chart.line([(LEFT, y), (LEFT + 34, y)], *style, name="legend")
            chart.text(LEFT + 42, y + 3, words[:110], size=8.5)
    middle = (LEFT + WIDTH - RIGHT) / 2
    chart.text(middle, chart.height - 26, "gap between slab and facade, mm", 9, "middle")
    said = "Dots: what was planned. Lines keep their value half way to the next gap: nothing was planned between dots."
    chart.text(LEFT, chart.height - 8, said, 8)
    return chart.svg("scenario-gaps")


def _steps(points: Sequence[Point], across: Scale, up: Scale) -> list[tuple[float, float]]:
    """A line that keeps a value around its gap and steps half way to the next."""
    found: list[tuple[float, float]] = []
    for place, (gap, share) in enumerate(points):
        left = gap - 0.5 if not place else (points[place - 1][0] + gap) / 2
        right = gap + 0.5 if place == len(points) - 1 else (gap + points[place + 1][0]) / 2
        found += [(across.at(left), up.at(share)), (across.at(right), up.at(share))]
    return found


def cost_against_svg(found: ScenarioComparison, against: Against, name: str) -> str:
    """Cost against waiting or deliveries as an SVG document: what is not beaten on both is filled and joined by steps.
    '' where none takes more than another, or nothing has a price; `name` is the building's."""
    shown = [one for one in found.results if one.whole and one.figures and one.figures.cost]
    if len({_value(one, against) for one in shown}) < 2:
        return ""
    title = f"{_TITLES[against]}: {name}" if name else _TITLES[against]
    chart = Chart(WIDTH, TOP + PANEL + BELOW, title, _in_words(shown, against, found.currency))
    chart.text(LEFT, 22, title, size=12, bold=True)
    chart.disc(LEFT + 4, 35, 4, "key")
    chart.text(
        LEFT + 14, 38, "not beaten: no other costs as little and takes as little, with one of both less", 8.5
    )
    chart.disc(LEFT + 4, 48, 4, "key", hollow=True)
    chart.text(LEFT + 14, 51, "beaten by another", 8.5)
    values = [_value(one, against) for one in shown]
    costs = [float(_value(one, "cost")) for one in shown]
    taken = round_ticks(min(values), max(values), whole=True)
    money = round_ticks(min(costs), max(costs), most=6)
    edge = max(0.5, 0.04 * (taken[-1] - taken[0]))
    across = Scale(taken[0] - edge, taken[-1] + edge, LEFT, WIDTH - 120)
    up = Scale(money[0], money[-1], TOP + PANEL, TOP + 12)
    _grid(chart, up, money, "", f"cost, {found.currency}")
    for tick in taken:
        chart.text(across.at(tick), up.start + 14, shown_number(tick), anchor="middle")
    front = sorted(
        {(_value(one, against), float(_value(one, "cost"))) for one in shown if against in one.unbeaten}
    )
    stairs: list[tuple[float, float]] = []
    for x, y in front:
        stairs += [(across.at(x), stairs[-1][1])] if stairs else []
        stairs.append((across.at(x), up.at(y)))
    if len(stairs) > 1:
        chart.line(stairs, "#777777", width=1.2, name="frontier")
    at: dict[tuple[float, float], list[ScenarioResult]] = {}
    for one, x, y in sorted(
        zip(shown, values, costs, strict=True), key=lambda drawn: against in drawn[0].unbeaten
    ):
        chart.disc(across.at(x), up.at(y), 4.2, "scenario", hollow=against not in one.unbeaten)
        at.setdefault((x, y), []).append(one)
    written: list[tuple[float, float, float]] = []
    for (x, y), alike in sorted(at.items(), key=lambda drawn: drawn[0][1]):
        _label(chart, across.at(x), up.at(y), _names(alike), against in alike[0].unbeaten, written)
    chart.text((LEFT + WIDTH - 120) / 2, chart.height - 26, _MEASURES[against], 9, "middle")
    chart.text(
        LEFT,
        chart.height - 8,
        "Cost: the order, and loads, storage, waiting and freight that have a price.",
        8,
    )
    return chart.svg(f"scenario-{against.replace('_', '-')}")


def _value(result: ScenarioResult, name: str) -> Any:
    return getattr(result.figures, name)


def _grid(chart: Chart, up: Scale, ticks: Sequence[float], unit: str, title: str) -> None:
    """An upright scale with its lines across the panel."""
    for tick in ticks:
        chart.line([(LEFT, up.at(tick)), (WIDTH - RIGHT, up.at(tick))], "#cccccc", width=0.5, name="grid")
        chart.text(LEFT - 5, up.at(tick) + 3, shown_number(tick) + unit, anchor="end")
    chart.line([(LEFT, up.end), (LEFT, up.start), (WIDTH - RIGHT, up.start)], name="axis")
    chart.text(14, (up.start + up.end) / 2, title, 9, "middle", turned=True)


def _apart(values: Sequence[int], across: Scale, least: float) -> list[int]:
    """Those of rising values whose places have room beside each other."""
    found: list[int] = []
    for value in values:
        if not found or across.at(value) - across.at(found[-1]) >= least:
            found.append(value)
    return found


def _names(alike: Sequence[ScenarioResult]) -> str:
    """The names of scenarios that come to the same, short enough to stand beside their point."""
    first = alike[0].scenario.name
    words = f"{first[:23]}\N{HORIZONTAL ELLIPSIS}" if len(first) > 24 else first
    return words if len(alike) == 1 else f"{words} and {len(alike) - 1} more"


def _label(
    chart: Chart, x: float, y: float, words: str, bold: bool, written: list[tuple[float, float, float]]
) -> None:
    """Beside its point, and so far above that it covers no label below it."""
    width = _LETTER * len(words)
    to_the_left = x + width > WIDTH - 8
    left, base = (x - 7 - width if to_the_left else x + 7), y - 6
    while any(left < end and start < left + width and abs(base - at) < _LINE for start, end, at in written):
        base -= 2
    written.append((left, left + width, base))
    side = x - 7 if to_the_left else x + 7
    chart.text(side, base, words, 8.5, "end" if to_the_left else "start", bold, halo=True)


def _in_words(shown: Sequence[ScenarioResult], against: Against, currency: str) -> str:
    """What the chart shows, for those who cannot see it."""
    return "; ".join(
        f"{one.scenario.name}: {grouped_money(_value(one, 'cost'), currency)}, {_value(one, against)}"
        f" {_MEASURES[against]}{', not beaten' if against in one.unbeaten else ''}"
        for one in shown
    )
