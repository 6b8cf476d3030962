"""The parties of an order and its terms: read alike in every form, faults told by cell."""

from __future__ import annotations

from datetime import time
from decimal import Decimal
from pathlib import Path

import pytest

from optimiser.model.parties import Party
from optimiser.reading import UnusableInput, project_from_json, read_project
from tests.builders.project_tables import Table, csv_folder, json_file, json_value, tables, workbook

PARTIES: Table = [
    ["party", "name", "address", "postcode", "city", "country", "contact", "telephone", "email", "tax_number"],
    ["buyer", None, "Harbour Lane 9", 2000, "Newport", "au", "A. Buyer", "+61 2 5550 0100", "a@buyer.invalid", "11 0"],
    ["deliver_to", "Gate 3", "Harbour Lane 11", "0800", "Newport", "AU", None, None, None, None],
]  # fmt: skip
TERMS: Table = [
    [
        "currency",
        "buyer",
        "payment_terms",
        "delivery_from",
        "delivery_until",
        "unloading",
        "tax_name",
        "tax_rate",
    ],
    ["AUD", "Northwall Facades", "30 days net", "7:00", "11.30", "by crane", "GST", "10 %"],
]


def test_workbook_csv_and_json_read_the_same(tmp_path: Path) -> None:
    content = tables(parties=PARTIES, project=TERMS)
    projects = [
        read_project(workbook(tmp_path / "a.xlsx", content)),
        read_project(csv_folder(tmp_path / "csv", content)),
        read_project(json_file(tmp_path / "a.json", content)),
    ]
    assert projects[0] == projects[1] == projects[2]
    found = projects[0]
    assert found.party("buyer") == Party(
        party="buyer", name="Northwall Facades", address="Harbour Lane 9", postcode="2000", city="Newport",
        country="AU", contact="A. Buyer", telephone="+61 2 5550 0100", email="a@buyer.invalid", tax_number="11 0",
    )  # fmt: skip
    assert found.party("deliver_to").lines == ("Gate 3", "Harbour Lane 11", "0800 Newport, AU")
    assert found.party("supplier").name == found.project.supplier
    heading = found.project
    assert (heading.delivery_from, heading.delivery_until) == (time(7), time(11, 30))
    assert (heading.payment_terms, heading.tax_name, heading.tax_rate) == (
        "30 days net",
        "GST",
        Decimal("0.10"),
    )


def test_a_project_reads_itself_back(tmp_path: Path) -> None:
    project = read_project(workbook(tmp_path / "a.xlsx", tables(parties=PARTIES, project=TERMS)))
    assert project_from_json(project.model_dump(mode="json", by_alias=True)) == project


@pytest.mark.parametrize(
    ("table", "rows", "fault"),
    [
        ("parties", [PARTIES[0], PARTIES[1], PARTIES[1]], "row 3, party = 'buyer': is already in row 2; keep one"),
        ("parties", [["party", "name"], ["seller", "X"]],
         "party = 'seller': must be one of buyer, supplier, deliver_to"),
        ("parties", [["party", "country"], ["buyer", "AU-NSW"]], "row 2, country = 'AU-NSW': must be a country's code"
         " of two letters (ISO 3166-1); write AU"),
        ("project", [["delivery_from"], ["half past six"]], "must be a time of day; write it as 07:00"),
        ("project", [["delivery_from"], [0.25]],
         "is a number, not a time of day; format the cell as a time, or write 06:00"),
        ("project", [["delivery_from", "delivery_until"], ["11:00", "07:00"]],
         "delivery_from (11:00) is not before delivery_until (07:00)"),
        ("project", [["tax_rate"], [10]], "tax_rate = 10: must be a rate"),
    ],
)  # fmt: skip
def test_a_fault_has_its_place_and_its_mend(tmp_path: Path, table: str, rows: Table, fault: str) -> None:
    content = tables(**{"project": TERMS, table: rows})
    with pytest.raises(UnusableInput) as refused:
        read_project(workbook(tmp_path / "a.xlsx", content))
    assert any(fault in line for line in refused.value.lines()), refused.value.lines()
    with pytest.raises(UnusableInput):
        project_from_json(json_value(content))
