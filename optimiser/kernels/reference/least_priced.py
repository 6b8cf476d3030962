"""The least price of any layout of a stretch (`joint_bound.c`): a shortest path over all its joint positions.

A piece costs what a table says of its length and least cut width. Where one width cannot serve, a tapered piece pays
for the mean of its ends, bounded from below: its straight edge lies between the least and the greatest width at both
ends and at the measured positions between, and rises or falls by `taper_max` at most. So what is found is a lower bound
on every layout that `joint_layout` could choose. Whether there is such a piece at all is decided exactly: otherwise
layouts of fewer pieces than any real one would hide the cheaper ones of more.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from optimiser.kernels.reference.gap_line import GapLine, Rates, Widths

PARTS = 64  # of a millimetre
MOST_KNOTS = 6  # measured positions that are looked at below a tapered piece's edge
OPEN, SHORT = (
    1 << 40,
    1 << 20,
)  # a millimetre left open outweighs every short piece, a short piece every joint


class Stretch(NamedTuple):
    """Positions 0 to len(least) - 1, in mm, of one stretch of a run within the tested range of gaps.

    `least` and `greatest` cut width that serve each position; `joint`: whether a joint may be here; `need` and `cap`:
    between them lies the edge of a tapered piece, in PARTS of a mm; `next_knot`: the first measured position beyond
    each position; `gap` by position from the stretch's start; `boards` as (length, width); at most `pieces` pieces, 0:
    any number; the end widths of a tapered piece differ by `taper_max` at most, 0: none is tapered.
    """

    least: Sequence[int]
    greatest: Sequence[int]
    joint: Sequence[int]
    need: Sequence[int]
    cap: Sequence[int]
    next_knot: Sequence[int]
    gap: GapLine
    rates: Rates
    boards: Sequence[tuple[int, int]]
    pieces: int
    taper_max: int

    @property
    def end(self) -> int:
        """The last position."""
        return len(self.least) - 1


class LaidSpan(NamedTuple):
    """A piece of a layout: where, the width it pays for, and whether no single width serves it."""

    from_mm: int
    to_mm: int
    width: int
    tapered: bool


class _Label(NamedTuple):
    rank: int  # millimetres open, short pieces and, where they are limited, pieces
    price: int
    before: int
    width: int
    tapered: bool
    left_open: bool = False


def least_priced_layout(
    stretch: Stretch, price: Sequence[Sequence[int]], piece_min: int, shortest: int
) -> tuple[int, list[LaidSpan]] | None:
    """The least price at `price[width][length]` (beyond the table its last row or column) and one layout of it, its
    pieces from the end; None where there is none.

    Pieces are `piece_min` long at least; where the stretch allows no such layout, in the last resort, those of
    `shortest` and stretches left open count too, as few of them as can be.
    """
    for last_resort in (False, True):
        labels = _labels(stretch, price, piece_min, shortest, last_resort)
        if stretch.end in labels:
            return labels[stretch.end].price, list(_spans(labels, stretch.end))
    return None


def _labels(
    stretch: Stretch, price: Sequence[Sequence[int]], piece_min: int, shortest: int, last_resort: bool
) -> dict[int, _Label]:
    labels = {0: _Label(0, 0, 0, 0, False)}
    widths = Widths(stretch.gap, stretch.end, stretch.rates)
    joints = [x for x, joint in enumerate(stretch.joint) if joint]
    least_length = shortest if last_resort else min(piece_min, stretch.end)
    for p in range(stretch.end):
        here = labels.get(p)
        if here is None or (p and not stretch.joint[p]):
            continue
        for end, label in _pieces_from(
            stretch, widths, joints, here, p, price, least_length, piece_min, last_resort
        ):
            known = labels.get(end)
            if known is None or label[:2] < known[:2]:
                labels[end] = label
    return labels


def _pieces_from(
    stretch: Stretch,
    widths: Widths,
    joints: Sequence[int],
    here: _Label,
    p: int,
    price: Sequence[Sequence[int]],
    least_length: int,
    piece_min: int,
    last_resort: bool,
) -> Iterator[tuple[int, _Label]]:
    longest = max(length for length, _ in stretch.boards)
    width, greatest, one = stretch.least[p], stretch.greatest[p], 1 if stretch.pieces else 0
    first = p + least_length
    if stretch.pieces and not last_resort:  # what is left must be possible with the pieces that are left
        first = max(first, stretch.end - (stretch.pieces - here.rank - 1) * longest)
    seen = p + 1
    nearest, farthest = max(first, seen), min(stretch.end, p + longest)
    for end in joints[bisect_left(joints, nearest) : bisect_right(joints, farthest)]:
        between, seen = slice(seen, end + 1), end + 1
        width = max(width, *stretch.least[between])
        greatest = min(greatest, *stretch.greatest[between])
        length, tapered = end - p, width > greatest
        short = last_resort and length < piece_min
        if width > _widest(stretch, length):
            break
        if tapered and (short or not stretch.taper_max):
            continue
        paid = least_mean(stretch, p, end) if tapered else width
        if paid is None:
            break  # nor is there a straight edge over any longer span
        if tapered and widths.taper(p, end, _widest(stretch, length), stretch.taper_max) is None:
            continue
        row = price[min(paid, len(price) - 1)]
        cost = row[min(length, len(row) - 1)]
        rank = here.rank + one + short * SHORT
        yield end, _Label(rank, here.price + cost, p, paid, tapered)
    if last_resort:
        end = next(e for e in range(p + 1, stretch.end + 1) if e == stretch.end or stretch.joint[e])
        yield end, _Label(here.rank + (end - p) * OPEN, here.price, p, 0, False, left_open=True)


def _widest(stretch: Stretch, length: int) -> int:
    return max((width for longest, width in stretch.boards if longest >= length), default=0)


def _spans(labels: dict[int, _Label], end: int) -> Iterator[LaidSpan]:
    while end > 0:
        label = labels[end]
        if not label.left_open:
            yield LaidSpan(label.before, end, label.width, label.tapered)
        end = label.before


def least_mean(stretch: Stretch, p: int, end: int) -> int | None:
    """The least mean width of a tapered piece over [p, end], in mm rounded down; None where no straight edge can be.

    An edge above `need` at two places lies above their chord between them, and below the chord of `cap` likewise.
    """
    at = [p]
    while len(at) <= MOST_KNOTS and stretch.next_knot[at[-1]] < end:
        at.append(stretch.next_knot[at[-1]])
    at.append(end)
    low, high = [stretch.need[x] for x in at], [stretch.cap[x] for x in at]
    middle = p + end  # positions are doubled, so that it is whole
    least = max((low[i] for i, x in enumerate(at) if 2 * x == middle), default=0)
    most = min((high[i] for i, x in enumerate(at) if 2 * x == middle), default=None)
    for j in range(len(at)):
        for i in range(j):
            span = at[j] - at[i]
            if max(low[j] - high[i], low[i] - high[j]) * (end - p) > stretch.taper_max * PARTS * span:
                return None
            for k in range(i + 1, j):
                before, after = at[k] - at[i], at[j] - at[k]
                if low[i] * after + low[j] * before > high[k] * span:
                    return None
                if high[i] * after + high[j] * before < low[k] * span:
                    return None
            before, after = middle - 2 * at[i], 2 * at[j] - middle
            if before > 0 and after > 0:
                least = max(least, (low[i] * after + low[j] * before) // (2 * span))
                here = (high[i] * after + high[j] * before) // (2 * span) + 1
                most = here if most is None else min(most, here)
    return None if most is not None and least > most else least // PARTS
