"""How much to order: the tolerances of nominal gaps drawn hundreds of times, each draw laid out, cut and counted.

Every draw is a possible survey (`optimiser.tolerance_draws` says how gaps err). It is laid out and cut as a plan would
be, so an order quantity from the draws holds the cutting waste already: nothing is added on top of it. The quantity
covers a chosen share of the draws, or balances the cost of a shortage against that of a surplus.

Boards come from the constructive heuristic, whose excess over the proved bound is measured on some of the draws
(`optimiser.heuristic_bias`) and taken off in whole boards, rounded down. Numbers rest on the stated process and its
parameters: the tested detail, a survey and a licensed practitioner decide.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from fractions import Fraction
from math import ceil
from typing import Any

import numpy as np

from optimiser.accessory_arrays import accessory_counts
from optimiser.forecast import forecast_levels
from optimiser.heuristic_bias import HeuristicBias, excess_of, measured_bias
from optimiser.joint_arrays import TAPERED, Integers, LaidArrays, lay_out_arrays
from optimiser.joints import lay_out
from optimiser.ordering import first_of
from optimiser.plan import Staging
from optimiser.project import KINDS, Project
from optimiser.quantiles import CONFIDENCE, critical_fractile, expected_cost, interval_ranks, quantile
from optimiser.quantities import needed_of, quantities_of
from optimiser.quick_cutting import QuickCutting
from optimiser.reading.problems import CannotBeDone
from optimiser.tolerance_draws import ToleranceProcess, is_drawn, tolerance_process

DRAWS = 500
SERVICE_LEVEL = 0.95
BIAS_SAMPLE = 10  # draws for which the bound is proved; their excess hardly differs from draw to draw
TAPER_STEP_MM = 50  # tapered pieces begin at multiples of this: quick, and a piece too many now and then
FLAT_PERCENTAGES = (5, 10)
MOST_DRAWS = 20_000
_AT_A_TIME = 16  # draws a thread takes


@dataclass(frozen=True)
class FlatOrder:
    """What ordering a flat percentage on top of the nominal plan would mean: the quantity, in which share of the draws
    it is too little, and how many are missing and left over on average."""

    quantity: int
    short_share: float
    mean_short: float
    mean_surplus: float


@dataclass(frozen=True)
class OrderQuantity:
    """One product over all draws, in single boards, brackets, anchors or whole rolls.

    `planned` is what the plan of the nominal gaps uses. `interval` bounds the true quantile with 95 % confidence
    (None: too few draws). `frequency` counts the draws by their need. `flat` is by percentage.
    """

    code: str
    kind: str
    planned: int
    order: int
    median: int
    mean: float
    least: int
    greatest: int
    interval: tuple[int | None, int | None]
    short_share: float
    mean_surplus: float
    per_pack: int
    frequency: dict[int, int]
    flat: dict[int, FlatOrder]
    expected_cost: float | None = None

    @property
    def extra(self) -> int:
        """What goes on top of the nominal plan: never less than nothing, since the plan must be buildable."""
        return max(0, self.order - self.planned)

    @property
    def packs(self) -> int:
        """Whole packs for the order."""
        return -(-self.order // self.per_pack)

    def as_json(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "order": self.order,
            "median": self.median,
            "planned": self.planned,
            "extra": self.extra,
            "packs": self.packs,
            "per_pack": self.per_pack,
            "mean": round(self.mean, 3),
            "min": self.least,
            "max": self.greatest,
            "interval": list(self.interval),
            "short_share": round(self.short_share, 6),
            "mean_surplus": round(self.mean_surplus, 3),
            "expected_cost": None if self.expected_cost is None else round(self.expected_cost, 4),
            "flat": {
                f"{percentage}%": {
                    "quantity": flat.quantity,
                    "short_share": round(flat.short_share, 6),
                    "mean_short": round(flat.mean_short, 3),
                    "mean_surplus": round(flat.mean_surplus, 3),
                }
                for percentage, flat in self.flat.items()
            },
            "frequency": {str(value): count for value, count in self.frequency.items()},
        }


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
    CannotBeDone when there is nothing to draw, nothing can be planned, or an option makes no sense.
    """
    level = _level(draws, service_level, shortage_cost, surplus_cost)
    if not any(is_drawn(gaps) for gaps in project.gaps_of().values()):
        raise CannotBeDone(
            [
                "there is nothing to simulate: no gap of the project is nominal with a tolerance; give the gaps that"
                " are not surveyed yet the basis 'nominal' and their tolerance_mm (such as 10), or order by the plan"
            ]
        )
    if planned is None:
        quantities = quantities_of(project, staging)
        if quantities is None:
            raise CannotBeDone(["nothing can be planned at the nominal gaps: barrier-orders plan says why"])
        planned = needed_of(project, quantities)
    counting = _Counting.of(project, staging)
    counts, bias = _counted(counting, draws, seed, workers, progress)
    return _result(project, counting, counts, bias, planned, seed, level, shortage_cost, surplus_cost)


def _level(
    draws: int, service_level: float, shortage_cost: float | None, surplus_cost: float | None
) -> float:
    wrong: list[str] = []
    if not 1 <= draws <= MOST_DRAWS:
        wrong.append(f"{draws} draws: give 1 to {MOST_DRAWS}, such as {DRAWS}")
    if not 0 < service_level < 1:
        wrong.append(f"a service level of {service_level:g}: give a share between 0 and 1, such as 0.95")
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


@dataclass(frozen=True)
class _Counting:
    """What stays the same from draw to draw. A count's columns: boards, brackets by size, tape in mm, pieces, pieces
    without a bracket, millimetres not planned."""

    project: Project
    process: ToleranceProcess
    cutting: QuickCutting
    reaches: tuple[int, ...]

    @classmethod
    def of(cls, project: Project, staging: Staging) -> _Counting:
        forecast = forecast_levels(lay_out(project).pieces)
        reaches = tuple(size.length_mm or 0 for size in project.products_of("bracket"))
        cutting = QuickCutting.of(project, staging, forecast)
        return cls(project, tolerance_process(project), cutting, reaches)

    def laid(self, gaps: Integers, taper_step_mm: int) -> LaidArrays:
        runs = self.process.runs.with_gaps(gaps)
        return lay_out_arrays(runs, self.project.detail, taper_step_mm=taper_step_mm)

    def count(self, gaps: Integers) -> Integers:
        rows = self.laid(gaps, TAPER_STEP_MM)
        pieces = rows.pieces_only()
        left_open = rows.rows[rows.kind > TAPERED]
        runs = self.process.runs.with_gaps(gaps)
        accessories = accessory_counts(runs, pieces, self.project.detail, self.reaches)
        others = [
            accessories.tape_mm,
            len(pieces.rows),
            accessories.pieces_without,
            int((left_open[:, 3] - left_open[:, 2]).sum()),
        ]
        return np.concatenate(
            [
                self.cutting.boards_for(pieces),
                accessories.by_size(len(self.reaches)),
                np.array(others, np.int64),
            ]
        )

    def excess(self, gaps: Integers) -> tuple[np.ndarray, np.ndarray]:
        pieces = self.laid(gaps, TAPER_STEP_MM).pieces_only()
        return excess_of(self.cutting, pieces, self.laid(gaps, 1).pieces_only())


def _counted(
    counting: _Counting,
    draws: int,
    seed: int,
    workers: int | None,
    progress: Callable[[int, int], None] | None,
) -> tuple[Integers, HeuristicBias]:
    """Every draw's count, a row a draw, and the heuristic's bias on the first draws."""
    seeds = np.random.SeedSequence(seed).spawn(draws)
    sample = seeds[:BIAS_SAMPLE]

    def some(first: int) -> Integers:
        gaps = counting.process.gaps(seeds[first : first + _AT_A_TIME])
        return np.array([counting.count(one) for one in gaps])

    starts = range(0, draws, _AT_A_TIME)
    counts: list[Integers] = []
    with ThreadPoolExecutor(max_workers=workers or os.cpu_count() or 1) as pool:
        bias = [pool.submit(counting.excess, counting.process.gaps([one])[0]) for one in sample]
        try:
            for part in pool.map(some, starts):
                counts.append(part)
                if progress is not None:
                    progress(sum(map(len, counts)), draws)
            measured = measured_bias(counting.cutting, [one.result() for one in bias])
        except BaseException:
            pool.shutdown(wait=True, cancel_futures=True)
            raise
    return np.concatenate(counts), measured


def _result(
    project: Project,
    counting: _Counting,
    counts: Integers,
    bias: HeuristicBias,
    planned: Mapping[str, int],
    seed: int,
    level: float,
    shortage_cost: float | None,
    surplus_cost: float | None,
) -> SimulatedAllowance:
    tape_column, pieces, without, left_open = counts[:, -4:].T
    ranks = interval_ranks(len(counts), level)
    costs = None if shortage_cost is None or surplus_cost is None else (shortage_cost, surplus_cost)
    quantities = [
        _quantity(project, code, needs, planned.get(code, 0), level, ranks, costs)
        for code, needs in _needs(project, counts, bias)
        if needs.any() or planned.get(code)
    ]
    kinds = {quantity.code: KINDS.index(project.product(quantity.code).kind) for quantity in quantities}
    edge_mm = int(counting.process.runs.length.sum())
    tape = sorted(tape_column.tolist())
    open_share = float(left_open.mean()) / edge_mm
    return SimulatedAllowance(
        quantities=tuple(sorted(quantities, key=lambda quantity: kinds[quantity.code])),
        draws=len(counts),
        seed=seed,
        service_level=level,
        shortage_cost=shortage_cost,
        surplus_cost=surplus_cost,
        bias=bias,
        pieces_mean=float(pieces.mean()),
        tape_mm=(quantile(tape, 0.5), quantile(tape, level)),
        runs_drawn=counting.process.runs_drawn,
        runs=len(project.runs),
        correlation_length_mm=project.detail.correlation_length_mm,
        not_planned_share=open_share,
        without_bracket=float(without.mean()),
        notes=tuple(_notes(project, open_share, float(without.mean()), ranks, len(counts))),
    )


def _needs(project: Project, counts: Integers, bias: HeuristicBias) -> Iterator[tuple[str, Integers]]:
    """What every draw needs of each product."""
    boards, sizes = project.products_of("board"), project.products_of("bracket")
    for place, board in enumerate(boards):
        yield board.code, np.maximum(0, counts[:, place] - bias.corrected.get(board.code, 0))
    brackets = counts[:, len(boards) : len(boards) + len(sizes)]
    for place, size in enumerate(sizes):
        yield size.code, brackets[:, place]
    anchor, tape = first_of(project, "anchor"), first_of(project, "tape")
    if anchor is not None:
        yield anchor.code, brackets.sum(axis=1) * project.detail.anchors_per_bracket
    if tape is not None and tape.length_mm:
        yield tape.code, -(-counts[:, -4] // tape.length_mm)


def _quantity(
    project: Project,
    code: str,
    needs: Integers,
    planned: int,
    level: float,
    ranks: tuple[int, int],
    costs: tuple[float, float] | None,
) -> OrderQuantity:
    values = sorted(needs.tolist())
    product = project.product(code)
    order = quantile(values, level)
    flat = {
        percentage: _flat(values, ceil(Fraction(planned * (100 + percentage), 100)))
        for percentage in FLAT_PERCENTAGES
    }
    lower, upper = ranks
    here = _flat(values, order)
    return OrderQuantity(
        code=code,
        kind=product.kind,
        planned=planned,
        order=order,
        median=quantile(values, 0.5),
        mean=sum(values) / len(values),
        least=values[0],
        greatest=values[-1],
        interval=(
            values[lower - 1] if lower >= 1 else None,
            values[upper - 1] if upper <= len(values) else None,
        ),
        short_share=here.short_share,
        mean_surplus=here.mean_surplus,
        per_pack=product.per_pack,
        frequency=dict(sorted(Counter(values).items())),
        flat=flat,
        expected_cost=None if costs is None else expected_cost(values, order, *costs),
    )


def _flat(values: Sequence[int], quantity: int) -> FlatOrder:
    count = len(values)
    return FlatOrder(
        quantity=quantity,
        short_share=sum(value > quantity for value in values) / count,
        mean_short=sum(max(0, value - quantity) for value in values) / count,
        mean_surplus=sum(max(0, quantity - value) for value in values) / count,
    )


def _notes(
    project: Project, open_share: float, without: float, ranks: tuple[int, int], draws: int
) -> Iterator[str]:
    length = project.detail.correlation_length_mm
    yield (
        "Each nominal gap errs by a stationary Gaussian process along its run (Ornstein-Uhlenbeck: correlation"
        f" exp(-distance / {length} mm)), its tolerance being two standard deviations; runs err independently."
    )
    if "correlation_length_mm" not in project.detail.model_fields_set:
        yield f"The correlation length of {length} mm is a placeholder: enter correlation_length_mm for this building."
    certain = sum(gap.basis == "nominal" and not gap.tolerance_mm for gap in project.gaps)
    if certain:
        yield f"{certain} nominal gaps have no tolerance: they are taken as they stand."
    yield (
        "The order holds all cutting waste; no percentage is added to it. Breakage and loss are not drawn: allow for"
        " them apart."
    )
    if open_share > 0:
        yield (
            f"{open_share:.1%} of the edge is left open on average, because a drawn gap leaves the tested range or no"
            " piece fits: nothing is ordered for it."
        )
    if without > 0:
        yield f"{without:.1f} pieces on average find no bracket size on offer that fits: none is ordered for them."
    if ranks[0] < 1 or ranks[1] > draws:
        yield f"{draws} draws are too few to bound the quantile on both sides: take more."


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
