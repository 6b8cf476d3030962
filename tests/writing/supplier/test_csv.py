"""order.csv: a row an order line, documented columns, no text that a spreadsheet would run."""

import csv
import io
from decimal import Decimal

from optimiser.writing.supplier import csv as module
from optimiser.writing.supplier.csv import COLUMNS, deliveries_csv, order_csv
from tests.builders import plans_by_hand
from tests.builders.forecast import forecast_plan
from tests.builders.small_plan import small_plan, small_project


def rows() -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(order_csv(small_plan()), newline="")))


def test_a_row_an_order_line() -> None:
    assert [(row["level"], row["code"], row["packs"]) for row in rows()] == [
        ("L01", "B-120", "1"),
        ("L01", "K-110", "1"),
        ("L01", "A-1", "1"),
        ("L01", "T-1", "1"),
        ("L02", "K-110", "0"),
        ("L02", "A-1", "0"),
    ]


def test_numbers_dates_and_money_are_plain() -> None:
    assert rows()[0] == {
        "order_reference": "PO-17",
        "supplier": "Supplier (invented)",
        "buyer": "Buyer (invented)",
        "deliver_to": "",
        "level": "L01",
        "deliver_on": "2027-02-22",
        "order_by": "2027-02-01",
        "kind": "board",
        "code": "B-120",
        "needed": "1",
        "allowance": "1",
        "quantity": "2",
        "per_pack": "4",
        "packs": "1",
        "pack_name": "",
        "price": "212.00",
        "amount": "212.00",
        "currency": "AUD",
        "status": "firm",
        "measure_by": "",
        "delivery": "1",
        "weight_kg": "",
    }


def test_a_delivery_tells_its_loads_its_weight_and_the_sum_beside_its_bound() -> None:
    made = forecast_plan()
    found = list(csv.DictReader(io.StringIO(deliveries_csv(made), newline="")))
    costs = made.delivery_costs
    assert costs is not None
    assert [row["levels"] for row in found] == [" ".join(delivery.levels) for delivery in made.deliveries]
    assert sum(int(row["trucks"]) for row in found) == costs.loads
    assert sum(Decimal(row["delivery_cost"]) for row in found) == costs.delivery
    assert {(row["total_cost"], row["proved_minimum"]) for row in found} == {
        (f"{costs.total}", f"{costs.lower_bound}")
    }
    assert {row["status"] for row in found} <= {"firm", "forecast", "firm and forecast"}
    lines = list(csv.DictReader(io.StringIO(order_csv(made), newline="")))
    for row, delivery in zip(found, made.deliveries, strict=True):
        mine = [line for line in lines if line["delivery"] == row["delivery"]]
        assert Decimal(row["amount"]) == sum(Decimal(line["amount"]) for line in mine) == delivery.amount
        assert Decimal(row["weight_kg"]) == sum(Decimal(line["weight_kg"] or 0) for line in mine)
        on_its_day = next(there for there in made.on_site if there.day == delivery.deliver_on)
        assert (Decimal(row["site_weight_kg"]), row["floor_load_kept"]) == (on_its_day.weight_kg, "true")


def test_what_the_project_does_not_say_stays_empty() -> None:
    row = next(csv.DictReader(io.StringIO(deliveries_csv(small_plan()), newline="")))
    unknown = (
        "trucks",
        "weight_kg",
        "delivery_cost",
        "floor_m2",
        "site_weight_kg",
        "total_cost",
        "proved_minimum",
    )
    assert {row[name] for name in unknown} == {""}
    assert (row["status"], row["measure_by"]) == ("firm", "")


def test_a_forecast_line_says_so_and_by_when_its_level_is_measured() -> None:
    found = list(csv.DictReader(io.StringIO(order_csv(plans_by_hand.small_plan()), newline="")))
    assert {(row["level"], row["status"], row["measure_by"]) for row in found} == {
        ("L01", "firm", ""),
        ("L02", "forecast", "2027-02-22"),
    }


def test_every_column_is_documented() -> None:
    head = next(csv.reader(io.StringIO(deliveries_csv(small_plan()))))
    assert all(column in (module.__doc__ or "") for column in (*COLUMNS, *head))


def test_names_from_the_project_are_neutralised_in_the_file() -> None:
    text = order_csv(small_plan(small_project(reference='=HYPERLINK("x")')))
    assert next(csv.DictReader(io.StringIO(text)))["order_reference"] == '\'=HYPERLINK("x")'
