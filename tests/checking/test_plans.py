"""The judge accepts a plan worked out by hand and finds every single figure that is changed in it."""

from __future__ import annotations

from typing import Any

import pytest

from optimiser.checking import broken_rules_of_plan
from optimiser.model.project import Heading, Project
from optimiser.planning.plan import plan as make_plan
from tests.builders.checking_examples import PLAN, PROJECT, REMOVED, changed, plan_with, right_project
from tests.builders.levels import building
from tests.builders.small_plan import small_plan


def test_the_plan_worked_out_by_hand_breaks_no_rule() -> None:
    assert broken_rules_of_plan(plan_with()) == []
    assert broken_rules_of_plan(plan_with(), right_project()) == []


PIECE = PLAN["pieces"][0]  # type: ignore[index]
STRIP = PLAN["layouts"][0]["strips"][0]  # type: ignore[index]
REMAINDER = PLAN["remainders"][0]  # type: ignore[index]
LINES = PLAN["order"]["lines"]  # type: ignore[index]

FAULTS: dict[str, tuple[dict[str, Any], str]] = {
    "a piece is dropped from the plan": (
        {"pieces.2": REMOVED},
        "run L01-N: nothing covers 2400 to 3000 mm",
    ),
    "a piece is dropped from the layouts": (
        {"layouts.0.strips.2": REMOVED},
        "piece L01-N-003: it must be cut once, but the layouts cut it 0 times",
    ),
    "a piece is in the plan twice": ({"pieces.5": PIECE}, "piece L01-N-001: 2 pieces have this id"),
    "a piece is cut twice": (
        {"layouts.0.strips.5": STRIP},
        "piece L01-N-001: it must be cut once, but the layouts cut it 2 times",
    ),
    "a layout is repeated": (
        {"layouts.0.repeat": 2},
        "piece L01-N-001: it must be cut once, but the layouts cut it 2 times",
    ),
    "a layout cuts what nobody asked for": (
        {"layouts.0.strips.0.pieces.0.id": "X"},
        "piece X: the layouts cut it, but the plan has no such piece",
    ),
    "a width is 1 mm below its window": (
        {"pieces.0.cut_width_start_mm": 164, "pieces.0.cut_width_end_mm": 164},
        "run L01-N, piece L01-N-001: its cut width must be 165 to 172 mm, but is 164 mm",
    ),
    "a width is 1 mm above its window": (
        {"pieces.3.cut_width_start_mm": 116, "pieces.3.cut_width_end_mm": 116},
        "run L02-N, piece L02-N-001: its cut width must be 110 to 115 mm, but is 116 mm",
    ),
    "the stated window is wider than it is": (
        {"pieces.0.width_max_mm": 173},
        "its window 165 to 173 mm must hold the cut width 165 mm and lie within 165 to 172 mm",
    ),
    "one end is cut wider": (
        {"pieces.0.cut_width_end_mm": 166},
        "it is tapered from 165 to 166 mm, although one width, 165 mm, serves all of it",
    ),
    "a piece is cut narrower than planned": (
        {"layouts.0.strips.0.width_mm": 164, "layouts.0.strips.0.pieces.0.width_mm": 164},
        "layout 1, strip 1, piece L01-N-001: its width must be 165 to 165 mm, but is 164 mm",
    ),
    "without trimming the strip is wider than its piece": (
        {"layouts.0.strips.0.width_mm": 166},
        "without trimming a piece is as wide as its strip, 166 mm, but stands at 165 mm",
    ),
    "a piece is cut shorter than planned": (
        {"layouts.0.strips.0.pieces.0.length_mm": 1199},
        "layout 1, strip 1, piece L01-N-001: it must be 1200 mm long, but is cut 1199 mm",
    ),
    "a gap is misstated": ({"pieces.0.gap_min_mm": 149}, "gap_min_mm must be 150 rounded, but is 149"),
    "a joint stands on a mullion": (
        {"pieces.0.to_mm": 1800, "pieces.1.from_mm": 1800},
        "the joint of L01-N-001 and L01-N-002 at 1800 mm must be at least 100 mm from every mullion",
    ),
    "a piece is longer than its board": (
        {"pieces.0.to_mm": 1250, "pieces.1.from_mm": 1250},
        "run L01-N, piece L01-N-001: it is 1250 mm long, but its board only 1200 mm",
    ),
    "a piece is needlessly short": (
        {"project.runs.1.length_mm": 1400, "pieces.4.to_mm": 1400},
        "run L02-N, piece L02-N-002: it is 200 mm long, but must be at least 300 mm where the run allows, and"
        " the joint with L02-N-001 could be at 1100 mm",
    ),
    "two pieces overlap": (
        {"pieces.0.to_mm": 1201},
        "L01-N-002: it begins at 1200 mm, where the run is covered up to 1201 mm already",
    ),
    "a piece is on another level": ({"pieces.0.level": "L02"}, "the run is on level L01, but the piece says"),
    "a piece is on an unknown run": (
        {"pieces.0.run": "X"},
        "run X, piece L01-N-001: the project has no such",
    ),
    "a basis is misstated": ({"pieces.0.basis": "nominal"}, "its run's gaps are all measured, but the piece"),
    "a board that the run does not allow": (
        {"pieces.0.boards": ["B-99"]},
        "the run may be served by B-120, not by B-99",
    ),
    "a mullion is missing": ({"pieces.0.mullions_at_mm": []}, "its mullions stand at 500 mm of the run"),
    "a notch is off": ({"pieces.1.notches_at_mm": [601]}, "its notches must be at 600 mm from its start"),
    "a bracket is moved": (
        {"pieces.0.brackets_at_mm": [310, 900]},
        "its brackets must stand at 300, 900 mm, but stand at 310, 900",
    ),
    "a bracket is missing": (
        {"pieces.0.brackets_at_mm": [300]},
        "its brackets must stand at 300, 900 mm, but stand at 300",
    ),
    "a bracket stands on a mullion": (
        {"pieces.0.brackets_at_mm": [500, 900]},
        "the bracket at 500 mm must be at least 75 mm from every mullion",
    ),
    "a bracket is too long": ({"pieces.0.bracket": "K-120"}, "K-110 is nearer to 0.75 of the gap than K-120"),
    "a bracket is too short": (
        {"pieces.0.bracket": "K-75"},
        "bracket K-75 reaches 75 mm into gaps of 150, 150",
    ),
    "a bracket is a board": ({"pieces.0.bracket": "B-120"}, "B-120 is no bracket of the products"),
    "a bracket is left out": (
        {"pieces.0.bracket": None, "pieces.0.brackets_at_mm": []},
        "it has no bracket and is not listed as not planned",
    ),
    "joints are miscounted": ({"counts.L01.joints": 3}, "counts of L01: joints must be 2, but is 3"),
    "brackets are miscounted": (
        {"counts.L01.brackets.K-110": 4},
        "counts of L01: brackets K-110 must be 5, but are 4",
    ),
    "anchors are miscounted": ({"counts.L02.anchors": 5}, "counts of L02: anchors must be 4, but is 5"),
    "tape is 1 mm short": ({"counts.L01.tape_mm": 499}, "counts of L01: tape_mm must be 500, but is 499"),
    "counts are missing": ({"counts.L02": REMOVED}, "counts of L02: the level has pieces, but no counts"),
    "a board comes after its piece is needed": (
        {"layouts.0.stage": 20},
        "level L01 has sequence 10, its B-120 stage 20, which is later",
    ),
    "a stage that no level has": ({"layouts.0.stage": 5}, "layout 1: no level has the sequence 5, its stage"),
    "a piece is carried too far": (
        {"max_carry_stages": 0},
        "level L02 has sequence 20, its B-120 stage 10, so it is carried by 1, more than max_carry_stages 0",
    ),
    "a piece is carried although staged by level": (
        {"staging": "level"},
        "level L02 has sequence 20, its B-120 stage 10, but staged by level both are the same",
    ),
    "a later level's strip lies before an earlier one's": (
        {"layouts.0.strips.4": STRIP, "layouts.0.strips.0": PLAN["layouts"][0]["strips"][4]},  # type: ignore[index]
        "layout 1, strip 2: it is first needed with sequence 10, but lies beyond a strip first needed with 20,"
        " which would have to be cut before its delivery",
    ),
    "a remainder is not listed": (
        {"remainders.0": REMOVED},
        "remainder B001-R1: it waits from sequence 10 to 20, but the plan does not list it",
    ),
    "a remainder is listed twice": (
        {"remainders.1": REMAINDER},
        "remainder B001-R1: two remainders have this name",
    ),
    "a remainder that no board leaves": (
        {"remainders.1": REMAINDER | {"name": "B001-R2"}},
        "remainder B001-R2: no board leaves a remainder of this name",
    ),
    "a remainder without the kerf": (
        {"remainders.0.width_mm": 505},
        "remainder B001-R1: width_mm must be 499, but is 505",
    ),
    "a remainder is cut too early": (
        {"remainders.0.cut_stage": 10},
        "remainder B001-R1: it is kept with sequence 10, but cut with 10, not later",
    ),
    "a remainder waits for the wrong level": (
        {"remainders.0.waits_for": "L01"},
        "remainder B001-R1: waits_for must be a level of sequence 20, but is 'L01'",
    ),
    "a remainder comes from nowhere": (
        {"remainders.0.cut_from": "B002"},
        "remainder B001-R1: it is cut from B002, which is neither its board nor a remainder",
    ),
    "a remainder is larger than the one it comes from": (
        {
            "remainders.1": REMAINDER
            | {"name": "B001-R2", "cut_from": "B001-R1", "stage": 20, "width_mm": 500}
        },
        "remainder B001-R2: it is larger",
    ),
    "a remainder comes from one that is not cut then": (
        {"remainders.1": REMAINDER | {"name": "B001-R2", "cut_from": "B001-R1"}},
        "remainder B001-R2: it is cut from B001-R1 with sequence 10, but that is cut with 20",
    ),
    "an unknown stock": ({"layouts.0.stock": "stock-1"}, "'stock-1' is neither a board of the products nor"),
    "another code": ({"layouts.0.code": "B-99"}, "it may be cut from B-120, but lies in B-120 of B-99"),
    "a board is miscounted": ({"boards.B-120.count": 2}, "boards B-120: the layouts buy 1, but count is 2"),
    "the bound is above the boards": (
        {"boards.B-120.lower_bound": 2},
        "boards B-120: lower_bound must be 0 to count (1), but is 2",
    ),
    "optimal is said without proof": (
        {"boards.B-120.lower_bound": 0},
        "boards B-120: optimal is said, but lower_bound is 0 and count 1",
    ),
    "the proof counts other boards": (
        {"proofs.0.boards": 2},
        "the plan buys 1 of these boards, but it says 2",
    ),
    "the proof's bound is above": (
        {"proofs.0.lower_bound": 2},
        "lower_bound must be 0 to boards (1), but is 2",
    ),
    "the bound over all joints is above that of these": (
        {"proofs.0.lower_bound_any_joints": 2},
        "lower_bound_any_joints must be 0 to the bound for these joints (1), since they are among all joints, but is 2",
    ),
    "the bound over all joints is below nothing": (
        {"proofs.0.lower_bound_any_joints": -1},
        "lower_bound_any_joints must be 0 to the bound",
    ),
    "the cost bound over all joints is above that of these": (
        {"proofs.0.lower_bound_cents_any_joints": 5301},
        "lower_bound_cents_any_joints must be 0 to the bound for these joints (5300)",
    ),
    "the proof costs a cent more": (
        {"proofs.0.cost_cents": 5301},
        "the boards cost 5300.00 cents, but it says",
    ),
    "the proof is missing": ({"proofs.0": REMOVED}, "boards B-120: one proof must be about them, but 0 are"),
    "left-over that is not there": (
        {"left_over.0.width_mm": 276},
        "left-over 1200 x 276 mm of B-120, stage 10: 1 of 1 do not remain of any board",
    ),
    "left-over without the kerf": (
        {"left_over.1.length_mm": 600},
        "left-over 600 x 165 mm of B-120, stage 10: 1 of 1 do not remain of any board",
    ),
    "left-over counted twice": ({"left_over.0.quantity": 2}, "1 of 2 do not remain of any board"),
    "bought area": ({"waste.bought_mm2": 1_200_001}, "waste: bought_mm2 must be 1200000, but is 1200001"),
    "fitted area": ({"waste.fitted_mm2": 759_001}, "waste: fitted_mm2 must be 759000, but is 759001"),
    "reusable area": ({"waste.reusable_offcut_mm2": 428_669}, "waste: reusable_offcut_mm2 must be 428670"),
    "scrap area": ({"waste.scrap_mm2": 12_331}, "waste: bought and stock are 1200000 mm2, but fitted"),
    "scrap share": ({"waste.scrap_fraction": 0.0105}, "waste: scrap_fraction must be 0.0103, but is 0.0105"),
    "no share at all": (
        {"waste.scrap_fraction": float("nan")},
        "waste: scrap_fraction must be 0.0103, but is nan",
    ),
    "a line is dropped": (
        {"order.lines.4": REMOVED},
        "order, K-75 for L02: 4 are needed, but no line orders",
    ),
    "a line stands twice": (
        {"order.lines.7": LINES[6]},
        "order, T-75 for L02: it has 2 lines instead of one",
    ),
    "lines out of order": (
        {"order.lines.0": LINES[6], "order.lines.6": LINES[0]},
        "order: its lines must stand in the order of delivery",
    ),
    "needed": ({"order.lines.1.needed": 6}, "order, K-110 for L01: needed must be 5, but is 6"),
    "allowance rounded a level": (
        {"order.lines.5.allowance": 1, "order.lines.5.quantity": 5},
        "order, A-8 for L02: allowance must be 0, 0.1 of the 9 needed so far rounded up less the 1 before",
    ),
    "quantity": ({"order.lines.1.quantity": 7}, "order, K-110 for L01: quantity must be 6, but is 7"),
    "packs rounded a level": (
        {"order.lines.5.packs": 1, "order.lines.5.amount": "6.10", "order.total": "271.70"},
        "order, A-8 for L02: packs must be 0, for the 10 so far in packs of 10 less the 1 before, but is 1",
    ),
    "price": ({"order.lines.0.price": "212.01"}, "order, B-120 for L01: price must be 212.00, but is 212.01"),
    "amount by a cent": ({"order.lines.1.amount": "20.01"}, "order, K-110 for L01: amount must be 20.00"),
    "total by a cent": (
        {"order.total": "265.61"},
        "order: its lines add up to 265.60, but the total is 265.61",
    ),
    "currency": ({"order.currency": "EUR"}, "order: the project's currency is AUD, but the order's EUR"),
    "delivered on a public holiday": (
        {"order.lines.0.deliver_on": "2027-01-26"},
        "order, B-120 for L01: deliver_on must be 2027-01-25, but is 2027-01-26",
    ),
    "ordered a working day too late": (
        {"order.lines.0.order_by": "2027-01-05"},
        "order, B-120 for L01: order_by must be 2027-01-04, but is 2027-01-05",
    ),
    "a delivery's packs": (
        {"deliveries.0.packs.K-110": 3},
        "the order has 2 packs of K-110, but the delivery 3",
    ),
    "a delivery's amount": ({"deliveries.1.amount": "23.26"}, "its lines add up to 23.25, but it says 23.26"),
    "a delivery's date": ({"deliveries.1.deliver_on": "2027-02-23"}, "deliver_on must be 2027-02-22, but is"),
    "a delivery's sequence": (
        {"deliveries.1.sequence": 21},
        "delivery for L02: sequence must be 20, but is 21",
    ),
    "a delivery is dropped": (
        {"deliveries.1": REMOVED},
        "delivery for L02: the order has packs for it, but no",
    ),
    "a measured level is a forecast": (
        {"levels.0.status": "forecast"},
        "level L01: status must be firm, but is forecast",
    ),
    "a measured level waits to be measured": (
        {"levels.1.measure_by": "2027-02-01"},
        "level L02: measure_by must be None, but is 2027-02-01",
    ),
    "a level's delivery on another day": (
        {"levels.1.deliver_on": "2027-02-23"},
        "level L02: deliver_on must be 2027-02-22, but is 2027-02-23",
    ),
    "a level is not listed": (
        {"levels.1": REMOVED},
        "levels: they must be L01, L02, in this order, but are L01",
    ),
    "a firm line is a forecast": (
        {"order.lines.0.status": "forecast"},
        "order, B-120 for L01: status must be firm, but is forecast",
    ),
    "a board of measured levels is not ready": (
        {"layouts.0.cut_ready": False},
        "layout 1: cut_ready must be True, since all of its pieces are measured, but is False",
    ),
    "draws of a complete survey": (
        {
            "forecast": {
                "service_level": 0.95,
                "draws": 300,
                "seed": 0,
                "covered": 290,
                "covered_alone": 100,
                "cost": "265.60",
                "least_cost": "265.60",
                "proved": True,
            }
        },
        "forecast: no nominal gap has a tolerance, so nothing is drawn",
    ),
    "a roll too few": (
        {"order.lines.6.needed": 0, "order.lines.6.quantity": 0},
        "order, T-75 for L02: 700 mm of tape so far, with an allowance of 0 on 700 mm of it, are 2 of 600 mm, but the",
    ),
    "no caution": ({"cautions": [" "]}, "cautions: a plan must show the usual cautions, but has none"),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_one_changed_figure_is_found_and_named(fault: str) -> None:
    changes, expected = FAULTS[fault]
    broken = broken_rules_of_plan(plan_with(changes))
    assert any(expected in line for line in broken), broken


def test_a_number_of_hundreds_of_digits_is_judged_like_any_other() -> None:
    """No float holds it; JSON does."""
    plan, huge = small_plan(), 10**400
    many = tuple(layout.model_copy(update={"repeat": huge}) for layout in plan.layouts)
    broken = "\n".join(broken_rules_of_plan(plan.model_copy(update={"layouts": many})))
    assert "waste: bought_mm2 must be a number of hundreds of digits, but is 1200000" in broken
    long = tuple(
        piece.model_copy(update={"cut_width_start_mm": huge, "to_mm": huge}) for piece in plan.pieces
    )
    assert broken_rules_of_plan(plan.model_copy(update={"pieces": long}))
    far = tuple(piece.model_copy(update={"brackets_at_mm": (300, huge)}) for piece in plan.pieces)
    broken = "\n".join(broken_rules_of_plan(plan.model_copy(update={"pieces": far})))
    assert "brackets at 300, a number of hundreds of digits must stand in order" in broken
    for field in ("bought_mm2", "stock_mm2", "fitted_mm2", "reusable_offcut_mm2", "scrap_mm2"):
        waste = plan.waste.model_copy(update={field: huge})
        assert "waste: " in "\n".join(broken_rules_of_plan(plan.model_copy(update={"waste": waste}))), field


def test_a_plan_of_no_board_at_all_is_judged_too() -> None:
    nothing = {"bought_mm2": 0, "stock_mm2": 0, "fitted_mm2": 0, "reusable_offcut_mm2": 0, "scrap_mm2": 0}
    bare = plan_with(
        {"layouts": [], "left_over": [], "pieces": [], "waste": nothing | {"scrap_fraction": 0.5}}
    )
    assert any("scrap_fraction must be 0.0000, but is 0.5" in line for line in broken_rules_of_plan(bare))


def test_a_plan_of_another_project_is_named_with_the_first_differences() -> None:
    other = Project.model_validate(
        changed(PROJECT, {"gaps.0.gap_mm": 151, "runs.1.length_mm": 2500, "detail.kerf_mm": 3})
    )
    broken = broken_rules_of_plan(plan_with(), other)
    assert any(line.startswith("project, detail.kerf_mm: the plan was made with (2)") for line in broken)
    assert any(line.startswith("project, gaps row 1: ") for line in broken)
    assert any(line.startswith("project, runs row 2: ") for line in broken)
    # ... and the plan is judged by the project given.
    assert any("nothing covers 2400 to 2500 mm" in line for line in broken)
    assert any("its cut width must be 167 to 173 mm, but is 165 mm" in line for line in broken)


def test_a_row_more_or_less_is_a_difference() -> None:
    other = Project.model_validate(changed(PROJECT, {"allowance.1": REMOVED}))
    assert any(
        line.startswith("project, allowance row 2: ") and "has (missing)" in line
        for line in broken_rules_of_plan(plan_with(), other)
    )


def test_a_placeholder_must_be_warned_of_by_name() -> None:
    without_kerf = {"project.detail.tape_lap_mm": REMOVED}
    assert any(
        line.startswith("warnings: tape_lap_mm stands at a placeholder")
        for line in broken_rules_of_plan(plan_with(without_kerf))
    )
    warned = without_kerf | {"warnings": ["Placeholders: tape_lap_mm 50."]}
    assert broken_rules_of_plan(plan_with(warned)) == []


def test_what_is_counted_but_not_sold_needs_a_warning_instead_of_a_line() -> None:
    sold_no_tape = {
        "project.products.5": REMOVED,
        "order.lines.6": REMOVED,
        "order.lines.3": REMOVED,
        "order.total": "257.10",
        "deliveries.0.packs.T-75": REMOVED,
        "deliveries.1.packs.T-75": REMOVED,
        "deliveries.0.amount": "238.10",
        "deliveries.1.amount": "19.00",
    }
    assert broken_rules_of_plan(plan_with(sold_no_tape)) == [
        "warnings: tape is needed but not among the products, and no warning says so"
    ]
    assert broken_rules_of_plan(plan_with(sold_no_tape | {"warnings": ["No tape is sold."]})) == []


def test_a_simulated_allowance_adds_nothing_to_measured_levels() -> None:
    simulated = {"project.allowance.0.fraction": "simulated"}
    assert broken_rules_of_plan(plan_with(simulated)) == [
        "order, A-8 for L01: allowance must be 0, 0 of the 5 needed so far rounded up less the 0 before, but is 1"
    ]
    negative = simulated | {"order.lines.5.allowance": -1, "order.lines.5.quantity": 3}
    assert any("must not be negative" in line for line in broken_rules_of_plan(plan_with(negative)))


STOCK = {
    "waiting": {"pieces": 0, "piece_stages": 0, "remainders": 0, "lower_bound_piece_stages": 0},
    "project.stock": [{"code": "B-120", "length_mm": 1200, "width_mm": 400, "level": "L02"}],
    "layouts.0.strips.4": REMOVED,
    "layouts.0.strips.3": REMOVED,
    "layouts.1": {
        "stock": "stock-1",
        "code": "B-120",
        "stage": 20,
        "strips": PLAN["layouts"][0]["strips"][3:],  # type: ignore[index]
    },
    "remainders": [],
    "left_over": [],
    "waste": {
        "bought_mm2": 1_200_000,
        "stock_mm2": 480_000,
        "fitted_mm2": 759_000,
        "reusable_offcut_mm2": 0,
        "scrap_mm2": 921_000,
        "scrap_fraction": 921 / 1680,
    },
}


def test_material_on_site_is_used_within_its_quantity_level_and_code() -> None:
    assert broken_rules_of_plan(plan_with(STOCK)) == []
    early = broken_rules_of_plan(plan_with(STOCK | {"layouts.1.stage": 10}))
    assert "layout 2: stock-1 is on site from level L02, sequence 20, but is cut in stage 10" in early
    other_code = broken_rules_of_plan(plan_with(STOCK | {"layouts.1.code": "B-99"}))
    assert "layout 2: stock-1 is of B-120, but the layout says 'B-99'" in other_code
    twice = {
        **STOCK,
        "layouts.1": STOCK["layouts.1"] | {"strips": PLAN["layouts"][0]["strips"][3:4]},  # type: ignore
        "layouts.2": STOCK["layouts.1"] | {"strips": PLAN["layouts"][0]["strips"][4:]},  # type: ignore
    }
    assert "stock-1: there are 1 on site, but the layouts cut 2" in broken_rules_of_plan(plan_with(twice))


def test_boards_of_levels_delivered_together_are_ordered_for_the_level_that_they_serve() -> None:
    """Both levels share one delivery; the only board holds L02's pieces alone, so L02 orders it."""
    apart = {
        "project.levels.1.sequence": 10,
        "deliveries.1.sequence": 10,
        "layouts.0.strips": PLAN["layouts"][0]["strips"][3:],  # type: ignore[index]
    }
    broken = broken_rules_of_plan(plan_with(apart))
    assert "order, B-120 for L02: 1 are needed, but no line orders them" in broken
    assert "order, B-120 for L01: needed must be 0, but is 1" in broken


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"quantity": 2}, "usable left-over 1200 x 670 mm of L1: there are not 2 of it among the left-overs"),
        (
            {"width_mm": 671},
            "usable left-over 1200 x 671 mm of L1: there are not 1 of it among the left-overs",
        ),
        ({"level": "L2"}, "usable left-over 1200 x 670 mm of L2: its level must be of sequence 10"),
        ({"level": "L9"}, "usable left-over 1200 x 670 mm of L9: its level must be of sequence 10"),
        ({"serves": ("L2",)}, "stage 10: it could serve L2, L3, but is said to serve L2"),
        ({"serves": ("L1", "L2", "L3")}, "stage 10: it could serve L2, L3, but is said to serve L1, L2, L3"),
        (None, "stage 10: it could serve L2, L3, but is said to serve no level"),
    ],
)
def test_a_left_over_that_is_said_to_be_usable_is_there_and_serves_later_levels(
    changes: dict[str, Any] | None, told: str
) -> None:
    """A board of 1000 mm a level, of which two pieces of 165 mm leave 670."""
    made = make_plan(building(), staging="level")
    assert broken_rules_of_plan(made) == []
    first, *rest = made.usable_left_over or ()
    usable = (*(() if changes is None else (first.model_copy(update=changes),)), *rest)
    assert told in "\n".join(broken_rules_of_plan(made.model_copy(update={"usable_left_over": usable})))
    twice = broken_rules_of_plan(made.model_copy(update={"usable_left_over": (first, first, *rest)}))
    assert twice == ["usable left-over 1200 x 670 mm of L1: there are not 1 of it among the left-overs"]
    assert broken_rules_of_plan(made.model_copy(update={"usable_left_over": None})) == []


def test_a_left_over_serves_no_farther_than_it_may_be_carried() -> None:
    near = make_plan(building(project=Heading(name="invented", max_carry_stages=1)), staging="level")
    assert [item.serves for item in near.usable_left_over or ()] == [("L2",), ("L3",)]
    first, *rest = near.usable_left_over or ()
    far = first.model_copy(update={"serves": ("L2", "L3")})
    broken = broken_rules_of_plan(near.model_copy(update={"usable_left_over": (far, *rest)}))
    assert len(broken) == 1
    assert "stage 10: it could serve L2, but is said to serve L2, L3" in broken[0]


def test_a_pattern_is_named_by_the_number_that_is_written_on_its_boards() -> None:
    """A plan of a job's rest numbers its patterns on from those before; every rule names them so."""
    numbered = plan_with({"layouts.0.number": 17, "layouts.0.stage": 5, "layouts.0.cut_ready": False})
    told = [line for line in broken_rules_of_plan(numbered) if line.startswith("layout")]
    assert "layout 17: no level has the sequence 5, its stage" in told
    assert "layout 17: cut_ready must be True, since all of its pieces are measured, but is False" in told
    assert {line.split(":")[0].split(",")[0] for line in told} == {"layout 17"}


def test_a_delivery_on_the_first_day_of_all_calendars_is_a_broken_rule_and_no_failure() -> None:
    """The day to order is then counted back as far as there are days."""
    early = plan_with(
        {"project.deliveries": [{"minimum_order": "1.00"}], "order.lines.0.deliver_on": "0001-01-01"}
    )
    assert any("order_by must be 0001-01-01" in line for line in broken_rules_of_plan(early))
