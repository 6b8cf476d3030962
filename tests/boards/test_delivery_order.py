"""The order of a board's cuts: by delivery, so that what waits stays in one piece; nothing else changes."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from optimiser.boards.delivery_order import first_need, in_delivery_order, slots_of
from optimiser.cutting.problem import CutPiece, CuttingPattern, Strip


@st.composite
def layouts(draw: st.DrawFn) -> tuple[CuttingPattern, dict[str, int]]:
    """A layout of strips with single pieces and pairs, and the delivery that needs each piece."""
    strips, stage_of = [], {}
    for _ in range(draw(st.integers(1, 5))):
        pieces = []
        for _ in range(draw(st.integers(1, 4))):
            for second in range(draw(st.integers(1, 2))):
                name = f"P{len(stage_of)}"
                stage_of[name] = draw(st.integers(1, 4))
                pieces.append(CutPiece(id=name, length_mm=100, width_mm=50, head_to_tail=second > 0))
        strips.append(Strip(width_mm=60, pieces=tuple(pieces)))
    return CuttingPattern(stock="B", stage=1, strips=tuple(strips)), stage_of


@given(layouts())
def test_strips_and_pieces_stand_by_delivery_and_all_are_still_there(
    given_layout: tuple[CuttingPattern, dict[str, int]],
) -> None:
    layout, stage_of = given_layout
    ordered = in_delivery_order(layout, stage_of.__getitem__)
    needs = [first_need(strip.pieces, stage_of.__getitem__) for strip in ordered.strips]
    assert needs == sorted(needs)
    for strip in ordered.strips:
        slots = slots_of(strip)
        assert all(a <= b for a, b in pairwise(first_need(slot, stage_of.__getitem__) for slot in slots))
        assert all(stage_of[slot[0].id] <= stage_of[slot[-1].id] for slot in slots)

    def contents(of: CuttingPattern) -> Counter[frozenset[frozenset[str]]]:
        return Counter(
            frozenset(frozenset(piece.id for piece in slot) for slot in slots_of(strip))
            for strip in of.strips
        )

    assert contents(ordered) == contents(layout)
    assert in_delivery_order(ordered, stage_of.__getitem__) == ordered


def test_what_is_in_order_stays_as_it_was() -> None:
    pieces = [CutPiece(id=name, length_mm=100, width_mm=50) for name in "abc"]
    layout = CuttingPattern(
        stock="B", stage=1, strips=tuple(Strip(width_mm=50, pieces=(piece,)) for piece in pieces)
    )
    assert in_delivery_order(layout, {"a": 1, "b": 1, "c": 2}.__getitem__) is layout
    turned = in_delivery_order(layout, {"a": 2, "b": 1, "c": 1}.__getitem__)
    assert [strip.pieces[0].id for strip in turned.strips] == ["b", "c", "a"]
