"""`barrier-orders gaps`: which nominal gap takes how many boards, a row an option."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optimiser.commands.options import Marked, ProjectFile, Seconds, Seed, read_or_mark

if TYPE_CHECKING:
    from decimal import Decimal


def gaps(
    project: ProjectFile,
    from_mm: Annotated[int, typer.Option("--from", metavar="MM", help="The smallest gap.")],
    to_mm: Annotated[int, typer.Option("--to", metavar="MM", help="The largest gap.")],
    step_mm: Annotated[int, typer.Option("--step", metavar="MM", help="From one gap to the next.")] = 1,
    out: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Where the files go; 'out' when not given.")
    ] = None,
    boards: Annotated[
        list[str] | None,
        typer.Option(
            metavar="CODE", help="Compare boards: a code, several joined by +, or 'all'; may be given again."
        ),
    ] = None,
    oversize: Annotated[
        list[str] | None,
        typer.Option(
            metavar="MIN:MAX", help="Compare oversize limits, such as 0.10:0.15; may be given again."
        ),
    ] = None,
    insertion: Annotated[
        list[str] | None,
        typer.Option(
            metavar="MIN:TARGET:MAX", help="Compare bracket insertions, such as 0.70:0.75:0.85; again."
        ),
    ] = None,
    brackets: Annotated[
        list[str] | None,
        typer.Option(metavar="CODES", help="Compare bracket sizes on offer: codes joined by +; again."),
    ] = None,
    runs: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME", help="Only these runs; * stands for any letters: '*-N'; again."),
    ] = None,
    shifted: Annotated[
        bool,
        typer.Option("--shifted", help="Move each run's own gaps to the mean, instead of one gap all along."),
    ] = False,
    time_limit: Seconds = None,
    seed: Seed = 0,
    marked: Marked = None,
    json: Annotated[
        bool, typer.Option("--json", help="Print the options as JSON; write files only with --out.")
    ] = False,
) -> None:
    """Compare nominal gaps: boards, waste and cost of each.

    Sets every run's gap to each value of the range and cuts it all: boards with their proved bound, waste, cost,
    brackets by size, joints and tape. Writes gaps.csv and gaps.svg.
    """
    from contextlib import nullcontext

    from optimiser.writing.terminal.counting_bar import counting_bar
    from optimiser.writing.whole_folder import all_or_nothing

    limits = [_rates(text, 2, "--oversize", "0.10:0.15") for text in oversize or []]
    bands = [_rates(text, 3, "--insertion", "0.70:0.75:0.85") for text in insertion or []]
    surveyed = read_or_mark(project, marked)
    folder = out or (None if json else Path("out"))
    with all_or_nothing(folder) if folder else nullcontext() as unfinished:
        from optimiser.studies.comparison import compare, gaps_between

        every = list(surveyed.building.boards)
        codes = [one for text in boards or [] for one in (every if text == "all" else [text])]
        with counting_bar("comparing gaps") as progress:
            found = compare(
                surveyed,
                gaps_between(from_mm, to_mm, step_mm),
                boards=[text.split("+") if text not in every else [text] for text in codes],
                oversize=[(low, high) for low, high in limits],
                insertion=[(low, target, high) for low, target, high in bands],
                brackets=[text.split("+") for text in brackets or []],
                runs=runs or [],
                shifted=shifted,
                time_limit=time_limit,
                seed=seed,
                progress=progress,
            )
        name = surveyed.project.name
        if unfinished is not None:
            from optimiser.writing.office.gap_chart import gaps_svg
            from optimiser.writing.office.gaps_csv import gaps_csv

            (unfinished / "gaps.svg").write_text(gaps_svg(found, name), encoding="utf-8")
            (unfinished / "gaps.csv").write_text(gaps_csv(found), encoding="utf-8", newline="")
    if json:
        from optimiser.writing.data.plan_json import rows_on_lines

        typer.echo((rows_on_lines(found.as_json()) + "\n").encode(), nl=False)
    else:
        from optimiser.writing.terminal.gap_table import show_comparison

        written = [folder / file for file in ("gaps.csv", "gaps.svg")] if folder else []
        show_comparison(found, name, written)


def _rates(text: str, parts: int, option: str, example: str) -> tuple[Decimal, ...]:
    """Rates joined by colons, as exact decimals."""
    from decimal import Decimal, InvalidOperation

    try:
        rates = tuple(Decimal(part.strip()) for part in text.split(":"))
    except InvalidOperation:
        rates = ()
    if len(rates) != parts or not all(rate.is_finite() and 0 <= rate <= 1 for rate in rates):
        raise typer.BadParameter(f"{text!r}: give {parts} rates from 0 to 1 joined by colons, such as {example}",
                                 param_hint=option)  # fmt: skip
    return rates
