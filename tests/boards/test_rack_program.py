"""Levels to come as a linear program with a rack of limited room."""

from __future__ import annotations

import pytest

from optimiser.boards.rack_program import RackProgram


def test_wide_strips_now_and_narrow_ones_later_share_boards() -> None:
    assert RackProgram([{60: 4}, {40: 4}], 100, [], 4).solve() == pytest.approx(4)


def test_only_so_many_boards_wait_as_the_rack_has_room_for() -> None:
    """Four wide strips take four boards, and one of the narrow ones fits beside one of them; two share a board."""
    assert RackProgram([{60: 4}, {40: 4}], 100, [], 1).solve() == pytest.approx(4 + 3 / 2)
    assert RackProgram([{60: 4}, {40: 4}], 100, [], 0).solve() == pytest.approx(4 + 4 / 2)


def test_a_remainder_takes_up_room_until_its_last_strip_is_cut() -> None:
    """The rack has room for one: for the strip two levels on, or for one of the next level, not for both."""
    levels = [{60: 2}, {40: 1, 70: 1}, {40: 1, 70: 1}]
    one, two = RackProgram(levels, 100, [], 1), RackProgram(levels, 100, [], 2)
    assert two.solve() == pytest.approx(4)
    assert one.solve() > 4


def test_an_offcut_serves_a_level_in_place_of_a_board() -> None:
    assert RackProgram([{60: 1}], 100, [60], 1).solve() == pytest.approx(0)
    assert RackProgram([{60: 1}], 100, [59], 1).solve() == pytest.approx(1)
    assert RackProgram([{}, {60: 1}], 100, [60], 1).solve() == pytest.approx(0)


def test_an_offcut_kept_for_later_takes_up_room_and_a_whole_board_does_not() -> None:
    assert RackProgram([{}, {60: 1}], 100, [60], 0).solve() == pytest.approx(1)
    assert RackProgram([{}, {60: 1}], 100, [100], 0).solve() == pytest.approx(0)


def test_what_is_fixed_is_bought_and_what_is_freed_is_not() -> None:
    program = RackProgram([{60: 1}], 100, [], 1)
    program.fix(0, 2)
    assert program.solve() == pytest.approx(2)
    program.fix(0, 0)
    assert program.solve() == pytest.approx(1)


def test_another_place_is_worth_what_it_would_save() -> None:
    scarce, ample = RackProgram([{60: 4}, {40: 4}], 100, [], 1), RackProgram([{60: 4}, {40: 4}], 100, [], 5)
    scarce.solve()
    ample.solve()
    assert scarce.dearest_place() == pytest.approx(1 / 2)  # a narrow strip more beside a wide one
    assert ample.dearest_place() == pytest.approx(0)
