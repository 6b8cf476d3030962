"""Cheaper boards by packing: the plan's strips are dealt out to boards that cost less, which are overfull at first.

Annealing deals out strips between two boards and pieces between two strips (`kernels/rearranging.c`), at a price for
every mm by which a board is overfull that grows until none is. It keeps to whatever limits carrying, to board codes and
to lengths, so it serves every kind of problem alike; what it finds is a plan, what it does not find proves nothing.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from itertools import product

from optimiser.cutting.build_patterns import named_boards
from optimiser.cutting.columns import ColumnPlan
from optimiser.cutting.demand import Demand
from optimiser.cutting.idle_offcuts import may_hold
from optimiser.cutting.mixtures import Mixtures
from optimiser.cutting.named_plans import plan_of
from optimiser.cutting.open_boards import OpenBoard, OpenStrip
from optimiser.cutting.rearranging import NO_ARRANGEMENT, Arrangement, Schedule, Weights

SCHEDULES = (
    Schedule(0, 4.0, 1.0, 60, 0.3, 10.0),
    Schedule(0, 30.0, 0.3, 70, 1.0, 12.0),
)  # one after the other
WEIGHTS = Weights(piece=1, overflow=16)
STEPS_A_PIECE = 1000
MOST_STEPS = 1_500_000  # of a try
FEWEST_PIECES = 40  # fewer are asked of the exact model
MOST_CHANGES = (
    2  # of the number of boards of each size, up and down from the present and from the linear mixture
)
TRIES = 12
FEW_TRIES = 2  # where there is only one mixture of boards that costs less


@dataclass(frozen=True)
class _Mix:
    """How many boards of each size are bought, and what they cost."""

    counts: tuple[int, ...]
    cost: int


def packed(
    demand: Demand,
    best: ColumnPlan,
    bound: int,
    out_of_time: Callable[[], bool],
    seed: int,
    linear: Mapping[str, float] | None = None,
    mixtures: Mixtures | None = None,
    most_tries: int = TRIES,
) -> ColumnPlan:
    """A plan that costs less than `best`, if not less than `bound`, of the tries that are made; else `best`.

    `linear`: how many boards of each code the linear program buys, near which mixtures are looked for; `mixtures`:
    which of them it allows at all.
    """
    if demand.pieces < FEWEST_PIECES or best.cost <= bound or out_of_time():
        return best
    sizes = _sizes(demand)
    boards = named_boards(demand, best)
    failed: Counter[tuple[int, ...]] = Counter()
    cost = best.cost
    in_vain = 0
    for number in range(most_tries if len(sizes) > 1 else FEW_TRIES + best.cost - bound):
        if cost <= bound or out_of_time():
            break
        mix = _next_mix(demand, sizes, boards, cost, bound, linear or {}, failed, in_vain, mixtures)
        if mix is None:
            break
        start = _on_other_boards(demand, sizes, boards, mix.counts)
        schedule = SCHEDULES[failed[mix.counts] % len(SCHEDULES)]
        found = (
            None
            if start is None
            else dealt_out_by_annealing(demand, start, schedule, out_of_time, seed + number)
        )
        if found is None:
            failed[mix.counts] += 1
            in_vain += 1
        else:
            boards = found
            cost = sum(demand.sources[board.source].price for board in boards)
            in_vain = 0
    return best if cost >= best.cost else plan_of(demand, boards)


def _sizes(demand: Demand) -> dict[str, int]:
    """A source of every board code that may be bought."""
    found: dict[str, int] = {}
    for s, source in enumerate(demand.sources):
        if source.available is None:
            found.setdefault(source.code, s)
    return found


def _next_mix(
    demand: Demand,
    sizes: dict[str, int],
    boards: list[OpenBoard],
    cost: int,
    bound: int,
    linear: Mapping[str, float],
    failed: Mapping[tuple[int, ...], int],
    in_vain: int,
    mixtures: Mixtures | None,
) -> _Mix | None:
    """The mixture of boards to be tried next: half-way to the bound at first, after each failure half as far, and of
    those that cost no more the one with the most room; near the present mixture, the linear program's, or the
    cheapest that it allows in whole numbers."""
    sources = [demand.sources[s] for s in sizes.values()]
    bought = [board for board in boards if demand.sources[board.source].available is None]
    now = Counter(demand.sources[board.source].code for board in bought)
    counts = [now[code] for code in sizes]
    wanted = [linear.get(code, float(now[code])) for code in sizes]
    room = [source.length * source.width for source in sources]
    taken = sum(_area(demand, board) for board in bought)
    target = cost - (cost - bound) / 2 ** (in_vain + 1)
    best: tuple[float, float, _Mix] | None = None
    steps = range(-MOST_CHANGES, MOST_CHANGES + 1) if len(sizes) > 1 else range(-1, 0)
    centres = {tuple(counts), tuple(round(count) for count in wanted)} if len(sizes) > 1 else {tuple(counts)}
    cheapest = mixtures.cheapest() if mixtures is not None else None
    if mixtures is not None and cheapest is not None:
        numbers = dict(zip(mixtures.codes, cheapest.counts, strict=True))
        centres.add(tuple(numbers[code] for code in sizes))
    for centre, change in product(sorted(centres), product(steps, repeat=len(sizes))):
        after = tuple(n + more for n, more in zip(centre, change, strict=True))
        costs = sum(source.price * n for source, n in zip(sources, after, strict=True))
        size = sum(area * n for area, n in zip(room, after, strict=True))
        if not bound <= costs < cost or min(after) < 0 or size < taken or failed.get(after, 0) >= FEW_TRIES:
            continue
        off = abs(costs - target)
        if mixtures is not None:
            spare = mixtures.room(dict(zip(sizes, after, strict=True)))
            if spare < 0:
                continue
            off = max(0.0, costs - target) / mixtures.prices[0] - spare
        far = sum(abs(n - want) for n, want in zip(after, wanted, strict=True))
        key = (off, far, _Mix(after, costs))
        if best is None or key[:2] < best[:2]:
            best = key
    return None if best is None else best[2]


def _area(demand: Demand, board: OpenBoard) -> int:
    """What the pieces of a board take of it, in mm2: at the least, whatever strips they lie in."""
    pieces = demand.problem.pieces
    return sum(
        max(pieces[i].length_mm * pieces[i].width_min_mm for i in names)
        for strip in board.strips
        for names in strip.names
    )


def _on_other_boards(
    demand: Demand, sizes: dict[str, int], boards: list[OpenBoard], counts: tuple[int, ...]
) -> list[OpenBoard] | None:
    """The strips on so many boards of each size: of those that are too many the emptiest are given up, and their strips
    go where most is free, whether they fit or not. None where a strip may go nowhere."""
    kept: list[OpenBoard] = []
    given_up: list[OpenBoard] = []
    for (code, s), count in zip(sizes.items(), counts, strict=True):
        own = [board for board in boards if demand.sources[board.source].code == code]
        own = [board for board in own if demand.sources[board.source].available is None]
        own.sort(key=lambda board: board.free_width(demand))
        kept += [board.copied() for board in own[:count]]
        kept += [OpenBoard(s, []) for _ in range(count - len(own))]
        given_up += own[count:]
    offcuts = [board for board in boards if demand.sources[board.source].available is not None]
    for strip in sorted(
        (strip for board in given_up for strip in board.strips), key=lambda strip: -strip.width
    ):
        places = [board for board in kept if may_hold(demand, board, strip)]
        if not places:
            return None
        roomiest = max(places, key=lambda board: board.free_width(demand))
        roomiest.strips.append(OpenStrip(strip.width, list(strip.held), [list(n) for n in strip.names]))
    return [*kept, *(board.copied() for board in offcuts)]


def dealt_out_by_annealing(
    demand: Demand,
    start: list[OpenBoard],
    schedule: Schedule,
    out_of_time: Callable[[], bool],
    seed: int,
    steps_a_piece: int = STEPS_A_PIECE,
) -> list[OpenBoard] | None:
    """The boards with none of them overfull, from a start that may have such; None where the steps did not reach
    that."""
    arrangement = Arrangement(demand, start, WEIGHTS, seed)
    steps = min(MOST_STEPS, steps_a_piece * demand.pieces)
    arrangement.anneal(replace(schedule, steps=steps), NO_ARRANGEMENT - 1, out_of_time)
    return arrangement.boards() if arrangement.best < NO_ARRANGEMENT else None
