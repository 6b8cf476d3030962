"""Draws of a project's gaps laid out, cut and counted, several at a time."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, fields, replace

import numpy as np

from optimiser.boards.forecast_levels import forecast_levels
from optimiser.joints.arrays import TAPERED, Integers, LaidArrays
from optimiser.joints.layout import laid_by_strips
from optimiser.model.plan import Staging
from optimiser.model.project import Project
from optimiser.simulation.draws import ToleranceProcess, tolerance_process
from optimiser.simulation.heuristic_bias import HeuristicBias, excess_of, measured_bias
from optimiser.simulation.quick_cutting import QuickCutting
from optimiser.takeoff.arrays import AccessoryCounts, accessory_counts

BIAS_SAMPLE = 4, 10  # draws for which the bound is proved, at least and at most
GROUPS_PROVED = 30  # in all of them together: the excess is a mean over the groups that are cut by themselves
TAPER_STEP_MM = 50  # tapered pieces begin at multiples of this: quick, and a piece too many now and then
_AT_A_TIME = 16  # draws a thread takes


@dataclass(frozen=True)
class DrawCounts:
    """What each draw uses, an entry a draw; `boards` and `brackets` have a column a product of the catalogue.

    `open_mm` of the edge are not planned; for `without_bracket` pieces no bracket on offer fits. `by_level` says
    where it is used: an entry a part of the draws, a row a level of the project's table, a column a product
    (boards, as the area in mm2 of their pieces, then brackets) and a last one for the pieces.
    """

    boards: Integers
    brackets: Integers
    tape_mm: Integers
    pieces: Integers
    without_bracket: Integers
    anchors: Integers
    open_mm: Integers
    by_level: Integers

    @property
    def draws(self) -> int:
        """How many."""
        return len(self.pieces)

    @classmethod
    def certain(cls, draws: int) -> DrawCounts:
        """Draws of nothing: where no gap is drawn."""
        none = np.zeros(draws, np.int64)
        return cls(none[:, None], none[:, None], none, none, none, none, none, np.zeros((1, 0, 0), np.int64))

    def with_certain(self, measured: DrawCounts) -> DrawCounts:
        """Every draw's pieces, tape and open edge with those of the levels that are never drawn, counted once."""
        return replace(
            self,
            tape_mm=self.tape_mm + measured.tape_mm[0],
            pieces=self.pieces + measured.pieces[0],
            without_bracket=self.without_bracket + measured.without_bracket[0],
            open_mm=self.open_mm + measured.open_mm[0],
        )

    @classmethod
    def joined(cls, parts: Sequence[DrawCounts]) -> DrawCounts:
        """The draws of all parts, in order; `by_level` is their sum, in one entry."""
        found = cls(*(np.concatenate([getattr(part, field.name) for part in parts]) for field in fields(cls)))
        return replace(found, by_level=found.by_level.sum(axis=0, keepdims=True))


@dataclass(frozen=True)
class Counting:
    """What stays the same from draw to draw. `reaches` are the brackets' lengths in mm; `level_of_run` the place
    of each run's level in the project's table."""

    project: Project
    process: ToleranceProcess
    cutting: QuickCutting
    reaches: tuple[int, ...]
    level_of_run: Integers

    @classmethod
    def of(cls, project: Project, staging: Staging) -> Counting:
        """The counting of a project's draws under a staging."""
        reaches = tuple(size.reach_mm for size in project.brackets)
        cutting = QuickCutting.of(project, staging, forecast_levels(project))
        place = {level.level: number for number, level in enumerate(project.levels)}
        level_of_run = np.array([place[run.level] for run in project.runs], dtype=np.int64)
        return cls(project, tolerance_process(project), cutting, reaches, level_of_run)

    def count(self, gaps: Integers, taper_step_mm: int = TAPER_STEP_MM) -> DrawCounts:
        """One draw's counts; `gaps` are those of the process's knots, in mm."""
        rows = self._laid(gaps, taper_step_mm)
        pieces = rows.pieces_only()
        left_open = rows.rows[rows.kind > TAPERED]
        runs = self.process.runs.with_gaps(gaps)
        accessories = accessory_counts(runs, pieces, self.project.building.details, self.reaches)
        return DrawCounts(
            boards=self.cutting.boards_for(pieces)[None],
            brackets=accessories.by_size(len(self.reaches))[None],
            tape_mm=np.array([accessories.tape_mm]),
            pieces=np.array([len(pieces.rows)]),
            without_bracket=np.array([accessories.pieces_without]),
            anchors=np.array([accessories.anchors]),
            open_mm=np.array([(left_open[:, 3] - left_open[:, 2]).sum()], dtype=np.int64),
            by_level=self._by_level(pieces, accessories)[None],
        )

    def _by_level(self, pieces: LaidArrays, accessories: AccessoryCounts) -> Integers:
        """Where the pieces and brackets of a draw are, as `DrawCounts.by_level` has it."""
        boards, sizes = len(self.cutting.boards), len(self.reaches)
        found = np.zeros((len(self.project.levels), boards + sizes + 1), np.int64)
        level = self.level_of_run[pieces.run]
        for board, rows in self.cutting.groups(pieces):
            area = (rows.to_mm - rows.from_mm) * rows.width_min
            np.add.at(found[:, board], self.level_of_run[rows.run], area)
        fits = accessories.size >= 0
        np.add.at(found, (level[fits], boards + accessories.size[fits]), accessories.brackets[fits])
        np.add.at(found[:, -1], level, 1)
        return found

    def excess(self, gaps: Integers) -> tuple[Integers, Integers]:
        """One draw's boards by the heuristic, and their proved bound (`heuristic_bias.excess_of`)."""
        pieces = self._laid(gaps, TAPER_STEP_MM).pieces_only()
        return excess_of(self.cutting, pieces, self._laid(gaps, 1).pieces_only())

    def above_plan(self, planned: Mapping[str, int]) -> dict[str, int]:
        """How many boards the heuristic takes at the gaps as they stand beyond those `planned`, by code."""
        boards = self.count(self.process.runs.knot_gap).boards[0].tolist()
        return {
            board.code: count - planned.get(board.code, 0)
            for board, count in zip(self.project.boards, boards, strict=True)
        }

    def _laid(self, gaps: Integers, taper_step_mm: int) -> LaidArrays:
        runs = self.process.runs.with_gaps(gaps)
        return laid_by_strips(self.project, runs, taper_step_mm)


def bias_sample(groups: int) -> int:
    """For how many draws the bound is proved, of so many groups of pieces each that are cut by themselves.

    >>> [bias_sample(groups) for groups in (1, 3, 7, 40)]
    [10, 10, 5, 4]
    """
    least, most = BIAS_SAMPLE
    return min(most, max(least, -(-GROUPS_PROVED // groups)))


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
        sample = seeds[: bias_sample(counting.cutting.number_of_groups)]
        bias = [pool.submit(counting.excess, counting.process.gaps([one])[0]) for one in sample]
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
    """What every draw needs of each product, by code: single boards, brackets and anchors, millimetres of tape."""
    for place, board in enumerate(project.boards):
        yield board.code, np.maximum(0, counts.boards[:, place] - bias.corrected.get(board.code, 0))
    for place, size in enumerate(project.brackets):
        yield size.code, counts.brackets[:, place]
    anchor, tape = project.building.anchor, project.building.tape
    if anchor is not None:
        yield anchor.code, counts.anchors
    if tape is not None:
        yield tape.code, counts.tape_mm
