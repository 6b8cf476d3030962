"""The optional tables of deliveries and price breaks: read alike in every form, faults told by cell."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest

from optimiser.project import DeliveryLimits, PriceBreak, Project
from optimiser.reading import UnusableInput, project_from_json, read_project
from tests.project_tables import Table, csv_folder, json_file, json_value, tables, workbook

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
        ("price_breaks", [*BREAKS, ["B-120", 30, 199]], "row 4, price = 199: more packs of B-120 cost more a pack"),
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
