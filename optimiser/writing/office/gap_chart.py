"""`gaps.svg`: the saw-tooth. Boards per 100 m and scrap against the gap, the teeth labelled with strips a board."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from optimiser.studies.gap_option import Choice, Comparison, GapOption
from optimiser.writing.drawing.charts import LINE_STYLES, Chart, Scale, round_ticks, shown_number
from optimiser.writing.words import counted

WIDTH, LEFT, RIGHT = 760.0, 62.0, 14.0
PANEL, BETWEEN, TOP, BELOW = 190.0, 46.0, 58.0, 44.0


def gaps_svg(comparison: Comparison, name: str) -> str:
    """The chart of a comparison as an SVG document; `name` is the project's."""
    series = comparison.by_choice()
    legend = 14.0 * len(series) if len(series) > 1 else 0.0
    top = TOP + legend
    chart = Chart(
        WIDTH,
        top + 2 * PANEL + BETWEEN + BELOW,
        title=f"Boards and scrap against the gap: {name}" if name else "Boards and scrap against the gap",
        description=_in_words(comparison),
    )
    chart.text(LEFT, 22, chart.title, size=12, bold=True)
    edge = f"{counted(comparison.runs, 'run')}, {comparison.edge_mm / 1000:,.1f} m of edge"
    how = "; the mean of each run's own gaps is moved" if comparison.shifted else "; one gap for all"
    chart.text(LEFT, 38, edge + how, size=8.5)
    for number, choice in enumerate(series):
        if len(series) > 1:
            grey, dash, width = _style(number, True)
            y = 50.0 + 14 * number
            chart.line([(LEFT, y), (LEFT + 34, y)], grey, dash, width, name="legend")
            chart.text(LEFT + 42, y + 3, choice.words, size=8.5)
    gaps = [option.gap_mm for option in comparison.options]
    across = Scale(min(gaps) - 0.5, max(gaps) + 0.5, LEFT, WIDTH - RIGHT)
    boards = _panel(chart, across, top, "boards per 100 m", _values(comparison, "boards"), per_cent=False)
    scrap = _panel(
        chart, across, top + PANEL + BETWEEN, "scrap, % of board", _values(comparison, "scrap"), True
    )
    if _missing(chart, across, top, series):
        chart.text(LEFT, top + 10, "grey: cannot be built whole (gaps.csv says why)", size=8)
    for number, options in enumerate(series.values()):
        for part in _stretches(options):
            _steps(
                chart,
                across,
                boards,
                [(o.gap_mm, o.boards_per_100_m or 0.0) for o in part],
                number,
                len(series) > 1,
            )
            _steps(
                chart,
                across,
                scrap,
                [(o.gap_mm, 100 * (o.scrap_fraction or 0.0)) for o in part],
                number,
                len(series) > 1,
            )
    first = next(iter(series.values()))
    _teeth(chart, across, boards, first)
    _gap_axis(chart, across, top)
    chart.text(
        (LEFT + WIDTH - RIGHT) / 2,
        chart.height - 10,
        "gap between slab and facade, mm",
        size=9,
        anchor="middle",
    )
    return chart.svg("gaps")


def _style(number: int, several: bool) -> tuple[str, str, float]:
    """The first of several lines is a broad grey one, so that a line on top of it leaves both in sight."""
    if several and number == 0:
        return "#aaaaaa", "", 3.6
    return LINE_STYLES[number % len(LINE_STYLES)]


def _values(comparison: Comparison, what: str) -> list[float]:
    if what == "boards":
        return [o.boards_per_100_m for o in comparison.options if o.boards_per_100_m is not None]
    return [100 * o.scrap_fraction for o in comparison.options if o.scrap_fraction is not None]


def _panel(
    chart: Chart, across: Scale, top: float, title: str, values: Sequence[float], per_cent: bool
) -> Scale:
    """An empty panel with its upright scale, from nought."""
    ticks = round_ticks(0.0, max(values, default=1.0) or 1.0, most=6)
    up = Scale(ticks[0], ticks[-1], top + PANEL, top + 14)
    for tick in ticks:
        y = up.at(tick)
        chart.line([(across.start, y), (across.end, y)], "#cccccc", width=0.5, name="grid")
        chart.text(across.start - 5, y + 3, shown_number(tick) + (" %" if per_cent else ""), anchor="end")
    chart.line(
        [(across.start, top + 14), (across.start, top + PANEL), (across.end, top + PANEL)], name="axis"
    )
    chart.text(16, top + PANEL / 2 + 7, title, size=9, anchor="middle", turned=True)
    return up


def _gap_axis(chart: Chart, across: Scale, top: float) -> None:
    low, high = across.low + 0.5, across.high - 0.5
    for tick in round_ticks(low, high, most=16, whole=True):
        if low <= tick <= high:
            for panel in (top, top + PANEL + BETWEEN):
                x = across.at(tick)
                chart.line([(x, panel + PANEL), (x, panel + PANEL + 4)], name="tick")
                chart.text(x, panel + PANEL + 14, shown_number(tick), anchor="middle")


def _stretches(options: Sequence[GapOption]) -> Iterator[list[GapOption]]:
    """The options in unbroken stretches: what cannot be built whole leaves the line open."""
    for whole, part in groupby(options, key=lambda option: option.whole and option.boards is not None):
        if whole:
            yield list(part)


def _steps(
    chart: Chart, across: Scale, up: Scale, values: Sequence[tuple[int, float]], number: int, several: bool
) -> None:
    """A line that keeps a value for the whole millimetre and steps between gaps."""
    points = []
    for place, (gap, value) in enumerate(values):
        left = gap - 0.5 if not place else (values[place - 1][0] + gap) / 2
        right = gap + 0.5 if place == len(values) - 1 else (gap + values[place + 1][0]) / 2
        points += [(across.at(left), up.at(value)), (across.at(right), up.at(value))]
    chart.line(points, *_style(number, several), name="option")


def _teeth(chart: Chart, across: Scale, up: Scale, options: Sequence[GapOption]) -> None:
    """Each tooth of the first choice: how many strips a board gives, and up to which gap; as many as have room."""
    free_for_strips = free_for_gap = across.start - 1.0
    labelled = False
    for strips, tooth in groupby(options, key=lambda option: option.strips_per_board):
        part = [option for option in tooth if option.whole and option.boards_per_100_m is not None]
        if not strips or not part:
            continue
        end, labelled = part[-1], True
        x, y = across.at(end.gap_mm), up.at(end.boards_per_100_m or 0.0)
        if end is not options[-1]:
            chart.disc(x, y)
        if x - 16 > free_for_strips:
            chart.text(x - 2, y - 6, str(strips), size=9, anchor="end", bold=True, halo=True)
            free_for_strips = x
        if end is not options[-1] and x - 40 > free_for_gap:
            chart.text(x - 2, y + 12, f"to {end.gap_mm}", size=7, anchor="end", halo=True)
            free_for_gap = x
    if labelled:
        words = "bold: strips a board; dot: the last gap that gives them"
        chart.text(across.end, up.end - 4, words, size=8, anchor="end")


def _missing(chart: Chart, across: Scale, top: float, series: dict[Choice, tuple[GapOption, ...]]) -> bool:
    """A grey band where no choice can be built whole; whether there is one."""
    by_gap: dict[int, bool] = {}
    for options in series.values():
        for option in options:
            by_gap[option.gap_mm] = by_gap.get(option.gap_mm, False) or option.whole
    gaps = sorted(by_gap)
    for whole, places in groupby(range(len(gaps)), key=lambda place: by_gap[gaps[place]]):
        if whole:
            continue
        here = list(places)
        before, after = gaps[max(0, here[0] - 1)], gaps[min(len(gaps) - 1, here[-1] + 1)]
        left = max(across.start, across.at((before + gaps[here[0]]) / 2))
        right = min(across.end, across.at((gaps[here[-1]] + after) / 2))
        for panel in (top, top + PANEL + BETWEEN):
            chart.bar(left, panel + 14, max(1.0, right - left), PANEL - 14, "#dddddd", name="not-built")
    return not all(by_gap.values())


def _in_words(comparison: Comparison) -> str:
    """What the chart shows, for those who cannot see it."""
    steps = [
        f"from {option.gap_mm} to the next gap {counted(option.boards_more_at_next_gap or 0, 'board')} more"
        for option in comparison.options
        if (option.boards_more_at_next_gap or 0) > 0
    ]
    more = f"; and {counted(len(steps) - 20, 'more step')}" if len(steps) > 20 else ""
    shown = "; ".join(steps[:20]) + more
    return f"Two step lines against the gap: boards per 100 m, and scrap. Steps: {shown or 'none'}."
