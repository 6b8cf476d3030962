"""What board takes on site: floor in stacks, weight, and what the floor carries."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from optimiser.checking import broken_rules_of_plan
from optimiser.checking.site_floor import layers as layers_judged
from optimiser.model.plan import Plan
from optimiser.model.project import DeliveryLimits, Project
from optimiser.ordering.site_floor import layers_of
from optimiser.planning.plan import plan
from tests.builders.levels import weekly


def weighed(kilograms: str = "14.4", **limits: Any) -> Project:
    """Boards of 1200 x 1000 x 120 mm; four come a week, 4.8 m2 of face."""
    base = weekly(**limits)
    products = tuple(
        product.model_copy(update={"weight_kg": Decimal(kilograms), "thickness_mm": 120})
        if product.kind == "board"
        else product
        for product in base.products
    )
    return base.model_copy(update={"products": products})


def planned(project: Project) -> Plan:
    return plan(project, staging="level")


@pytest.mark.parametrize(
    ("limits", "layers"),
    [
        ({}, 1),
        ({"floor_load_kg_m2": 60}, 1),  # nothing is stacked
        ({"stack_height_mm": 1200}, 10),
        ({"stack_height_mm": 1199}, 9),
        ({"stack_layers": 7}, 7),
        ({"stack_height_mm": 1200, "stack_layers": 7}, 7),
        ({"stack_height_mm": 1200, "floor_load_kg_m2": 60}, 5),  # 12 kg/m2 a layer
        ({"stack_height_mm": 1200, "floor_load_kg_m2": 59}, 4),
        ({"stack_height_mm": 1200, "floor_load_kg_m2": 11}, 1),
    ],
)
def test_a_stack_is_as_high_as_height_layers_and_floor_allow(limits: dict[str, Any], layers: int) -> None:
    (board,) = weighed().products_of("board")
    assert layers_of(DeliveryLimits(**limits), board) == layers
    assert layers_judged(DeliveryLimits(**limits), board) == layers


def test_floor_is_face_area_by_the_layers_of_a_stack() -> None:
    made = planned(weighed(stack_layers=4, combine="fewest_loads"))
    first = made.on_site[0]
    assert (first.face_mm2, first.floor_mm2) == (16 * 1_200_000, 4 * 1_200_000)
    assert first.weight_kg == Decimal("230.4")
    assert first.floor_load_kg_m2 == 48  # four layers of 12 kg/m2
    assert first.floor_load_kept is None


def test_without_a_stack_storage_is_face_area() -> None:
    made = planned(weighed(site_storage_m2=5))
    assert {there.floor_mm2 for there in made.on_site} == {None}
    assert made.on_site[0].face_mm2 == 4_800_000


def test_stacks_let_a_small_site_take_large_loads() -> None:
    """19.2 m2 of face in stacks of four are 4.8 m2 of floor."""
    flat = planned(weighed(site_storage_m2=5, combine="fewest_loads"))
    stacked = planned(weighed(site_storage_m2=5, stack_layers=4, combine="fewest_loads"))
    assert len(flat.deliveries) == 4
    assert len(stacked.deliveries) == 1


def test_stored_boards_cost_the_floor_that_they_take() -> None:
    flat = planned(weighed(delivery_cost="90.00", storage_cost="1.00"))
    stacked = planned(weighed(delivery_cost="90.00", storage_cost="1.00", stack_layers=4))
    assert flat.delivery_costs is not None
    assert stacked.delivery_costs is not None
    assert flat.delivery_costs.storage == Decimal("28.80")
    assert stacked.delivery_costs.storage == Decimal("7.20")


def test_a_layer_that_is_too_heavy_is_told() -> None:
    made = planned(weighed(stack_layers=4, floor_load_kg_m2=10))
    assert {there.floor_load_kept for there in made.on_site if there.face_mm2} == {False}
    (told,) = [warning for warning in made.warnings if "floor loading" in warning]
    assert "one layer of B-120 (12.0 kg/m2) is heavier than the floor_load_kg_m2 of 10" in told


def test_weights_are_told_without_any_limit() -> None:
    made = planned(weighed())
    assert made.on_site[0].weight_kg == Decimal("57.6")
    assert planned(weekly()).on_site == ()


def test_a_truck_carries_what_it_may_weigh() -> None:
    """A level's four boards are 57.6 kg, two levels' 115.2 kg."""
    made = planned(weighed(truck_payload_kg=100, combine="fewest_loads"))
    assert [(d.levels, d.trucks, d.weight_kg) for d in made.deliveries] == [
        (("L1",), 1, Decimal("57.6")),
        (("L2", "L3", "L4"), 2, Decimal("172.8")),
    ]
    larger = planned(weighed(truck_payload_kg=116, combine="fewest_loads"))
    assert [delivery.levels for delivery in larger.deliveries] == [("L1", "L2"), ("L3", "L4")]
    pallets = planned(weighed(truck_payload_kg=116, truck_pallets=1, combine="fewest_loads"))
    assert [delivery.trucks for delivery in pallets.deliveries] == [2, 2, 2, 2]


@pytest.mark.parametrize(
    ("field", "value", "told"),
    [
        ("face_mm2", 9, "face_mm2 must be"),
        ("floor_mm2", 9, "floor_mm2 must be"),
        ("floor_mm2", None, "floor_mm2 must be"),
        ("weight_kg", Decimal(1), "weight_kg must be 57.600, but is 1"),
        ("floor_load_kg_m2", Decimal(1), "floor_load_kg_m2 must be 48.000, but is 1"),
        ("floor_load_kept", False, "floor_load_kept must be True, but is False"),
        ("levels", (), "levels must be ('L1',)"),
    ],
)
def test_the_judge_finds_a_wrong_figure(field: str, value: Any, told: str) -> None:
    made = planned(weighed(stack_layers=4, floor_load_kg_m2=60))
    assert broken_rules_of_plan(made) == []
    first, *rest = made.on_site
    wrong = made.model_copy(update={"on_site": (first.model_copy(update={field: value}), *rest)})
    assert told in "\n".join(broken_rules_of_plan(wrong))
    assert "it must tell of the 4 days" in "\n".join(
        broken_rules_of_plan(made.model_copy(update={"on_site": tuple(rest)}))
    )
