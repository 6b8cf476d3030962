"""Hypothesis strategies for buildings that are small enough to try every cutting."""

from __future__ import annotations

from decimal import Decimal

from hypothesis import strategies as st

from optimiser.model.project import Allowance, Board, Gap, Project, Run
from tests.builders.levels import building


@st.composite
def tiny_buildings(draw: st.DrawFn) -> Project:
    """Two or three levels with one or two pieces of a whole board's length each, of one or two kinds of board, sold in
    packs, with or without an allowance. Every gap is measured."""
    storeys = draw(st.integers(2, 3))
    codes = draw(st.sampled_from([("B-120",), ("B-120", "B-100")]))
    base = building(storeys=storeys)
    boards = tuple(
        Board(
            code=code,
            length_mm=1200,
            width_mm=1000,
            per_pack=draw(st.sampled_from([1, 1, 2, 3])),
            price=Decimal(draw(st.integers(10, 400))),
        )
        for code in codes
    )
    runs = tuple(
        Run(
            run=f"L{n}-{code}",
            level=f"L{n}",
            length_mm=1200 * draw(st.sampled_from([1, 2, 2])),
            board=(code,),
        )
        for n in range(1, storeys + 1)
        for code in codes
    )
    return base.model_copy(
        update={
            "products": (*boards, *base.products[1:]),
            "runs": runs,
            "gaps": tuple(
                Gap(run=run.run, at_mm=0, gap_mm=draw(st.sampled_from([150, 250, 290]))) for run in runs
            ),
            "allowance": (Allowance(kind="board", fraction=Decimal("0.1")),) if draw(st.booleans()) else (),
        }
    )
