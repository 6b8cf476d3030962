"""How much to order: the tolerances of nominal gaps drawn hundreds of times, each draw laid out, cut and counted.

Every draw is a possible survey (`optimiser.tolerance_draws` says how gaps err). It is laid out and cut as a plan would
be, so an order quantity from the draws holds the cutting waste already: nothing is added on top of it. The quantity
covers a chosen share of the draws, or balances the cost of a shortage against that of a surplus.

Boards come from the constructive heuristic, whose excess over the proved bound is measured on some of the draws
(`optimiser.heuristic_bias`) and taken off in whole boards, rounded down, or its excess over the plan of the nominal
gaps where that is more. Numbers rest on the stated process and its
parameters: the tested detail, a survey and a licensed practitioner decide.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from optimiser.counted_draws import Counting, DrawCounts, count_draws, needs_of
from optimiser.heuristic_bias import HeuristicBias
from optimiser.joint_arrays import Integers
from optimiser.order_quantities import OrderQuantity, order_quantity
from optimiser.plan import Staging
from optimiser.project import KINDS, Project
from optimiser.quantiles import CONFIDENCE, critical_fractile, interval_ranks, quantile
from optimiser.quantities import needed_of, quantities_of
from optimiser.reading.problems import CannotBeDone
from optimiser.tolerance_draws import is_drawn

DRAWS = 500
SERVICE_LEVEL = 0.95
MOST_DRAWS = 20_000


@dataclass(frozen=True)
class SimulatedAllowance:
    """What the draws say. `quantities` are in trade order: boards, brackets, anchors, tape.

    `service_level` is the share of draws that an order covers; it follows from the costs where those were given.
    `not_planned_share` is the mean part of the edge that a draw leaves open because its gap leaves the tested range
    or no piece fits; `without_bracket` the mean number of pieces for which no bracket on offer fits.
    """

    quantities: tuple[OrderQuantity, ...]
    draws: int
    seed: int
    service_level: float
    shortage_cost: float | None
    surplus_cost: float | None
    bias: HeuristicBias
    pieces_mean: float
    tape_mm: tuple[int, int]
    runs_drawn: int
    runs: int
    correlation_length_mm: int
    not_planned_share: float
    without_bracket: float
    notes: tuple[str, ...]

    def of_kind(self, kind: str) -> tuple[OrderQuantity, ...]:
        """The quantities of a kind of product."""
        return tuple(quantity for quantity in self.quantities if quantity.kind == kind)

    def as_json(self) -> dict[str, Any]:
        """Plain values: each kind's products by code, then what the figures rest on."""
        groups = {"board": "boards", "bracket": "brackets", "anchor": "anchors", "tape": "tape"}
        found: dict[str, Any] = {
            name: {quantity.code: quantity.as_json() for quantity in self.of_kind(kind)}
            for kind, name in groups.items()
        }
        return {
            **found,
            "tape_mm": {"order": self.tape_mm[1], "median": self.tape_mm[0]},
            "draws": self.draws,
            "seed": self.seed,
            "service_level": self.service_level,
            "confidence": CONFIDENCE,
            "shortage_cost": self.shortage_cost,
            "surplus_cost": self.surplus_cost,
            "bias": {
                "sample": self.bias.sample,
                "boards_above_bound": {code: round(value, 3) for code, value in self.bias.boards.items()},
                "fraction": round(self.bias.fraction, 5),
                "boards_above_plan": self.bias.above_plan,
                "taken_off": self.bias.corrected,
            },
            "pieces_mean": round(self.pieces_mean, 1),
            "runs_drawn": self.runs_drawn,
            "runs": self.runs,
            "correlation_length_mm": self.correlation_length_mm,
            "not_planned_share": round(self.not_planned_share, 6),
            "pieces_without_bracket_mean": round(self.without_bracket, 3),
            "notes": list(self.notes),
        }


def simulate(
    project: Project,
    *,
    draws: int = DRAWS,
    seed: int = 0,
    service_level: float = SERVICE_LEVEL,
    shortage_cost: float | None = None,
    surplus_cost: float | None = None,
    staging: Staging = "whole",
    planned: Mapping[str, int] | None = None,
    workers: int | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> SimulatedAllowance:
    """Draws the nominal gaps of a project and counts every draw.

    `service_level` is the share of draws that the order must cover; with `shortage_cost` and `surplus_cost` (of one
    missing and one left over, in any unit) it is where their expected sum is least. `planned` is what the plan of the
    nominal gaps uses of each product code (made here when not given). `progress` is told draws done and in all. The
    result depends on the seed, never on `workers` (threads; the machine's processors when not given). Raises
    CannotBeDone when nothing can be planned or an option makes no sense.

    Where no gap is nominal with a tolerance there is nothing to draw: every draw is the plan, which a note says.
    """
    level = _level(draws, service_level, shortage_cost, surplus_cost)
    if planned is None:
        quantities = quantities_of(project, staging)
        if quantities is None:
            raise CannotBeDone(["nothing can be planned at the nominal gaps: barrier-orders plan says why"])
        planned = needed_of(project, quantities)
    counting = Counting.of(project, staging)
    certain = counting.process.runs_drawn == 0
    needs: dict[str, Integers]
    if certain:
        once = counting.count(counting.process.runs.knot_gap, taper_step_mm=1)
        counts, bias = DrawCounts.joined([once] * draws), HeuristicBias(0, {}, {})
        needs = {code: np.full(draws, number) for code, number in planned.items()}
        if progress is not None:
            progress(draws, draws)
    else:
        counts, bias = count_draws(counting, draws, seed, workers, progress)
        bias = replace(bias, above_plan=counting.above_plan(planned))
        needs = dict(needs_of(project, counts, bias))
    ranks = (1, draws) if certain else interval_ranks(draws, level)
    costs = None if shortage_cost is None or surplus_cost is None else (shortage_cost, surplus_cost)
    ordered = [
        order_quantity(
            product, needs[product.code].tolist(), planned.get(product.code, 0), level, ranks, costs
        )
        for product in sorted(project.products, key=lambda product: KINDS.index(product.kind))
        if product.code in needs and (needs[product.code].any() or planned.get(product.code))
    ]
    tape = sorted(counts.tape_mm.tolist())
    edge_mm = sum(run.length_mm for run in project.runs)
    return SimulatedAllowance(
        quantities=tuple(ordered),
        draws=draws,
        seed=seed,
        service_level=level,
        shortage_cost=shortage_cost,
        surplus_cost=surplus_cost,
        bias=bias,
        pieces_mean=float(counts.pieces.mean()),
        tape_mm=(quantile(tape, 0.5), quantile(tape, level)),
        runs_drawn=counting.process.runs_drawn,
        runs=len(project.runs),
        correlation_length_mm=project.detail.correlation_length_mm,
        not_planned_share=float(counts.open_mm.mean()) / edge_mm,
        without_bracket=float(counts.without_bracket.mean()),
        notes=tuple(_notes(project, counts, bias, certain, level, ranks)),
    )


def _level(
    draws: int, service_level: float, shortage_cost: float | None, surplus_cost: float | None
) -> float:
    wrong: list[str] = []
    if not 1 <= draws <= MOST_DRAWS:
        wrong.append(f"{draws} draws: give 1 to {MOST_DRAWS}, such as {DRAWS}")
    if not 0 < service_level <= 1:
        wrong.append(
            f"a service level of {service_level:g}: give a share above 0 and at most 1, such as 0.95"
        )
    if (shortage_cost is None) != (surplus_cost is None):
        wrong.append("give both the cost of a shortage and that of a surplus, or neither")
    elif shortage_cost is not None and surplus_cost is not None:
        try:
            service_level = critical_fractile(shortage_cost, surplus_cost)
        except ValueError as error:
            wrong.append(str(error))
    if wrong:
        raise CannotBeDone(wrong)
    return service_level


def _notes(
    project: Project,
    counts: DrawCounts,
    bias: HeuristicBias,
    certain: bool,
    level: float,
    ranks: tuple[int, int],
) -> Iterator[str]:
    length = project.detail.correlation_length_mm
    if certain:
        yield (
            "Nothing is drawn: no gap is nominal with a tolerance, so every draw is the plan of the gaps as they stand."
            " Where gaps are not surveyed yet, give them the basis 'nominal' and their tolerance_mm, such as 10."
        )
    else:
        yield (
            "Each nominal gap errs by a stationary Gaussian process along its run (Ornstein-Uhlenbeck: correlation"
            f" exp(-distance / {length} mm)), its tolerance being two standard deviations; runs err independently."
        )
        if "correlation_length_mm" not in project.detail.model_fields_set:
            yield (
                f"The correlation length of {length} mm is a placeholder: enter correlation_length_mm for this"
                " building."
            )
    as_they_stand = sum(gap.basis == "nominal" and not gap.tolerance_mm for gap in project.gaps)
    if as_they_stand:
        yield f"{as_they_stand} nominal gaps have no tolerance: they are taken as they stand."
    yield (
        "The order holds all cutting waste; no percentage is added to it. Breakage and loss are not drawn: allow for"
        " them apart."
    )
    open_share = float(counts.open_mm.mean()) / sum(run.length_mm for run in project.runs)
    if open_share > 0:
        why = "it cannot be planned" if certain else "a drawn gap leaves the tested range or no piece fits"
        yield f"{open_share:.1%} of the edge is left open on average, because {why}: nothing is ordered for it."
    without = float(counts.without_bracket.mean())
    if without > 0:
        yield f"{without:.1f} pieces on average find no bracket size on offer that fits: none is ordered for them."
    beyond = [
        f"{count} of {code}" for code, count in bias.corrected.items() if count > int(bias.boards[code])
    ]
    if beyond:
        listed = ", ".join(beyond)
        yield (
            f"At the gaps as they stand the plan does with fewer boards than the quick cutting, {listed}, by carrying"
            " between deliveries or its use of the stock: so many are taken off every draw."
        )
    if level == 1:
        yield "A service level of 1 covers these draws; no number of draws bounds the greatest need there can be."
    elif ranks[0] < 1 or ranks[1] > counts.draws:
        few = "1 draw is" if counts.draws == 1 else f"{counts.draws} draws are"
        yield f"{few} too few to bound the quantile on both sides: take more."


def simulated_for_plan(
    project: Project, needed: Mapping[str, int], kinds: Sequence[str], *, seed: int, staging: Staging
) -> tuple[OrderQuantity, ...]:
    """The simulated quantities of these kinds of product beside what a plan needs (`needed`, by code).

    None where the survey is complete: then nothing is drawn. Raises CannotBeDone as `simulate` does.
    """
    if not any(is_drawn(gaps) for gaps in project.gaps_of().values()):
        return ()
    found = simulate(project, seed=seed, staging=staging, planned=needed)
    return tuple(quantity for quantity in found.quantities if quantity.kind in kinds)
