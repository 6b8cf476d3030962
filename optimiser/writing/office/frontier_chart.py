"""`frontier.svg`: boards against waiting, each plan with its number and what is paid, and what is proved of both."""

from __future__ import annotations

from collections.abc import Sequence

from optimiser.studies.frontier import FrontierPoint
from optimiser.tables.amounts import grouped_money
from optimiser.writing.drawing.charts import Chart, Scale, round_ticks, shown_number
from optimiser.writing.words import counted

WIDTH, HEIGHT = 760.0, 430.0
LEFT, RIGHT, TOP, BELOW = 62.0, 112.0, 84.0, 72.0
_LETTER, _LINE = 5.6, 11.0  # how wide a letter of a label is at the most, and how high a line

Box = tuple[float, float, float]
"""From where to where a label reaches, and its baseline."""


def frontier_svg(points: Sequence[FrontierPoint], name: str, currency: str) -> str:
    """The trade-off as an SVG document; `name` is the project's."""
    title = f"Boards against waiting: {name}" if name else "Boards against waiting"
    chart = Chart(WIDTH, HEIGHT, title, _in_words(points, currency))
    chart.text(LEFT, 22, title, size=12, bold=True)
    chart.text(LEFT, 38, "Each point is a plan, with the number by which it is chosen.", 8.5)
    chart.disc(LEFT + 4, 50, 4, "key")
    chart.text(
        LEFT + 14, 53, "waits least of those that pay as little, with what is paid for boards in packs", 8.5
    )
    chart.disc(LEFT + 4, 63, 4, "key", hollow=True)
    chart.text(LEFT + 14, 66, "another plan that pays as little waits less", 8.5)
    least = min(point.lower_bound for point in points)
    boards = round_ticks(least, max(point.boards for point in points), whole=True)
    waits = round_ticks(0, max(1, *(point.waiting.piece_stages for point in points)), whole=True)
    across = Scale(boards[0] - 0.5, boards[-1] + 0.5, LEFT, WIDTH - RIGHT)
    up = Scale(0, waits[-1], HEIGHT - BELOW, TOP)
    _axes(chart, across, up, boards, waits)
    x = across.at(least)
    chart.line([(x, up.start), (x, up.end)], "#777777", "6 3", 1.0, name="bound")
    places = [(across.at(point.boards), up.at(point.waiting.piece_stages)) for point in points]
    chart.line(places, "#777777", width=1.2, name="series")
    written: list[Box] = []
    for point, (x, y) in zip(points, places, strict=True):
        bound = up.at(point.lower_bound_piece_stages)
        chart.line([(x - 5, bound), (x + 5, bound)], width=1.6, name="waiting-bound")
        chart.disc(x, y, 4.2, "plan", hollow=not point.least_for_paid)
        label = f"{point.number}"
        if point.least_for_paid and any(other.paid for other in points):
            label += f": {grouped_money(point.paid, currency)}"
        _label(chart, x, y, label, point.least_for_paid, written)
    chart.text((LEFT + WIDTH - RIGHT) / 2, HEIGHT - 42, "boards", 9, "middle")
    below = (
        f"Dashed line: no plan buys fewer than {counted(least, 'board')}, proved. Short dashes: no plan whose boards",
        "cost as little waits less, proved. Waiting: pieces times the deliveries that pass before they are cut.",
    )
    for row, words in enumerate(below):
        chart.text(LEFT, HEIGHT - 24 + 12 * row, words, 8)
    return chart.svg("frontier")


def _label(chart: Chart, x: float, y: float, words: str, bold: bool, written: list[Box]) -> None:
    """Beside its point, and so far above it that it covers no other label."""
    width = _LETTER * len(words)
    to_the_left = x + width > WIDTH - 8
    left, base = (x - 7 - width if to_the_left else x + 7), y - 6
    while any(left < end and start < left + width and abs(base - at) < _LINE for start, end, at in written):
        base -= 2
    written.append((left, left + width, base))
    chart.text(
        x - 7 if to_the_left else x + 7, base, words, 8.5, "end" if to_the_left else "start", bold, halo=True
    )


def _axes(chart: Chart, across: Scale, up: Scale, boards: Sequence[float], waits: Sequence[float]) -> None:
    for tick in waits:
        y = up.at(tick)
        chart.line([(LEFT, y), (WIDTH - RIGHT, y)], "#cccccc", name="grid")
        chart.text(LEFT - 6, y + 3, shown_number(tick), 8, "end")
    for tick in boards:
        chart.text(across.at(tick), up.start + 14, shown_number(tick), 8, "middle")
    chart.line([(LEFT, up.start), (WIDTH - RIGHT, up.start)], width=1.0, name="axis")
    chart.text(16, (up.start + up.end) / 2, "waiting, pieces times deliveries", 9, "middle", turned=True)


def _in_words(points: Sequence[FrontierPoint], currency: str) -> str:
    """What the chart shows, for those who cannot see it."""
    said = [
        f"plan {point.number}: {counted(point.boards, 'board')} (at least {point.lower_bound}),"
        f" {grouped_money(point.paid, currency)} paid, {point.waiting.piece_stages} pieces times deliveries waiting"
        f" (at least {point.lower_bound_piece_stages})"
        for point in points
    ]
    return f"{'; '.join(said)}."
