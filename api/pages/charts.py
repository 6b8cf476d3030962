"""Charts that the estimator compares by: waste as one bar to scale, options as bars or points on a line.

Pure geometry in the units of an SVG's viewBox; the templates draw it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from optimiser.boards.cutting_sequence import WaitingCount
from optimiser.model.money import money_text
from optimiser.model.plan import Plan, Waste
from optimiser.studies.staging import staging_option


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


@dataclass(frozen=True)
class Mark:
    """A value on an axis."""

    at: float
    label: str


@dataclass(frozen=True)
class OptionPoint:
    """One option in the chart: its place, and where its value and its bound stand."""

    x: float
    y: float
    bound_y: float
    label: str
    best: bool


@dataclass(frozen=True)
class OptionChart:
    """Values over gap sizes: points joined by a line, the bound as ticks below them."""

    points: tuple[OptionPoint, ...]
    line: str
    x_marks: tuple[Mark, ...]
    y_marks: tuple[Mark, ...]
    width: int
    height: int
    left: int
    bottom: int


def option_chart(
    options: Sequence[tuple[int, int, int]], width: int = 640, height: int = 240
) -> OptionChart | None:
    """A chart of (gap in mm, value, bound); the least value is marked as best. None for no options.

    The value axis begins below the smallest bound, not at zero: the page says so.
    """
    if not options:
        return None
    left, right, top, below = 64, 20, 26, 34
    values = [value for _, value, _ in options] + [bound for _, _, bound in options]
    steps = axis_steps(min(values), max(values))
    low, high = steps[0], steps[-1]
    gaps = [gap for gap, _, _ in options]
    span = max(gaps) - min(gaps)

    def x_of(gap: int) -> float:
        share = (gap - min(gaps)) / span if span else 0.5
        return round(left + 12 + share * (width - left - right - 24), 1)

    def y_of(value: float) -> float:
        return round(top + (high - value) / (high - low) * (height - top - below), 1)

    least = min(value for _, value, _ in options)
    points = tuple(
        OptionPoint(x_of(gap), y_of(value), y_of(bound), f"{gap} mm: {value:,}", value == least)
        for gap, value, bound in options
    )
    every = max(1, -(-len(gaps) // 10))
    return OptionChart(
        points,
        " ".join(f"{point.x},{point.y}" for point in points),
        tuple(Mark(x_of(gap), f"{gap}") for gap in gaps[::every]),
        tuple(Mark(y_of(step), f"{step:,}") for step in steps),
        width,
        height,
        left,
        height - below,
    )


def axis_steps(low: int, high: int, about: int = 4) -> tuple[int, ...]:
    """Round whole numbers from at or below `low` to at or above `high`, at least two, about so many."""
    rough = max(1, (high - low) // about)
    power = 10 ** (len(str(rough)) - 1)
    step = next(factor * power for factor in (1, 2, 5, 10) if factor * power >= rough)
    first = low // step
    last = max(first + 1, -(-high // step))
    return tuple(number * step for number in range(first, last + 1))


@dataclass(frozen=True)
class ModeBar:
    """One staging mode beside the others: its figures, and its boards as a share of the most."""

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
    more: int  # boards more than the mode with the fewest


def mode_bars(found: Sequence[tuple[str, Plan]]) -> tuple[ModeBar, ...]:
    """Bars for plans with their ids, one a staging mode; widths from 0 to 100."""
    options = [(plan_id, plan.order.currency, staging_option(plan)) for plan_id, plan in found]
    most = max((option.boards for _, _, option in options), default=1) or 1
    least = min((option.boards for _, _, option in options), default=0)
    return tuple(
        ModeBar(
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
