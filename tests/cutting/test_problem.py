"""What a cutting problem says of itself: its pieces' windows, and its prices in the solver's whole units."""

from __future__ import annotations

from fractions import Fraction

import pytest
from pydantic import ValidationError

from optimiser.cutting.problem import LARGEST_PRICE, Board, CuttingProblem, Objective, Piece


def priced(*cents: int | Fraction) -> CuttingProblem:
    """Nothing to cut, from boards at these prices."""
    return CuttingProblem(
        boards=tuple(
            Board(code=f"B{k}", length_mm=1200, width_mm=1000, price_cents=price)
            for k, price in enumerate(cents)
        ),
        pieces=(),
        objective=Objective.LEAST_COST,
    )


@pytest.mark.parametrize(
    ("cents", "unit", "prices"),
    [
        ((443, 530), 1, (443, 530)),
        ((500, 300), 100, (5, 3)),
        ((0, 12), 12, (0, 1)),
        ((0, 0), 1, (0, 0)),
        ((Fraction(1, 3), Fraction(1, 2)), Fraction(1, 6), (2, 3)),
        ((LARGEST_PRICE, LARGEST_PRICE - 1), 1, (LARGEST_PRICE, LARGEST_PRICE - 1)),
        ((LARGEST_PRICE + 1, 4), 2, (LARGEST_PRICE // 2, 2)),
    ],
    ids=[
        "no measure",
        "hundreds",
        "one free",
        "all free",
        "fractions",
        "just not too fine",
        "too fine: rounded down",
    ],
)
def test_prices_are_whole_multiples_of_their_greatest_common_measure(
    cents: tuple[int | Fraction, ...], unit: int | Fraction, prices: tuple[int, ...]
) -> None:
    problem = priced(*cents)
    assert (problem.unit, problem.solver_prices) == (unit, prices)


def tapered(width_min: int, start: int | None, end: int | None) -> Piece:
    return Piece(
        id="T",
        length_mm=500,
        width_min_mm=width_min,
        width_max_mm=max(width_min, 300),
        width_start_mm=start,
        width_end_mm=end,
    )


def test_a_tapered_piece_is_as_wide_as_its_wider_end_whichever_that_is() -> None:
    assert tapered(200, 200, 150).tapered
    assert tapered(200, 150, 200).tapered
    assert not tapered(200, 200, 200).tapered
    for width, start, end in (
        (150, 200, 150),
        (200, 150, 150),
        (200, 200, None),
        (200, None, 200),
        (310, 300, 250),
    ):
        with pytest.raises(ValidationError):
            tapered(width, start, end)


def test_a_window_is_not_empty() -> None:
    with pytest.raises(ValidationError):
        Piece(id="P", length_mm=500, width_min_mm=201, width_max_mm=200)
    assert Piece(id="P", length_mm=500, width_min_mm=200, width_max_mm=200).width_min_mm == 200
