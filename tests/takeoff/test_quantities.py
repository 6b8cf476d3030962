"""What a project needs is turned into the units an order counts, and into what that costs."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from optimiser.boards.paid_packs import flat_fractions
from optimiser.model.project import Allowance, Project
from optimiser.planning.plan import plan
from optimiser.takeoff.quantities import Quantities, cost_of, needed_of, quantities_of
from tests.builders.closed_level import closed_level
from tests.builders.small_plan import small_project


def without(project: Project, *kinds: str) -> Project:
    kept = tuple(product for product in project.products if product.kind not in kinds)
    return project.model_copy(update={"products": kept})


def counted(project: Project) -> Quantities:
    found = quantities_of(project)
    assert found is not None
    return found


def test_two_edges_of_2400_mm_are_counted() -> None:
    """Six strips of 165 mm come out of a board, and there are four pieces: one board, two joints of 150 + 2 x 50 mm."""
    found = counted(small_project())
    assert (found.pieces, found.boards, found.lower_bound, found.optimal) == (4, {"B-120": 1}, 1, True)
    assert (found.joints, found.tape_mm) == (2, 2 * (150 + 2 * 50))
    assert (found.brackets, found.anchors, found.no_size, found.no_stand) == ({"K-110": 8}, 8, 0, 0)


def test_each_run_is_counted_at_its_own_gaps() -> None:
    """At 100 mm a bracket of 110 mm reaches beyond the gap: the two pieces of L02 have none, and less tape."""
    project = small_project()
    first, second = project.gaps
    narrow = project.model_copy(update={"gaps": (first, second.model_copy(update={"gap_mm": 100}))})
    found = counted(narrow)
    assert (found.brackets, found.anchors, found.no_size, found.no_stand) == ({"K-110": 4}, 4, 2, 0)
    assert found.tape_mm == (150 + 2 * 50) + (100 + 2 * 50)


def test_junctions_and_the_rules_of_two_details_are_counted_as_in_the_plan() -> None:
    """A loop of three runs by two details: a taped joint where each run meets the next, at the wider of its gaps."""
    level = closed_level()
    counts = plan(level, advise=False).counts["L1"]
    found = counted(level)
    assert (found.joints, found.tape_mm, found.anchors) == (counts.joints, counts.tape_mm, counts.anchors)
    assert found.brackets == counts.brackets


def test_tape_is_needed_in_millimetres_and_paid_for_in_whole_rolls() -> None:
    project = small_project()
    assert needed_of(project, counted(project)) == {"B-120": 1, "K-110": 8, "A-1": 8, "T-1": 500}
    assert cost_of(project, {"T-1": 25_000}, {}) == Decimal("9.90")
    assert cost_of(project, {"T-1": 25_001}, {}) == 2 * Decimal("9.90")
    assert cost_of(project, {"T-1": 23_000}, {"T-1": Fraction(5, 100)}) == Decimal("9.90")


def test_what_no_product_is_for_or_nothing_is_needed_of_is_left_out() -> None:
    bare = without(small_project(), "anchor", "tape")
    assert needed_of(bare, counted(bare)) == {"B-120": 1, "K-110": 8}
    project = small_project()
    nothing = replace(counted(project), boards={"B-120": 0}, brackets={}, anchors=0, tape_mm=0)
    assert needed_of(project, nothing) == {}


def test_a_cost_is_that_of_whole_packs_with_the_allowance_in_them() -> None:
    project = small_project()
    assert cost_of(project, {"B-120": 4}, {}) == 212
    assert cost_of(project, {"B-120": 5}, {}) == 2 * 212
    assert cost_of(project, {"B-120": 4}, {"B-120": Fraction(1, 100)}) == 2 * 212
    assert cost_of(project, {"B-120": 3, "K-110": 26}, {"B-120": Fraction(1, 3)}) == 212 + 2 * Decimal(
        "60.50"
    )


def test_nothing_is_counted_where_no_piece_can_be_placed() -> None:
    project = small_project()
    wide = tuple(gap.model_copy(update={"gap_mm": 999}) for gap in project.gaps)
    assert quantities_of(project.model_copy(update={"gaps": wide})) is None


def test_a_written_rate_stands_for_every_product_of_its_kind_and_a_simulated_one_for_none() -> None:
    project = small_project()
    second = project.products[0].model_copy(update={"code": "B-240"})
    rows = (
        Allowance(kind="board", fraction=Decimal("0.02")),
        Allowance(kind="bracket", fraction="simulated"),
    )
    changed = project.model_copy(update={"allowance": rows, "products": (*project.products, second)})
    assert flat_fractions(changed) == {"B-120": Fraction(1, 50), "B-240": Fraction(1, 50)}
