"""The assignment of cut pieces to places: the best by trying all, and proved by its dual solution."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimiser.replanning.assignment import (
    Candidates,
    Network,
    assign,
    dual_value,
    least_cost_flow,
    potentials,
    reduced_costs,
)

Piece = tuple[int, int]
Place = tuple[int, int, int]


def loss(piece: object, place: object) -> int | None:
    """A rectangle serves a place when it is long and wide enough; what is too much is cut off."""
    assert isinstance(piece, tuple)
    assert isinstance(place, tuple)
    length, width = (int(number) for number in piece)
    asked, low, high = (int(number) for number in place)
    if length < asked or width < low:
        return None
    return length * width - asked * min(width, high)


pieces = st.lists(st.tuples(st.sampled_from((600, 900, 1200)), st.integers(160, 175)), max_size=6)
places = st.lists(
    st.tuples(st.sampled_from((600, 1200)), st.integers(158, 174), st.integers(0, 6)).map(
        lambda found: (found[0], found[1], found[1] + found[2])
    ),
    max_size=6,
)


def worth(candidates: Candidates, place_of: tuple[int, ...]) -> tuple[int, int, int]:
    """Places served, area served, pieces that stay."""
    served = [(piece, place) for piece, place in enumerate(place_of) if place >= 0]
    return (
        len(served),
        sum(candidates.areas_mm2[place] for _, place in served),
        sum(candidates.own[piece] == place for piece, place in served),
    )


def best_by_trying_all(candidates: Candidates) -> tuple[int, int, int]:
    best = (0, 0, 0)
    kinds, place_kinds = candidates.piece_kinds, candidates.place_kinds

    def extend(found: tuple[int, ...]) -> None:
        nonlocal best
        if len(found) == len(kinds):
            best = max(best, worth(candidates, found))
            return
        extend((*found, -1))
        for place in range(len(place_kinds)):
            if place not in found and loss(kinds[len(found)], place_kinds[place]) is not None:
                extend((*found, place))

    extend(())
    return best


def candidates_of(pieces: list[Piece], places: list[Place], own: list[int]) -> Candidates:
    owners: dict[int, int] = {}
    for piece, place in enumerate(own[: len(pieces)]):
        if place < len(places):
            owners.setdefault(place, piece)
    own_place = [next((q for q, p in owners.items() if p == piece), -1) for piece in range(len(pieces))]
    return Candidates(pieces, places, [length * low for length, low, _ in places], own_place, loss)


@settings(max_examples=80, deadline=None)
@given(pieces, places, st.lists(st.integers(0, 8), min_size=6, max_size=6))
def test_no_other_assignment_is_better(pieces: list[Piece], places: list[Place], own: list[int]) -> None:
    candidates = candidates_of(pieces, places, own)
    found = assign(candidates)
    assert worth(candidates, found.place_of) == best_by_trying_all(candidates)
    assert (found.most, found.most_area_mm2) == worth(candidates, found.place_of)[:2]
    used = [place for place in found.place_of if place >= 0]
    assert len(set(used)) == len(used)
    for piece, place in enumerate(found.place_of):
        assert place < 0 or loss(pieces[piece], places[place]) is not None


def test_a_piece_that_fits_its_own_place_stays_though_another_would_do() -> None:
    alike = [(1200, 166)] * 3
    found = assign(candidates_of(alike, [(1200, 165, 172)] * 3, [2, 0, 1, 9, 9, 9]))
    assert found.place_of == (2, 0, 1)


def test_a_long_piece_is_not_wasted_on_a_short_place() -> None:
    found = assign(candidates_of([(1200, 166), (600, 166)], [(600, 165, 172), (1200, 165, 172)], [9] * 6))
    assert found.place_of == (1, 0)


def test_more_places_count_for_more_than_more_area() -> None:
    """One wide piece could take the large place, but then the narrow place would stay empty."""
    pieces = [(1200, 170), (600, 165)]
    places = [(1200, 169, 175), (600, 168, 175), (600, 160, 166)]
    assert assign(candidates_of(pieces, places, [9] * 6)).place_of == (0, 2)


def test_of_as_many_the_larger_places_are_served() -> None:
    assert assign(candidates_of([(1200, 170)], [(600, 160, 175), (1200, 160, 175)], [9] * 6)).place_of == (1,)


def test_the_least_is_cut_off() -> None:
    """Two pieces, two places of one length: the wide piece goes where its width is wanted."""
    found = assign(candidates_of([(1200, 175), (1200, 166)], [(1200, 160, 166), (1200, 160, 175)], [9] * 6))
    assert found.place_of == (1, 0)


def test_nothing_to_assign() -> None:
    assert assign(candidates_of([], [(1200, 160, 170)], [])).most == 0
    assert assign(candidates_of([(1200, 166)], [], [9] * 6)).place_of == (-1,)


# -- the proof


def small_network() -> Network:
    """Two ways from 0 to 3, the cheap one narrow."""
    tail, head, capacity, cost = np.array(
        [(0, 1, 2, 1), (0, 2, 2, 3), (1, 3, 1, 1), (1, 2, 1, 0), (2, 3, 2, 2)], dtype=np.int64
    ).T
    return Network(4, tail, head, capacity, cost, np.array([2, 0, 0, -2], dtype=np.int64))


def test_the_dual_value_meets_the_flows_cost() -> None:
    network = small_network()
    flow = least_cost_flow(network)
    potential = potentials(network, flow)
    assert dual_value(network, potential) == int(flow @ network.cost) == 5
    reduced = reduced_costs(network, potential)
    assert (reduced[flow < network.capacity] >= 0).all()
    assert (reduced[flow > 0] <= 0).all()


def test_weak_duality_holds_for_any_potential() -> None:
    network = small_network()
    for seed in range(50):
        potential = np.random.default_rng(seed).integers(-5, 6, size=4)
        assert dual_value(network, potential) <= 5


def test_a_worse_flow_has_no_potentials() -> None:
    """Both units the dear way: a cycle of negative cost shows it, so a wrong answer would be found."""
    worse = np.array([0, 2, 0, 0, 2], dtype=np.int64)
    with pytest.raises(ArithmeticError, match="not optimal"):
        potentials(small_network(), worse)


def test_a_flow_that_cannot_be_is_said() -> None:
    network = small_network()
    with pytest.raises(ArithmeticError, match="was not solved"):
        least_cost_flow(replace(network, supply=np.array([9, 0, 0, -9], dtype=np.int64)))
