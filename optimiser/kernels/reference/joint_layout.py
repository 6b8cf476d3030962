"""Where a run is divided into pieces (`joints.c`): a shortest path over every whole millimetre.

A run falls into stretches within the tested range and stretches beyond it, which are not planned. In a stretch,
value(p) is the least cost of what lies between p and its end. Costs are compared in this order: millimetres not
planned, short pieces, pieces, tapered pieces, pieces that are no full board length. Among the layouts of least cost
the one is taken whose compression windows are widest in sum, over a few candidate ends of each piece.

`joints.c` finds the same values in leaps, over blocks of equal value; here every millimetre is visited.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple

from optimiser.kernels.reference.gap_line import GapLine, Rates, Span, Widths

PIECE, TAPERED, OUT_OF_RANGE, NO_LAYOUT = range(4)  # kinds of a row
NOT_PLANNED = Span(0, 0, 0, 0)
MOST_OPEN = 24  # positions that wait at a time while the widest windows are chosen

# A cost is one integer, the weightier the higher its place; every count is below 2^24.
ODD_LENGTH, TAPER, ONE_PIECE, SHORT, OPEN = (1 << 24 * place for place in range(5))
INFINITE = 1 << 125


class Rules(NamedTuple):
    """Of the tested detail, in mm: the range of gaps, the shortest piece where the run allows and in the last
    resort, the clearance of joints from mullions; tapered pieces start and end at multiples of `taper_step`, and their
    end widths differ by `taper_max` at most."""

    rates: Rates
    gap_min: int
    gap_max: int
    piece_min: int
    shortest: int
    clearance: int
    taper_step: int
    taper_max: int


class Board(NamedTuple):
    """A board size, in mm."""

    length: int
    width: int


class Row(NamedTuple):
    """A piece, or a stretch that is not planned, along a run."""

    kind: int
    from_mm: int
    to_mm: int
    span: Span
    width_start: int
    width_end: int


@dataclass(frozen=True)
class Run:
    """A run's length, mullions (ascending) and boards, its widths, and what follows from them.

    `reach[b][p]`: how far a piece from p may go that board b takes (below p: nowhere). `served[p]`: how far one of any
    width may go that is as long as the longest board at most.
    """

    length: int
    mullions: Sequence[int]
    boards: Sequence[Board]
    rules: Rules
    widths: Widths
    reach: list[list[int]]
    served: list[int]

    @classmethod
    def of(
        cls, length: int, gap: GapLine, mullions: Sequence[int], boards: Sequence[Board], rules: Rules
    ) -> Run:
        """The run with all that is worked out once."""
        widths = Widths(gap, length, rules.rates)
        served = widths.reach(max(widths.greatest), max(board.length for board in boards))
        reach = [widths.reach(board.width, board.length) for board in boards]
        return cls(length, mullions, boards, rules, widths, reach, served)

    @cached_property
    def longest(self) -> int:
        """The longest board's length."""
        return max(board.length for board in self.boards)

    def widest_for(self, length: int) -> int:
        """The width of the widest board that is long enough, 0 when none is."""
        return max((board.width for board in self.boards if board.length >= length), default=0)

    def is_board_length(self, length: int, width: int) -> bool:
        """Whether a board of just this length is wide enough."""
        return any(board.length == length and board.width >= width for board in self.boards)

    def may_be_joint(self, position: int) -> bool:
        """Whether a position is clear of every mullion."""
        after = bisect_left(self.mullions, position)
        nearest = self.mullions[max(0, after - 1) : after + 1]
        return all(abs(position - mullion) >= self.rules.clearance for mullion in nearest)

    def taper(self, from_mm: int, to_mm: int) -> tuple[int, int] | None:
        """The least end widths of a tapered piece that some board takes."""
        return self.widths.taper(from_mm, to_mm, self.widest_for(to_mm - from_mm), self.rules.taper_max)


def stretches_of(run: Run) -> Iterator[tuple[int, int, bool]]:
    """(from, to, within the tested range) along the run, rounded outward to whole millimetres."""
    gap_min, gap_max = run.rules.gap_min, run.rules.gap_max
    inside = [
        gap_min <= low and high <= gap_max
        for low, high in zip(run.widths.gap_floor, run.widths.gap_ceil, strict=True)
    ]
    start = 0
    for x in range(1, run.length + 1):
        within = inside[start] and inside[start + 1]
        if x == run.length or (inside[x] and inside[x + 1]) != within:
            yield start, x, within
            start = x


class Stretch:
    """The values of a stretch of a run: `values[p - start]`, INFINITE where no layout reaches the end.

    `last_resort`: pieces shorter than piece_min and millimetres not planned are allowed.
    """

    def __init__(self, run: Run, start: int, end: int, last_resort: bool) -> None:
        self.run, self.start, self.end, self.last_resort = run, start, end, last_resort
        self.values = [INFINITE] * (end - start) + [0]
        self._window: deque[int] = deque()  # possible ends of pieces, the least value first
        self._entering = end
        self._edge_to = end
        self._next_joint = end
        for p in range(end - 1, start - 1, -1):
            if p == start or run.may_be_joint(p):
                self.values[p - start] = self._value_at(p)
                self._next_joint = p

    def value(self, position: int) -> int:
        """The least cost from a position to the stretch's end."""
        return self.values[position - self.start]

    def farthest(self, p: int) -> int:
        """How far a piece from p may go with one width, below p: nowhere."""
        far = [
            min(reach[p], p + board.length, self.end)
            for board, reach in zip(self.run.boards, self.run.reach, strict=True)
        ]
        return max(far)

    def full_ends(self, p: int) -> Iterator[tuple[int, int]]:
        """(end, cost) of the pieces from p that are a full board length, in the boards' order."""
        for board, reach in zip(self.run.boards, self.run.reach, strict=True):
            end = p + board.length
            if end <= min(reach[p], self.end):
                if board.length >= self.run.rules.piece_min:
                    yield end, ONE_PIECE
                elif self.last_resort and board.length >= self.run.rules.shortest:
                    yield end, ONE_PIECE + SHORT

    def taper_ends(self, p: int, limit: int) -> Iterator[int]:
        """The ends, from the farthest, up to `limit`, that a tapered piece from p may have.

        No single width serves its span. It starts and ends at multiples of the taper step, or at the stretch's start
        and end.
        """
        step = self.run.rules.taper_step
        if not self.run.rules.taper_max or (p != self.start and p % step):
            return
        for end in range(min(p + self.run.longest, limit), self.nearest_taper(p) - 1, -1):
            if end == self.end or end % step == 0:
                yield end

    def nearest_taper(self, p: int) -> int:
        """The nearest end of a tapered piece from p: no single width reaches as far."""
        return max(p, self.run.served[p], p + self.run.rules.piece_min - 1) + 1

    def _value_at(self, p: int) -> int:
        rules = self.run.rules
        best = min((self.value(end) + cost for end, cost in self.full_ends(p)), default=INFINITE)
        best = min(
            best, ONE_PIECE + ODD_LENGTH + self._least_value_between(p + rules.piece_min, self.farthest(p))
        )
        best = self._least_tapered(p, best)
        if self.last_resort:
            short_ends = range(p + rules.shortest, min(p + rules.piece_min - 1, self.farthest(p)) + 1)
            short = min((self.value(end) for end in short_ends), default=INFINITE)
            left_open = (self._next_joint - p) * OPEN + self.value(self._next_joint)
            best = min(best, short + SHORT + ONE_PIECE + ODD_LENGTH, left_open)
        return min(best, INFINITE)

    def _least_value_between(self, nearest: int, farthest: int) -> int:
        """A sliding-window minimum: both ends only move back as p does."""
        while self._entering >= nearest:
            value = self.value(self._entering)
            while self._window and self.value(self._window[-1]) >= value:
                self._window.pop()
            self._window.append(self._entering)
            self._entering -= 1
        while self._window and self._window[0] > farthest:
            self._window.popleft()
        return self.value(self._window[0]) if self._window and nearest <= farthest else INFINITE

    def _least_tapered(self, p: int, best: int) -> int:
        """`best`, or the least cost with a tapered piece from p."""
        if next(self.taper_ends(p, self.end), None) is None:
            return best
        self._edge_to = min(self._edge_to, p + self.run.longest)
        while self._edge_to >= self.nearest_taper(p) and not self.run.widths.straight_edge_exists(
            p, self._edge_to, self.run.rules.taper_max
        ):
            self._edge_to -= 1
        for end in self.taper_ends(p, self._edge_to):
            if self.value(end) + ONE_PIECE + TAPER < best:
                widths = self.run.taper(p, end)
                if widths is not None:
                    best = min(best, self.value(end) + self.taper_cost(p, end, widths))
        return best

    def taper_cost(self, p: int, end: int, widths: tuple[int, int]) -> int:
        """The cost of a tapered piece with these end widths."""
        odd = not self.run.is_board_length(end - p, max(widths))
        return ONE_PIECE + TAPER + odd * ODD_LENGTH

    def levels(self, from_mm: int, to_mm: int, wanted: int) -> Iterator[tuple[int, int]]:
        """(low, high), from the far end: the places in [from_mm, to_mm] of the value `wanted`, as far as they adjoin.

        Adjoining places of equal value are parted, from the far end of them all, every piece_min millimetres: so
        each part has candidate ends of its own.
        """
        piece_min = self.run.rules.piece_min
        high = to_mm
        while high >= from_mm:
            if self.value(high) != wanted:
                high -= 1
                continue
            last = high
            while last < self.end and self.value(last + 1) == wanted:
                last += 1
            low, end_of_part = high, last - (last - high) // piece_min * piece_min
            while low > max(from_mm, end_of_part - piece_min + 1) and self.value(low - 1) == wanted:
                low -= 1
            yield low, high
            high = low - 1


@dataclass(frozen=True)
class Node:
    """A joint position, the piece (or the stretch left open) that ends there, and the way back to the start."""

    at: int
    kind: int = PIECE
    span: Span = NOT_PLANNED
    width_start: int = 0
    width_end: int = 0
    score: int = 0
    before: Node | None = None

    def chain(self) -> list[Node]:
        """The nodes from the start up to this one."""
        nodes = [self]
        while nodes[-1].before is not None:
            nodes.append(nodes[-1].before)
        return nodes[::-1]


class WidestWindows:
    """Among the layouts of least cost, the one of the widest windows in sum over candidate ends.

    From each position, the lowest first, candidate ends of pieces are offered that keep the cost least: full board
    lengths, and of every level of equal value its farthest, nearest and middle place and the measured positions.
    A position keeps the best way to it, the first of equals; no more than MOST_OPEN positions wait at a time.
    """

    def __init__(self, stretch: Stretch) -> None:
        self.stretch = stretch
        self.waiting: dict[int, Node] = {stretch.start: Node(stretch.start)}
        self._something_new = False

    def chosen(self) -> Node:
        """The end of the layout chosen. Raises RuntimeError when there is no way, a fault of the values."""
        while self.waiting:
            node = self.waiting.pop(min(self.waiting))
            if node.at == self.stretch.end:
                return node
            self._offer_ends_from(node)
        raise RuntimeError("the joint layout found no way to the end of a run: a fault of this tool")

    def _offer(self, node: Node) -> None:
        known = self.waiting.get(node.at)
        if known is None and len(self.waiting) < MOST_OPEN:
            self.waiting[node.at] = node
            self._something_new = True
        elif known is not None and known.score < node.score:
            self.waiting[node.at] = node

    def _offer_piece(self, before: Node, end: int) -> None:
        span = self.stretch.run.widths.span(before.at, end)
        score = before.score + span.width_max - span.width_min
        self._offer(Node(end, PIECE, span, span.width_min, span.width_min, score, before))

    def _offer_levels(self, before: Node, from_mm: int, to_mm: int, wanted: int) -> None:
        for low, high in self.stretch.levels(from_mm, to_mm, wanted):
            measured = reversed(self.stretch.run.widths.gap.inside(low, high))
            ends = [high, low, (low + high) // 2, *measured] if low < high else [high]
            for end in ends:
                self._offer_piece(before, end)

    def _offer_ends_from(self, node: Node) -> None:
        stretch, rules, p = self.stretch, self.stretch.run.rules, node.at
        self._something_new = False
        value, farthest = stretch.value(p), stretch.farthest(p)
        for end, cost in stretch.full_ends(p):
            if stretch.value(end) + cost == value:
                self._offer_piece(node, end)
        self._offer_levels(node, p + rules.piece_min, farthest, value - ONE_PIECE - ODD_LENGTH)
        self._offer_taper(node, value)
        if stretch.last_resort:
            shorter = min(p + rules.piece_min - 1, farthest)
            self._offer_levels(node, p + rules.shortest, shorter, value - SHORT - ONE_PIECE - ODD_LENGTH)
            if not self._something_new:
                end = next(x for x in range(p + 1, stretch.end + 1) if stretch.value(x) < INFINITE)
                if stretch.value(end) + (end - p) * OPEN == value:
                    self._offer(Node(end, NO_LAYOUT, score=node.score, before=node))

    def _offer_taper(self, node: Node, value: int) -> None:
        """The longest tapered piece that keeps the cost least is enough: its window does not count."""
        stretch, p = self.stretch, node.at
        for end in stretch.taper_ends(p, stretch.end):
            if value - stretch.value(end) not in (ONE_PIECE + TAPER, ONE_PIECE + TAPER + ODD_LENGTH):
                continue
            widths = stretch.run.taper(p, end)
            if widths is not None and stretch.value(end) + stretch.taper_cost(p, end, widths) == value:
                span = stretch.run.widths.span(p, end)._replace(width_min=max(widths), width_max=max(widths))
                self._offer(Node(end, TAPERED, span, *widths, node.score, node))
                return


def rows_of(node: Node) -> Iterator[Row]:
    """The pieces of the layout that ends at a node; stretches left open that meet become one row."""
    nodes = node.chain()
    left_from: int | None = None
    for before, node in pairwise(nodes):
        if node.kind == NO_LAYOUT:
            left_from = before.at if left_from is None else left_from
            continue
        if left_from is not None:
            yield Row(NO_LAYOUT, left_from, before.at, NOT_PLANNED, 0, 0)
            left_from = None
        yield Row(node.kind, before.at, node.at, node.span, node.width_start, node.width_end)
    if left_from is not None:
        yield Row(NO_LAYOUT, left_from, nodes[-1].at, NOT_PLANNED, 0, 0)
