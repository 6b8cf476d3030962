"""`barrier-orders precut`: what cutting nominal levels ahead would scrap, beside cutting them on site."""

from __future__ import annotations

from typing import Annotated

import typer

from optimiser.command_options import ProjectFile, Seconds, Seed


def precut(
    project: ProjectFile,
    draws: Annotated[
        int, typer.Option(metavar="N", min=1, max=20_000, help="How many surveys to draw.")
    ] = 500,
    seed: Seed = 0,
    time_limit: Seconds = None,
    json: Annotated[bool, typer.Option("--json", help="Print the risks as JSON.")] = False,
) -> None:
    """Weigh pre-cutting against site cutting.

    For each level the share of pieces that would not fit if cut to the nominal gap now, and the boards that
    this would scrap; cut on site after measuring they scrap nothing.
    """
    from json import dumps

    from optimiser.planning import plan
    from optimiser.precut import precut_risks
    from optimiser.reading import read_project
    from optimiser.writing.terminal import progress_bar

    surveyed = read_project(project)
    with progress_bar() as progress:
        made = plan(surveyed, time_limit=time_limit, seed=seed, progress=progress)
    risks = precut_risks(made, draws=draws, seed=seed)
    if json:
        rows = [
            {
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
            for risk in risks
        ]
        document = {"draws": draws, "seed": seed, "levels": rows, "cautions": list(made.cautions)}
        typer.echo((dumps(document, indent=1, ensure_ascii=False) + "\n").encode(), nl=False)
        return
    from rich.box import SIMPLE_HEAD
    from rich.console import Console
    from rich.table import Table

    table = Table(
        title="Cut now, to the nominal gap",
        title_justify="left",
        title_style="bold",
        pad_edge=False,
        box=SIMPLE_HEAD,
    )
    table.add_column("Level")
    for heading in (
        "Pieces",
        "nominal",
        "too narrow",
        "too wide",
        "scrap",
        "boards scrapped",
        "boards, site-cut",
    ):
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
    console = Console(markup=False, highlight=False, emoji=False)
    if not console.is_terminal:
        console = Console(markup=False, highlight=False, emoji=False, width=100)
    console.print(table)
    console.print(
        f"{draws} drawn surveys, tolerance = two standard deviations (common practice, no source). Too narrow is"
        " scrap: a piece cannot be extended. Too wide is"
        f" {'trimmed on site' if surveyed.detail.trim else 'scrap: the detail allows no trimming'}. Cut on site"
        " after measuring, these pieces scrap nothing; it costs the crew's time at the edge."
    )
    if not any(risk.nominal_pieces for risk in risks):
        console.print("No gap is nominal: all pieces are measured, and may be cut ahead as planned.")
    if any(risk.share_scrapped is None for risk in risks):
        console.print("Unknown: a nominal gap without tolerance_mm; write it in the gaps table.")
    console.print("The tested detail, local code and a licensed practitioner decide what may be built.")


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 4)


def _percent(share: float | None) -> str:
    return "unknown" if share is None else f"{share:.1%}"
