"""Boards that could stay as they are labelled are cut otherwise only where that saves more than the labels cost."""

from __future__ import annotations

import random
from decimal import Decimal

import pytest

from optimiser.cutting.problem import CutPiece, CuttingPattern, CuttingResult, Strip
from optimiser.model.plan import Plan
from optimiser.model.project import Gap, Project
from optimiser.model.record import Record
from optimiser.planning.plan import plan
from optimiser.replanning.changes import label_changes
from optimiser.replanning.label_price import labels_changed
from optimiser.replanning.replan import replan
from optimiser.writing.terminal.replan_report import replan_lines
from tests.builders.job import measured_again
from tests.builders.levels import building

SEED = (
    14  # of a building whose first level, measured again, fits into a board less when others are relabelled
)


def tiny_house() -> Project:
    """Two levels of one edge with gaps from 80 to 260 mm, three boards in all."""
    draw = random.Random(SEED)
    base = building(storeys=2, length_mm=7200)
    gaps = tuple(
        Gap(run=run.run, at_mm=at, gap_mm=draw.randint(80, 260))
        for run in base.runs
        for at in range(0, 7201, 2400)
    )
    return base.model_copy(update={"gaps": gaps})


@pytest.fixture(scope="module")
def before() -> Plan:
    return plan(tiny_house(), advise=False)


def replanned(before: Plan, relabel_cost: str | None) -> Plan:
    newer = measured_again(tiny_house(), "L1", random.Random(SEED), 30)
    price = None if relabel_cost is None else Decimal(relabel_cost)
    heading = newer.project.model_copy(update={"relabel_cost": price})
    return replan(before, Record(), newer.model_copy(update={"project": heading}))


def boards(made: Plan) -> int:
    return sum(count.count for count in made.boards.values())


def test_the_price_of_a_label_tips_the_choice(before: Plan) -> None:
    cheap, dear = replanned(before, None), replanned(before, "1000.00")
    labels = len(label_changes(before, cheap)) - len(label_changes(before, dear))
    assert (boards(cheap), boards(dear), labels) == (3, 4, 5)
    board = before.project.product("B-120").price
    assert board == Decimal("53.00")
    assert boards(replanned(before, "10.60")) == 3, (
        "five labels cost what the board does: as many boards as least"
    )
    assert boards(replanned(before, "10.61")) == 4, "five labels cost more than the board"


def test_the_report_says_what_a_label_costs_or_that_it_counts_as_nothing(before: Plan) -> None:
    said = "\n".join(replan_lines(before, replanned(before, None)))
    assert "Changing one counts as nothing (relabel_cost is not given)" in said
    assert "Changing one costs AUD 2.00" in "\n".join(replan_lines(before, replanned(before, "2.00")))


def pattern(*pieces: tuple[str, int]) -> CuttingPattern:
    strips = tuple(
        Strip(width_mm=width, pieces=(CutPiece(id=name, length_mm=600, width_mm=width),))
        for name, width in pieces
    )
    return CuttingPattern(stock="B", stage=1, strips=strips)


def test_a_label_changes_with_the_width_and_with_the_board() -> None:
    stays = [pattern(("a", 150), ("b", 150)), pattern(("c", 150))]

    def changed(*layouts: CuttingPattern) -> int:
        result = CuttingResult.model_construct(layouts=layouts)
        return labels_changed(result, stays)

    assert changed(pattern(("a", 150), ("b", 150), ("new", 120)), pattern(("c", 150))) == 0
    assert changed(pattern(("a", 150), ("b", 152)), pattern(("c", 150))) == 1
    assert changed(pattern(("a", 150)), pattern(("b", 150), ("c", 150))) == 2
