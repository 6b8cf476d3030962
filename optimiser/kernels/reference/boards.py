"""The constructive heuristic (`cutting.c` and `draws.c`): strips by best fit, boards filled as full as they can be.

Best fit over compression windows is our own rule; filling the widest strip's board to the greatest sum that the
other strips can make is the subset-sum heuristic (common practice, no source). Sizes carry their kerf already.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from optimiser.kernels.patterns import Pairs


@dataclass
class _OpenStrip:
    number: int
    room: int
    width: int  # the greatest width_min in it
    narrowest: int  # the least width_max in it


def form_strips(
    lengths: Sequence[int],
    width_min: Sequence[int],
    width_max: Sequence[int],
    capacity: int,
    shortest: int,
    tolerance: int,
) -> tuple[list[int], list[int]]:
    """Strips from pieces in the order given: (strip of each piece, width of each strip).

    Each piece goes into the open strip where it wastes the least area, the first of equals, the search ending
    where nothing is wasted; or into a new one, where every open strip would waste `tolerance` thousandths of the
    piece's area or more. Area is wasted where the strip must be widened over what it holds, where the piece is
    narrower than the strip, and behind the piece: all of it where not even `shortest` fits there, else an eighth.
    A strip with less room than `shortest` is closed, and the last open one takes its place.
    """
    strip_of: list[int] = []
    strips: list[_OpenStrip] = []
    still_open: list[_OpenStrip] = []
    for length, low, high in zip(lengths, width_min, width_max, strict=True):
        least = tolerance * low * length // 1000
        chosen: _OpenStrip | None = None
        for strip in still_open:
            width = max(strip.width, low)
            if strip.room < length or width > min(strip.narrowest, high):
                continue
            behind = (strip.room - length) * width
            if strip.room - length >= shortest:
                behind //= 8
            wasted = (width - strip.width) * (capacity - strip.room) + (width - low) * length + behind
            if wasted < least:
                least, chosen = wasted, strip
                if wasted == 0:
                    break
        if chosen is None:
            chosen = _OpenStrip(len(strips), capacity, low, high)
            strips.append(chosen)
            if capacity - length >= shortest:
                still_open.append(chosen)
        strip_of.append(chosen.number)
        chosen.room -= length
        chosen.width, chosen.narrowest = max(chosen.width, low), min(chosen.narrowest, high)
        if chosen.room < shortest and chosen in still_open:
            last = still_open.pop()
            if last is not chosen:
                still_open[still_open.index(chosen)] = last
    return strip_of, [strip.width for strip in strips]


def fill_boards(widths: Sequence[int], demand: Sequence[int], capacity: int) -> list[tuple[Pairs, int]]:
    """Boards for `demand` strips of each width (ascending): (pattern of (width index, copies), repeat) each.

    The widest strip still needed, then the fullest board that it allows: of the others, from the widest down, as
    many as leave a sum that the narrower can make. Repeated while the demand lasts. A strip wider than the
    capacity has a board to itself.
    """
    left = list(demand)
    made: list[tuple[Pairs, int]] = []
    while any(count > 0 for count in left):
        widest = max(k for k, count in enumerate(left) if count > 0)
        copies = dict.fromkeys(range(widest + 1), 0)
        copies[widest] = 1
        left[widest] -= 1
        rest = max(0, capacity - widths[widest])
        # sums[k]: bit s is set when some of the k narrowest strips make the sum s
        sums = [1]
        for k in range(widest + 1):
            sums.append(_with_copies(sums[k], widths[k], min(left[k], rest // widths[k])))
        total = (sums[-1] & ((1 << (rest + 1)) - 1)).bit_length() - 1
        for k in range(widest, -1, -1):
            count = min(left[k], total // widths[k])
            while not sums[k] >> (total - count * widths[k]) & 1:
                count -= 1
            copies[k] += count
            left[k] -= count
            total -= count * widths[k]
        repeat = min(left[k] // count for k, count in copies.items() if count)
        for k, count in copies.items():
            left[k] -= repeat * count
        made.append((tuple((k, count) for k, count in copies.items() if count), repeat + 1))
    return made


def _with_copies(sums: int, size: int, most: int) -> int:
    """The sums that up to `most` further items of a size make: by 1, 2, 4, ... items and the rest."""
    part = 1
    while most > 0:
        part = min(part, most)
        sums |= sums << part * size
        most -= part
        part *= 2
    return sums


def count_boards(
    lengths: Sequence[int],
    width_min: Sequence[int],
    width_max: Sequence[int],
    board: tuple[int, int],
    kerf: int,
    stock_width: Sequence[int],
    stock_left: Sequence[int],
    tolerances: Sequence[int],
) -> tuple[int, list[int]]:
    """Boards (length, width) bought for pieces that may share them, and what is left of each stock item.

    Lengths without kerf, in mm. The pieces are taken longest first, then widest. Every tolerance (`form_strips`)
    is tried and the fewest boards kept, the first of equals. Stock as long as the board is used first, item by
    item, as full as the strips can fill it.
    """
    if not lengths:
        return 0, list(stock_left)
    order = sorted(range(len(lengths)), key=lambda p: (-lengths[p], -width_min[p], p))
    sizes = [lengths[p] + kerf for p in order]
    low, high = [width_min[p] for p in order], [width_max[p] for p in order]
    best: tuple[int, list[int]] | None = None
    for tolerance in tolerances:
        _, strips = form_strips(sizes, low, high, board[0] + kerf, sizes[-1], tolerance)
        demand = {width + kerf: len(list(same)) for width, same in groupby(sorted(strips))}
        left = _fill_stock(demand, stock_width, stock_left, kerf)
        needed = {width: count for width, count in demand.items() if count > 0}
        made = fill_boards(list(needed), list(needed.values()), board[1] + kerf)
        boards = sum(repeat for _, repeat in made)
        if best is None or boards < best[0]:
            best = boards, left
    return best if best is not None else (-1, list(stock_left))


def _fill_stock(
    demand: dict[int, int], stock_width: Sequence[int], stock_left: Sequence[int], kerf: int
) -> list[int]:
    """What is left of each stock item; takes what they hold off the demand (by width with kerf, ascending)."""
    left = list(stock_left)
    for item, stock in enumerate(stock_width):
        while left[item] > 0:
            fitting = [width for width in demand if width <= stock + kerf]
            made = fill_boards(fitting, [demand[width] for width in fitting], stock + kerf)
            if not made:
                break
            pattern, repeat = made[0]
            times = min(repeat, left[item])
            for k, copies in pattern:
                demand[fitting[k]] -= copies * times
            left[item] -= times
    return left
