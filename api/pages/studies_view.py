"""What comparisons, simulations and frontiers found, for the charts and tables of the pages."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from api.pages.charts import OptionChart, option_chart
from optimiser.studies.frontier import FrontierPoint
from optimiser.writing.office.frontier_chart import frontier_svg
from optimiser.writing.office.frontier_csv import point_of_dict
from optimiser.writing.terminal.frontier_table import fewest_in_words


@dataclass(frozen=True)
class GapOption:
    """A gap size with what it takes. Figures are None where nothing can be placed; `problem` says what cannot be
    built and why. `best`: the fewest boards of all that can be built whole."""

    gap_mm: int
    cut_width_mm: int | None
    strips_per_board: int | None
    boards: int | None
    lower_bound: int | None
    scrap_fraction: float | None
    cost: str | None
    joints: int
    more_at_next: int | None
    problem: str
    best: bool


@dataclass(frozen=True)
class GapOptions:
    """The options in the order of their gaps, their chart, and what the figures rest on."""

    options: tuple[GapOption, ...]
    chart: OptionChart | None
    notes: tuple[str, ...]


def gap_options(result: Mapping[str, Any]) -> GapOptions:
    """The options of a comparison's result; only those that can be built whole stand in the chart."""
    rows = sorted(result["options"], key=lambda row: row["gap_mm"])
    whole = [row for row in rows if row["boards"] is not None and not row["problem"]]
    least = min((row["boards"] for row in whole), default=0)
    return GapOptions(
        tuple(
            GapOption(
                row["gap_mm"],
                row["cut_width_mm"],
                row["strips_per_board"],
                row["boards"],
                row["lower_bound"],
                row["scrap_fraction"],
                row["cost"],
                row["joints"],
                row["boards_more_at_next_gap"],
                row["problem"],
                row in whole and row["boards"] == least,
            )
            for row in rows
        ),
        option_chart([(row["gap_mm"], row["boards"], row["lower_bound"]) for row in whole]),
        tuple(result.get("notes", ())),
    )


@dataclass(frozen=True)
class HistogramBar:
    """How many draws need so many; `covered` when the order is enough for them."""

    x: float
    width: float
    height: float
    label: str
    covered: bool


@dataclass(frozen=True)
class Quantity:
    """One product over all draws, in single boards, brackets, anchors or rolls.

    `flat` says for each flat percentage what it would order and in which share of the draws that is too little.
    """

    kind: str
    code: str
    planned: int
    median: int
    order: int
    extra: int
    packs: int
    short_share: float
    flat: tuple[tuple[str, int, float], ...]
    histogram: tuple[HistogramBar, ...]


@dataclass(frozen=True)
class Simulated:
    """What a simulation says to order, and what it rests on."""

    quantities: tuple[Quantity, ...]
    draws: int
    service_level: float
    notes: tuple[str, ...]


_KINDS = ("boards", "brackets", "anchors", "tape")


def simulated(result: Mapping[str, Any]) -> Simulated:
    """A simulation's result, in trade order."""
    return Simulated(
        tuple(
            Quantity(
                kind,
                code,
                found["planned"],
                found["median"],
                found["order"],
                found["extra"],
                found["packs"],
                found["short_share"],
                tuple((name, flat["quantity"], flat["short_share"]) for name, flat in found["flat"].items()),
                histogram({int(value): count for value, count in found["frequency"].items()}, found["order"]),
            )
            for kind in _KINDS
            for code, found in result.get(kind, {}).items()
        ),
        result["draws"],
        result["service_level"],
        tuple(result.get("notes", ())),
    )


def histogram(frequency: Mapping[int, int], order: int, most_bars: int = 24) -> tuple[HistogramBar, ...]:
    """Bars of how many draws need how many, in a box 100 wide and 30 high.

    They are counted back from the order, so that no bar holds both draws that it covers and draws that it does not.
    """
    if not frequency:
        return ()
    step = -(-(max(frequency) - min(frequency) + 1) // most_bars)
    groups: dict[int, int] = {}
    for value, count in frequency.items():
        group = -(-(value - order) // step)
        groups[group] = groups.get(group, 0) + count
    first, last, highest = min(groups), max(groups), max(groups.values())
    width = 100 / (last - first + 1)
    return tuple(
        HistogramBar(
            round((group - first) * width, 2),
            round(width, 2),
            max(0.5, round(30 * count / highest, 2)),
            f"{order + group * step}: {count}",
            group <= 0,
        )
        for group, count in sorted(groups.items())
    )


@dataclass(frozen=True)
class Frontier:
    """Boards against waiting: the plans to choose from, their picture, and what no plan can do with less of."""

    points: tuple[FrontierPoint, ...]
    picture: Markup
    fewest: str
    currency: str


def frontier_of(result: Mapping[str, Any], name: str) -> Frontier:
    """A frontier's result; `name` is the building's."""
    points = tuple(point_of_dict(plan) for plan in result["plans"])
    picture = Markup(frontier_svg(points, name, result["currency"]))
    return Frontier(points, picture, fewest_in_words(points), result["currency"])
