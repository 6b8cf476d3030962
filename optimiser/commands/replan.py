"""`barrier-orders replan`: the next plan, from the plan that the site works by and what happened since."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Annotated, Literal

import typer

from optimiser.commands.options import Replaces, Seconds, Seed, amount_given, day_given


def replan(
    plan: Annotated[
        Path, typer.Argument(metavar="PLAN", help="The plan.json that the site works by; '-' reads stdin.")
    ],
    record: Annotated[
        Path,
        typer.Option(
            metavar="RECORD",
            help="What happened: .csv, or JSON lines; all of it, or what is new since the plan.",
        ),
    ],
    survey: Annotated[
        Path | None,
        typer.Option(
            metavar="PROJECT",
            help="The newest survey: a workbook, a folder of .csv, or a .json; the plan's own when not given.",
        ),
    ] = None,
    out: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Where the files go; 'out' when not given.")
    ] = None,
    today: Annotated[
        str | None,
        typer.Option(
            metavar="DAY",
            help="The day that order days are judged by, such as 2027-03-01; today when not given.",
        ),
    ] = None,
    change_cost: Annotated[
        Decimal,
        typer.Option(
            metavar="AMOUNT",
            parser=amount_given,
            help="What changing an issued order costs, freight or a fee.",
        ),
    ] = Decimal(0),
    paper: Annotated[
        Literal["A4", "Letter"],
        typer.Option(case_sensitive=False, help="The paper of everything that is printed."),
    ] = "A4",
    replaces: Replaces = None,
    time_limit: Seconds = None,
    seed: Seed = 0,
    json: Annotated[
        bool, typer.Option("--json", help="Print plan.json, and write files only with --out.")
    ] = False,
) -> None:
    """Plan the rest of a job that has begun.

    What is cut, on the rack, on site and on order is used first; pieces and boards that do not change keep their names.
    Writes what plan writes, difference.csv (what must be ordered on top, or can be dropped, and why),
    labels-to-change.csv, received.csv (goods against order) and job-state.csv (how far each level is). The order is
    what must be ordered beyond the record; with --replaces it is the next revision of the one that was sent, whole.
    """
    from contextlib import nullcontext

    from optimiser.model.plan import Plan
    from optimiser.ordering.purchase_order import Issue, purchase_order_of
    from optimiser.reading import CannotBeDone, read_plan, read_project, read_purchase_order, read_record
    from optimiser.replanning import replan as replanning
    from optimiser.replanning.on_top import order_on_top, ordered_on_record
    from optimiser.writing.all_files import write_all
    from optimiser.writing.data.changes_csv import (
        DIFFERENCE,
        JOB_STATE,
        LABELS_TO_CHANGE,
        RECEIVED_GOODS,
        difference_csv,
        job_state_csv,
        labels_to_change_csv,
        received_csv,
    )
    from optimiser.writing.data.plan_json import plan_json
    from optimiser.writing.file_names import FILES
    from optimiser.writing.terminal.replan_report import replan_lines
    from optimiser.writing.terminal.summary import show_plan
    from optimiser.writing.whole_folder import all_or_nothing

    before = read_plan(plan)
    if not isinstance(before, Plan):
        raise CannotBeDone(
            [f"{plan} is a cutting result, not a plan; give the plan.json that the site works by"]
        )
    told = read_record(record, before)
    placed = None if replaces is None else read_purchase_order(replaces)
    judged_on = day_given(today, "--today") or date.today()
    newest = read_project(survey) if survey else None
    folder = out or (None if json else Path("out"))
    issued_on = date.today()
    written: tuple[str, ...] = ()
    names = (*FILES, DIFFERENCE, LABELS_TO_CHANGE, RECEIVED_GOODS, JOB_STATE)
    with all_or_nothing(folder, names) if folder else nullcontext() as unfinished:
        made = replanning.replan(before, told, newest, time_limit=time_limit, seed=seed)
        if unfinished is not None:
            whole = made.order if placed is None else order_on_top(made, placed, before.project)
            besides = ordered_on_record(made) if placed is None else {}
            sent = purchase_order_of(
                made.project, whole, Issue(issued_on=issued_on, replaces=placed, besides=besides)
            )
            written = write_all(made, unfinished, order=sent, paper=paper)
            for name, text in (
                (DIFFERENCE, difference_csv(made, before, judged_on, change_cost)),
                (LABELS_TO_CHANGE, labels_to_change_csv(before, made)),
                (RECEIVED_GOODS, received_csv(made)),
                (JOB_STATE, job_state_csv(made)),
            ):
                (unfinished / name).write_text(text, encoding="utf-8", newline="")
                written = (*written, name)
    if json:
        typer.echo(plan_json(made).encode(), nl=False)
        return
    for line in replan_lines(before, made, judged_on, change_cost):
        typer.echo(line)
    show_plan(made, folder, written, judged_on)
