"""`barrier-orders suppliers`: offers of several suppliers side by side for what a plan orders."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimiser.commands.options import day_given


def suppliers(
    plan: Annotated[
        Path,
        typer.Argument(metavar="PLAN", help="The plan.json whose order is to be bought; '-' reads stdin."),
    ],
    offers: Annotated[
        list[Path],
        typer.Option(
            "--offers",
            metavar="FILE",
            help="What suppliers offer: a UBL 2.1 Quotation or Catalogue, or a .csv with a row a price; repeat it for"
            " several files.",
        ),
    ],
    on: Annotated[
        str | None,
        typer.Option(
            metavar="DAY", help="The day of ordering, on which prices must hold; today when not given."
        ),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Write suppliers.csv and split.csv here."),
    ] = None,
) -> None:
    """Compare suppliers for the same need: the cheapest split with its proof, and what each price needs to win.

    Price breaks, packs, lead times, least orders and freight count. The prices that stand in the project are one of the
    offers, unless its supplier makes one.
    """
    from datetime import date

    from optimiser.model.plan import Plan
    from optimiser.ordering.supplier_comparison import compare_suppliers
    from optimiser.reading import CannotBeDone, read_offers, read_plan
    from optimiser.writing.data.suppliers_csv import SPLIT, SUPPLIERS, split_csv, suppliers_csv
    from optimiser.writing.terminal.supplier_table import show_suppliers
    from optimiser.writing.whole_folder import all_or_nothing

    made = read_plan(plan)
    if not isinstance(made, Plan):
        raise CannotBeDone([f"{plan} is a cutting result, not a plan; give a plan.json"])
    given = [offer for path in offers for offer in read_offers(path)]
    try:
        found = compare_suppliers(made, given, day_given(on, "--on") or date.today())
    except ValueError as error:
        raise CannotBeDone([str(error)]) from None
    files: tuple[str, ...] = ()
    if out is not None:
        with all_or_nothing(out) as unfinished:
            (unfinished / SUPPLIERS).write_text(suppliers_csv(found), encoding="utf-8", newline="")
            (unfinished / SPLIT).write_text(split_csv(found), encoding="utf-8", newline="")
        files = (str(out / SUPPLIERS), str(out / SPLIT))
    show_suppliers(found, files)
    if found.best is None:
        raise CannotBeDone(list(found.missing))
