"""Less waiting on the same boards (`rearranging.c`): strips change boards and pieces strips, by simulated annealing.

What is moved is a *component*: what lies in one length of a strip, one piece or a tapered pair. A board is opened with
the earliest of its components; a piece waits from then until its own stage. A step takes two boards and deals their
strips out anew, or two strips and deals their components out anew: of all ways that fit, one is drawn with probability
in proportion to exp(-cost / temperature) (heat bath; Geman and Geman, IEEE Trans. Pattern Anal. 6, 1984).

Sizes carry their kerf already. Stages are ranks 0, 1, 2, ...; `numbers` says which they stand for.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from math import exp
from typing import NamedTuple, TypeVar

NEVER = 1 << 29  # no limit; the stage at which an empty board is opened
MOST_FREE = 12  # strips dealt out at once; the others stay on their boards
MOST_POOL = 256  # strips of two boards together, beyond which they stay as they are
MOST_SPLIT = 10  # components dealt out between two strips at once, beyond which they stay as they are
MOST_EXPONENT = 8  # what is rarer than exp(-8) is not drawn
MOST_OVERFLOW = 60  # mm that a board may be filled beyond its width on the way
FEW_OVERFULL = 64  # boards that are overfull are few where they are no more than one in so many
_WORD = (1 << 64) - 1
_Item = TypeVar("_Item")


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


class Found(NamedTuple):
    """The arrangement after the last step, the best one seen (None: none better than was known) with its cost, and
    the state of the random numbers."""

    strip_of: list[int]
    board_of: list[int]
    best: tuple[list[int], list[int]] | None
    best_cost: int
    random: int


def rearrange(
    components: Sequence[Component],
    sharing: Sequence[int],
    partners: Sequence[Sequence[int]],
    boards: Sequence[BoardLimits],
    numbers: Sequence[int],
    weights: CostWeights,
    stages_of_all_pieces: int,
    share: int,
    moves: int,
    temperature: float,
    cooling: float,
    strip_of: Sequence[int],
    board_of: Sequence[int],
    best_cost: int,
    random: int,
) -> Found:
    """Makes `moves` steps from the strip of each component and the board of each strip, the temperature falling by the
    factor `cooling` after each.

    Of the steps, `share` hundredths deal out components: one of those `sharing`, with one of its `partners`. Kept is
    the best arrangement seen in which no board is overfull, where it costs less than `best_cost`. `random` is the
    generator's state (xorshift64*; Vigna, ACM Trans. Math. Software 42, 2016).
    """
    search = _Search(components, sharing, partners, boards, numbers, weights, strip_of, board_of, random)
    cost = (weights.piece + weights.inner) * stages_of_all_pieces + search.whole_cost()
    best: tuple[list[int], list[int]] | None = None
    for move in range(moves + 1):
        if move:
            if sharing and search.draws.below(100) < share:
                cost += search.step_with_components(temperature)
            else:
                cost += search.step_with_strips(temperature)
            temperature *= cooling
        if cost < best_cost and not any(search.overfull(b) for b in range(len(boards))):
            best_cost, best = cost, (search.strip_of.copy(), search.board_of.copy())
    return Found(search.strip_of, search.board_of, best, best_cost, search.draws.state)


class _Draws:
    def __init__(self, state: int) -> None:
        self.state = state

    def _next(self) -> int:
        x = self.state
        x ^= x >> 12
        x ^= x << 25 & _WORD
        x ^= x >> 27
        self.state = x
        return x * 2685821657736338717 & _WORD

    def below(self, count: int) -> int:
        """A whole number from 0 to count - 1."""
        return (self._next() >> 33) % count

    def unit(self) -> float:
        """A number from 0 up to 1."""
        return (self._next() >> 11) / 9007199254740992.0


class _Contents(NamedTuple):
    """What lies on a board, or is dealt to it: width taken, pieces, stage of opening, the latest first stage of a
    strip, the last stage of all. `with_`: both together."""

    used: int = 0
    pieces: int = 0
    opened: int = NEVER
    latest_first: int = -1
    last: int = -1

    def with_(self, other: _Contents) -> _Contents:
        return _Contents(
            self.used + other.used,
            self.pieces + other.pieces,
            min(self.opened, other.opened),
            max(self.latest_first, other.latest_first),
            max(self.last, other.last),
        )


class _Strip(NamedTuple):
    """A strip, measured."""

    width: int
    narrowest: int
    taken: int
    pieces: int
    first: int
    last: int
    codes: int


class _Ways:
    """All ways that were offered, each with its cost, and one to be drawn; what costs too much is not kept."""

    def __init__(self, before: int, temperature: float) -> None:
        self.before, self.temperature = before, temperature
        room = MOST_EXPONENT * temperature
        self.dearest = before + int(room) if room < 1e18 else _WORD
        self.ways: list[tuple[int, int]] = []
        self.until: list[float] = []  # the weights of all ways until each

    def offer(self, way: int, cost: int) -> None:
        if cost > self.dearest:
            return
        weight = exp(min(300.0, (self.before - cost) / self.temperature))
        self.ways.append((way, cost))
        self.until.append((self.until[-1] if self.until else 0.0) + weight)

    def drawn(self, draws: _Draws, here: int) -> tuple[int, int]:
        """A way and the change of the cost; `here` is how things lie."""
        if not self.ways:
            return here, 0
        at = draws.unit() * self.until[-1]
        way, cost = self.ways[min(bisect_right(self.until, at), len(self.ways) - 1)]
        return way, 0 if way == here else cost - self.before


class _Search:
    """An arrangement that is changed step by step."""

    def __init__(
        self,
        components: Sequence[Component],
        sharing: Sequence[int],
        partners: Sequence[Sequence[int]],
        boards: Sequence[BoardLimits],
        numbers: Sequence[int],
        weights: CostWeights,
        strip_of: Sequence[int],
        board_of: Sequence[int],
        random: int,
    ) -> None:
        self.components, self.sharing, self.partners = components, sharing, partners
        self.boards, self.numbers, self.weights = boards, numbers, weights
        self.strip_of, self.board_of = list(strip_of), list(board_of)
        self.draws = _Draws(random)
        strips = range(len(components))
        self.held: list[list[int]] = [[c for c in strips if strip_of[c] == k] for k in strips]
        self.free_strips = [k for k in reversed(strips) if not self.held[k]]
        self.strips = [self.measured(held) for held in self.held]
        on = range(len(boards))
        self.lying: list[list[int]] = [[k for k in strips if self.held[k] and board_of[k] == b] for b in on]
        self.contents = [self.on_board(b) for b in on]
        # the boards opened at each stage; those not opened stand last
        self.opened_at: list[list[int]] = [[] for _ in range(len(numbers) + 1)]
        for b in on:
            self.opened_at[self.place_of(self.contents[b])].append(b)
        self.overfull_boards = [b for b in on if self.overfull(b)]

    # what things are and cost

    def measured(self, held: Sequence[int]) -> _Strip:
        of = [self.components[c] for c in held]
        codes = -1
        for component in of:
            codes &= component.codes
        return _Strip(
            max((c.width_min for c in of), default=0),
            min((c.width_max for c in of), default=NEVER),
            sum(c.length for c in of),
            sum(c.pieces for c in of),
            min((c.first for c in of), default=NEVER),
            max((c.last for c in of), default=-1),
            codes,
        )

    def as_contents(self, strip: _Strip, kerf: int) -> _Contents:
        if not strip.pieces:
            return _Contents()
        return _Contents(strip.width + kerf, strip.pieces, strip.first, strip.first, strip.last)

    def together(self, strips: Sequence[_Strip], kerf: int) -> _Contents:
        found = _Contents()
        for strip in strips:
            found = found.with_(self.as_contents(strip, kerf))
        return found

    def on_board(self, b: int, without: Sequence[int] = ()) -> _Contents:
        strips = [self.strips[k] for k in self.lying[b] if k not in without]
        return self.together(strips, self.boards[b].kerf)

    def place_of(self, contents: _Contents) -> int:
        return len(self.numbers) if contents.opened >= NEVER else contents.opened

    def overfull(self, b: int) -> bool:
        return self.contents[b].used > self.boards[b].capacity

    def board_cost(self, b: int, contents: _Contents) -> int:
        if contents.opened >= NEVER:
            return 0
        opened = self.numbers[contents.opened]
        return (
            self.weights.overflow * max(0, contents.used - self.boards[b].capacity)
            + self.boards[b].price
            - self.weights.piece * contents.pieces * opened
            + self.weights.remainder * (self.numbers[contents.latest_first] - opened)
        )

    def strip_cost(self, strip: _Strip) -> int:
        if strip.first >= NEVER:
            return 0
        first = self.numbers[strip.first]
        remainder = self.weights.remainder * (self.numbers[strip.last] - first)
        return remainder - self.weights.inner * strip.pieces * first

    def whole_cost(self) -> int:
        """Beside what all pieces' own stages come to."""
        return sum(self.board_cost(b, self.contents[b]) for b in range(len(self.boards))) + sum(
            self.strip_cost(strip) for strip in self.strips
        )

    def may_hold(self, b: int, strip: _Strip) -> bool:
        board = self.boards[b]
        return (
            strip.taken <= board.length
            and bool(board.code & strip.codes)
            and self.numbers[strip.first] >= board.earliest
            and self.numbers[strip.last] <= board.latest
        )

    def carried_too_far(self, b: int, contents: _Contents) -> bool:
        carry = self.boards[b].carry
        if carry >= NEVER or contents.opened >= NEVER:
            return False
        return self.numbers[contents.last] - self.numbers[contents.opened] > carry

    # changes

    def take_strip(self, k: int) -> None:
        self.lying[self.board_of[k]].remove(k)

    def put_strip(self, k: int, b: int) -> None:
        self.board_of[k] = b
        self.lying[b].insert(0, k)

    def measure_board(self, b: int) -> None:
        was, was_overfull = self.place_of(self.contents[b]), self.overfull(b)
        self.contents[b] = self.on_board(b)
        now = self.place_of(self.contents[b])
        if was != now:
            opened = self.opened_at[was]
            opened[opened.index(b)] = opened[-1]  # the last takes its place
            opened.pop()
            self.opened_at[now].append(b)
        if self.overfull(b) and not was_overfull:
            self.overfull_boards.append(b)
        elif was_overfull and not self.overfull(b):
            self.overfull_boards[self.overfull_boards.index(b)] = self.overfull_boards[-1]
            self.overfull_boards.pop()

    # steps

    def step_with_strips(self, temperature: float) -> int:
        """Two boards, the second opened near the first stage of a strip of the first. The change of the cost."""
        count = len(self.boards)
        a = self.draws.below(count)
        # the last few that are overfull are taken more often, boards on which nothing waits less often
        few = 0 < len(self.overfull_boards) * FEW_OVERFULL <= count
        if few and self.draws.below(4) == 0:
            a = self.overfull_boards[self.draws.below(len(self.overfull_boards))]
        elif not self.lying[a] or (
            self.contents[a].latest_first == self.contents[a].opened and self.draws.below(4)
        ):
            a = self.draws.below(count)
        if not self.lying[a]:
            return 0
        k = self.lying[a][self.draws.below(len(self.lying[a]))]
        b = self.board_near(self.strips[k].first)
        return 0 if b is None or a == b else self.deal_strips(a, b, temperature)

    def step_with_components(self, temperature: float) -> int:
        """Two strips that may share, or one and a new one. The change of the cost."""
        c = self.sharing[self.draws.below(len(self.sharing))]
        one, partners = self.strip_of[c], self.partners[c]
        if not partners or self.draws.below(4) == 0:
            b = 0 if len(self.boards) == 1 else self.board_near(self.components[c].first)
            if b is None or not self.free_strips:
                return 0
            return self.deal_components(one, None, b, temperature)
        part = (
            self.draws.unit()
        )  # partners stand in the order of their distance in stages: near ones more often
        other = self.strip_of[partners[int(part * part * len(partners))]]
        return 0 if other == one else self.deal_components(one, other, self.board_of[other], temperature)

    def board_near(self, rank: int) -> int | None:
        """A board opened within a stage of `rank`, or now and then one that is not opened yet."""
        ranks = len(self.numbers)
        wanted = rank + self.draws.below(3) - 1
        if self.opened_at[ranks] and self.draws.below(8) == 0:
            wanted = ranks
        if not 0 <= wanted <= ranks or not self.opened_at[wanted]:
            return None
        return self.opened_at[wanted][self.draws.below(len(self.opened_at[wanted]))]

    def deal_strips(self, a: int, b: int, temperature: float) -> int:
        """Deals strips of boards a and b out anew, the others stay. The change of the cost.

        The ways come in this order: by which of the earlier half lie on a, read as bits; of equals by the later half's
        width on a, its pieces, its bits.
        """
        kerf = self.boards[a].kerf
        pool = [*self.lying[a], *self.lying[b]]
        if kerf != self.boards[b].kerf or len(pool) > MOST_POOL:
            return 0
        freed: list[int] = []
        for k in range(len(pool)):
            chosen = k + self.draws.below(len(pool) - k)
            pool[k], pool[chosen] = pool[chosen], pool[k]
            if k < MOST_FREE:
                freed.append(pool[k])
        freed.sort(key=lambda k: self.strips[k].first)
        strips = [self.strips[k] for k in freed]
        fixed = self.on_board(a, freed), self.on_board(b, freed)
        here = sum(1 << k for k, strip in enumerate(freed) if self.board_of[strip] == a)
        only_a = sum(1 << k for k, strip in enumerate(strips) if not self.may_hold(b, strip))
        only_b = sum(1 << k for k, strip in enumerate(strips) if not self.may_hold(a, strip))
        before = self.board_cost(a, self.contents[a]) + self.board_cost(b, self.contents[b])
        ways = _Ways(before, temperature)
        margin = 0.0  # so far may a board be filled beyond its width at this temperature
        if self.weights.overflow:
            margin = min(float(MOST_OVERFLOW), MOST_EXPONENT * temperature / self.weights.overflow)
        most_on_a = self.boards[a].capacity - fixed[0].used
        total = sum(strip.width + kerf for strip in strips)
        least_on_a = total - (self.boards[b].capacity - fixed[1].used)
        least = min(least_on_a, most_on_a) - int(margin)
        greatest = max(least_on_a, most_on_a) + int(margin)
        earlier = len(freed) // 2
        later = sorted(
            (_taken(of, kerf), sum(strip.pieces for strip in of), y)
            for y in range(1 << (len(freed) - earlier))
            for of in [_chosen(strips[earlier:], y)]
        )
        for x in range(1 << earlier):
            across = _taken(_chosen(strips[:earlier], x), kerf)
            begin = bisect_left(later, (least - across,))
            end = bisect_left(later, (greatest - across + 1,))
            for _, _, y in later[begin:end]:
                on_a = x | y << earlier
                on_b = (1 << len(freed)) - 1 & ~on_a
                if on_a & only_b or on_b & only_a:
                    continue
                new_a = fixed[0].with_(self.together(_chosen(strips, on_a), kerf))
                new_b = fixed[1].with_(self.together(_chosen(strips, on_b), kerf))
                if not self.carried_too_far(a, new_a) and not self.carried_too_far(b, new_b):
                    ways.offer(on_a, self.board_cost(a, new_a) + self.board_cost(b, new_b))
        way, change = ways.drawn(self.draws, here)
        if way == here:
            return 0
        for k, strip in enumerate(freed):
            board = a if way >> k & 1 else b
            if self.board_of[strip] != board:
                self.take_strip(strip)
                self.put_strip(strip, board)
        self.measure_board(a)
        self.measure_board(b)
        return change

    def deal_components(self, one: int, other: int | None, b: int, temperature: float) -> int:
        """Deals the components of two strips (`other` None: of one and a new one on board b) out anew. The change of
        the cost. The ways come in the order of which components lie on the first, read as bits."""
        a = self.board_of[one]
        kerf = self.boards[a].kerf
        freed = [*self.held[one], *([] if other is None else self.held[other])]
        if kerf != self.boards[b].kerf or len(freed) > MOST_SPLIT:
            return 0
        here = (1 << len(self.held[one])) - 1
        dealt_out = [one] if other is None else [one, other]
        rest_a, rest_b = self.on_board(a, dealt_out), self.on_board(b, dealt_out)
        before = sum(self.strip_cost(self.strips[k]) for k in dealt_out) + self.board_cost(
            a, self.contents[a]
        )
        if a != b:
            before += self.board_cost(b, self.contents[b])
        ways = _Ways(before, temperature)
        for way in range(1 << len(freed)):
            first = self.measured(_chosen(freed, way))
            second = self.measured(_chosen(freed, ~way))
            dealt = ((a, first), (b, second))
            if any(strip.width > strip.narrowest for _, strip in dealt):
                continue
            if any(strip.pieces and not self.may_hold(board, strip) for board, strip in dealt):
                continue
            new_a = rest_a.with_(self.as_contents(first, kerf))
            added = self.as_contents(second, kerf)
            changed = [(a, new_a.with_(added))] if a == b else [(a, new_a), (b, rest_b.with_(added))]
            if all(self._may_become(board, contents) for board, contents in changed):
                cost = self.strip_cost(first) + self.strip_cost(second)
                ways.offer(way, cost + sum(self.board_cost(board, contents) for board, contents in changed))
        way, change = ways.drawn(self.draws, here)
        if way == here:
            return 0
        if other is None:
            other = self.free_strips.pop()
            self.put_strip(other, b)
        for k, component in enumerate(freed):
            strip = one if way >> k & 1 else other
            if self.strip_of[component] != strip:
                self.held[self.strip_of[component]].remove(component)
                self.held[strip].insert(0, component)
                self.strip_of[component] = strip
        for strip in (one, other):
            self.strips[strip] = self.measured(self.held[strip])
            if not self.held[strip]:
                self.take_strip(strip)
                self.free_strips.append(strip)
        self.measure_board(a)
        if b != a:
            self.measure_board(b)
        return change

    def _may_become(self, b: int, contents: _Contents) -> bool:
        """An overfull board may stay so, not become worse than the margin."""
        margin = MOST_OVERFLOW if self.weights.overflow else 0
        most = max(self.contents[b].used, self.boards[b].capacity + margin)
        return contents.used <= most and not self.carried_too_far(b, contents)


def _chosen(of: Sequence[_Item], bits: int) -> list[_Item]:
    return [item for k, item in enumerate(of) if bits >> k & 1]


def _taken(strips: Sequence[_Strip], kerf: int) -> int:
    return sum(strip.width + kerf for strip in strips)
