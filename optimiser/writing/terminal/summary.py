"""What the person at the terminal sees: the order in short, its proof, its warnings; a bar on long solves."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from pathlib import Path
from time import monotonic
from typing import Any

from optimiser.errors.listed import listed
from optimiser.model.order import Delivery
from optimiser.model.plan import Plan
from optimiser.planning.grouped_places import grouped_places
from optimiser.tables.columns import Column
from optimiser.tables.deliveries import (
    AMOUNT,
    DELIVER_ON,
    LEVELS,
    LOADS,
    ORDER_BY,
    PACKS,
    WEIGHT,
    firmness_columns,
    known,
    served,
)
from optimiser.writing.drawing.shapes import without_control_characters
from optimiser.writing.file_names import FILES
from optimiser.writing.moved_brackets import moved_brackets_by_run
from optimiser.writing.terminal.console import filled_table, print_list, terminal
from optimiser.writing.words import (
    bracket_choices_in_words,
    carrying_in_words,
    counted,
    delivery_costs_in_words,
    edges_in_words,
    forecast_in_words,
    grouped_money,
    on_site_in_words,
    parts_in_words,
    proofs_in_words,
    question_in_words,
    waste_in_words,
)

MOST_QUESTIONS = 20  # to the survey shown; all stand in plan.json
MOST_MOVED = 10  # runs with brackets beyond the detail shown; all stand in plan.json and on the crew's sheets
MOST_GROUPS = 20  # causes for which places are not planned that are shown
MOST_PLACES = 5  # of each cause; all stand in plan.json and office.xlsx
_SECONDS_BEFORE_BAR = 0.7

_WIDE = 100  # columns of a terminal


def show_plan(
    plan: Plan, folder: Path | None, files: Sequence[str] = FILES, today: date | None = None
) -> None:
    """Prints the summary of a plan on stdout. `files` are those that were written into `folder`; with `today`
    the days are told that have passed."""
    console = terminal()
    heading = plan.project.project
    title = " - ".join(part for part in (heading.name, heading.order_reference) if part)
    console.print(_clean(title or "Order"), style="bold")
    levels = len({piece.level for piece in plan.pieces})
    console.print(
        f"{counted(len(plan.pieces), 'piece')} on {counted(levels, 'level')};"
        f" staging '{plan.staging}': {_carried(plan)}"
        + (f"; choice {plan.waiting_choice} of boards against waiting" if plan.waiting_choice else "")
    )
    print_list(console, "Boards", proofs_in_words(plan))
    print_list(console, "Boards and carrying", carrying_in_words(plan))
    print_list(console, "Waste", [waste_in_words(plan)])
    console.print()
    console.print(deliveries_table(plan, console.width))
    parts = parts_in_words(plan)
    total = grouped_money(plan.order.total, plan.order.currency)
    console.print(f"Total  {total}{f': {parts}' if parts else ''}", style="bold")
    print_list(console, "Deliveries and storage", delivery_costs_in_words(plan))
    print_list(console, "Bracket sizes", bracket_choices_in_words(plan))
    print_list(console, "On site", on_site_in_words(plan))
    print_list(console, "Forecast", forecast_in_words(plan), style="bold yellow")
    if plan.not_planned:
        print_list(console, f"NOT PLANNED: {len(plan.not_planned)}", _not_planned(plan), style="bold red")
    print_list(console, "Edges", edges_in_words(plan))
    if plan.brackets_moved:
        moved = moved_brackets_by_run(plan)
        if (more := len(moved) - MOST_MOVED) > 0:
            moved[MOST_MOVED:] = [
                f"and on {counted(more, 'more run')}: see the crew's sheets, office.xlsx and plan.json"
            ]
        told = f"BRACKETS FARTHER THAN THE DETAIL SAYS: {len(plan.brackets_moved)}"
        print_list(console, told, moved, style="bold yellow")
    print_list(console, "TOO LATE", _too_late(plan, today), style="bold red")
    if plan.questions:
        title = f"Questions to the survey: {len(plan.questions)}"
        print_list(console, title, _questions(plan), style="bold yellow")
    print_list(console, "How cells of the survey were read", plan.project.reading_notes)
    print_list(console, "Warnings", plan.warnings, style="bold yellow")
    print_list(console, "Cautions", plan.cautions)
    if folder is not None:
        left_out = [f"no {name}: nothing is ordered" for name in FILES if name not in files]
        print_list(console, "Files", [*(str(folder / name) for name in files), *left_out])


def _carried(plan: Plan) -> str:
    """How long an offcut may wait: every staging obeys the project's max_carry_stages."""
    if plan.staging == "level" or plan.max_carry_stages == 0:
        return "no offcut leaves its delivery"
    if plan.max_carry_stages is None:
        return "an offcut may serve any later delivery"
    return f"an offcut may wait for {counted(plan.max_carry_stages, 'more delivery', 'more deliveries')}"


def _not_planned(plan: Plan) -> Sequence[str]:
    """Places with one cause on one line, and where all of them are."""
    groups = grouped_places(plan.not_planned)
    told = []
    for group in groups[:MOST_GROUPS]:
        named = "; ".join(group.places[:MOST_PLACES])
        more = len(group.places) - MOST_PLACES
        many = f"{counted(len(group.places), 'place')}: " if len(group.places) > 1 else ""
        told.append(f"{many}{group.reason}; {group.mend}: {named}{f'; and {more} more' if more > 0 else ''}")
    if len(groups) > MOST_GROUPS:
        told.append(f"and {counted(len(groups) - MOST_GROUPS, 'more cause')}: see plan.json")
    return told


def _questions(plan: Plan) -> Sequence[str]:
    """The first questions, and where all of them are."""
    told = [question_in_words(question) for question in plan.questions[:MOST_QUESTIONS]]
    more = len(plan.questions) - len(told)
    if more > 0:
        told.append(f"and {more:,} more: see plan.json, or run barrier-orders survey")
    return (*told, "barrier-orders survey writes a sheet to measure them again with")


def _too_late(plan: Plan, today: date | None) -> Sequence[str]:
    """The deliveries that cannot come in time any more."""
    late = [] if today is None else [
        delivery for delivery in plan.deliveries if delivery.order_by is not None and delivery.order_by < today
    ]  # fmt: skip
    if not late:
        return ()
    names = [level for delivery in late for level in served(delivery)]
    named = listed(names, 8)
    first = min(delivery.order_by for delivery in late if delivery.order_by is not None)
    return [
        f"the day to order has passed (the first was {first}): {named}. Agree new dates with the supplier, or"
        " change needed_on or lead_days."
    ]


def deliveries_table(plan: Plan, width: int) -> Any:
    """A row a delivery: when, what, how much; and, where any level is a forecast, which and by when to measure it.
    What brings it is told only on a terminal of some width: it would push the amounts off a narrow one."""
    columns = (
        replace(LEVELS, value=_served),
        *firmness_columns(plan.levels),
        _or_open(DELIVER_ON),
        _or_open(ORDER_BY),
        PACKS,
        *(known((LOADS, WEIGHT), plan.deliveries) if width >= _WIDE else ()),
        AMOUNT,
    )
    return filled_table("Order by delivery", columns, plan.deliveries, plan.order.currency, close=True)


def _served(delivery: Delivery) -> tuple[str, ...]:
    """The level that a delivery serves; of several the first and the last."""
    levels = served(delivery)
    return levels if len(levels) == 1 else (f"{levels[0]} to {levels[-1]}",)


def _or_open(column: Column) -> Column:
    """A day, or 'open' where there is none."""
    return replace(column, value=lambda delivery: column.of(delivery) or "open")


def _clean(text: str) -> str:
    """Without control characters: a name in a survey must not move the cursor."""
    return without_control_characters(text)


@contextmanager
def progress_bar() -> Iterator[Callable[[Any], None] | None]:
    """A progress bar on stderr for the solver's reports, once a solve takes long; None without a terminal.

    Each report is a `planning.PlanProgress`.
    """
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

    bar = Progress(
        SpinnerColumn(),
        TextColumn("cutting: {task.description}", markup=False),
        TimeElapsedColumn(),
        console=Console(stderr=True),
        transient=True,
    )
    task = bar.add_task("starting")
    began = monotonic()

    def report(progress: Any) -> None:
        what = "boards" if progress.counts_boards else "cost"
        bar.update(
            task,
            description=f"{', '.join(progress.codes)}: {what} {progress.best:,}, proved minimum {progress.bound:,}",
        )
        if not bar.live.is_started and monotonic() - began > _SECONDS_BEFORE_BAR:
            bar.start()

    try:
        yield report
    finally:
        bar.stop()
