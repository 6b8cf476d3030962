"""The least waiting at a settled cost: which pieces share a strip, which strips a board, and when it is opened.

1. Strips alone: pieces share strips so that little waits within a strip, a mm of strip width having a price that
   is raised until all strips fit on the boards.
2. Boards in the order of delivery: the strips, in the order of their stages, are dealt out to as many boards one
   after the other (`dealing_out`). Hardly anything waits, and few boards are overfull; annealing with a growing price
   on that makes them fit. A small problem is tried with several sets of strips.
3. Where that does not end well, the boards of the least cost are annealed as they are.

Two searches do so side by side, each with its own random numbers and temperatures.

One module although long: schedules and steps, which were measured together, stand beside the search that they rule.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextvars import copy_context
from dataclasses import dataclass, replace

from optimiser.cutting.dealing_out import deal_out
from optimiser.cutting.demand import Demand
from optimiser.cutting.open_boards import OpenBoard, OpenStrip
from optimiser.cutting.parts import Source
from optimiser.cutting.rearranging import NO_ARRANGEMENT, Arrangement, Schedule, Weights

PIECE, REMAINDER = 16, 1  # weights: pieces first, and of equal plans the one with fewer remainders
# where boards are still overfull by a few mm: first hardly warmer, then as hot as it needs
PUSHES = Schedule(0, 0.5, 0.15, 5, 16.0, 96.0), Schedule(0, 1.0, 0.2, 5, 16.0, 96.0)
POLISH = Schedule(0, 0.3, 0.02, 20)
SETTLE = Schedule(0, 0.06, 0.01, 15)  # so cold that remainders, which weigh little, count as well
FROM_ANY_PLAN = Schedule(0, 0.6, 0.1, 15)
# the part of the boards' width that strips leave, so that they can still be dealt out: the first that can be had
ROOM = (0.001, 0.0003, 0.0001)
STRIP_STEPS_A_PIECE = 5_500
MOST_STRIP_STEPS = 2_200_000
STRIP_OVERFLOW = 16
MANY_SHARING = 300  # from here on a hotter start wins
MANY_STRIPS = Schedule(0, 30.0, 0.5, 100, 1.0, 4.0)
# where all of the boards' width is needed; dearer at last, or a few mm too much would stay
TIGHT_STRIPS = Schedule(0, 30.0, 0.3, 100, 4.0, 32.0)
STRIPS = Schedule(0, 3.0, 0.15, 100, 1.0, 12.0)
BOARD_STEPS = 616_000
BOARD_STEPS_A_PIECE = 110
MOST_BOARD_STEPS = 770_000


@dataclass(frozen=True)
class Chain:
    """One of the searches that run side by side: its number, and its schedules from new strips, of few pieces and of
    many."""

    number: int
    few: Schedule
    many: Schedule


# The kernel lets go of the interpreter, so each search has a processor. Of few pieces one keeps to what fits, the other
# goes through what is overfull; of many, both keep to it.
CHAINS = (
    Chain(0, Schedule(0, 0.3, 0.05, 20, 1.0, 16.0), Schedule(0, 0.3, 0.05, 5, 4.0, 16.0)),
    Chain(1, Schedule(0, 0.5, 0.1, 5, 0.25, 3.0), Schedule(0, 0.1, 0.05, 5, 4.0, 16.0)),
)
OVERFLOW = 16  # the weight of a mm by which a board is overfull, times a factor of the schedule
TRIES = 3  # of new strips
PIECES_OF_TRIES = 2000
TRIES_OF_MANY = 2  # with more pieces: the second where the first left boards overfull
SHARE_OF_A_TRY = 0.25  # of the steps
SEEDS_APART = 1_000_003  # between two tries


@dataclass(frozen=True)
class Effort:
    """How much is searched: a share of the usual number of steps."""

    share: float = 1.0

    def board_steps(self, pieces: int) -> int:
        """Steps that deal out strips."""
        usual = BOARD_STEPS * min(1.0, pieces / 300) + BOARD_STEPS_A_PIECE * max(0, pieces - 900)
        return int(self.share * min(MOST_BOARD_STEPS, max(5_000, usual)))

    def strip_steps(self, sharing: int) -> int:
        """Steps that deal out pieces between strips."""
        return int(self.share * min(MOST_STRIP_STEPS, STRIP_STEPS_A_PIECE * sharing))


def waits(demand: Demand, boards: Sequence[OpenBoard]) -> int:
    """Pieces times stages that they wait, over all boards."""
    pieces = demand.problem.pieces
    total = 0
    for board in boards:
        opened = board.stage(demand)
        total += sum(pieces[i].stage - opened for s in board.strips for names in s.names for i in names)
    return total


def pieces_wait(demand: Demand, boards: Sequence[OpenBoard]) -> int:
    """Pieces that wait, over all boards."""
    pieces = demand.problem.pieces
    return sum(
        pieces[i].stage > opened
        for board in boards
        for opened in [board.stage(demand)]
        for strip in board.strips
        for names in strip.names
        for i in names
    )


def less_waiting(
    demand: Demand,
    boards: list[OpenBoard],
    spare: list[OpenBoard],
    bound: int,
    effort: Effort,
    out_of_time: Callable[[], bool],
    seed: int,
    *,
    form_strips_again: bool = True,
) -> list[OpenBoard]:
    """The boards dealt out again so that least waits; `spare` are empty ones that may be opened.

    `form_strips_again`: from new strips, in the order of delivery; otherwise only from the boards as they are. Two
    searches run side by side, each bounded by its own count of steps, so the result does not depend on which is
    faster. A search ends when no more than `bound` waits, or the effort is spent or time is out. Never worse than
    before; of equal waiting, the fewer pieces.
    """
    if waits(demand, boards) <= bound or out_of_time():
        return boards

    searches = [_Search(demand, boards, spare, bound, effort, out_of_time, chain, seed) for chain in CHAINS]
    with ThreadPoolExecutor(len(CHAINS)) as pool:
        # each within this thread's context, which says when all searches end (`clock.stopped`)
        ended = [pool.submit(copy_context().run, search.run, form_strips_again) for search in searches]
        found = [search.result() for search in ended]
    return min(found, key=lambda ended: _in_order_of_preference(demand, ended))


def _in_order_of_preference(demand: Demand, boards: list[OpenBoard]) -> tuple[int, int, int, int]:
    remainders = sum(
        (len({strip.stages(demand)[0] for strip in board.strips}) > 1)
        + sum(first < last for first, last in (strip.stages(demand) for strip in board.strips))
        for board in boards
    )
    return waits(demand, boards), len(boards), pieces_wait(demand, boards), remainders


class _Search:
    """One search for less waiting: its start, its temperatures and its own random numbers."""

    def __init__(
        self,
        demand: Demand,
        boards: list[OpenBoard],
        spare: list[OpenBoard],
        bound: int,
        effort: Effort,
        out_of_time: Callable[[], bool],
        chain: Chain,
        seed: int,
    ) -> None:
        self.demand, self.bound, self.effort = demand, bound, effort
        self.out_of_time, self.chain, self.seed = out_of_time, chain, len(CHAINS) * seed + chain.number
        self.given, self.spare = boards, spare
        self.best, self.least = boards, waits(demand, boards)
        self.pieces = sum(piece.quantity for piece in demand.problem.pieces)
        self.steps = effort.board_steps(self.pieces)

    def run(self, form_strips_again: bool) -> list[OpenBoard]:
        """The best that was found."""
        if form_strips_again:
            self.from_new_strips()
        moved = self.best is not self.given
        polish = POLISH if moved or not form_strips_again else FROM_ANY_PLAN
        if self.least > self.bound and not self.out_of_time():
            opened = len(self.best)
            unopened = self.spare[: len(self.given) + len(self.spare) - opened] if moved else self.spare
            steps = 2 * self.steps // 3 if moved else self.steps
            self.annealed([*self.best, *unopened], replace(polish, steps=steps), 0)
        if not self.out_of_time():
            self.annealed(self.best, replace(SETTLE, steps=self.steps // 3), 0)
        return self.best

    def from_new_strips(self) -> None:
        """Forms strips a few times, deals them out and anneals: which strips they are matters more than how long
        they are dealt out."""
        few = self.pieces <= PIECES_OF_TRIES
        tries = TRIES if few else TRIES_OF_MANY
        steps = int(self.steps * SHARE_OF_A_TRY) if few else self.steps
        schedule = replace(self.chain.few if few else self.chain.many, steps=steps)
        for number in range(tries):
            found = self.best is not self.given
            if self.out_of_time() or self.least <= self.bound or (found and not few):
                break
            start = in_order_of_delivery(
                self.demand,
                self.given,
                self.spare,
                self.effort,
                self.out_of_time,
                self.seed + number * SEEDS_APART,
            )
            if start is not None:
                self.annealed(start, schedule, OVERFLOW, pushed=number == tries - 1 and not found)

    def annealed(
        self, start: list[OpenBoard], schedule: Schedule, overflow: int, *, pushed: bool = False
    ) -> bool:
        """Anneals from a start; whether it ended with no board overfull. Keeps the best."""
        # where no less can wait, all that is left to improve are remainders
        enough = PIECE * self.bound if self.least > self.bound else -1
        weights = Weights(piece=PIECE, remainder=REMAINDER, overflow=overflow)
        arrangement = Arrangement(self.demand, start, weights, self.seed)
        arrangement.anneal(schedule, enough, self.out_of_time)
        for push in PUSHES if pushed else ():
            if arrangement.best < NO_ARRANGEMENT or self.out_of_time():
                break
            arrangement.anneal(replace(push, steps=schedule.steps // 4), enough, self.out_of_time)
        if arrangement.best == NO_ARRANGEMENT:
            return False
        found = arrangement.boards()
        waiting = waits(self.demand, found)
        if waiting < self.least or (waiting == self.least and len(found) <= len(self.best)):
            self.best, self.least = found, waiting
        return True


_Alike = tuple[str, int, int]


def _alike(source: Source) -> _Alike:
    """Bought boards between which any strip may move, as far as its width allows."""
    return source.code, source.length, source.kerf


def in_order_of_delivery(
    demand: Demand,
    boards: Sequence[OpenBoard],
    spare: Sequence[OpenBoard],
    effort: Effort,
    out_of_time: Callable[[], bool],
    seed: int,
) -> list[OpenBoard] | None:
    """As many boards, with strips formed again and dealt out in the order of their stages: little waits, but boards
    may be overfull, if only by so much that others have as much room. Offcuts keep their strips. None where that
    would carry pieces too far.
    """
    sources = demand.sources
    bought = [board for board in boards if sources[board.source].available is None]
    dealt = [board for board in boards if sources[board.source].available is not None]
    strips = with_less_inside(demand, bought, spare, effort, out_of_time, seed)
    for alike, held in strips.items():
        empty = [
            OpenBoard(board.source, [])
            for board in (*bought, *spare)
            if _alike(sources[board.source]) == alike
        ]
        if not deal_out(demand, held, empty, seed):
            return None
        dealt += empty
    return dealt


def with_less_inside(
    demand: Demand,
    boards: Sequence[OpenBoard],
    spare: Sequence[OpenBoard],
    effort: Effort,
    out_of_time: Callable[[], bool],
    seed: int,
) -> dict[_Alike, list[OpenStrip]]:
    """Strips with the pieces of bought boards, of boards that are alike together, so that little waits inside strips
    and all strips together are no wider than the boards."""
    room: dict[_Alike, int] = {}
    for board in (*boards, *spare):
        source = demand.sources[board.source]
        room[_alike(source)] = room.get(_alike(source), 0) + source.width + source.kerf
    sources = {_alike(demand.sources[board.source]): board.source for board in boards}
    found: dict[_Alike, list[OpenStrip]] = {}
    shortest = min(piece.length_mm for piece in demand.problem.pieces)
    for alike, held in _strips_by_kind(demand, boards).items():
        _, length, kerf = alike
        shared = [strip for strip in held if _shortest_in(demand, strip) + kerf + shortest <= length]
        alone = [strip for strip in held if _shortest_in(demand, strip) + kerf + shortest > length]
        found[alike] = held
        if not shared:
            continue
        given = sum(strip.width + kerf for strip in held)
        now = 1 - given / room[alike]
        steps = None
        # where hardly a mm is free no room can be made: all of it is left to the strips
        parts = [part for part in ROOM if part <= max(now, ROOM[1])] if now >= ROOM[-1] else []
        for part in (*parts, 0.0):
            width = int(room[alike] * (1 - part)) - sum(strip.width + kerf for strip in alone)
            pool = [OpenBoard(sources[alike], shared)]
            arrangement = Arrangement(
                demand, pool, Weights(inner=PIECE, overflow=STRIP_OVERFLOW), seed, pool=width
            )
            # where the first try fails the next seldom ends better
            steps = effort.strip_steps(arrangement.sharing) if steps is None else steps // 3
            schedule = STRIPS if arrangement.sharing < MANY_SHARING else MANY_STRIPS
            if part < ROOM[-1]:
                schedule = TIGHT_STRIPS
            arrangement.anneal(replace(schedule, steps=steps), 0, out_of_time)
            if arrangement.best < NO_ARRANGEMENT:
                found[alike] = alone + arrangement.boards()[0].strips
                break
    return found


def _shortest_in(demand: Demand, strip: OpenStrip) -> int:
    return min(demand.problem.pieces[names[0]].length_mm for names in strip.names)


def _strips_by_kind(demand: Demand, boards: Sequence[OpenBoard]) -> dict[_Alike, list[OpenStrip]]:
    held: dict[_Alike, list[OpenStrip]] = {}
    for board in boards:
        held.setdefault(_alike(demand.sources[board.source]), []).extend(board.strips)
    return held
