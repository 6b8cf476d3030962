"""What comparisons and simulations found, for the estimator's charts and tables."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from api.pages.charts import OptionChart, option_chart


@dataclass(frozen=True)
class GapOption:
    """A gap size with what it takes."""

    gap_mm: int
    boards: int
    lower_bound: int
    scrap_fraction: float
    cost: str
    joints: int
    best: bool


@dataclass(frozen=True)
class GapOptions:
    """The options in the order of their gaps, and their chart."""

    options: tuple[GapOption, ...]
    chart: OptionChart | None


def gap_options(result: Mapping[str, Any]) -> GapOptions:
    """The options of a comparison's result."""
    rows = sorted(result["options"], key=lambda row: row["gap_mm"])
    least = min((row["boards"] for row in rows), default=0)
    return GapOptions(
        tuple(
            GapOption(
                row["gap_mm"],
                row["boards"],
                row["lower_bound"],
                row["scrap_fraction"],
                str(row["cost"]),
                row["joints"],
                row["boards"] == least,
            )
            for row in rows
        ),
        option_chart([(row["gap_mm"], row["boards"], row["lower_bound"]) for row in rows]),
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
