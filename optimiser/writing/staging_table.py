"""The comparison of staging modes: as a table on the terminal, as JSON, and as csv."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from typing import Any

from optimiser.project import money_text
from optimiser.staging import StagingOption
from optimiser.writing.console import plain_table
from optimiser.writing.words import amount_text, grouped_money

STORAGE_NOTE = (
    "Peak storage: the most board face area on site at a time, just after a delivery arrives: uncut boards (whole"
    " packs and the allowance included), pieces cut ahead, stock, and left-overs that a later level can use. The"
    " floor it takes is this divided by the layers in a stack."
)

HEADINGS = (
    "staging", "boards", "lower_bound", "proved", "cost", "pieces_carried", "peak_storage_m2", "peak_at",
    "deliveries", "truckloads", "scrap_fraction",
)  # fmt: skip


def option_as_dict(option: StagingOption) -> dict[str, Any]:
    """A mode as plain JSON values; money as decimal text, areas in square metres to two places."""
    return {
        "staging": option.staging,
        "max_carry_stages": option.max_carry_stages,
        "boards": option.boards,
        "lower_bound": option.lower_bound,
        "optimal": option.optimal,
        "boards_by_code": {
            code: {"count": count, "lower_bound": option.bounds[code]}
            for code, count in option.boards_by_code.items()
        },
        "cost": money_text(option.cost_cents),
        "pieces_carried": option.pieces_carried,
        "peak_storage_m2": float(round(option.peak_storage_m2, 2)),
        "peak_at": list(option.peak_at),
        "deliveries": option.deliveries,
        "truckloads": option.truckloads,
        "scrap_fraction": round(option.scrap_fraction, 4),
    }


def stagings_csv(options: Sequence[StagingOption]) -> str:
    """The comparison as csv, a mode a row."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(HEADINGS)
    for option in options:
        row = option_as_dict(option) | {"proved": "yes" if option.optimal else "no"}
        row["peak_at"] = " ".join(option.peak_at)
        writer.writerow(["" if row[name] is None else row[name] for name in HEADINGS])
    return out.getvalue()


def stagings_markdown(options: Sequence[StagingOption], currency: str) -> str:
    """The comparison as a Markdown table, as the README shows it."""
    lines = [
        "| staging | boards | no plan below | cost | pieces carried | peak storage | deliveries |",
        "| --- | ---: | ---: | ---: | ---: | ---: | ---: |",
    ]
    lines += [
        f"| {option.staging} | {option.boards} | {option.lower_bound} |"
        f" {grouped_money(option.cost_cents, currency)} | {option.pieces_carried} |"
        f" {float(option.peak_storage_m2):.1f} m2 | {option.deliveries} |"
        for option in options
    ]
    return "\n".join(lines)


def stagings_table(options: Sequence[StagingOption], currency: str) -> Any:
    """The comparison as a table for the terminal."""
    trucks = any(option.truckloads is not None for option in options)
    table = plain_table("Staging")
    for heading, right in (
        ("Staging", False),
        ("Boards", True),
        ("No plan below", True),
        (f"Cost {currency}", True),
        ("Carried", True),
        ("Peak m2", True),
        ("at", False),
        ("Deliveries", True),
        *((("Trucks", True),) if trucks else ()),
    ):
        table.add_column(heading, justify="right" if right else "left")
    for option in options:
        table.add_row(
            option.staging,
            f"{option.boards:,}",
            f"{option.lower_bound:,}" + (" proved" if option.optimal else ""),
            amount_text(option.cost_cents, currency),
            f"{option.pieces_carried:,}",
            f"{float(option.peak_storage_m2):,.1f}",
            " ".join(option.peak_at),
            str(option.deliveries),
            *([str(option.truckloads)] if trucks else []),
        )
    return table
