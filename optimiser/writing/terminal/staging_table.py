"""The comparison of staging modes as a table on the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from optimiser.studies.staging import StagingOption
from optimiser.tables.columns import only
from optimiser.tables.stagings import STAGINGS
from optimiser.writing.terminal.console import filled_table

STORAGE_NOTE = (
    "Peak storage: the most board face area on site at a time, just after a delivery arrives: uncut boards (whole"
    " packs and the allowance included), remainders that wait for later levels, stock, and left-overs that a later"
    " level can use. The floor it takes is this divided by the layers in a stack."
)


def stagings_table(options: Sequence[StagingOption], currency: str) -> Any:
    """The comparison as a table for the terminal."""
    trucks = any(option.truckloads is not None for option in options)
    names = (
        "staging",
        "boards",
        "lower_bound",
        "optimal",
        "cost",
        "waiting_pieces",
        "remainders",
        "peak_storage_m2",
        "peak_at",
    )
    columns = only(STAGINGS, *names, "deliveries", *(("truckloads",) if trucks else ()))
    shown = [replace(column, unit=currency) if column.kind == "money" else column for column in columns]
    return filled_table("Staging", shown, options, currency, close=True)
