"""Whole boards at hand: which the cutting counts as bought."""

from __future__ import annotations

import pytest

from optimiser.model.progress import AtHand
from optimiser.model.project import Board, Project
from optimiser.replanning.whole_boards import counted_as_bought
from tests.builders.levels import building


def project(*boards: str) -> Project:
    """Runs that these boards may serve."""
    base = building()
    longer = Board(code="B-LONG", length_mm=2400, width_mm=1000)
    runs = tuple(run.model_copy(update={"board": boards}) for run in base.runs)
    return base.model_copy(update={"products": (*base.products, longer), "runs": runs})


def at_hand(kind: str, code: str = "B-120") -> AtHand:
    return AtHand.model_validate(
        {"name": "one", "kind": kind, "code": code, "length_mm": 1200, "width_mm": 1000}
    )


@pytest.mark.parametrize(
    ("boards", "item", "counted"),
    [
        (("B-120",), at_hand("on site"), True),
        (("B-120",), at_hand("on order"), True),
        (("B-120",), at_hand("remainder"), False),
        (
            ("B-120", "B-LONG"),
            at_hand("on site"),
            False,
        ),  # a board of the other size may be cheaper in its place
        (("B-LONG",), at_hand("on site"), False),  # it serves no run
    ],
)
def test_a_whole_board_counts_as_bought_where_only_its_own_code_could_replace_it(
    boards: tuple[str, ...], item: AtHand, counted: bool
) -> None:
    assert counted_as_bought(project(*boards), item) == counted
