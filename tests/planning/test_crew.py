"""The crew follows its sheets, level by level: it ends with every piece fitted and the left-overs of the plan."""

from __future__ import annotations

import io
from collections import Counter
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, Phase, assume, given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from optimiser.boards.cutting_sequence import cutting_sequence
from optimiser.boards.delivery_order import in_delivery_order
from optimiser.checking import broken_rules_of_plan
from optimiser.cutting.problem import Waiting
from optimiser.errors.problems import CannotBeDone
from optimiser.model.plan import Plan, Staging
from optimiser.model.project import Project
from optimiser.planning.paid import what_waits
from optimiser.studies.staging import waiting_of
from optimiser.writing.crew.cutting_sheets import cutting_sheets_pdf
from optimiser.writing.drawing.plan_index import PlanIndex
from tests.builders.crew import Site, play
from tests.builders.levels import STAGINGS
from tests.builders.plans_by_hand import small_plan, strip, tower
from tests.builders.quick_plans import quick_plan
from tests.builders.random_projects import projects
from tests.builders.sample_plans import sample_plan


def all_is_where_the_plan_says(made: Plan, site: Site) -> None:
    """Every piece fitted, the rack empty, the left-overs those stated, and every square millimetre accounted for."""
    assert set(site.fitted) == {piece.id for piece in made.pieces}
    assert not site.rack
    assert site.racked == [] or set(site.racked) == {part.name for part in made.remainders}
    stated: Counter[tuple[str, int, int]] = Counter()
    for item in made.left_over:
        stated[item.code, item.length_mm, item.width_mm] += item.quantity
    assert site.left_over == stated
    assert len(site.opened) == sum(layout.repeat for layout in made.layouts)
    waste = made.waste
    assert sum(site.opened.values()) == waste.bought_mm2 + waste.stock_mm2
    assert abs(site.lost - waste.scrap_mm2) <= Fraction(1, 2)  # a taper's area may end in a half


@pytest.mark.parametrize("staging", STAGINGS)
@pytest.mark.parametrize("name", ["small", "tower"])
def test_the_crew_of_a_sample_ends_with_every_piece_fitted(name: str, staging: Staging) -> None:
    made = sample_plan(name, staging)
    all_is_where_the_plan_says(made, play(made))
    assert len(made.remainders) == waiting_of(made).remainders
    if staging == "level":
        assert made.remainders == ()


def test_the_towers_sheets_name_all_that_is_opened_taken_and_kept() -> None:
    made = sample_plan("tower")
    sequence = PlanIndex(made).sequence
    for level in ("L01", "L07", "L14"):
        stage = next(item.sequence for item in made.project.levels if item.level == level)
        reader = PdfReader(io.BytesIO(cutting_sheets_pdf(made, levels=[level])))
        text = " ".join(" ".join(page.extract_text() for page in reader.pages).split())
        for step in sequence.with_delivery(stage):
            assert step.name in text
            assert all(piece in text for piece in step.pieces)
            if step.taken:
                assert f"{step.taken.name} {step.taken.size}" in text
            for part in step.kept:
                assert f"{part.name} {part.size}" in text
        fitted = {piece.id for piece in made.pieces if piece.level == level}
        others = [piece.id for piece in made.pieces if piece.level != level]
        assert fitted == {piece for step in sequence.with_delivery(stage) for piece in step.pieces}
        assert not any(piece in text for piece in others), "no other level's piece is on these sheets"


@settings(
    max_examples=60,
    deadline=None,
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
    suppress_health_check=list(HealthCheck),
)
@given(projects(), st.sampled_from(STAGINGS))
def test_the_crew_of_any_project_ends_with_every_piece_fitted(project: Project, staging: Staging) -> None:
    try:
        made = quick_plan(project, staging=staging)
    except CannotBeDone:
        assume(False)
        raise
    all_is_where_the_plan_says(made, play(made))


@pytest.mark.parametrize("made", [small_plan(), tower(4, 3, 9100)], ids=["small", "tower"])
def test_the_crew_follows_plans_made_by_hand(made: Plan) -> None:
    site = play(made)
    assert set(site.fitted) == {piece.id for piece in made.pieces}
    assert not site.rack


@pytest.mark.parametrize("kerf", [0, 3])
def test_half_of_a_tapered_pair_waits_for_its_own_delivery(kerf: int) -> None:
    """L01-E-002 lies head to tail with L01-E-001 but belongs to L02: it waits beyond the slant."""
    made = small_plan()
    detail = made.project.detail.model_copy(update={"kerf_mm": kerf})
    pieces = tuple(
        piece.model_copy(update={"level": "L02"}) if piece.id == "L01-E-002" else piece
        for piece in made.pieces
    )
    pair = (("L01-E-001", 600, 166), ("L01-E-002", 600, 181, True))
    pieces = tuple(
        piece.model_copy(update={"to_mm": piece.from_mm + 600}) if piece.run == "L01-E" else piece
        for piece in pieces
    )
    layouts = (
        made.layouts[0].model_copy(update={"strips": (strip(340, *pair, ("L02-N-005", 350, 340)),)}),
        made.layouts[1],
    )
    half = made.model_copy(
        update={
            "project": made.project.model_copy(update={"detail": detail}),
            "pieces": tuple(
                piece.model_copy(update={"cut_width_start_mm": 340, "cut_width_end_mm": 340})
                if piece.id == "L02-N-005"
                else piece
                for piece in pieces
                if piece.id in ("L01-E-001", "L01-E-002", "L02-N-005", "L01-N-003", "L01-N-004", "L01-N-005")
            ),
            "layouts": layouts,
        }
    )
    found = cutting_sequence(half.project, half.pieces, half.layouts)
    assert [
        (part.name, part.kind, part.size, part.cut_from, part.waits_for) for part in found.remainders
    ] == [
        ("B001-R1", "strip", f"{600 - kerf} x 340", "B001", "L02"),
        # its straight edge is the strip's far one: 340 less the blade and the other's end, 166 and 150 mm
        ("B001-R2", "tapered", f"600 x {340 - 166 - kerf} to {340 - 150 - kerf}", "B001", "L02"),
    ]
    for step in found.steps:
        areas = step.areas
        parts = areas.pieces + areas.remainders + areas.left_overs + areas.kerf + areas.scrap
        assert areas.taken == parts, step.name
    site = play(half)
    assert not site.rack
    assert site.fitted["L01-E-002"] == (600, 166, 181)
    stated = half.model_copy(
        update={
            "remainders": found.remainders,
            "waiting": what_waits(half.project, half.pieces, half.layouts, Waiting(), found.remainders),
        }
    )
    about = [line for line in broken_rules_of_plan(stated) if "remainder" in line or "lies beyond" in line]
    assert about == []
    turned = layouts[0].model_copy(
        update={
            "strips": (
                strip(340, ("L02-N-005", 350, 340), ("L01-E-002", 600, 181), ("L01-E-001", 600, 166, True)),
            )
        }
    )
    stage_of = {piece.id: 10 if piece.level == "L01" else 20 for piece in half.pieces}
    assert in_delivery_order(turned, stage_of.__getitem__) == layouts[0]
