"""order.csv: a row an order line, documented columns, no text that a spreadsheet would run."""

import csv
import io
from decimal import Decimal

from optimiser.ordering.purchase_order import purchase_order
from optimiser.writing.supplier import csv as module
from optimiser.writing.supplier.csv import deliveries_csv, order_csv
from tests.builders import plans_by_hand
from tests.builders.forecast import forecast_plan
from tests.builders.small_plan import small_plan, small_project
from tests.builders.supplier_job import second_order


def rows() -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(order_csv(purchase_order(small_plan())), newline="")))


def test_a_row_a_line_and_none_for_what_earlier_packs_cover() -> None:
    assert [(row["level"], row["code"], row["packs"]) for row in rows()] == [
        ("L01", "B-120", "1"),
        ("L01", "K-110", "1"),
        ("L01", "A-1", "1"),
        ("L01", "T-1", "1"),
    ]


def test_numbers_dates_and_money_are_plain() -> None:
    order = second_order()
    (row, *_) = csv.DictReader(io.StringIO(order_csv(order), newline=""))
    assert row == {
        "document": "QY-3-R2",
        "order_reference": "QY-3",
        "revision": "2",
        "issued_on": "2027-01-25",
        "superseded_by": "",
        "replaces": "QY-3",
        "buyer": "Buyer (invented)",
        "supplier": "Supplier (invented)",
        "deliver_to": "Quarry Yard (invented)",
        "deliver_from": "07:00",
        "deliver_until": "11:00",
        "line": "1",
        "truckload": "1",
        "deliver_on": "2027-03-01",
        "status": "firm",
        "confirm_by": "",
        "level": "L01 L03",
        "kind": "board",
        "code": "B-120",
        "description": "board 1200 x 1000 x 120 mm, 4 in a pallet",
        "packs": "2",
        "per_pack": "4",
        "pack_name": "pallet",
        "list_price": "212.00",
        "from_packs": "2",
        "price": "204.35",
        "amount": "408.70",
        "tax_rate": "0.10",
        "weight_kg": "115.2",
        "change": "revised",
        "packs_before": "1",
        "price_before": "204.35",
        "deliver_on_before": "2027-03-01",
        "status_before": "firm",
        "subtotal": str(order.subtotal),
        "tax": str(order.tax),
        "total": str(order.total),
        "currency": "AUD",
    }


def test_what_a_revision_cancels_stands_last_with_no_packs() -> None:
    found = list(csv.DictReader(io.StringIO(order_csv(second_order()), newline="")))
    cancelled = [row for row in found if row["change"] == "cancelled"]
    assert found[-len(cancelled) :] == cancelled
    assert {(row["packs"], row["amount"], row["truckload"]) for row in cancelled} == {("0", "0.00", "")}


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
    lines = list(csv.DictReader(io.StringIO(order_csv(purchase_order(made)), newline="")))
    for row, delivery in zip(found, made.deliveries, strict=True):
        mine = [line for line in lines if line["deliver_on"] == row["deliver_on"]]
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


def test_a_forecast_line_says_so_and_by_when_it_is_confirmed() -> None:
    order = purchase_order(plans_by_hand.small_plan())
    found = list(csv.DictReader(io.StringIO(order_csv(order), newline="")))
    assert {(row["level"], row["status"], row["confirm_by"]) for row in found} == {
        ("L01", "firm", ""),
        ("L02", "forecast", "2027-02-22"),
    }


def test_every_column_is_documented() -> None:
    head = next(csv.reader(io.StringIO(deliveries_csv(small_plan()))))
    assert all(column in (module.__doc__ or "") for column in (*rows()[0], *head))


def test_names_from_the_project_are_neutralised_in_the_file() -> None:
    text = order_csv(purchase_order(small_plan(small_project(reference='=HYPERLINK("x")'))))
    assert next(csv.DictReader(io.StringIO(text)))["order_reference"] == '\'=HYPERLINK("x")'
