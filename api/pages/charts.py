"""Charts that the estimator compares by: waste and stagings as bars to scale, draws as histograms; and drawings as
large as their text must be to be read.

Charts with axes are drawn by `optimiser.writing.drawing.charts`, all of them.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from api.pages.figures import staged
from optimiser.boards.waiting_count import WaitingCount
from optimiser.model.money import money_text
from optimiser.model.plan import Plan
from optimiser.model.planned_boards import Waste
from optimiser.writing.drawing.charts import Chart, Scale, round_ticks, shown_number

TEXT = 11.0
"""The smallest text of a drawing on a page, in CSS pixels."""

_WIDTH, _HEIGHT, _LEFT = 380.0, 150.0, 52.0


@dataclass(frozen=True)
class Part:
    """A part of a bar: its style's name, what it is, where it stands, its share of the whole."""

    style: str
    label: str
    area_mm2: int
    x: float
    width: float
    share: float


def waste_bar(waste: Waste, width: float = 1000) -> tuple[Part, ...]:
    """Where the board area went, the parts adding up to the whole width: fitted, kept, scrap."""
    whole = waste.bought_mm2 + waste.stock_mm2
    x = 0.0
    parts = []
    for style, label, area in (
        ("piece", "fitted", waste.fitted_mm2),
        ("keep", "kept in reusable sizes", waste.reusable_offcut_mm2),
        ("scrap", "scrap", waste.scrap_mm2),
    ):
        share = area / whole if whole else 0.0
        parts.append(Part(style, label, area, round(x, 2), round(share * width, 2), share))
        x += share * width
    return tuple(parts)


def histogram_svg(
    frequency: Mapping[int, int], order: int, name: str, what: str, most_bars: int = 24
) -> Markup:
    """How many draws need how many, with the order as a line: light bars are draws that it covers, dark ones not.

    Bars are counted back from the order, so that none holds both. `name` keeps its ids apart on a page.
    """
    step = -(-(max(frequency) - min(frequency) + 1) // most_bars)
    groups: Counter[int] = Counter()
    for value, count in frequency.items():
        groups[-(-(value - order) // step)] += count
    first, last = min(*groups, 0), max(*groups, 0)
    told = "; ".join(f"{order + group * step}: {groups[group]}" for group in sorted(groups))
    chart = Chart(_WIDTH, _HEIGHT, f"Draws by the {what} they need; {order} are ordered", told)
    across = Scale(order + (first - 1) * step + 0.5, order + last * step + 0.5, _LEFT, _WIDTH - 12)
    ticks = round_ticks(0, max(groups.values()), most=3, whole=True)
    up = Scale(0, ticks[-1], _HEIGHT - 34, 14)
    for tick in ticks:
        chart.line([(_LEFT, up.at(tick)), (_WIDTH - 12, up.at(tick))], "#cccccc", name="grid")
        chart.text(_LEFT - 5, up.at(tick) + 4, shown_number(tick), TEXT, "end")
    for group, count in groups.items():
        left, right = (across.at(order + place * step + 0.5) for place in (group - 1, group))
        shade = "#dddddd" if group <= 0 else "#404040"
        chart.bar(
            left,
            up.at(count),
            right - left,
            up.start - up.at(count),
            shade,
            "covered" if group <= 0 else "short",
        )
    chart.line([(_LEFT, up.start), (_WIDTH - 12, up.start)], name="axis")
    low, high = across.low, across.high
    for tick in round_ticks(low, high, most=5, whole=True):
        if low <= tick <= high:
            chart.text(across.at(tick), up.start + 14, shown_number(tick), TEXT, "middle")
    line = across.at(order + 0.5)
    chart.line([(line, up.start), (line, 8)], dash="4 3", width=1.4, name="ordered")
    chart.text((_LEFT + _WIDTH) / 2, _HEIGHT - 5, what, TEXT, "middle")
    chart.text(12, (up.start + up.end) / 2, "draws", TEXT, "middle", turned=True)
    return Markup(chart.svg(name))


def readable(drawing: str) -> Markup:
    """A drawing as large as it must be for its smallest text to be 11 pixels high: it may have to scroll."""
    sizes = [float(size) for size in re.findall(r'font-size="([0-9.]+)"', drawing)]
    head = re.search(r'<svg[^>]*viewBox="0 0 ([0-9.]+) ([0-9.]+)"[^>]*>', drawing)
    if head is None:
        return Markup(drawing)
    factor = max(1.0, TEXT / min(sizes, default=TEXT))
    opened = re.sub(r' (?:width|height)="[0-9.]+"', "", head[0])
    width, height = (round(float(side) * factor) for side in head.groups())
    sized = f'{opened[:-1]} width="{width}" height="{height}">'
    return Markup(drawing.replace(head[0], sized, 1))


@dataclass(frozen=True)
class StagingBar:
    """One staging beside the others: its figures, and its boards as a share of the most."""

    staging: str
    plan_id: str
    boards: int
    lower_bound: int
    scrap_fraction: float
    total: str
    currency: str
    waiting: WaitingCount
    peak_mm2: int
    deliveries: int
    width: float
    more: int  # boards more than the staging with the fewest


def staging_bars(found: Sequence[tuple[str, Plan]]) -> tuple[StagingBar, ...]:
    """Bars for plans with their ids, one a staging; widths from 0 to 100."""
    options = [(plan_id, plan.order.currency, staged(plan)) for plan_id, plan in found]
    most = max((option.boards for _, _, option in options), default=1) or 1
    least = min((option.boards for _, _, option in options), default=0)
    return tuple(
        StagingBar(
            option.staging,
            plan_id,
            option.boards,
            option.lower_bound,
            option.scrap_fraction,
            money_text(option.cost),
            currency,
            option.waiting,
            option.peak_storage_mm2,
            option.deliveries,
            option.boards / most * 100,
            option.boards - least,
        )
        for plan_id, currency, option in options
    )
