"""What the estimator sees of a comparison at the terminal: the teeth, the best options, what cannot be built."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby, pairwise
from pathlib import Path
from typing import Any

from optimiser.studies.gap_option import Comparison, GapOption
from optimiser.tables.columns import Column, only
from optimiser.tables.gap_options import GAP_OPTIONS
from optimiser.tables.text import cell_text
from optimiser.writing.drawing.shapes import without_control_characters
from optimiser.writing.terminal.console import add_columns, plain_table, print_list, terminal
from optimiser.writing.words import counted, grouped_money

MOST_ROWS = 40  # options shown one by one; of more, only those beside a step
_WIDTH_WITHOUT_TERMINAL = 110
_AT_ITS_GAP = "best at this gap"
_SHOWN = (
    "gap_mm", "cut_width_mm", "strips_per_board", "boards", "lower_bound", "scrap_fraction", "cost", "joints",
    "tape_mm", "boards_more_at_next_gap",
)  # fmt: skip


def show_comparison(comparison: Comparison, name: str, files: Sequence[Path]) -> None:
    """Prints a comparison on stdout. `files` were written."""
    console = terminal(_WIDTH_WITHOUT_TERMINAL)
    console.print(_clean(name or "Gaps"), style="bold")
    options = len(comparison.options)
    edge = f"{counted(comparison.runs, 'run')}, {comparison.edge_mm / 1000:,.1f} m of edge"
    console.print(f"{counted(options, 'option')} on {edge}")
    for choice, of_choice in comparison.by_choice().items():
        shown = of_choice if len(of_choice) <= MOST_ROWS else tuple(_beside_a_step(of_choice))
        title = _clean(choice.words) if len(comparison.by_choice()) > 1 else "Options"
        if len(shown) < len(of_choice):
            title += f": the {len(shown)} of {len(of_choice)} beside a step or best (all of them: gaps.csv)"
        console.print()
        console.print(options_table(title, shown, comparison.currency))
    print_list(console, "Best", _best_in_words(comparison))
    print_list(console, "Steps", _steps_in_words(comparison))
    print_list(console, "Cannot be built whole", _problems_in_words(comparison))
    print_list(console, "Notes", comparison.notes)
    print_list(console, "Files", [str(file) for file in files])


def options_table(title: str, options: Sequence[GapOption], currency: str) -> Any:
    """A row an option, on a terminal of eighty columns."""
    shown = only(GAP_OPTIONS, *_SHOWN)
    table = plain_table(title, close=True)
    add_columns(table, (_with_currency(column, currency) for column in shown), no_wrap=True)
    table.add_column("")
    special = {
        "lower_bound": lambda option: "yes" if option.optimal else f">= {option.lower_bound:,}",
        "tape_mm": lambda option: f"{option.tape_mm / 1000:,.1f}",
        "boards_more_at_next_gap": _step,
    }
    for option in options:
        if option.boards is None or option.scrap_fraction is None or option.cost is None:
            table.add_row(f"{option.gap_mm}", *[""] * (len(shown) - 1), "cannot be built")
            continue
        cells = (
            special[column.name](option) if column.name in special else cell_text(column, option, currency)
            for column in shown
        )
        table.add_row(*cells, _mark(option))
    return table


def _with_currency(column: Column, currency: str) -> Column:
    return replace(column, short=f"{column.heading}\n{currency}") if column.kind == "money" else column


def _step(option: GapOption) -> str:
    more = option.boards_more_at_next_gap
    return "" if more is None else f"{more:+,}" if more else "0"


def _mark(option: GapOption) -> str:
    """'best' where an option is named under Best, 'best here' where it is only the best choice at its gap."""
    if option.problem:
        return "not whole"
    if any(mark != _AT_ITS_GAP for mark in option.best):
        return "best"
    return "best here" if option.best else ""


def _beside_a_step(options: Sequence[GapOption]) -> Iterator[GapOption]:
    """The last gap before each step of strips a board, the first after it, and the best; where strips say nothing,
    those with a step of boards."""
    strips = [option.strips_per_board for option in options]
    for place, option in enumerate(options):
        ends = place + 1 < len(options) and strips[place + 1] != strips[place]
        begins = place > 0 and strips[place - 1] != strips[place]
        if option.best or place in (0, len(options) - 1) or ends or begins:
            yield option


def _best_in_words(comparison: Comparison) -> Iterator[str]:
    for option in comparison.options:
        marks = [mark for mark in option.best if mark != _AT_ITS_GAP]
        if marks and option.cost is not None:
            choice = f" ({option.choice.words})" if len(comparison.by_choice()) > 1 else ""
            yield (
                f"{', '.join(marks)}: {option.gap_mm} mm{choice}, {counted(option.boards or 0, 'board')},"
                f" {option.scrap_fraction:.1%} scrap, {grouped_money(option.cost, comparison.currency)}"
            )


def _steps_in_words(comparison: Comparison) -> Iterator[str]:
    """The steepest steps: what one gap less saves."""
    steps = [
        (option, after)
        for options in comparison.by_choice().values()
        for option, after in pairwise(options)
        if (option.boards_more_at_next_gap or 0) > 0
    ]
    steepest = sorted(steps, key=lambda step: -(step[0].boards_more_at_next_gap or 0))[:5]
    for option, after in sorted(steepest, key=lambda step: step[0].gap_mm):
        choice = f" ({option.choice.words})" if len(comparison.by_choice()) > 1 else ""
        strips = ""
        if (
            option.strips_per_board
            and after.strips_per_board
            and option.strips_per_board > after.strips_per_board
        ):
            strips = f"; {option.strips_per_board} strips a board instead of {after.strips_per_board}"
        yield (
            f"{option.gap_mm} mm instead of {after.gap_mm} mm{choice} saves {option.boards_more_at_next_gap:,} of"
            f" {after.boards:,} boards{strips}"
        )


def _problems_in_words(comparison: Comparison) -> Iterator[str]:
    """What cannot be built, gaps with the same problem together."""
    for options in comparison.by_choice().values():
        kinds = groupby(options, key=lambda option: option.problem.partition(":")[0].split(" of ")[0])
        for problem, alike in kinds:
            if problem:
                here = list(alike)
                gaps = (
                    f"{here[0].gap_mm} mm" if len(here) == 1 else f"{here[0].gap_mm} to {here[-1].gap_mm} mm"
                )
                yield f"{gaps}: {here[0].problem}"


def _clean(text: str) -> str:
    return without_control_characters(text)
