"""The optional tables of deliveries and price breaks: read alike in every form, faults told by cell."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest

from optimiser.model.project import DeliveryLimits, PriceBreak, Project
from optimiser.reading import UnusableInput, project_from_json, read_project
from tests.builders.project_tables import Table, csv_folder, json_file, json_value, tables, workbook

LIMITS: Table = [
    ["truck_pallets", "pallet_packs", "minimum_order", "site_storage_m2", "crane_days"],
    [12, 6, 1500.5, 180, "2027-02-19, 2027-02-26"],
]
BREAKS: Table = [["code", "from_packs", "price"], ["B-120", 10, 205], ["B-120", 20, 198]]


def test_workbook_csv_and_json_read_the_same(tmp_path: Path) -> None:
    content = tables(deliveries=LIMITS, price_breaks=BREAKS)
    projects = [
        read_project(workbook(tmp_path / "a.xlsx", content)),
        read_project(csv_folder(tmp_path / "csv", content)),
        read_project(json_file(tmp_path / "a.json", content)),
    ]
    assert projects[0] == projects[1] == projects[2]
    assert projects[0].delivery_limits == DeliveryLimits(
        truck_pallets=12,
        pallet_packs=6,
        minimum_order="1500.50",  # type: ignore[arg-type]
        site_storage_m2=180,
        crane_days=(date(2027, 2, 19), date(2027, 2, 26)),
    )
    assert projects[0].price_breaks[1] == PriceBreak(code="B-120", from_packs=20, price="198.00")  # type: ignore[arg-type]


WEIGHED: Table = [
    ["code", "kind", "length_mm", "width_mm", "thickness_mm", "per_pack", "price", "weight (kg)"],
    ["B-120", "board", 1200, 1000, 120, 4, 212.5, 14.4],
    ["K-110", "bracket", 110, None, None, 50, 74, None],
]
COSTS: Table = [
    ["truck_payload_kg", "trucks_a_delivery", "combine", "delivery_cost", "storage_cost", "stack_height_mm",
     "stack_layers", "floor_load_kg_m2", "delivery_weekday", "every_days"],
    [9000, 1, "Fewest_loads", 180, "1.50", 1200, 8, 250, "mon", 14],
]  # fmt: skip


def test_costs_weights_stacks_and_days_are_read_alike(tmp_path: Path) -> None:
    content = tables(products=WEIGHED, deliveries=COSTS)
    projects = [
        read_project(workbook(tmp_path / "a.xlsx", content)),
        read_project(csv_folder(tmp_path / "csv", content)),
        read_project(json_file(tmp_path / "a.json", content)),
    ]
    assert projects[0] == projects[1] == projects[2]
    assert str(projects[0].product("B-120").weight_kg) == "14.4"
    assert projects[0].delivery_limits == DeliveryLimits(
        truck_payload_kg=9000,
        trucks_a_delivery=1,
        combine="fewest_loads",
        delivery_cost="180.00",  # type: ignore[arg-type]
        storage_cost="1.50",  # type: ignore[arg-type]
        stack_height_mm=1200,
        stack_layers=8,
        floor_load_kg_m2=250,
        delivery_weekday="Monday",
        every_days=14,
    )
    again = project_from_json(json.loads(json.dumps(projects[0].model_dump(mode="json", by_alias=True))))
    assert again == projects[0]


@pytest.mark.parametrize(
    ("limits", "told"),
    [
        ({"trucks_a_delivery": 1}, "trucks_a_delivery = 1: needs a truck's size; write truck_pallets or"),
        ({"truck_payload_kg": 20}, "truck_payload_kg = 20: is less than a pack of B-120, 57.6 kg"),
        ({"stack_height_mm": 100}, "stack_height_mm = 100: is less than the thickness of B-120, 120"),
        ({"every_days": 7, "crane_days": "2027-02-19"}, "every_days = 7: crane_days already say the days"),
        ({"every_days": 10, "delivery_weekday": "Mon"}, "on Mondays only, it must be whole weeks; write 14"),
        (
            {"delivery_weekday": "Moonday"},
            "must be a day of the week, not 'Moonday'; write one such as Monday",
        ),
        ({"combine": "fewest"}, "combine = 'fewest': must be one of none, fewest_loads"),
        ({"floor_load_kg_m2": 0}, "floor_load_kg_m2 = 0"),
    ],
)
def test_limits_that_do_not_agree_are_told(tmp_path: Path, limits: dict[str, object], told: str) -> None:
    content = tables(products=WEIGHED, deliveries=[list(limits), list(limits.values())])
    with pytest.raises(UnusableInput) as refused:
        read_project(workbook(tmp_path / "a.xlsx", content))
    assert told in "\n".join(refused.value.lines())


@pytest.mark.parametrize(
    ("column", "limit", "told"),
    [
        (
            "thickness_mm",
            {"stack_height_mm": 1200},
            "thickness_mm: is missing for this board, and stack_height_mm",
        ),
        (
            "weight (kg)",
            {"floor_load_kg_m2": 250},
            "weight_kg: is missing for this board, and floor_load_kg_m2",
        ),
        (
            "weight (kg)",
            {"truck_payload_kg": 900},
            "weight_kg: is missing for this board, and truck_payload_kg",
        ),
    ],
)
def test_limits_need_the_boards_sizes_and_weights(
    tmp_path: Path, column: str, limit: dict[str, object], told: str
) -> None:
    place = WEIGHED[0].index(column)
    products = [WEIGHED[0], *([*row[:place], None, *row[place + 1 :]] for row in WEIGHED[1:])]
    content = tables(products=products, deliveries=[list(limit), list(limit.values())])
    with pytest.raises(UnusableInput) as refused:
        read_project(workbook(tmp_path / "a.xlsx", content))
    assert told in "\n".join(refused.value.lines())


@pytest.mark.parametrize(
    ("weight", "told"),
    [
        ("400 g", "write 0.40"),
        (0, "a weight must be above 0"),
        (1.2345, "to the gram"),
        (1e6, "absurdly heavy"),
        ("2 lb", "write it in kilograms"),
    ],
)
def test_weights_are_kilograms(tmp_path: Path, weight: object, told: str) -> None:
    products = [WEIGHED[0], [*WEIGHED[1][:-1], weight]]
    with pytest.raises(UnusableInput) as refused:
        read_project(workbook(tmp_path / "a.xlsx", tables(products=products)))
    assert told in "\n".join(refused.value.lines())


def test_a_project_survives_its_own_json() -> None:
    project = project_from_json(json_value(tables(deliveries=LIMITS, price_breaks=BREAKS)))
    again = project_from_json(json.loads(json.dumps(project.model_dump(mode="json", by_alias=True))))
    assert again == project


def test_without_the_tables_there_are_no_limits() -> None:
    project = project_from_json(json_value(tables()))
    assert project.delivery_limits is None
    only_prices = project_from_json(json_value(tables(price_breaks=BREAKS)))
    assert only_prices.delivery_limits == DeliveryLimits()


def test_an_object_is_read_as_the_one_row() -> None:
    value = json_value(tables()) | {"deliveries": {"site_storage_m2": 80, "crane_days": ["2027-02-19"]}}
    assert project_from_json(value).delivery_limits == DeliveryLimits(
        site_storage_m2=80, crane_days=(date(2027, 2, 19),)
    )


def test_a_sheet_may_have_a_title_above_its_headings(tmp_path: Path) -> None:
    content = tables(deliveries=[["What our site can take"], [], *LIMITS])
    assert read_project(workbook(tmp_path / "a.xlsx", content)).deliveries[0].site_storage_m2 == 180


@pytest.mark.parametrize(
    ("table", "rows", "told"),
    [
        ("deliveries", [*LIMITS, [3, 1, None, None, None]], "row 3, truck_pallets = 3: the limits stand in"),
        ("deliveries", [["truck_pallets"], [0]], "row 2, truck_pallets = 0: must be a whole number from 1"),
        ("deliveries", [["site_storage_m2"], ["lots"]], "site_storage_m2 = 'lots': must be a whole number of"),
        ("deliveries", [["crane_days"], ["2027-02-30"]], "row 2, crane_days = '2027-02-30'"),
        ("deliveries", [["crane_days"], ["03/04/2027"]], "crane_days = '03/04/2027'"),
        ("deliveries", [["crane_day", "minimum"], ["2027-02-19", 5]], ""),
        ("price_breaks", [BREAKS[0], ["B-12O", 10, 205]], "row 2, code = 'B-12O': 'B-12O' is no product; write B-120"),
        ("price_breaks", [*BREAKS, ["B-120", 20, 190]], "row 4, from_packs = 20: is already in row 3"),
        ("price_breaks", [*BREAKS, ["B-120", 30, 199]], "row 4, price = 199: more packs of B-120 cost more per pack"),
        ("price_breaks", [BREAKS[0], ["B-120", 1, 205]], "row 2, from_packs = 1: must be a whole number from 2"),
        ("price_breaks", [BREAKS[0], ["B-120", 5, None]], "row 2, price: is missing"),
    ],
)  # fmt: skip
def test_faults_name_their_cell_and_the_mend(tmp_path: Path, table: str, rows: Table, told: str) -> None:
    path = workbook(tmp_path / "a.xlsx", tables(**{table: rows}))
    if not told:
        assert read_project(path).deliveries
        return
    with pytest.raises(UnusableInput) as refused:
        read_project(path)
    assert told in "\n".join(refused.value.lines())


def test_the_model_refuses_what_reading_would_have_told() -> None:
    sound = project_from_json(json_value(tables()))
    for breaks in (
        [PriceBreak(code="B-9", from_packs=2, price="1.00")],  # type: ignore[arg-type]
        [PriceBreak(code="B-120", from_packs=2, price="1.00")] * 2,  # type: ignore[arg-type]
    ):
        with pytest.raises(ValueError, match="price break"):
            Project(**{**dict(sound), "price_breaks": tuple(breaks)})
