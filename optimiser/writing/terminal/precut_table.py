"""Pre-cutting against site cutting: as a table on the terminal, and as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from optimiser.studies.precut import PrecutRisk
from optimiser.tables.text import counted
from optimiser.writing.terminal.console import DECIDES, plain_table, terminal


def risk_as_dict(risk: PrecutRisk) -> dict[str, Any]:
    """A level's risk as plain JSON values: shares to four places, None where a tolerance is not known."""
    return {
        "level": risk.level,
        "pieces": risk.pieces,
        "nominal_pieces": risk.nominal_pieces,
        "share_not_fitting": _rounded(risk.share_not_fitting),
        "share_too_narrow": _rounded(risk.share_too_narrow),
        "share_too_wide": _rounded(risk.share_too_wide),
        "share_scrapped": _rounded(risk.share_scrapped),
        "boards_scrapped": _rounded(risk.boards_scrapped),
        "boards_site_cut": risk.boards_site_cut,
    }


def show_precut(risks: Sequence[PrecutRisk], draws: int, may_trim: bool) -> None:
    """Prints the risks on stdout; `may_trim`: the detail allows trimming on site."""
    table = plain_table("Cut now, to the nominal gap")
    table.add_column("Level")
    for heading in (
        "Pieces", "nominal", "too narrow", "too wide", "scrap", "boards scrapped", "boards, site-cut",
    ):  # fmt: skip
        table.add_column(heading, justify="right")
    for risk in risks:
        table.add_row(
            risk.level,
            f"{risk.pieces:,}",
            f"{risk.nominal_pieces:,}",
            *(_percent(share) for share in (risk.share_too_narrow, risk.share_too_wide, risk.share_scrapped)),
            "unknown" if risk.boards_scrapped is None else f"{risk.boards_scrapped:,.1f}",
            f"{risk.boards_site_cut:,}",
        )
    console = terminal()
    console.print(table)
    console.print(
        f"{counted(draws, 'drawn survey')}, tolerance = two standard deviations (common practice, no source). Too"
        " narrow is scrap: a piece cannot be extended. Too wide is"
        f" {'trimmed on site' if may_trim else 'scrap: the detail allows no trimming'}. Cut on site after"
        " measuring, these pieces scrap nothing; it costs the crew's time at the edge."
    )
    if not any(risk.nominal_pieces for risk in risks):
        console.print(
            "No gap is nominal: all pieces are measured, and may be cut before their delivery where that is asked for."
        )
    if any(risk.share_scrapped is None for risk in risks):
        console.print("Unknown: a nominal gap without tolerance_mm; write it in the gaps table.")
    console.print(DECIDES)


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 4)


def _percent(share: float | None) -> str:
    return "unknown" if share is None else f"{share:.1%}"
