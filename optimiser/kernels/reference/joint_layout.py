"""Where a run is divided into pieces (`joints.c`): the way of least cost along it, by the values of `joint_values`.

Among the layouts of least cost the one is taken whose compression windows are widest in sum, over a few candidate ends
of each piece.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

from optimiser.kernels.reference.gap_line import Span
from optimiser.kernels.reference.joint_values import (
    INFINITE,
    ODD_LENGTH,
    ONE_PIECE,
    OPEN,
    SHORT,
    TAPER,
    Stretch,
)

PIECE, TAPERED, OUT_OF_RANGE, NO_LAYOUT = range(4)  # kinds of a row
NOT_PLANNED = Span(0, 0, 0, 0)
MOST_OPEN = 24  # positions that wait at a time while the widest windows are chosen


class Row(NamedTuple):
    """A piece, or a stretch that is not planned, along a run."""

    kind: int
    from_mm: int
    to_mm: int
    span: Span
    width_start: int
    width_end: int


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
