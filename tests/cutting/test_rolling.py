"""A plan delivery by delivery: where a strip finds a slot that is free on a board already chosen."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from optimiser.cutting.demand import prepare
from optimiser.cutting.master import BoardColumn, StripColumn
from optimiser.cutting.problem import Board, CuttingProblem, Objective, Piece
from optimiser.cutting.rolling import _in_a_free_slot


@pytest.mark.parametrize(("length", "fits"), [(498, True), (499, True), (500, False)])
def test_a_strip_takes_a_free_slot_of_another_length_where_all_its_pieces_fit_with_their_kerfs(
    length: int, fits: bool
) -> None:
    """Two of 499 mm and a kerf of 2 fill the 1000 mm of the shorter board; two of 500 do not fit."""
    long, short = (
        Board(code=f"B{size}", length_mm=size, width_mm=1000, kerf_mm=2, price_cents=size)
        for size in (1200, 1000)
    )
    piece = Piece(id="P", length_mm=length, width_min_mm=300, width_max_mm=300, quantity=2)
    demand = prepare(
        CuttingProblem(boards=(long, short), pieces=(piece,), objective=Objective.LEAST_COST),
    )
    f_long, f_short = (
        next(source.family for source in demand.sources if source.code == board.code)
        for board in (long, short)
    )
    strip = StripColumn(f_long, 0, ((demand.families[f_long].single_component[0], 2),))
    free = {f_short: np.array([1], dtype=np.int64)}
    chosen: Counter[BoardColumn | StripColumn] = Counter()
    assert _in_a_free_slot(demand, strip, free, chosen) is fits
    assert free[f_short].tolist() == [0 if fits else 1]
    held = ((demand.families[f_short].single_component[0], 2),)
    assert chosen == (Counter([StripColumn(f_short, 0, held)]) if fits else Counter())
