"""What the estimator sees of a tolerance simulation at the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from optimiser.simulation.order_quantity import OrderQuantity
from optimiser.simulation.simulated_allowance import SimulatedAllowance
from optimiser.tables.columns import Column, only
from optimiser.tables.simulated import QUANTITIES
from optimiser.tables.text import counted
from optimiser.writing.drawing.shapes import without_control_characters
from optimiser.writing.terminal.console import filled_table, print_list, terminal

_WIDTH_WITHOUT_TERMINAL = 110


def show_allowance(found: SimulatedAllowance, name: str, files: Sequence[Path]) -> None:
    """Prints a simulation on stdout. `files` were written."""
    console = terminal(_WIDTH_WITHOUT_TERMINAL)
    console.print(without_control_characters(name or "Allowance"), style="bold")
    console.print(
        f"{found.draws:,} draws (seed {found.seed}); gaps drawn on {found.runs_drawn} of {counted(found.runs, 'run')},"
        f" {found.pieces_mean:,.0f} pieces on average"
    )
    console.print(_reason(found))
    console.print()
    console.print(_table(found))
    print_list(console, "Beside a flat percentage on the nominal plan", _flat_in_words(found))
    print_list(console, "How good the quick cutting is", [_bias_in_words(found)] if found.bias.sample else [])
    print_list(console, "Notes", found.notes)
    print_list(console, "Files", [str(file) for file in files])


def _reason(found: SimulatedAllowance) -> str:
    if found.shortage_cost is None or found.surplus_cost is None:
        proof = "no packs cost less: proved" if found.cost == found.least_cost else "not proved the least"
        return (
            f"The order covers {found.covered / found.draws:.1%} of the draws in every product at once"
            f" ({found.service_level:.4g} asked for; {proof}). Product by product at the same share ('alone'),"
            f" {found.covered_alone / found.draws:.1%} would be covered."
        )
    return (
        f"One missing costs {found.shortage_cost:g}, one left over {found.surplus_cost:g}: their sum is least where the"
        f" order covers {found.service_level:.4g} of the draws, product by product;"
        f" {found.covered_alone / found.draws:.1%} of them are covered in every product at once."
    )


def _table(found: SimulatedAllowance) -> Any:
    code, order, alone, *others, extra = only(
        QUANTITIES, "code", "order", "order_alone", "packs", "median", "min", "max", "planned", "extra"
    )
    sure = Column("interval", "95 % sure", "count", value=_interval)
    columns = (code, order, alone, sure, *others, replace(extra, value=_on_top))
    return filled_table("Order", columns, found.quantities, no_wrap=True)


def _interval(item: OrderQuantity) -> str:
    """Between which needs the true quantile lies with 95 % confidence; '?' where too few draws bound it."""
    low, high = item.interval
    return f"{'?' if low is None else f'{low:,}'} to {'?' if high is None else f'{high:,}'}"


def _on_top(item: OrderQuantity) -> str:
    return f"{item.order - item.planned:+,}"


def _flat_in_words(found: SimulatedAllowance) -> list[str]:
    """How boards and anchors fare by guesses; bracket sizes that the plan does not know have no percentage."""
    return [
        _flat(item, percentage, item.flat[percentage].quantity)
        for item in found.quantities
        if item.kind != "bracket" and item.planned
        for percentage in sorted(item.flat)
    ]


def _flat(item: OrderQuantity, percentage: int, quantity: int) -> str:
    flat = item.flat[percentage]
    return (
        f"{item.code}: plan + {percentage} % is {quantity:,}: too few in {flat.short_share:.1%} of the draws,"
        f" {flat.mean_surplus:,.1f} left over on average (the order: {item.short_share:.1%}, {item.mean_surplus:,.1f})"
    )


def _bias_in_words(found: SimulatedAllowance) -> str:
    bias = found.bias
    each = ", ".join(f"{code} {excess:.1f}" for code, excess in bias.boards.items())
    taken = ", ".join(f"{count} of {code}" for code, count in bias.corrected.items() if count)
    return (
        f"On {bias.sample} of the draws it takes {each} boards more than the proved lower bound ({bias.fraction:.1%});"
        f" taken off every draw: {taken or 'nothing, since it is less than a board'}."
    )
