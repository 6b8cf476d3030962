"""Kerfs, limits and counts at their very edge, where offcuts, strips and parts of a problem are concerned."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from optimiser.cutting.columns import complete, offcut_columns
from optimiser.cutting.demand import Demand, prepare
from optimiser.cutting.idle_offcuts import may_hold, without_idle_offcuts
from optimiser.cutting.open_boards import OpenBoard, OpenStrip
from optimiser.cutting.problem import CuttingProblem
from optimiser.cutting.rack import best_patterns
from optimiser.cutting.residual import Residual, with_codes
from optimiser.cutting.strip_conditions import Condition
from optimiser.cutting.strip_program import StripPatterns, strips_formed


def problem(*pieces: tuple[int, int, int], kerf: int = 0, **fields: Any) -> CuttingProblem:
    """Pieces of (length, width, stage) on boards of 1200 x 1000."""
    written = [
        {"id": f"P{k}", "length_mm": length, "width_min_mm": width, "width_max_mm": width, "stage": stage}
        for k, (length, width, stage) in enumerate(pieces)
    ]
    board = {"length_mm": 1200, "width_mm": 1000, "kerf_mm": kerf}
    return CuttingProblem.model_validate({"board": board, "pieces": written, **fields})


def strip(demand: Demand, index: int) -> OpenStrip:
    """A strip that holds one piece of the problem."""
    kind = next(t for t, of in enumerate(demand.types) if index in of.members)
    return OpenStrip(demand.problem.pieces[index].width_min_mm, [(kind,)], [[index]])


def strips_fit(demand: Demand, values: list[int], most: int) -> bool | None:
    """Whether strips can be worth no more than `most`, by the index of their width."""
    condition = Condition(0, np.array(values, dtype=np.int64), (most,))
    return strips_formed(StripPatterns(demand), [condition], (1,), 1.0).possible


@pytest.mark.parametrize(("last", "one_strip"), [(390, False), (380, True)])
def test_a_strip_has_a_kerf_between_its_pieces(last: int, one_strip: bool) -> None:
    """400 + 10 + 400 + 10 + 380 is the whole length."""
    demand = prepare(problem((400, 100, 1), (400, 100, 1), (last, 100, 1), kerf=10))
    assert strips_fit(demand, [100], 100) is one_strip
    assert strips_fit(demand, [100], 200) is True


def test_pieces_that_share_no_strip_count_as_well() -> None:
    demand = prepare(problem((1200, 300, 1), (500, 200, 1)))
    assert strips_fit(demand, [200, 300], 500) is True
    assert strips_fit(demand, [200, 300], 499) is False


def test_what_offcuts_take_is_not_left() -> None:
    offcuts = [{"id": "F", "length_mm": 600, "width_mm": 200}]
    demand = prepare(problem((600, 200, 1), (600, 200, 1), (1200, 300, 1), offcuts=offcuts))
    residual = Residual(demand, offcut_columns(demand, complete(demand, [])))
    assert residual.left is not None
    assert sum(kind.demand for kind in residual.left.types) == 2
    assert residual.left.racks == ()


def test_a_piece_as_large_as_the_offcut_fits_whatever_the_kerf() -> None:
    offcuts = [{"id": "F", "length_mm": 600, "width_mm": 200}]
    demand = prepare(problem((600, 200, 1), kerf=5, offcuts=offcuts))
    (group,) = demand.racks
    assert best_patterns(demand, group, np.array([7], dtype=np.int64))[0] == [7]


@pytest.mark.parametrize(("stage", "holds"), [(2, True), (3, False)])
def test_a_piece_is_carried_as_far_as_the_limit_and_no_farther(stage: int, holds: bool) -> None:
    demand = prepare(problem((600, 200, 1), (600, 210, stage), max_carry_stages=1))
    board = OpenBoard(0, [strip(demand, 0)])
    assert may_hold(demand, board, strip(demand, 1)) is holds
    assert may_hold(demand, OpenBoard(0, []), strip(demand, 1), board.strips) is holds


@pytest.mark.parametrize(("width", "moves"), [(490, True), (495, False)])
def test_a_strip_that_leaves_an_offcut_needs_its_kerf_beside_the_others(width: int, moves: bool) -> None:
    """500 + 10 + 490 is the whole width."""
    offcuts = [{"id": "F", "length_mm": 1100, "width_mm": 500}]
    demand = prepare(problem((1100, 500, 1), (1100, width, 1), kerf=10, offcuts=offcuts))
    shelf = next(s for s, source in enumerate(demand.sources) if source.available is not None)
    boards = [OpenBoard(0, [strip(demand, 0)]), OpenBoard(shelf, [strip(demand, 1)])]
    assert [board.source for board in without_idle_offcuts(demand, boards)] == [0] + [shelf] * (not moves)
    assert len(boards[0].strips) == 1  # the boards given stay as they are


def test_a_piece_that_names_no_code_may_come_from_any() -> None:
    boards = [
        {"code": code, "length_mm": 1200, "width_mm": 1000, "price_cents": 5} for code in ("one", "two")
    ]
    posed = CuttingProblem.model_validate(
        {
            "boards": boards,
            "pieces": [{"id": "P", "length_mm": 600, "width_min_mm": 200, "width_max_mm": 200}],
        }
    )
    part = with_codes(posed, ["two"])
    assert part is not None
    assert [board.code for board in part.boards] == ["two"]
    assert part.pieces[0] is posed.pieces[0]


def test_a_piece_keeps_of_its_codes_those_that_there_are() -> None:
    boards = [
        {"code": code, "length_mm": 1200, "width_mm": 1000, "price_cents": 5}
        for code in ("one", "two", "six")
    ]
    piece = {"id": "P", "length_mm": 600, "width_min_mm": 200, "width_max_mm": 200}
    posed = CuttingProblem.model_validate(
        {
            "boards": boards,
            "pieces": [piece | {"boards": ["one", "two"]}, piece | {"id": "Q", "boards": ["two"]}],
        }
    )
    part = with_codes(posed, ["two", "six"])
    assert part is not None
    assert [piece.boards for piece in part.pieces] == [("two",), ("two",)]
    assert part.pieces[1] is posed.pieces[1]
