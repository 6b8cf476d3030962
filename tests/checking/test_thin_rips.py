"""Rips thinner than the detail's `strip_min_mm`: each told once, on the plan worked out by hand."""

from __future__ import annotations

from typing import Any

import pytest

from optimiser.checking.building import Building
from optimiser.checking.thin_rips import broken_rules_of_thin_rips
from tests.builders.checking_examples import plan_with

FOURTH = {"layout": 1, "kind": "strip", "strip": 4, "width_mm": 110}
FIFTH = {"layout": 1, "kind": "strip", "strip": 5, "width_mm": 110}


def judged(strip_min_mm: int, *rips: dict[str, Any], **changes: Any) -> list[str]:
    """The judge's lines where the detail asks for so many millimetres and the plan lists these rips."""
    plan = plan_with({"project.detail.strip_min_mm": strip_min_mm, "thin_rips": list(rips), **changes})
    return list(broken_rules_of_thin_rips(Building(plan.project, plan)))


def test_every_strip_thinner_than_asked_for_is_listed_once() -> None:
    """Three strips are 165 mm wide and two 110; the edge of 275 mm is kept."""
    assert judged(110) == []
    assert judged(111, FOURTH, FIFTH) == []
    assert judged(165, FOURTH, FIFTH) == []
    assert judged(111, FOURTH) == [
        "thin_rips: layout 1 rips 110 mm (strip), less than strip_min_mm, but it is not listed"
    ]
    assert judged(111, FOURTH, FIFTH, FIFTH) == [
        "thin_rips: layout 1 is said to rip 110 mm (strip), but it does not"
    ]


@pytest.mark.parametrize(("least", "thin"), [(3, False), (4, True)])
def test_what_is_trimmed_beside_a_piece_is_listed_where_it_is_thinner(least: int, thin: bool) -> None:
    """The first strip 3 mm wider than its piece of 165 mm; where it may be trimmed, the sliver is 3 mm."""
    wider: dict[str, Any] = {"layouts.0.strips.0.width_mm": 168, "project.detail.trim": True}
    trim = {"layout": 1, "kind": "trim", "strip": 1, "piece": "L01-N-001", "width_mm": 3}
    kept = {"left_over.0.width_mm": 272}
    assert judged(least, *[trim] * thin, **wider, **kept) == []
    assert len(judged(least, *[trim] * (not thin), **wider, **kept)) == 1


@pytest.mark.parametrize(("board_mm", "absorbed"), [(754, True), (755, False)])
def test_an_edge_must_be_absorbed_by_strips_that_have_room_for_it(board_mm: int, absorbed: bool) -> None:
    """Five strips and their kerfs take 725 mm, and their windows leave 3 x 7 and 2 x 5 mm: room for an edge of 29 and
    a kerf of 2, not for one of 30. Whether it had to be or not, it is listed."""
    off = board_mm - 725
    narrow: dict[str, Any] = {"project.products.0.width_mm": board_mm, "left_over": []}
    edge = {"layout": 1, "kind": "edge", "width_mm": off}
    told = [
        f"layout 1: {off} mm is ripped off the edge, less than strip_min_mm 40, although its strips may be wider by as"
        " much"
    ]
    assert judged(40, edge, **narrow) == told * absorbed
    assert judged(40, **narrow)[absorbed:] == [
        f"thin_rips: layout 1 rips {off} mm (edge), less than strip_min_mm, but it is not listed"
    ]
    assert judged(off, **narrow) == []
