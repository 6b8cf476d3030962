"""What lies where while boards are rearranged (`rearranging.c`): components on strips, strips on boards, their costs.

Sizes carry their kerf already. Stages are ranks 0, 1, 2, ...; `numbers` says which they stand for.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from typing import NamedTuple

NEVER = 1 << 29  # no limit; the stage at which an empty board is opened


class Component(NamedTuple):
    """What lies in one length of a strip; ranks of its first and its last stage; the board codes it may be cut from
    as bits."""

    length: int
    width_min: int
    width_max: int
    pieces: int
    first: int
    last: int
    codes: int


class BoardLimits(NamedTuple):
    """A board: the width that its strips may take, its length, its kerf, the stages that it may serve, how many stages
    it may wait after it is opened, its code as a bit, and its weighted price."""

    capacity: int
    length: int
    kerf: int
    earliest: int
    latest: int
    carry: int
    code: int
    price: int


class CostWeights(NamedTuple):
    """What a stage costs: of a piece from the opening of its board, of a remainder, of a piece from the first stage of
    its strip; and a mm by which a board is overfull."""

    piece: int
    remainder: int
    inner: int
    overflow: int


class Strip(NamedTuple):
    """A strip, measured: its width, the least `width_max` in it, the length that is taken, pieces, first and last
    stage, codes."""

    width: int
    narrowest: int
    taken: int
    pieces: int
    first: int
    last: int
    codes: int

    def with_(self, component: Component) -> Strip:
        """The strip with one component more."""
        width, narrowest, taken, pieces, first, last, codes = self
        length, low, high, more, earliest, latest, may_be = component
        return Strip(
            low if low > width else width,
            high if high < narrowest else narrowest,
            taken + length,
            pieces + more,
            earliest if earliest < first else first,
            latest if latest > last else last,
            codes & may_be,
        )


EMPTY_STRIP = Strip(0, NEVER, 0, 0, NEVER, -1, -1)


class Contents(NamedTuple):
    """What lies on a board, or is dealt to it: width taken, pieces, stage of opening, the latest first stage of a
    strip, the last stage of all."""

    used: int
    pieces: int
    opened: int
    latest_first: int
    last: int

    def with_(self, strip: Strip, kerf: int) -> Contents:
        """The contents with one strip more; an empty one is none."""
        if not strip.pieces:
            return self
        width, _, _, more, first, end, _ = strip
        used, pieces, opened, latest_first, last = self
        return Contents(
            used + width + kerf,
            pieces + more,
            first if first < opened else opened,
            first if first > latest_first else latest_first,
            end if end > last else last,
        )


NOTHING = Contents(0, 0, NEVER, -1, -1)


def together(strips: Sequence[Strip], kerf: int) -> Contents:
    """What strips come to that lie on one board, none of them empty."""
    if not strips:
        return NOTHING
    width, _, _, pieces, first, last, _ = zip(*strips, strict=True)
    return Contents(sum(width) + kerf * len(strips), sum(pieces), min(first), max(first), max(last))


class Arrangement:
    """Components on strips and strips on boards, as they change.

    `strip_of` each component, `board_of` each strip; `held` by each strip, `lying` on each board, what was put there
    last standing first; `strips` measured, `contents` of each board; `opened_at` each stage these boards, those that
    are not opened last; boards that are `overfull`.
    """

    def __init__(
        self,
        components: Sequence[Component],
        boards: Sequence[BoardLimits],
        numbers: Sequence[int],
        weights: CostWeights,
        strip_of: Sequence[int],
        board_of: Sequence[int],
    ) -> None:
        self.components, self.boards, self.numbers, self.weights = components, boards, numbers, weights
        self._holds = [  # of each board: length, code, the first and the last rank that it may serve
            (
                board.length,
                board.code,
                bisect_left(numbers, board.earliest),
                bisect_right(numbers, board.latest) - 1,
            )
            for board in boards
        ]
        self.strip_of, self.board_of = list(strip_of), list(board_of)
        self.held: list[list[int]] = [[] for _ in components]
        for component, strip in enumerate(strip_of):
            self.held[strip].append(component)
        self.strips = [self.measured(held) for held in self.held]
        self.free_strips = [k for k in reversed(range(len(components))) if not self.held[k]]
        self.lying: list[list[int]] = [[] for _ in boards]
        for k, held in enumerate(self.held):
            if held:
                self.lying[board_of[k]].append(k)
        self.contents = [self.on_board(b) for b in range(len(boards))]
        self.opened_at: list[list[int]] = [[] for _ in range(len(numbers) + 1)]
        for b, contents in enumerate(self.contents):
            self.opened_at[self._place_of(contents)].append(b)
        self.overfull = [b for b in range(len(boards)) if self._is_overfull(b)]

    # what things are and cost

    def measured(self, held: Iterable[int]) -> Strip:
        """A strip of these components."""
        strip = EMPTY_STRIP
        for component in held:
            strip = strip.with_(self.components[component])
        return strip

    def on_board(self, b: int, without: Sequence[int] = ()) -> Contents:
        """What lies on a board, some strips left out."""
        strips = self.strips
        return together([strips[k] for k in self.lying[b] if k not in without], self.boards[b].kerf)

    def _place_of(self, contents: Contents) -> int:
        return len(self.numbers) if contents.opened >= NEVER else contents.opened

    def _is_overfull(self, b: int) -> bool:
        return self.contents[b].used > self.boards[b].capacity

    def board_cost(self, b: int, contents: Contents) -> int:
        """What a board costs with such contents; beside what its pieces' own stages come to."""
        if contents.opened >= NEVER:
            return 0
        board, weights, opened = self.boards[b], self.weights, self.numbers[contents.opened]
        return (
            weights.overflow * max(0, contents.used - board.capacity)
            + board.price
            - weights.piece * contents.pieces * opened
            + weights.remainder * (self.numbers[contents.latest_first] - opened)
        )

    def strip_cost(self, strip: Strip) -> int:
        """What a strip costs by itself; beside what its pieces' own stages come to."""
        if strip.first >= NEVER:
            return 0
        first = self.numbers[strip.first]
        remainder = self.weights.remainder * (self.numbers[strip.last] - first)
        return remainder - self.weights.inner * strip.pieces * first

    def whole_cost(self) -> int:
        """Of all boards and strips."""
        boards = sum(self.board_cost(b, contents) for b, contents in enumerate(self.contents))
        return boards + sum(self.strip_cost(strip) for strip in self.strips)

    def may_hold(self, b: int, strip: Strip) -> bool:
        """Whether a board is long enough, of a code, and there at the stages that a strip asks for."""
        length, code, earliest, latest = self._holds[b]
        _, _, taken, _, first, last, codes = strip
        return taken <= length and code & codes != 0 and earliest <= first and last <= latest

    def alike(self, a: int, b: int) -> bool:
        """Whether two boards may hold the same strips."""
        return self._holds[a] == self._holds[b]

    def carried_too_far(self, b: int, contents: Contents) -> bool:
        """Whether something on a board would wait for more stages than it may."""
        carry = self.boards[b].carry
        if carry >= NEVER or contents.opened >= NEVER:
            return False
        return self.numbers[contents.last] - self.numbers[contents.opened] > carry

    # changes; `measure_board` is to be called after them

    def take_strip(self, k: int) -> None:
        """From its board."""
        self.lying[self.board_of[k]].remove(k)

    def put_strip(self, k: int, b: int) -> None:
        """On a board, before the other strips."""
        self.board_of[k] = b
        self.lying[b].insert(0, k)

    def move_component(self, component: int, strip: int) -> None:
        """To another strip, before its other components."""
        self.held[self.strip_of[component]].remove(component)
        self.held[strip].insert(0, component)
        self.strip_of[component] = strip

    def measure_strip(self, k: int) -> None:
        """After its components changed; one without any leaves its board."""
        self.strips[k] = self.measured(self.held[k])
        if not self.held[k]:
            self.take_strip(k)
            self.free_strips.append(k)

    def measure_board(self, b: int) -> None:
        """After its strips changed."""
        was, was_overfull = self._place_of(self.contents[b]), self._is_overfull(b)
        self.contents[b] = self.on_board(b)
        now, is_overfull = self._place_of(self.contents[b]), self._is_overfull(b)
        if was != now:
            _leave(self.opened_at[was], b)
            self.opened_at[now].append(b)
        if is_overfull and not was_overfull:
            self.overfull.append(b)
        elif was_overfull and not is_overfull:
            _leave(self.overfull, b)


def _leave(boards: list[int], b: int) -> None:
    """The last takes its place."""
    boards[boards.index(b)] = boards[-1]
    boards.pop()
