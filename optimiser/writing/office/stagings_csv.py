"""The comparison of staging modes as csv and as plain JSON values."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from optimiser.model.money import money_text
from optimiser.studies.staging import StagingOption
from optimiser.tables.stagings import STAGINGS
from optimiser.tables.text import csv_of


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
        "cost": money_text(option.cost),
        "waiting_pieces": option.waiting.pieces,
        "waiting_piece_stages": option.waiting.piece_stages,
        "remainders": option.waiting.remainders,
        "peak_storage_m2": float(round(option.peak_storage_m2, 2)),
        "peak_at": list(option.peak_at),
        "deliveries": option.deliveries,
        "truckloads": option.truckloads,
        "scrap_fraction": round(option.scrap_fraction, 4),
    }


def stagings_csv(options: Sequence[StagingOption]) -> str:
    """The comparison as csv, a mode a row."""
    return csv_of(STAGINGS, options)
