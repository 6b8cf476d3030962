"""`allowance.svg`: how many boards the draws need, beside the plan, the order and the flat percentages."""

from __future__ import annotations

from math import ceil

from optimiser.simulation.order_quantity import OrderQuantity
from optimiser.simulation.simulated_allowance import SimulatedAllowance
from optimiser.writing.drawing.charts import Chart, Scale, round_ticks, shown_number
from optimiser.writing.words import counted

WIDTH, LEFT, RIGHT = 760.0, 62.0, 20.0
PANEL, LABELS, BELOW, TOP = 150.0, 62.0, 46.0, 62.0
MOST_BARS = 60


def allowance_svg(found: SimulatedAllowance, name: str) -> str:
    """A histogram a board, as an SVG document; `name` is the project's."""
    boards = found.of_kind("board")
    each = LABELS + PANEL + BELOW
    chart = Chart(
        WIDTH,
        TOP + each * max(1, len(boards)),
        title=f"Boards that the draws need: {name}" if name else "Boards that the draws need",
        description="; ".join(_in_words(board, found) for board in boards) or "No boards are needed.",
    )
    chart.text(LEFT, 22, chart.title, size=12, bold=True)
    chart.text(
        LEFT,
        38,
        f"{found.draws:,} draws (seed {found.seed}) of the gaps of {found.runs_drawn} of {counted(found.runs, 'run')},"
        f" correlation length {found.correlation_length_mm:,} mm",
        size=8.5,
    )
    taken = ", ".join(f"{count} {code}" for code, count in found.bias.corrected.items() if count)
    chart.text(
        LEFT,
        51,
        f"quick cutting is {found.bias.fraction:.1%} above the proved bound ({found.bias.sample} draws); taken off:"
        f" {taken or 'nothing'}",
        size=8.5,
    )
    for number, board in enumerate(boards):
        _histogram(chart, TOP + number * each, board, found)
    return chart.svg("allowance")


def _histogram(chart: Chart, top: float, board: OrderQuantity, found: SimulatedAllowance) -> None:
    marks = [
        (board.planned, "nominal plan", "2 2"),
        (board.order, f"order at {found.service_level:.4g}", ""),
        *((flat.quantity, f"plan + {percentage} %", "6 3") for percentage, flat in board.flat.items()),
    ]
    low = min(board.least, *(value for value, _, _ in marks))
    high = max(board.greatest, *(value for value, _, _ in marks))
    width = max(1, ceil((high - low + 1) / MOST_BARS))
    bars: dict[int, int] = {}
    for value, count in board.frequency.items():
        bars[(value - low) // width] = bars.get((value - low) // width, 0) + count
    across = Scale(low - 0.5, low + width * ((high - low) // width + 1) - 0.5, LEFT, WIDTH - RIGHT)
    foot = top + LABELS + PANEL
    ticks = round_ticks(0.0, max(bars.values()), most=4, whole=True)
    up = Scale(0.0, ticks[-1], foot, top + LABELS)
    for tick in ticks:
        chart.line([(LEFT, up.at(tick)), (WIDTH - RIGHT, up.at(tick))], "#cccccc", width=0.5, name="grid")
        chart.text(LEFT - 5, up.at(tick) + 3, shown_number(tick), anchor="end")
    for place, count in bars.items():
        left, right = across.at(low + place * width - 0.5), across.at(low + (place + 1) * width - 0.5)
        inset = min(1.0, (right - left) / 8)
        chart.bar(left + inset, up.at(count), right - left - 2 * inset, foot - up.at(count))
    chart.line([(LEFT, foot), (WIDTH - RIGHT, foot)], name="axis")
    for tick in round_ticks(low, high, most=16, whole=True):
        if low <= tick <= high:
            x = across.at(tick)
            chart.line([(x, foot), (x, foot + 4)], name="tick")
            chart.text(x, foot + 14, shown_number(tick), anchor="middle")
    chart.text(LEFT, top + 12, board.code, size=10, bold=True)
    chart.text((LEFT + WIDTH - RIGHT) / 2, foot + 29, f"boards of {board.code}", size=9, anchor="middle")
    chart.text(16, top + LABELS + PANEL / 2, "draws", size=9, anchor="middle", turned=True)
    for row, (value, words, dash) in enumerate(sorted(marks)):
        x, y = across.at(value), top + 16 + 12 * row
        chart.line(
            [(x, y + 3), (x, foot)],
            "#000000",
            dash,
            2.0 if words.startswith("order") else 1.1,
            name="quantity",
        )
        to_the_left = x > (LEFT + WIDTH - RIGHT) / 2
        label = f"{words}: {value:,}"
        bold = words.startswith("order")
        chart.text(
            x - 4 if to_the_left else x + 4,
            y + 5,
            label,
            8,
            "end" if to_the_left else "start",
            bold,
            halo=True,
        )


def _in_words(board: OrderQuantity, found: SimulatedAllowance) -> str:
    return (
        f"{board.code}: {board.least} to {board.greatest} boards, half of the draws at most {board.median};"
        f" {board.order} cover {found.service_level:.4g} of them, the nominal plan takes {board.planned}"
    )
