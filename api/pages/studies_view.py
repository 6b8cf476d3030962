"""What comparisons, simulations and frontiers found, for the charts and tables of the pages."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from api.pages.charts import histogram_svg, readable
from optimiser.studies.frontier import FrontierPoint
from optimiser.studies.gap_option import Comparison
from optimiser.writing.office.frontier_chart import frontier_svg
from optimiser.writing.office.frontier_csv import point_of_dict
from optimiser.writing.office.gap_chart import gaps_svg
from optimiser.writing.terminal.frontier_table import fewest_in_words


@dataclass(frozen=True)
class GapOption:
    """A gap size with what it takes. Figures are None where nothing can be placed; `problem` says what cannot be
    built and why. `best`: in what it is the best of all that can be built whole, such as 'least scrap'."""

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
    best: tuple[str, ...]
    choice: str  # what is chosen beside the gap, in words


@dataclass(frozen=True)
class GapOptions:
    """The options in the order of their gaps, their chart, and what the figures rest on."""

    options: tuple[GapOption, ...]
    chart: Markup
    notes: tuple[str, ...]


def gap_options(result: Mapping[str, Any], name: str = "") -> GapOptions:
    """The options of a comparison's result, with the saw-tooth; `name` is the building's."""
    comparison = Comparison.of_json(result)
    both = zip(result["options"], comparison.options, strict=True)
    rows = [
        row | {"choice": option.choice.words} for row, option in sorted(both, key=lambda pair: pair[1].gap_mm)
    ]
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
                tuple(row["best"]),
                row["choice"],
            )
            for row in rows
        ),
        readable(gaps_svg(comparison, name)),
        tuple(result.get("notes", ())),
    )


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
    histogram: Markup


@dataclass(frozen=True)
class Simulated:
    """What a simulation says to order, and what it rests on."""

    quantities: tuple[Quantity, ...]
    draws: int
    service_level: float
    notes: tuple[str, ...]


_KINDS = ("boards", "brackets", "anchors", "tape")
_NOUNS = {"boards": "boards", "brackets": "brackets", "anchors": "anchors", "tape": "rolls"}


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
                histogram_svg(
                    {int(value): count for value, count in found["frequency"].items()},
                    found["order"],
                    f"draws-{kind}-{number}",
                    f"{_NOUNS[kind]} of {code}",
                ),
            )
            for kind in _KINDS
            for number, (code, found) in enumerate(result.get(kind, {}).items())
        ),
        result["draws"],
        result["service_level"],
        tuple(result.get("notes", ())),
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
    picture = readable(frontier_svg(points, name, result["currency"]))
    return Frontier(points, picture, fewest_in_words(points), result["currency"])
