"""The joints of a stretch by price (`joints.c`): the cheapest layout over candidate positions.

The candidates are a grid of 48 parts of the longest board, the measured positions, the places just clear of mullions,
multiples of the boards from either end, and the joints of the layout chosen without prices: so never worse than that.
Only such count as a layout goes on from by the values without prices; where the price only chooses among layouts of the
fewest pieces and tapers, no way counts that leaves too few of them for what the rest takes. (Where tapers begin at
multiples of a step alone, the values know of no others.)
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from optimiser.kernels.reference.joint_layout import PIECE, TAPERED, Node
from optimiser.kernels.reference.joint_values import INFINITE, ODD_LENGTH, ONE_PIECE, TAPER, Stretch

GRID_PARTS = 48


class PiecePrices(NamedTuple):
    """An extra cost of a piece by its length and least width, `cost[length][width]`; beyond the table its last row
    or column counts. With `pieces_first` it only chooses among layouts of the fewest pieces and, of these, the fewest
    tapered ones."""

    cost: Sequence[Sequence[int]]
    pieces_first: bool

    def of(self, length: int, width: int) -> int:
        """The extra cost of a piece."""
        row = self.cost[min(length, len(self.cost) - 1)]
        return row[min(width, len(row) - 1)]


class _Label(NamedTuple):
    """The cheapest way to a candidate: pieces and tapered ones (if they come first), price, the other aims; then where
    it comes from."""

    pieces: int
    tapers: int
    price: int
    rest: int
    before: int


def cheapest_layout(stretch: Stretch, prices: PiecePrices, chosen: Node) -> Node:
    """The end of the cheapest layout over the candidates; `chosen` is the one without prices. Ties: the first found,
    from the run's start."""
    run, rules = stretch.run, stretch.run.rules
    least, greatest = run.widths.least, run.widths.greatest
    points = _candidates(stretch, chosen)
    values = [stretch.value(p) for p in points]
    most = [values[0] // TAPER - value // TAPER for value in values]  # pieces, then tapers, in one number
    widest_for = [run.widest_for(length) for length in range(run.longest + 1)]
    best: list[_Label | None] = [None] * len(points)
    best[0] = _Label(0, 0, 0, 0, -1)
    for i, p in enumerate(points):
        here = best[i]
        if here is None:
            continue
        width_min, width_max = least[p], greatest[p]
        for j in range(i + 1, len(points)):
            end = points[j]
            if end - p > run.longest:
                break
            width_min, width_max = max(width_min, least[end]), min(width_max, greatest[end])
            if values[j] >= INFINITE or end - p < rules.piece_min:
                continue
            if width_min <= width_max:
                width, tapered = width_min, False
                if width > widest_for[end - p]:
                    continue
            else:
                widths = run.taper(p, end) if rules.taper_max else None
                if widths is None:
                    continue
                width, tapered = max(widths), True
            odd = not run.is_board_length(end - p, width)
            label = _Label(
                here.pieces + prices.pieces_first,
                here.tapers + (prices.pieces_first and tapered),
                here.price + prices.of(end - p, width),
                here.rest + ONE_PIECE + tapered * TAPER + odd * ODD_LENGTH,
                i,
            )
            if prices.pieces_first and label.pieces * (ONE_PIECE // TAPER) + label.tapers > most[j]:
                continue
            known = best[j]
            if known is None or label[:4] < known[:4]:
                best[j] = label
    at = [len(points) - 1]
    while at[-1] > 0:
        label_here = best[at[-1]]
        assert label_here is not None  # the layout chosen without prices is one of those compared
        at.append(label_here.before)
    node = Node(stretch.start)
    for i in reversed(at[:-1]):
        node = _piece(stretch, node, points[i])
    return node


def _candidates(stretch: Stretch, chosen: Node) -> list[int]:
    run, start, end = stretch.run, stretch.start, stretch.end
    found = {*range(start, end, max(1, run.longest // GRID_PARTS)), end, 0, run.length, *run.widths.gap.at_mm}
    found |= {
        mullion + off for mullion in run.mullions for off in (-run.rules.clearance, run.rules.clearance)
    }
    found |= {node.at for node in chosen.chain()}
    for board in run.boards:
        found |= {
            *range(start + board.length, end, board.length),
            *range(end - board.length, start, -board.length),
        }
    return sorted(p for p in found if start <= p <= end)


def _piece(stretch: Stretch, before: Node, end: int) -> Node:
    span = stretch.run.widths.span(before.at, end)
    widths = stretch.run.taper(before.at, end) if span.width_min > span.width_max else None
    if widths is None:
        return Node(end, PIECE, span, span.width_min, span.width_min, before=before)
    span = span._replace(width_min=max(widths), width_max=max(widths))
    return Node(end, TAPERED, span, *widths, before=before)
