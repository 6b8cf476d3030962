"""Boards with named pieces, dealt out again so that less waits (`kernels/rearranging.c`).

The boards stay what they are, so the cost stays what it is; empty ones may be given along, to be opened where a
budget allows it. The search is simulated annealing, bounded by a count of steps and seeded.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from optimiser.cutting.demand import Demand
from optimiser.cutting.kernels import Ints
from optimiser.cutting.open_boards import OpenBoard, OpenStrip
from optimiser.cutting.parts import WIDEST, pair_width
from optimiser.cutting.problem import Piece
from optimiser.kernels.bindings import Arranged, BoardLimits, Components, rearrange
from optimiser.kernels.reference.arrangement import NEVER, CostWeights

STEPS_A_CALL = 10_000  # between two looks at the clock
MOST_CODES = 62  # bits of a code mask
MOST_PARTNERS = 200  # pieces that a piece may share a strip with, the nearest in time


@dataclass(frozen=True)
class Weights:
    """What counts in an arrangement, each in the same unit; what is 0 does not count."""

    piece: int = 0  # a piece's delivery of waiting, from the opening of its board
    remainder: int = 0  # a remainder's delivery of waiting
    inner: int = 0  # a piece's delivery of waiting from the first piece of its own strip
    overflow: int = 0  # a mm by which a board is overfull: on the way only, the best found is never overfull
    price: int = 0  # one unit of board prices


@dataclass(frozen=True)
class Schedule:
    """So many steps from the hottest to the coldest temperature, in a piece's waiting for the usual delivery.

    `share`: hundredths of the steps that deal out pieces between strips, where any may share one. The weight of
    overfull boards is multiplied by `overflow_from` at first, `overflow_to` at last.
    """

    steps: int
    hottest: float
    coldest: float
    share: int
    overflow_from: float = 1.0
    overflow_to: float = 1.0


@dataclass(frozen=True)
class _Arrays:
    """The boards and what lies on them, as the kernel takes it."""

    names: list[list[int]]  # of every component, the pieces that lie in one length of its strip
    kinds: list[tuple[int, ...]]
    components: Components
    limits: BoardLimits
    numbers: Ints
    strip_of: Ints
    board_of: Ints


class Arrangement:
    """Boards with named pieces, dealt out again step by step; `boards()` gives the best found.

    `best` is its weighted cost; larger than any cost where every arrangement so far had an overfull board.
    """

    def __init__(
        self,
        demand: Demand,
        boards: Sequence[OpenBoard],
        weights: Weights,
        seed: int,
        *,
        pool: int | None = None,
    ) -> None:
        """`boards` may hold empty ones; they are not changed. `seed` decides every draw. `pool`: the width
        of a single board that stands for many."""
        self.demand = demand
        self.weights = weights
        self.sources = [board.source for board in boards]
        self.arrays = _arrays(demand, boards, pool, weights.price)
        strip_of, board_of = self.arrays.strip_of, self.arrays.board_of
        random = np.array([(2 * seed + 1) * 0x9E3779B97F4A7C15 % (1 << 64)], dtype=np.uint64)
        self.arranged = Arranged(strip_of, board_of, strip_of.copy(), board_of.copy(), random)
        pieces = demand.problem.pieces
        self.stages_of_all = sum(pieces[i].stage for names in self.arrays.names for i in names)
        self.best = NO_ARRANGEMENT
        self._call(0, 1.0, 1.0, 1)

    @property
    def sharing(self) -> int:
        """How many components may share a strip with another."""
        return len(self.arrays.components.sharing)

    def anneal(self, schedule: Schedule, good_enough: int, out_of_time: Callable[[], bool]) -> None:
        """Goes through the schedule; ends early when the best costs no more than `good_enough` or time is out."""
        numbers = self.arrays.numbers
        steps = schedule.steps
        if steps <= 0 or (len(self.sources) < 2 and not self.sharing):
            return
        gap = float(np.median(np.diff(numbers))) if len(numbers) > 1 else 1.0
        weights = self.weights
        temperature = schedule.hottest * gap * max(weights.piece, weights.inner, weights.remainder)
        cooling = (schedule.coldest / schedule.hottest) ** (1 / steps)
        done = 0
        while done < steps and self.best > good_enough and not out_of_time():
            now = min(steps - done, STEPS_A_CALL)
            part = done / steps
            overflow = weights.overflow * schedule.overflow_from ** (1 - part) * schedule.overflow_to**part
            self._call(now, temperature, cooling, schedule.share, round(overflow))
            temperature *= cooling**now
            done += now

    def boards(self) -> list[OpenBoard]:
        """The best arrangement as boards; those without strips are left out."""
        arrays = self.arrays
        made = [OpenBoard(source, []) for source in self.sources]
        strips: dict[int, OpenStrip] = {}
        for component, strip in enumerate(self.arranged.best_strip_of.tolist()):
            if strip not in strips:
                strips[strip] = OpenStrip(0, [])
                made[int(self.arranged.best_board_of[strip])].strips.append(strips[strip])
            found = strips[strip]
            found.width = max(found.width, int(arrays.components.width_min[component]))
            found.held.append(arrays.kinds[component])
            found.names.append(list(arrays.names[component]))
        return [board for board in made if board.strips]

    def _call(self, steps: int, temperature: float, cooling: float, share: int, overflow: int = 0) -> None:
        arrays, weights = self.arrays, self.weights
        if not arrays.names:
            return
        self.best = rearrange(
            arrays.components,
            arrays.limits,
            arrays.numbers,
            CostWeights(weights.piece, weights.remainder, weights.inner, overflow),
            self.stages_of_all,
            share,
            steps,
            temperature,
            cooling,
            self.arranged,
            self.best,
        )


NO_ARRANGEMENT = 1 << 62


def _arrays(demand: Demand, boards: Sequence[OpenBoard], pool: int | None, price_weight: int) -> _Arrays:
    problem = demand.problem
    numbers = sorted({piece.stage for piece in problem.pieces})
    rank = {number: k for k, number in enumerate(numbers)}
    bit = {board.code: 1 << k for k, board in enumerate(problem.boards[:MOST_CODES])}
    shortest = min((piece.length_mm for piece in problem.pieces), default=1)
    names: list[list[int]] = []
    kinds: list[tuple[int, ...]] = []
    rows: list[tuple[int, ...]] = []
    codes: list[int] = []
    strip_of: list[int] = []
    board_of: list[int] = []
    for b, board in enumerate(boards):
        source = demand.sources[board.source]
        for strip in board.strips:
            for kind, held in zip(strip.held, strip.names, strict=True):
                found = sorted(held, key=lambda index: problem.pieces[index].stage)
                of = [problem.pieces[index] for index in found]
                taken = of[0].length_mm + source.kerf
                width, widest = _window(of, source.kerf, problem.trim)
                first, last = rank[of[0].stage], rank[of[-1].stage]
                shares = int(taken + shortest <= source.length)
                names.append(found)
                kinds.append(kind)
                codes.append(_codes(of, bit))
                rows.append((taken, width, widest, len(of), first, last, shares))
                strip_of.append(len(board_of))
            board_of.append(b)
    columns = np.array(rows, dtype=np.int32).reshape(len(rows), 7)

    def column(k: int) -> Ints:
        return np.ascontiguousarray(columns[:, k])

    return _Arrays(
        names,
        kinds,
        Components(
            column(0),
            column(1),
            column(2),
            column(3),
            column(4),
            column(5),
            np.array(codes, dtype=np.int64),
            *_partners(columns, numbers),
        ),
        _limits(demand, boards, pool, bit, price_weight),
        np.array(numbers, dtype=np.int32),
        np.array(strip_of, dtype=np.int32),
        np.array(board_of + [0] * (len(names) - len(board_of)), dtype=np.int32)[: len(names)],
    )


def _window(of: Sequence[Piece], kerf: int, trim: bool) -> tuple[int, int]:
    """The least and the greatest width of a strip that holds one piece, or a tapered pair side by side."""
    if len(of) > 1:
        first, second = ((piece.width_start_mm or 0, piece.width_end_mm or 0) for piece in of)
        return pair_width(first, second, kerf), WIDEST
    return of[0].width_min_mm, WIDEST if trim or of[0].tapered else of[0].width_max_mm


def _limits(
    demand: Demand, boards: Sequence[OpenBoard], pool: int | None, bit: dict[str, int], price_weight: int
) -> BoardLimits:
    """What each board can take: its size, and the stages that it may serve."""
    carry = demand.problem.max_carry_stages
    sources = [demand.sources[board.source] for board in boards]
    return BoardLimits(
        _ints([source.width + source.kerf if pool is None else pool for source in sources]),
        _ints([source.length + source.kerf for source in sources]),
        _ints([source.kerf for source in sources]),
        _ints([-NEVER if source.available is None else source.first_stage for source in sources]),
        _ints([NEVER if source.available is None else min(NEVER, source.last_stage) for source in sources]),
        # of an offcut, carrying counts from when it stands there: that is its latest stage
        _ints(
            [
                NEVER if carry is None or source.available is not None else min(NEVER, carry)
                for source in sources
            ]
        ),
        np.array([bit.get(source.code, -1) for source in sources], dtype=np.int64),
        np.array([source.price * price_weight for source in sources], dtype=np.int64),
    )


def _ints(values: list[int]) -> Ints:
    return np.array(values, dtype=np.int32)


def _partners(columns: Ints, numbers: list[int]) -> tuple[Ints, Ints, Ints]:
    """The components that may share a strip; where each one's partners begin; the partners, whose windows meet
    its own, the nearest in time first."""
    width_min, width_max, first, shares = (columns[:, k] for k in (1, 2, 4, 6))
    sharing = np.flatnonzero(shares)
    stage = np.array(numbers, dtype=np.int64)[first]
    starts = np.zeros(len(columns) + 1, np.int32)
    partners: list[Ints] = [np.zeros(0, np.int32)]
    for c in sharing.tolist():
        windows_meet = (width_min[sharing] <= width_max[c]) & (width_min[c] <= width_max[sharing])
        meets = sharing[windows_meet & (sharing != c)]
        near = np.argsort(np.abs(stage[meets] - stage[c]), kind="stable")[:MOST_PARTNERS]
        partners.append(meets[near].astype(np.int32))
        starts[c + 1] = len(near)
    return sharing.astype(np.int32), np.cumsum(starts, dtype=np.int32), np.concatenate(partners)


def _codes(of: Sequence[Piece], bit: dict[str, int]) -> int:
    """The codes that all these pieces may be cut from, as bits."""
    mask = -1
    for piece in of:
        if piece.boards:
            mask &= sum(bit.get(code, 0) for code in piece.boards)
    return mask
