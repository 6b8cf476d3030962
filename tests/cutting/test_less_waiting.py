"""The search for less waiting, step by step: what it starts from, how often, how hot, and that nothing is lost."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable

import pytest

from optimiser.cutting import waiting
from optimiser.cutting.demand import Demand
from optimiser.cutting.open_boards import OpenBoard, OpenStrip
from optimiser.cutting.rearranging import Arrangement, Schedule
from optimiser.cutting.waiting import (
    CHAINS,
    FROM_ANY_PLAN,
    MANY_STRIPS,
    POLISH,
    SETTLE,
    SHARE_OF_A_TRY,
    STRIPS,
    TRIES,
    TRIES_OF_MANY,
    Effort,
    _Search,
    less_waiting,
    waits,
    with_less_inside,
)
from tests.builders.open_boards import open_boards

BRIEF = Effort(0.02)


def boards_of(*boards: list[list[tuple[int, int]]], kerf: int = 0) -> tuple[Demand, list[OpenBoard]]:
    """Boards of 1200 x 1000 mm with strips of 500 mm, each of pieces as (stage, length)."""
    return open_boards(
        *([[(stage, length, 500) for stage, length in strip] for strip in board] for board in boards),
        kerf=kerf,
    )


def held(strips: list[OpenStrip]) -> Counter[int]:
    return Counter(index for strip in strips for names in strip.names for index in names)


CROSSED: tuple[list[list[tuple[int, int]]], ...] = (
    [[(1, 1200)], [(2, 1200)]],
    [[(1, 1200)], [(2, 1200)]],
)


def test_strips_of_two_stages_change_boards_so_that_nothing_waits() -> None:
    demand, boards = boards_of(*CROSSED)
    assert waits(demand, boards) == 2
    for again in (True, False):
        found = less_waiting(demand, boards, [], 0, BRIEF, lambda: False, 0, form_strips_again=again)
        assert waits(demand, found) == 0
        assert held([s for b in found for s in b.strips]) == held([s for b in boards for s in b.strips])


def test_what_waits_no_more_than_the_bound_is_left_as_it_is() -> None:
    demand, boards = boards_of(*CROSSED)
    assert less_waiting(demand, boards, [], 2, BRIEF, lambda: False, 0) is boards
    assert less_waiting(demand, boards, [], 0, BRIEF, lambda: True, 0) is boards


@pytest.mark.parametrize("kerf", [0, 4])
def test_strips_formed_again_hold_every_piece_once_and_less_waits_inside(kerf: int) -> None:
    """Halves that just share a strip, crossed, beside one too long to share and one that a short piece would fill."""
    half = 600 - kerf // 2
    demand, boards = boards_of(
        [[(1, half), (2, half)], [(1, half), (2, half)]],
        [[(2, 1200)], [(1, 1200 - half - kerf)]],
        kerf=kerf,
    )
    found = with_less_inside(demand, boards, [], Effort(), lambda: False, 0)
    strips = [strip for of_kind in found.values() for strip in of_kind]
    assert held(strips) == held([strip for board in boards for strip in board.strips])
    assert all(first == last for first, last in (strip.stages(demand) for strip in strips))


def annealed_with(monkeypatch: pytest.MonkeyPatch) -> list[Schedule]:
    """The schedules that are gone through from now on, without a step."""
    seen: list[Schedule] = []

    class Watched(Arrangement):
        def anneal(self, schedule: Schedule, good_enough: int, out_of_time: Callable[[], bool]) -> None:
            seen.append(schedule)

    monkeypatch.setattr(waiting, "Arrangement", Watched)
    return seen


@pytest.mark.parametrize(
    ("many", "hottest"), [(5, STRIPS.hottest), (4, MANY_STRIPS.hottest), (3, MANY_STRIPS.hottest)]
)
def test_so_many_pieces_that_share_strips_start_hotter(
    monkeypatch: pytest.MonkeyPatch, many: int, hottest: float
) -> None:
    """Four may share."""
    seen = annealed_with(monkeypatch)
    monkeypatch.setattr(waiting, "MANY_SHARING", many)
    demand, boards = boards_of([[(1, 600), (2, 600)]], [[(1, 600), (2, 600)]])
    with_less_inside(demand, boards, [], Effort(), lambda: False, 0)
    assert seen[0].hottest == hottest


@pytest.mark.parametrize(("few", "tries"), [(4, TRIES), (3, TRIES_OF_MANY)])
def test_strips_are_formed_a_few_times_and_of_few_pieces_each_try_has_a_share_of_the_steps(
    monkeypatch: pytest.MonkeyPatch, few: int, tries: int
) -> None:
    """Of four pieces, each try in vain."""
    seen = annealed_with(monkeypatch)
    monkeypatch.setattr(waiting, "PIECES_OF_TRIES", few)
    demand, boards = boards_of(*CROSSED)
    starts: list[int] = []

    def start(*given: object) -> list[OpenBoard]:
        starts.append(int(str(given[-1])))
        return boards

    monkeypatch.setattr(waiting, "in_order_of_delivery", start)
    monkeypatch.setattr(waiting, "PUSHES", ())
    search = _Search(demand, boards, [], 0, Effort(), lambda: False, CHAINS[0], 0)
    monkeypatch.setattr(waiting, "NO_ARRANGEMENT", search_never_ends_well())
    search.from_new_strips()
    assert len(starts) == len(set(starts)) == tries
    schedule = CHAINS[0].few if tries == TRIES else CHAINS[0].many
    share = SHARE_OF_A_TRY if tries == TRIES else 1.0
    assert [(s.hottest, s.steps) for s in seen] == [(schedule.hottest, int(share * search.steps))] * tries


def search_never_ends_well() -> int:
    """What an arrangement of these boards costs: as if each had a board overfull."""
    demand, boards = boards_of(*CROSSED)
    weights = waiting.Weights(piece=waiting.PIECE, remainder=waiting.REMAINDER, overflow=waiting.OVERFLOW)
    return Arrangement(demand, boards, weights, 0).best


@pytest.mark.parametrize("again", [True, False])
def test_boards_that_nothing_was_found_for_are_annealed_hotter_unless_they_are_good_already(
    monkeypatch: pytest.MonkeyPatch, again: bool
) -> None:
    seen = annealed_with(monkeypatch)
    monkeypatch.setattr(waiting, "in_order_of_delivery", lambda *given: None)
    demand, boards = boards_of(*CROSSED)
    _Search(demand, boards, [], 0, Effort(), lambda: False, CHAINS[0], 0).run(again)
    polish = FROM_ANY_PLAN if again else POLISH
    assert [schedule.hottest for schedule in seen] == [polish.hottest, SETTLE.hottest]


def test_beyond_900_pieces_every_one_adds_its_steps_of_dealing_out() -> None:
    assert Effort().board_steps(300) == Effort().board_steps(900) == waiting.BOARD_STEPS
    assert Effort().board_steps(1_000) == waiting.BOARD_STEPS + 100 * waiting.BOARD_STEPS_A_PIECE
    assert Effort(0.5).board_steps(1_000) == Effort().board_steps(1_000) // 2
