"""What the person at the terminal sees: the order in short, its proof, its warnings; a bar on long solves."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from time import monotonic
from typing import Any

from optimiser.plan import Delivery, Plan
from optimiser.writing.all_files import FILES
from optimiser.writing.console import plain_table, print_list, terminal
from optimiser.writing.shapes import without_control_characters
from optimiser.writing.words import (
    amount_text,
    counted,
    grouped_money,
    place_in_words,
    proofs_in_words,
    waste_in_words,
)

MOST_PLACES = 20  # not planned places shown; all stand in plan.json and order.xlsx
_SECONDS_BEFORE_BAR = 0.7

_STAGING = {
    "whole": "an offcut may serve any later delivery",
    "level": "no offcut leaves its delivery",
}


def show_plan(
    plan: Plan, folder: Path | None, files: Sequence[str] = FILES, today: date | None = None
) -> None:
    """Prints the summary of a plan on stdout. `files` are those that were written into `folder`; with `today`
    the days are told that have passed."""
    console = terminal()
    heading = plan.project.project
    title = " - ".join(part for part in (heading.name, heading.order_reference) if part)
    console.print(_clean(title or "Order"), style="bold")
    carried = _STAGING.get(plan.staging) or f"an offcut may wait for {plan.max_carry_stages} more deliveries"
    levels = len({piece.level for piece in plan.pieces})
    console.print(
        f"{counted(len(plan.pieces), 'piece')} on {counted(levels, 'level')};"
        f" staging '{plan.staging}': {carried}"
    )
    print_list(console, "Boards", proofs_in_words(plan))
    print_list(console, "Waste", [waste_in_words(plan)])
    console.print()
    console.print(_deliveries(plan))
    console.print(f"Total  {grouped_money(plan.order.total, plan.order.currency)}", style="bold")
    if plan.not_planned:
        places = [place_in_words(place) for place in plan.not_planned]
        more = len(places) - MOST_PLACES
        if more > 0:
            places = [*places[:MOST_PLACES], f"and {more} more: see plan.json"]
        print_list(console, f"NOT PLANNED: {len(plan.not_planned)}", places, style="bold red")
    print_list(console, "TOO LATE", _too_late(plan, today), style="bold red")
    print_list(console, "Warnings", plan.warnings, style="bold yellow")
    print_list(console, "Cautions", plan.cautions)
    if folder is not None:
        left_out = [f"no {name}: nothing is ordered" for name in FILES if name not in files]
        print_list(console, "Files", [*(str(folder / name) for name in files), *left_out])


def _too_late(plan: Plan, today: date | None) -> Sequence[str]:
    """The deliveries that cannot come in time any more."""
    late = [] if today is None else [
        delivery for delivery in plan.deliveries if delivery.order_by is not None and delivery.order_by < today
    ]  # fmt: skip
    if not late:
        return ()
    names = [level for delivery in late for level in delivery.levels or (delivery.level,)]
    named = ", ".join(names[:8]) + (f" and {len(names) - 8} more" if len(names) > 8 else "")
    first = min(delivery.order_by for delivery in late if delivery.order_by is not None)
    return [
        f"the day to order has passed (the first was {first}): {named}. Agree new dates with the supplier, or"
        " change needed_on or lead_days."
    ]


def _deliveries(plan: Plan) -> Any:
    """A row a delivery: when, what, how much."""
    from rich.text import Text

    table = plain_table("Order by delivery")
    table.add_column("Level", no_wrap=True)
    table.add_column("Deliver on", no_wrap=True)
    table.add_column("Order by", no_wrap=True)
    table.add_column("Packs")
    table.add_column("Amount", justify="right", no_wrap=True)
    for delivery in plan.deliveries:
        levels = delivery.levels or (delivery.level,)
        served = levels[0] if len(levels) == 1 else f"{levels[0]} to {levels[-1]}"
        table.add_row(
            Text(_clean(served)),
            delivery.deliver_on.isoformat() if delivery.deliver_on else "open",
            delivery.order_by.isoformat() if delivery.order_by else "open",
            Text(_packs(delivery)),
            amount_text(delivery.amount, plan.order.currency),
        )
    return table


def _packs(delivery: Delivery) -> str:
    return _clean(
        ", ".join(f"{packs}\N{MULTIPLICATION SIGN}{code}" for code, packs in delivery.packs.items())
    )


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
            description=f"{', '.join(progress.codes)}: {what} {progress.best:,}, no plan below {progress.bound:,}",
        )
        if not bar.live.is_started and monotonic() - began > _SECONDS_BEFORE_BAR:
            bar.start()

    try:
        yield report
    finally:
        bar.stop()
