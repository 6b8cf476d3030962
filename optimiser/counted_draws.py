"""Draws of a project's gaps laid out, cut and counted, several at a time."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, fields

import numpy as np

from optimiser.accessory_arrays import accessory_counts
from optimiser.forecast import forecast_levels
from optimiser.heuristic_bias import HeuristicBias, excess_of, measured_bias
from optimiser.joint_arrays import TAPERED, Integers, LaidArrays, lay_out_arrays
from optimiser.joints import lay_out
from optimiser.ordering import first_of
from optimiser.plan import Staging
from optimiser.project import Project
from optimiser.quick_cutting import QuickCutting
from optimiser.tolerance_draws import ToleranceProcess, tolerance_process

BIAS_SAMPLE = 10  # draws for which the bound is proved; their excess hardly differs from draw to draw
TAPER_STEP_MM = 50  # tapered pieces begin at multiples of this: quick, and a piece too many now and then
_AT_A_TIME = 16  # draws a thread takes


@dataclass(frozen=True)
class DrawCounts:
    """What each draw uses, an entry a draw; `boards` and `brackets` have a column a product of the catalogue.

    `open_mm` of the edge are not planned; for `without_bracket` pieces no bracket on offer fits.
    """

    boards: Integers
    brackets: Integers
    tape_mm: Integers
    pieces: Integers
    without_bracket: Integers
    open_mm: Integers

    @property
    def draws(self) -> int:
        """How many."""
        return len(self.pieces)

    @classmethod
    def joined(cls, parts: Sequence[DrawCounts]) -> DrawCounts:
        """The draws of all parts, in order."""
        return cls(*(np.concatenate([getattr(part, field.name) for part in parts]) for field in fields(cls)))


@dataclass(frozen=True)
class Counting:
    """What stays the same from draw to draw. `reaches` are the brackets' lengths in mm."""

    project: Project
    process: ToleranceProcess
    cutting: QuickCutting
    reaches: tuple[int, ...]

    @classmethod
    def of(cls, project: Project, staging: Staging) -> Counting:
        """The counting of a project's draws under a staging."""
        forecast = forecast_levels(lay_out(project).pieces)
        reaches = tuple(size.length_mm or 0 for size in project.products_of("bracket"))
        cutting = QuickCutting.of(project, staging, forecast)
        return cls(project, tolerance_process(project), cutting, reaches)

    def count(self, gaps: Integers, taper_step_mm: int = TAPER_STEP_MM) -> DrawCounts:
        """One draw's counts; `gaps` are those of the process's knots, in mm."""
        rows = self._laid(gaps, taper_step_mm)
        pieces = rows.pieces_only()
        left_open = rows.rows[rows.kind > TAPERED]
        runs = self.process.runs.with_gaps(gaps)
        accessories = accessory_counts(runs, pieces, self.project.detail, self.reaches)
        return DrawCounts(
            boards=self.cutting.boards_for(pieces)[None],
            brackets=accessories.by_size(len(self.reaches))[None],
            tape_mm=np.array([accessories.tape_mm]),
            pieces=np.array([len(pieces.rows)]),
            without_bracket=np.array([accessories.pieces_without]),
            open_mm=np.array([(left_open[:, 3] - left_open[:, 2]).sum()], dtype=np.int64),
        )

    def excess(self, gaps: Integers) -> tuple[Integers, Integers]:
        """One draw's boards by the heuristic, and their proved bound (`optimiser.heuristic_bias.excess_of`)."""
        pieces = self._laid(gaps, TAPER_STEP_MM).pieces_only()
        return excess_of(self.cutting, pieces, self._laid(gaps, 1).pieces_only())

    def above_plan(self, planned: Mapping[str, int]) -> dict[str, int]:
        """How many boards the heuristic takes at the gaps as they stand beyond those `planned`, by code."""
        boards = self.count(self.process.runs.knot_gap).boards[0].tolist()
        return {
            board.code: count - planned.get(board.code, 0)
            for board, count in zip(self.project.products_of("board"), boards, strict=True)
        }

    def _laid(self, gaps: Integers, taper_step_mm: int) -> LaidArrays:
        runs = self.process.runs.with_gaps(gaps)
        return lay_out_arrays(runs, self.project.detail, taper_step_mm=taper_step_mm)


def count_draws(
    counting: Counting,
    draws: int,
    seed: int,
    workers: int | None,
    progress: Callable[[int, int], None] | None,
) -> tuple[DrawCounts, HeuristicBias]:
    """Every draw's counts, and the heuristic's bias on the first of them.

    The numbers depend on the seed alone, never on how many `workers` (threads) there are. `progress` is told draws
    done and in all.
    """
    seeds = np.random.SeedSequence(seed).spawn(draws)

    def some(first: int) -> DrawCounts:
        gaps = counting.process.gaps(seeds[first : first + _AT_A_TIME])
        return DrawCounts.joined([counting.count(one) for one in gaps])

    parts: list[DrawCounts] = []
    with ThreadPoolExecutor(max_workers=workers or os.cpu_count() or 1) as pool:
        bias = [pool.submit(counting.excess, counting.process.gaps([one])[0]) for one in seeds[:BIAS_SAMPLE]]
        try:
            for part in pool.map(some, range(0, draws, _AT_A_TIME)):
                parts.append(part)
                if progress is not None:
                    progress(sum(part.draws for part in parts), draws)
            measured = measured_bias(counting.cutting, [one.result() for one in bias])
        except BaseException:
            pool.shutdown(wait=True, cancel_futures=True)
            raise
    return DrawCounts.joined(parts), measured


def needs_of(project: Project, counts: DrawCounts, bias: HeuristicBias) -> Iterator[tuple[str, Integers]]:
    """What every draw needs of each product, by code: single boards, brackets and anchors, whole rolls of tape."""
    for place, board in enumerate(project.products_of("board")):
        yield board.code, np.maximum(0, counts.boards[:, place] - bias.corrected.get(board.code, 0))
    for place, size in enumerate(project.products_of("bracket")):
        yield size.code, counts.brackets[:, place]
    anchor, tape = first_of(project, "anchor"), first_of(project, "tape")
    if anchor is not None:
        yield anchor.code, counts.brackets.sum(axis=1) * project.detail.anchors_per_bracket
    if tape is not None and tape.length_mm:
        yield tape.code, -(-counts.tape_mm // tape.length_mm)
