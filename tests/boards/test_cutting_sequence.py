"""What is cut when: boards opened with their first delivery, remainders named, kept and taken again."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from optimiser.boards.cutting_sequence import cutting_sequence
from optimiser.boards.cutting_steps import Areas
from optimiser.boards.waiting_count import WaitingCount, count_waiting
from optimiser.errors.problems import CannotBeDone
from optimiser.model.plan import Plan, Staging
from optimiser.model.planned_boards import PlannedPattern
from optimiser.model.project import Level, Project
from optimiser.planning.plan import plan
from optimiser.studies.staging import waiting_of
from tests.builders.levels import STAGINGS, building
from tests.builders.plans_by_hand import small_plan, strip
from tests.builders.quick_plans import quick_plan
from tests.builders.random_projects import projects


def on_three_levels(*strips: tuple[int, ...], kerf_mm: int = 0) -> tuple[Plan, PlannedPattern]:
    """Strips 100 mm wide of pieces 300 mm long, each piece for the level of its number."""
    made = small_plan()
    sample = made.pieces[0]
    pieces, cut = [], []
    for at, levels in enumerate(strips):
        row = []
        for place, level in enumerate(levels):
            name = f"P{at}{place}"
            row.append((name, 300, 100))
            pieces.append(
                sample.model_copy(
                    update={
                        "id": name,
                        "level": f"L{level}",
                        "to_mm": sample.from_mm + 300,
                        "cut_width_start_mm": 100,
                        "cut_width_end_mm": 100,
                    }
                )
            )
        cut.append(strip(100, *row))
    levels = tuple(Level(level=f"L{number}", sequence=10 * number) for number in (1, 2, 3))
    detail = made.project.detail.model_copy(update={"kerf_mm": kerf_mm})
    project = made.project.model_copy(update={"levels": levels, "detail": detail})
    layout = PlannedPattern(stock="B-120", code="B-120", stage=10, strips=tuple(cut))
    return made.model_copy(update={"project": project, "pieces": tuple(pieces)}), layout


def told(made: Plan, layout: PlannedPattern) -> list[tuple[object, ...]]:
    """Each step: with which delivery, what is cut, the pieces, and what is kept, with its size and its level."""
    steps = cutting_sequence(made.project, made.pieces, [layout]).steps
    return [
        (step.stage, step.name, step.pieces, [(part.name, part.size, part.waits_for) for part in step.kept])
        for step in steps
    ]


def test_a_board_is_ripped_so_far_as_each_delivery_needs() -> None:
    made, layout = on_three_levels((1,), (2,), (3,), kerf_mm=4)
    assert told(made, layout) == [
        (10, "B001", ("P00",), [("B001-R1", "1200 x 896", "L2")]),
        (20, "B001-R1", ("P10",), [("B001-R2", "1200 x 792", "L3")]),
        (30, "B001-R2", ("P20",), []),
    ]


def test_a_mixed_strip_stays_one_strip_remainder_beside_the_boards_own() -> None:
    made, layout = on_three_levels((1, 2, 3), (2, 3), kerf_mm=4)
    assert told(made, layout) == [
        (10, "B001", ("P00",), [("B001-R1", "1200 x 896", "L2"), ("B001-R2", "896 x 100", "L2")]),
        (20, "B001-R1", ("P10",), [("B001-R3", "896 x 100", "L3")]),
        (20, "B001-R2", ("P01",), [("B001-R4", "592 x 100", "L3")]),
        (30, "B001-R4", ("P02",), []),
        (30, "B001-R3", ("P11",), []),
    ]
    sequence = cutting_sequence(made.project, made.pieces, [layout])
    assert [part.name for part in sequence.on_rack_after(10)] == ["B001-R1", "B001-R2"]
    assert [part.name for part in sequence.on_rack_after(20)] == ["B001-R3", "B001-R4"]
    assert sequence.on_rack_after(30) == ()


def test_a_delivery_without_a_piece_leaves_the_remainder_its_name() -> None:
    made, layout = on_three_levels((1,), (3,))
    assert told(made, layout) == [
        (10, "B001", ("P00",), [("B001-R1", "1200 x 900", "L3")]),
        (30, "B001-R1", ("P10",), []),
    ]


def test_a_board_that_comes_before_it_is_needed_is_opened_when_it_is() -> None:
    made, layout = on_three_levels((2,), (3,))
    assert [step[:2] for step in told(made, layout)] == [(20, "B001"), (30, "B001-R1")]


def test_of_levels_delivered_together_the_first_keeps_the_remainder() -> None:
    made, layout = on_three_levels((2,), (1,), (3, 3))
    levels = tuple(Level(level=f"L{number}", sequence=at) for number, at in ((1, 10), (2, 10), (3, 30)))
    project = made.project.model_copy(update={"levels": levels})
    opened, last = cutting_sequence(project, made.pieces, [layout]).steps
    assert (opened.levels, [(part.level, part.waits_for) for part in opened.kept]) == (
        ("L1", "L2"),
        [("L1", "L3")],
    )
    assert (last.levels, last.kept) == (("L3",), ())


def test_every_step_says_where_the_area_of_what_it_cuts_went() -> None:
    """Two strips on a board of 1200 x 1000 mm with a kerf of 4: beyond a kerf the board's width waits, and in the first
    strip the piece of L2. What is left at last is scrap: the far edge, and the ends of both strips."""
    made, layout = on_three_levels((1, 2), (2,), kerf_mm=4)
    areas = [step.areas for step in cutting_sequence(made.project, made.pieces, [layout]).steps]
    piece, rip, cross_cut = 300 * 100, 4 * 1200, 4 * 100

    def gone(taken: int, remainders: int, kerf: int, scrap: int) -> Areas:
        mm2 = (taken, piece, remainders, 0, kerf, scrap)
        return Areas(*(Fraction(area) for area in mm2))

    assert areas == [
        gone(1200 * 1000, 1200 * 896 + 896 * 100, rip + cross_cut, 0),
        gone(1200 * 896, 0, rip + cross_cut, 1200 * 792 + 896 * 100),
        gone(896 * 100, 0, cross_cut, 592 * 100),
    ]


def test_boards_are_named_after_their_layout_and_stock_apart() -> None:
    made = small_plan()
    names = [
        step.name
        for step in cutting_sequence(made.project, made.pieces, made.layouts, made.left_over).steps
        if step.taken is None
    ]
    assert names == ["B001", "B002", "S003", "B004", "B005", "B006"]
    twice = [layout.model_copy(update={"repeat": 2}) for layout in made.layouts[:1]]
    opened = cutting_sequence(made.project, made.pieces, twice).with_delivery(10)
    assert [step.name for step in opened] == ["B001", "B001.2"]


@pytest.mark.parametrize(
    ("strips", "count"),
    [
        ([(1,), (1,)], WaitingCount(pieces=0, piece_stages=0, remainders=0)),
        ([(1,), (2,), (3,)], WaitingCount(pieces=2, piece_stages=10 + 20, remainders=2)),
        ([(1, 2, 3), (2, 3)], WaitingCount(pieces=4, piece_stages=10 + 20 + 10 + 20, remainders=4)),
        ([(1,), (3,), (3,)], WaitingCount(pieces=2, piece_stages=20 + 20, remainders=1)),
    ],
)
def test_what_waits_is_counted(strips: list[tuple[int, ...]], count: WaitingCount) -> None:
    made, layout = on_three_levels(*strips)
    stage_of = {piece.id: 10 * int(piece.level[1:]) for piece in made.pieces}
    assert count_waiting([layout], stage_of) == count
    assert len(cutting_sequence(made.project, made.pieces, [layout]).remainders) == count.remainders


def test_the_plan_states_its_remainders() -> None:
    made = plan(building())
    assert [(part.name, part.size, part.stage, part.level, part.cut_stage, part.waits_for, part.pieces)
            for part in made.remainders] == [
        ("B001-R1", "1200 x 670", 10, "L1", 20, "L2", 4),
        ("B001-R2", "1200 x 340", 20, "L2", 30, "L3", 2),
    ]  # fmt: skip


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(projects(), st.sampled_from(STAGINGS))
def test_every_step_accounts_for_all_of_its_area(project: Project, staging: Staging) -> None:
    try:
        made = quick_plan(project, staging=staging)
    except CannotBeDone:
        assume(False)
        raise
    sequence = cutting_sequence(project, made.pieces, made.layouts, made.left_over)
    for step in sequence.steps:
        areas = step.areas
        rest = areas.pieces + areas.remainders + areas.left_overs + areas.kerf + areas.scrap
        assert areas.taken == rest
        assert min(areas.pieces, areas.remainders, areas.left_overs, areas.kerf, areas.scrap) >= 0
        assert all(part.cut_stage > step.stage for part in step.kept)
    assert sequence.remainders == made.remainders
    assert waiting_of(made).remainders == len(made.remainders)
