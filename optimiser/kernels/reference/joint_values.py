"""What a joint layout costs from every millimetre of a run on (`joints.c`): the values of its shortest path.

A run falls into stretches within the tested range and stretches beyond it, which are not planned. In a stretch,
value(p) is the least cost of what lies between p and its end. Costs are compared in this order: millimetres not
planned, short pieces, pieces, tapered pieces, pieces that are no full board length.

`joints.c` finds the same values in leaps, over blocks of equal value; here every millimetre is visited.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator

from optimiser.kernels.reference.run_to_lay_out import Run

# A cost is one integer, the weightier the higher its place; every count is below 2^24.
ODD_LENGTH, TAPER, ONE_PIECE, SHORT, OPEN = (1 << 24 * place for place in range(5))
INFINITE = 1 << 125


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
