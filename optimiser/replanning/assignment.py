"""Which cut piece goes to which place: an assignment solved exactly, with a proof by duality.

Aims, in order: the most places served, then the most board area served (so the least remains to be cut), then
the most pieces that stay where they were meant to be, then the least that is cut off. It is a minimum-cost flow,
solved twice by OR-Tools: once for the first two aims, and once more for the others among the optima of the
first. Pieces and places that are alike meet in one node of the network, so it stays small.

Proof: `potentials` computes a dual solution of the first flow in whole numbers. By linear-programming duality no
assignment is worth more than a dual solution that satisfies every arc (complementary slackness), and the two
values are compared exactly.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Integers = NDArray[np.int64]

LARGEST_LOSS = 10**6  # a part in so many of all that could be cut off: keeps the second flow's costs in range


@dataclass(frozen=True)
class Candidates:
    """What is assigned. Pieces and places are given by their kinds: those of a kind are alike.

    `loss_mm2` says for a kind of piece and a kind of place what is cut off, or None where the piece does not
    fit. `own` is each piece's own place (index), or -1. `areas_mm2` is what each place takes.
    """

    piece_kinds: Sequence[Hashable]
    place_kinds: Sequence[Hashable]
    areas_mm2: Sequence[int]
    own: Sequence[int]
    loss_mm2: Callable[[Hashable, Hashable], int | None]


@dataclass(frozen=True)
class Assignment:
    """`place_of[piece]` is its place (index), or -1. `most` places can be served at all, `most_area_mm2` is the
    most area that as many can take: both proved by the dual solution."""

    place_of: tuple[int, ...]
    most: int
    most_area_mm2: int


@dataclass(frozen=True)
class Network:
    """A flow network: arcs from `tail` to `head` with whole capacities and costs; `supply` by node."""

    nodes: int
    tail: Integers
    head: Integers
    capacity: Integers
    cost: Integers
    supply: Integers


def assign(candidates: Candidates) -> Assignment:
    """The best assignment and the proof of its first two aims.

    Raises ArithmeticError when the dual solution does not prove it: a fault of the flow's solver.
    """
    import numpy as np

    pieces, places = len(candidates.piece_kinds), len(candidates.place_kinds)
    if not pieces or not places:
        return Assignment((-1,) * pieces, 0, 0)
    arcs = _Arcs.of(candidates)
    worth = sum(candidates.areas_mm2) + 1  # one more place counts for more than any area
    value = np.array([worth + area for area in candidates.areas_mm2], dtype=np.int64)
    network = arcs.network(
        -value, np.zeros(len(arcs.direct), np.int64), np.zeros(len(arcs.between), np.int64)
    )
    flow = least_cost_flow(network)
    dual = potentials(network, flow)
    cost = int(flow @ network.cost)
    if dual_value(network, dual) != cost:
        raise ArithmeticError(
            "the assignment's dual solution does not prove it the best: a fault of the solver"
        )
    served = int(flow[arcs.to_sink].sum())
    final = arcs.second(network, dual)
    return Assignment(arcs.places_of(least_cost_flow(final)), served, -cost - served * worth)


def least_cost_flow(network: Network) -> Integers:
    """The flow on each arc at the least cost. Raises ArithmeticError when OR-Tools finds none."""
    import numpy as np
    from ortools.graph.python import min_cost_flow

    solver = min_cost_flow.SimpleMinCostFlow()
    arcs = solver.add_arcs_with_capacity_and_unit_cost(
        network.tail.astype(np.int32), network.head.astype(np.int32), network.capacity, network.cost
    )
    solver.set_nodes_supplies(np.arange(network.nodes, dtype=np.int32), network.supply)
    status = solver.solve()
    if status != solver.OPTIMAL:
        raise ArithmeticError(f"the flow of pieces to places was not solved: status {status}")
    return np.asarray(solver.flows(arcs), dtype=np.int64)


def potentials(network: Network, flow: Integers) -> Integers:
    """A potential for each node so that no arc of the residual network has a negative reduced cost.

    Shortest distances from all nodes at once (Bellman and Ford). Raises ArithmeticError when there is a cycle
    of negative cost, that is, when the flow is not optimal.
    """
    import numpy as np

    forward, back = flow < network.capacity, flow > 0
    tail = np.concatenate((network.tail[forward], network.head[back]))
    head = np.concatenate((network.head[forward], network.tail[back]))
    cost = np.concatenate((network.cost[forward], -network.cost[back]))
    order = np.argsort(head, kind="stable")
    tail, head, cost = tail[order], head[order], cost[order]
    starts = np.flatnonzero(np.r_[True, head[1:] != head[:-1]])
    nodes = head[starts]
    distance = np.zeros(network.nodes, dtype=np.int64)
    for _ in range(network.nodes + 1):
        nearest = np.minimum(distance[nodes], np.minimum.reduceat(distance[tail] + cost, starts))
        if (nearest == distance[nodes]).all():
            return distance
        distance[nodes] = nearest
    raise ArithmeticError("the flow of pieces to places is not optimal: a fault of the solver")


def reduced_costs(network: Network, potential: Integers) -> Integers:
    """What each arc costs beyond the difference of its ends' potentials."""
    return network.cost + potential[network.tail] - potential[network.head]


def dual_value(network: Network, potential: Integers) -> int:
    """The dual objective: no flow costs less, whatever the potentials are (weak duality)."""
    import numpy as np

    reduced = np.minimum(reduced_costs(network, potential), 0)
    return int(reduced @ network.capacity) - int(network.supply @ potential)


@dataclass(frozen=True)
class _Arcs:
    """The network's arcs in five groups. Nodes: the source, pieces, kinds of pieces, kinds of places, places,
    the sink."""

    candidates: Candidates
    piece_kind: list[int]
    place_kind: list[int]
    direct: list[tuple[int, int, int]]  # piece, own place, loss
    between: list[tuple[int, int, int]]  # kind of piece, kind of place, loss

    @classmethod
    def of(cls, candidates: Candidates) -> _Arcs:
        piece_kinds = list(dict.fromkeys(candidates.piece_kinds))
        place_kinds = list(dict.fromkeys(candidates.place_kinds))
        number = {kind: place for place, kind in enumerate(piece_kinds)}
        place_number = {kind: place for place, kind in enumerate(place_kinds)}
        between = [
            (p, q, loss)
            for p, piece in enumerate(piece_kinds)
            for q, place in enumerate(place_kinds)
            if (loss := candidates.loss_mm2(piece, place)) is not None
        ]
        fits = {(p, q): loss for p, q, loss in between}
        piece_kind = [number[kind] for kind in candidates.piece_kinds]
        place_kind = [place_number[kind] for kind in candidates.place_kinds]
        direct = [
            (piece, own, fits[piece_kind[piece], place_kind[own]])
            for piece, own in enumerate(candidates.own)
            if own >= 0 and (piece_kind[piece], place_kind[own]) in fits
        ]
        return cls(candidates, piece_kind, place_kind, direct, between)

    @property
    def counts(self) -> tuple[int, int, int, int]:
        """Pieces, kinds of pieces, kinds of places, places."""
        return (
            len(self.piece_kind),
            max(self.piece_kind) + 1,
            max(self.place_kind) + 1,
            len(self.place_kind),
        )

    @property
    def to_sink(self) -> slice:
        """The arcs from places to the sink."""
        pieces, _, _, places = self.counts
        start = 2 * pieces + len(self.direct) + len(self.between) + places
        return slice(start, start + places)

    def network(self, at_place: Integers, direct_cost: Integers, between_cost: Integers) -> Network:
        """The network with these costs at the places, on the way to a piece's own place, and between kinds."""
        import numpy as np

        pieces, kinds, place_kinds, places = self.counts
        source, first_piece = 0, 1
        first_kind = first_piece + pieces
        first_place_kind = first_kind + kinds
        first_place = first_place_kind + place_kinds
        sink = first_place + places
        of_kind = np.bincount(self.piece_kind, minlength=kinds)
        every_piece, every_place = np.arange(pieces), np.arange(places)
        direct = np.array(self.direct, dtype=np.int64).reshape(-1, 3)
        between = np.array(self.between, dtype=np.int64).reshape(-1, 3)
        none = np.zeros
        tail = np.concatenate(
            (
                none(pieces, np.int64),
                first_piece + every_piece,
                first_piece + direct[:, 0],
                first_kind + between[:, 0],
                first_place_kind + np.array(self.place_kind),
                first_place + every_place,
                [source],
            )
        )
        head = np.concatenate(
            (
                first_piece + every_piece,
                first_kind + np.array(self.piece_kind),
                first_place + direct[:, 1],
                first_place_kind + between[:, 1],
                first_place + every_place,
                np.full(places, sink),
                [sink],
            )
        )
        capacity = np.concatenate(
            (
                np.ones(2 * pieces + len(direct), np.int64),
                of_kind[between[:, 0]],
                np.ones(2 * places, np.int64),
                [pieces],
            )
        )
        cost = np.concatenate(
            (none(2 * pieces, np.int64), direct_cost, between_cost, none(places, np.int64), at_place, [0])
        )
        supply = none(sink + 1, np.int64)
        supply[source], supply[sink] = pieces, -pieces
        return Network(sink + 1, tail, head, capacity, cost, supply)

    def second(self, network: Network, dual: Integers) -> Network:
        """The network of the last two aims, within the optima of the first two.

        By complementary slackness a flow is optimal for the first network when no arc of positive reduced cost
        carries anything and every arc of negative reduced cost is full.
        """
        import numpy as np

        losses = [loss for _, _, loss in (*self.direct, *self.between)]
        coarse = max(1, max(losses, default=0) * len(self.piece_kind) // LARGEST_LOSS)
        worth = LARGEST_LOSS + 2 * len(self.piece_kind) + 1  # staying counts for more than any loss
        direct = np.array([loss // coarse - worth for _, _, loss in self.direct], dtype=np.int64)
        between = np.array([loss // coarse for _, _, loss in self.between], dtype=np.int64)
        free = self.network(np.zeros(len(self.place_kind), np.int64), direct, between)
        reduced = reduced_costs(network, dual)
        must = worth * (len(self.piece_kind) + 1)
        return Network(
            network.nodes,
            network.tail,
            network.head,
            np.where(reduced > 0, 0, network.capacity),
            np.where(reduced < 0, free.cost - must, free.cost),
            network.supply,
        )

    def places_of(self, flow: Integers) -> tuple[int, ...]:
        """Each piece's place: its own, or one of a kind that its kind serves, both in their order."""
        pieces, _, _, places = self.counts
        found = [-1] * pieces
        at = 2 * pieces
        for (piece, own, _), used in zip(self.direct, flow[at : at + len(self.direct)], strict=True):
            if used:
                found[piece] = own
        at += len(self.direct)
        waiting: dict[int, list[int]] = defaultdict(list)  # kind of piece -> pieces that move
        for piece in reversed(range(pieces)):
            if flow[pieces + piece]:
                waiting[self.piece_kind[piece]].append(piece)
        open_places: dict[int, list[int]] = defaultdict(list)
        to_places = flow[at + len(self.between) : at + len(self.between) + places]
        for place in reversed(range(places)):
            if to_places[place]:
                open_places[self.place_kind[place]].append(place)
        for (kind, place_kind, _), number in zip(
            self.between, flow[at : at + len(self.between)], strict=True
        ):
            for _ in range(int(number)):
                found[waiting[kind].pop()] = open_places[place_kind].pop()
        return tuple(found)
