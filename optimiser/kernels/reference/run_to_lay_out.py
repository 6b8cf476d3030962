"""A run as its joints are laid out: the tested detail, its length, mullions and boards, and how far a piece may go."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from optimiser.kernels.reference.gap_line import GapLine, Rates, Widths


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
