"""What one more piece costs, against prices that can be worked out by hand."""

import numpy as np
import pytest

from optimiser.cutting.prices import fractional_cost, price_pieces
from optimiser.cutting.problem import Board, CuttingProblem, Piece


def problem(*pieces: tuple[int, int, int], trim: bool = True, kerf_mm: int = 0) -> CuttingProblem:
    """Pieces (length, width, quantity) out of boards of 1200 x 1000 mm."""
    return CuttingProblem(
        boards=(Board(code="board", length_mm=1200, width_mm=1000, kerf_mm=kerf_mm, price_cents=1),),
        pieces=tuple(
            Piece(
                id=f"P{number}", length_mm=length, width_min_mm=width, width_max_mm=width, quantity=quantity
            )
            for number, (length, width, quantity) in enumerate(pieces)
        ),
        trim=trim,
    )


def test_a_whole_strip_costs_its_share_of_the_board() -> None:
    prices = price_pieces(problem((1200, 165, 60)))
    assert prices.value == pytest.approx(10)
    assert prices.price[1200, 165] == pytest.approx(1 / 6)
    assert prices.price[1200, 250] == pytest.approx(2 / 6)  # beside it four strips of 165 mm stay


def test_half_a_strip_costs_half_as_much_and_a_little_more_than_half_the_whole() -> None:
    prices = price_pieces(problem((600, 200, 100)))
    assert prices.price[600, 200] == pytest.approx(1 / 10)
    assert prices.price[601, 200] == pytest.approx(2 / 10)
    assert prices.price[1200, 200] == pytest.approx(2 / 10)


def test_a_kerf_leaves_no_room_for_the_second_half() -> None:
    prices = price_pieces(problem((600, 200, 100), kerf_mm=3))
    assert prices.price[600, 200] == pytest.approx(1 / 4)  # four strips with their kerfs, one piece in each


def test_what_fits_no_board_costs_more_than_a_board() -> None:
    prices = price_pieces(problem((1200, 165, 6)))
    assert prices.price.shape == (1201, 1001)
    assert prices.price.max() <= 2


@pytest.mark.parametrize("trim", [True, False])
def test_prices_rise_with_length_and_pay_for_all_pieces_together(trim: bool) -> None:
    pieces = ((1200, 165, 40), (700, 170, 25), (500, 166, 31), (400, 240, 17), (300, 90, 11))
    posed = problem(*pieces, trim=trim)
    prices = price_pieces(posed)
    assert (np.diff(prices.price, axis=0) >= -1e-9).all()
    in_all = sum(quantity * prices.price[length, width] for length, width, quantity in pieces)
    assert in_all == pytest.approx(prices.value, rel=2e-3)
    assert prices.value == pytest.approx(fractional_cost(posed), rel=2e-3)
