"""What comparisons and simulations found, for the estimator's charts and tables."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from api.pages.charts import OptionChart, option_chart


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
class Quantity:
    """A product's quantity at the service level, and its median."""

    kind: str
    code: str
    order: int
    median: int


def service_quantities(result: Mapping[str, Any]) -> tuple[Quantity, ...]:
    """What a simulation says to order, by kind and code."""
    return tuple(
        Quantity(kind, code, found["order"], found["median"])
        for kind, products in result.items()
        if isinstance(products, dict)
        for code, found in products.items()
        if isinstance(found, dict) and {"order", "median"} <= set(found)
    )
