"""Joints and cutting together: the cutting's prices choose among the layouts of the fewest joints.

In each round the linear program of the cutting prices every length and width of piece, the runs are laid out
again at those prices, and the runs that gain most by it change their joints. Prices hold for small changes only:
when the linear program does not fall, half as many runs change, and half again. The joints stay as few as
before; what changes is where they are, so that rests share strips and widths share boards.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from optimiser.cutting.prices import CLOSE, PiecePrices, fractional_cost, price_pieces
from optimiser.cutting.problem import CuttingProblem
from optimiser.joints.layout import LaidPiece, PieceValue, lay_out
from optimiser.model.project import Project, Run

PRICE_UNITS = 10**6  # of the problem's unit: prices are whole numbers for the layout

Layouts = Mapping[str, tuple[LaidPiece, ...]]
"""The pieces of every run, by its name."""
ProblemOf = Callable[[Layouts], CuttingProblem]


@dataclass(frozen=True)
class Round:
    """One round: the linear program's value before and after, how many runs gained by their prices and how
    many changed their joints (0: none did)."""

    before: float
    after: float
    gaining: int
    changed: int


def improve_joints(
    project: Project,
    runs: tuple[Run, ...],
    layouts: Layouts,
    problem_of: ProblemOf,
    rounds: int,
    seconds_left: Callable[[], float] | None = None,
) -> tuple[Layouts, tuple[Round, ...]]:
    """Lays out `runs`, which share their boards, by price in at most so many rounds.

    `problem_of` makes the cutting problem of layouts. Returns the layouts of the least fractional cost seen,
    which are those given where nothing improved, and what each round did.
    """
    told: list[Round] = []
    for _ in range(rounds):
        prices = price_pieces(problem_of(layouts), seconds_left)
        if prices.value == float("inf"):
            break
        found, this_round = _round(project, runs, layouts, problem_of, prices, seconds_left)
        told.append(this_round)
        if not this_round.changed:
            break
        layouts = found
    return layouts, tuple(told)


def _round(
    project: Project,
    runs: tuple[Run, ...],
    layouts: Layouts,
    problem_of: ProblemOf,
    prices: PiecePrices,
    seconds_left: Callable[[], float] | None,
) -> tuple[Layouts, Round]:
    at_prices = _laid_by_run(project, runs, PieceValue(np.rint(prices.price * PRICE_UNITS).astype(np.int64)))
    gains = {
        run.run: _cost(layouts[run.run], prices) - _cost(at_prices[run.run], prices)
        for run in runs
        if len(layouts[run.run]) == len(at_prices[run.run])
    }
    gaining = sorted((name for name, gain in gains.items() if gain > 1e-6), key=lambda name: -gains[name])
    changed = len(gaining)
    while changed:
        tried = {**layouts, **{name: at_prices[name] for name in gaining[:changed]}}
        after = fractional_cost(problem_of(tried), seconds_left)
        if after < prices.value * (1 - CLOSE):
            return tried, Round(prices.value, after, len(gaining), changed)
        changed //= 2
    return layouts, Round(prices.value, prices.value, len(gaining), 0)


def by_run(runs: tuple[Run, ...], pieces: tuple[LaidPiece, ...]) -> Layouts:
    """Laid pieces sorted by run; a run without any has none."""
    found: dict[str, list[LaidPiece]] = {run.run: [] for run in runs}
    for piece in pieces:
        if piece.run in found:
            found[piece.run].append(piece)
    return {name: tuple(here) for name, here in found.items()}


def _laid_by_run(project: Project, runs: tuple[Run, ...], value: PieceValue) -> Layouts:
    return by_run(runs, lay_out(project.with_runs(runs), value).pieces)


def _cost(pieces: tuple[LaidPiece, ...], prices: PiecePrices) -> float:
    longest, widest = (size - 1 for size in prices.price.shape)
    return sum(
        float(prices.price[min(piece.length_mm, longest), min(piece.width_min_mm, widest)])
        for piece in pieces
    )
