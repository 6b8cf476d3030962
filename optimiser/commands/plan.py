"""`barrier-orders plan`: a building's survey in, a checked supplier order out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from optimiser.commands.options import (
    CarryCost,
    Marked,
    ProjectFile,
    Replaces,
    SecondsOrUsual,
    Seed,
    SoldBy,
    names_given,
    read_or_mark,
)

if TYPE_CHECKING:
    from optimiser.model.project import Project


USUAL_LIMIT = 900.0  # seconds where none is given; the sample tower of 14 levels is done in a fiftieth of it


def plan(
    project: ProjectFile,
    out: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Where the files go; 'out' when not given.")
    ] = None,
    staging: Annotated[
        Literal["whole", "carry", "level"],
        typer.Option(
            help="Where an offcut may serve: any later level (whole), the next deliveries (carry:"
            " the project's max_carry_stages, 1 when not given), or its own level only (level)."
        ),
    ] = "whole",
    levels: Annotated[
        list[str] | None,
        typer.Option(
            metavar="LEVELS", help="Cutting sheets of these levels only; the order is always whole."
        ),
    ] = None,
    paper: Annotated[
        Literal["A4", "Letter"],
        typer.Option(case_sensitive=False, help="The paper of everything that is printed."),
    ] = "A4",
    label_order: Annotated[
        Literal["cutting", "run"],
        typer.Option(
            help="The order of labels.pdf: as the pieces are cut, or run by run as they are fitted."
        ),
    ] = "cutting",
    with_nominal: Annotated[
        bool,
        typer.Option(
            "--with-nominal",
            help="Print the sheets and labels of nominal levels too, every page marked as not ready to cut;"
            " otherwise they are withheld until they are measured.",
        ),
    ] = False,
    joint_rounds: Annotated[
        int | None,
        typer.Option(
            min=0,
            max=20,
            metavar="N",
            help="Lay the joints again at the cutting's prices, up to N times: as many joints, at times a board"
            " less, and several times as long to plan. Without it, where it may pay and takes little time.",
        ),
    ] = None,
    carry_cost: CarryCost = None,
    waiting_choice: Annotated[
        int | None,
        typer.Option(
            min=1,
            metavar="N",
            help="Cut as plan N on the frontier of boards against waiting that `stagings` shows: 1 where nothing waits,"
            " the last with the fewest boards.",
        ),
    ] = None,
    supplier: SoldBy = None,
    replaces: Replaces = None,
    time_limit: SecondsOrUsual = None,
    seed: Seed = 0,
    marked: Marked = None,
    json: Annotated[
        bool, typer.Option("--json", help="Print plan.json, and write files only with --out.")
    ] = False,
) -> None:
    """Plan a project: a survey in, a checked supplier order out.

    Lays out the pieces, cuts them, counts brackets and tape, orders by level, and lets an independent judge
    check it all. Writes the supplier's order (order.pdf, order.xlsx, order.csv, order.ubl.xml, and purchase-order.json
    for its next revision), the office's (office.xlsx, deliveries.csv, deliveries.ics, levels.svg), the crew's
    (cutting-sheets.pdf, labels.pdf) and plan.json.
    """
    from contextlib import nullcontext
    from datetime import date

    from optimiser.ordering.purchase_order import Issue, purchase_order, suppliers_of_products
    from optimiser.reading import read_purchase_order
    from optimiser.writing.all_files import write_all
    from optimiser.writing.data.plan_json import plan_json
    from optimiser.writing.file_names import FILES
    from optimiser.writing.terminal.summary import progress_bar, show_plan
    from optimiser.writing.whole_folder import all_or_nothing

    for option, value in (("--carry-cost", carry_cost), ("--joint-rounds", joint_rounds or None)):
        if waiting_choice is not None and value is not None:
            raise typer.BadParameter(f"give it or {option}, not both", param_hint="--waiting-choice")
    before = None if replaces is None else read_purchase_order(replaces)
    surveyed = read_or_mark(project, marked)
    if before is not None and before.currency != surveyed.project.currency:
        raise typer.BadParameter(
            f"that order is in {before.currency}, the project in {surveyed.project.currency}",
            param_hint="--replaces",
        )
    sellers = suppliers_of_products(surveyed).values()
    if supplier is not None and supplier not in sellers:
        known = ", ".join(dict.fromkeys(sellers))
        raise typer.BadParameter(
            f"it sells no product of the project; there is {known}", param_hint="--supplier"
        )
    sheets_of = None if levels is None else _levels_of(surveyed, levels)
    folder = out or (None if json else Path("out"))
    today = date.today()
    written: tuple[str, ...] = ()
    with all_or_nothing(folder, FILES) if folder else nullcontext() as unfinished:
        from optimiser.planning import plan as planning

        with progress_bar() as progress:
            made = planning.plan(
                surveyed,
                staging=staging,
                joint_rounds=joint_rounds,
                time_limit=time_limit,
                seed=seed,
                progress=progress,
                carry_cost=carry_cost,
                waiting_choice=waiting_choice,
                stop_after=USUAL_LIMIT if time_limit is None else None,
            )
        if unfinished is not None:
            written = write_all(
                made,
                unfinished,
                order=purchase_order(made, Issue(issued_on=today, replaces=before, sold_by=supplier)),
                paper=paper,
                levels=sheets_of,
                label_order=label_order,
                with_nominal=with_nominal,
            )
    if json:
        typer.echo(plan_json(made).encode(), nl=False)  # UTF-8 whatever the terminal's encoding
    else:
        show_plan(made, folder, written, today)


def _levels_of(surveyed: Project, given: list[str]) -> list[str]:
    """The levels that are named, each one the project's."""
    known = [level.level for level in surveyed.levels_in_order()]
    chosen = names_given(given, known)
    unknown = [name for name in chosen if name not in known]
    if unknown or not chosen:
        what = f"no level {', '.join(unknown)}" if unknown else "no level without a name"
        raise typer.BadParameter(f"the project has {what}; it has {', '.join(known)}", param_hint="--levels")
    return chosen
