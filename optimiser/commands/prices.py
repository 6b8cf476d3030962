"""`barrier-orders prices`: a supplier's prices into the products of a project."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimiser.commands.options import ProjectFile, day_given


def prices(
    project: ProjectFile,
    offer: Annotated[
        Path,
        typer.Option(
            metavar="FILE",
            help="What the supplier offers: a UBL 2.1 Quotation or Catalogue, or a .csv with a row a price.",
        ),
    ],
    supplier: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="Whose prices, where the file has those of several."),
    ] = None,
    on: Annotated[
        str | None,
        typer.Option(metavar="DAY", help="The day on which they must hold; today when not given."),
    ] = None,
    out: Annotated[
        Path, typer.Option(metavar="FILE.json", help="Where the project with these prices goes.")
    ] = Path("project.json"),
) -> None:
    """Take over a supplier's prices, packs, lead times and price breaks, as they hold on a day.

    Writes the project as JSON, whole; the file that was given stays as it is.
    """
    from datetime import date

    from optimiser.ordering.offered_prices import with_prices
    from optimiser.reading import CannotBeDone, read_offers, read_project
    from optimiser.writing.data.plan_json import rows_on_lines
    from optimiser.writing.whole_file import write_whole

    read, offers = read_project(project), read_offers(offer)
    chosen = [one for one in offers if supplier in (None, one.supplier)]
    if len(chosen) != 1:
        names = ", ".join(one.supplier for one in offers)
        raise typer.BadParameter(
            f"name one of those whose offers {offer.name} has: {names}", param_hint="--supplier"
        )
    try:
        found = with_prices(read, chosen[0], day_given(on, "--on") or date.today())
    except ValueError as error:
        raise CannotBeDone([str(error)]) from None
    value = found.project.model_dump(mode="json", by_alias=True)
    write_whole(out, (rows_on_lines(value) + "\n").encode())
    for words in found.changed or ("no product changes",):
        typer.echo(words)
    for words in found.left_aside:
        typer.echo(f"left aside: {words}", err=True)
    typer.echo(f"the project is in {out}")
