"""What stays on the rack: what is cut from, and of the rest what is worth most, at most twenty in all."""

from __future__ import annotations

from optimiser.boards.problems import BoardFamily
from optimiser.boards.view_ahead import MOST_RACKED
from optimiser.cutting.problem import Board, CuttingProblem, Objective, Piece
from optimiser.model.progress import AtHand
from optimiser.replanning.rack import racked_and_discarded

LATER = (
    BoardFamily(
        ("B-120",),
        CuttingProblem(
            boards=(Board(code="B-120", length_mm=1200, width_mm=1000),),
            pieces=tuple(
                Piece(id=f"s{n}", length_mm=1200, width_min_mm=200, width_max_mm=205, stage=2)
                for n in range(30)
            ),
            objective=Objective.FEWEST_BOARDS,
        ),
    ),
)


def remainder(name: str, width_mm: int) -> AtHand:
    return AtHand(name=name, kind="remainder", code="B-120", length_mm=1200, width_mm=width_mm)


def test_what_no_level_to_come_can_use_goes() -> None:
    kept, gone = racked_and_discarded([remainder("A", 190), remainder("B", 210)], (), LATER)
    assert [item.name for item in kept] == ["B"]
    assert [item.name for item in gone] == ["A"]


def test_what_the_plan_cuts_stays_whatever_it_is_worth() -> None:
    kept, gone = racked_and_discarded([remainder("A", 190)], {"A"}, LATER)
    assert [item.name for item in kept] == ["A"]
    assert gone == ()


def test_at_most_so_many_are_kept_the_best_of_them() -> None:
    many = [remainder(f"R{width}", width) for width in range(200, 200 + 20 * (MOST_RACKED + 5), 20)]
    used = {"R200", "R220"}
    kept, gone = racked_and_discarded(many, used, LATER)
    assert len(kept) == MOST_RACKED
    assert used <= {item.name for item in kept}
    assert {item.name for item in gone} <= {item.name for item in many if item.width_mm < 400}


def test_whole_boards_and_the_users_own_stock_are_no_rack() -> None:
    stock = remainder("stock-1", 50).model_copy(update={"kind": "stock"})
    whole = remainder("B-120 on site", 1000).model_copy(update={"kind": "on site", "quantity": 99})
    kept, gone = racked_and_discarded([stock, whole], (), LATER)
    assert kept == (stock, whole)
    assert gone == ()


def test_once_all_is_measured_the_smallest_go_first() -> None:
    many = [remainder(f"R{width}", width) for width in range(100, 100 + 10 * (MOST_RACKED + 1), 10)]
    _, gone = racked_and_discarded(many, (), ())
    assert [item.name for item in gone] == ["R100"]
