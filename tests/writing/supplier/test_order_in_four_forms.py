"""The order as PDF, workbook, csv and UBL, each read back: equal lines, equal sums, to the cent; and nothing of what
the buyer needs, allows for or has proved."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import openpyxl
import pypdf
import pytest

from optimiser.model.money import money_text
from optimiser.model.purchase_order import PurchaseOrder
from optimiser.ordering.purchase_order import purchase_order
from optimiser.writing.supplier.csv import order_csv
from optimiser.writing.supplier.pdf import order_pdf
from optimiser.writing.supplier.ubl import order_ubl
from optimiser.writing.supplier.workbook import order_xlsx
from tests.builders.forecast import forecast_plan
from tests.builders.order_document import read
from tests.builders.plans_by_hand import small_plan, tower
from tests.builders.supplier_job import first_order, second_order
from tests.writing.supplier.test_ubl import NAMES, words

ORDERS = {
    "first": first_order(),
    "second": second_order(),
    "forecast": purchase_order(forecast_plan()),
    "small": purchase_order(small_plan()),
    "tower": purchase_order(tower(4, 3, 6000)),
}


@dataclass(frozen=True)
class Found:
    """What a form says: (line, packs, price, amount) of each line, the subtotal, tax and total."""

    lines: dict[int, tuple[int, Decimal, Decimal]]
    subtotal: Decimal
    tax: Decimal
    total: Decimal


def of_order(order: PurchaseOrder) -> Found:
    lines = {line.number: (line.packs, line.price, line.amount) for line in order.lines}
    return Found(lines, order.subtotal, order.tax, order.total)


def amount(text: str) -> Decimal:
    return Decimal(text.replace(",", ""))


def text_of(order: PurchaseOrder, paper: str = "A4") -> str:
    pages = pypdf.PdfReader(io.BytesIO(order_pdf(order, paper))).pages
    return "\n".join(page.extract_text() for page in pages)


_LINE = re.compile(r"([\d,]+) ([\d,]+\.\d\d) ([\d,]+\.\d\d)(?: [\d,]+)?$")


def of_pdf(order: PurchaseOrder, paper: str = "A4") -> Found:
    """From the text: each row of a truckload begins with its number and ends in packs, price and amount."""
    text = text_of(order, paper)
    lines: dict[int, tuple[int, Decimal, Decimal]] = {}
    number = 0
    sections = text[text.index("\nTruckload 1 of ") :].partition("\nCancelled lines")[0]
    for row in sections.splitlines():
        codes = "|".join(re.escape(line.code) for line in order.lines)
        if begins := re.match(rf"(\d+) (?:{codes}) ", row):
            number = int(begins[1])
        if (ends := _LINE.search(row)) and number:
            assert number not in lines
            lines[number] = (int(amount(ends[1])), amount(ends[2]), amount(ends[3]))
            number = 0
    found = re.search(r"^Total [A-Z]{3}(?:, before tax)? ([\d,.]+)$", text, re.MULTILINE)
    before = re.search(r"^Subtotal before tax ([\d,.]+)$", text, re.MULTILINE)
    taxes = re.findall(r"^GST [\d.]+ % of [\d,.]+ ([\d,.]+)$", text, re.MULTILINE)
    assert found is not None
    total = amount(found[1])
    return Found(lines, amount(before[1]) if before else total, sum(map(amount, taxes), Decimal(0)), total)


def of_workbook(order: PurchaseOrder) -> Found:
    book = openpyxl.load_workbook(io.BytesIO(order_xlsx(order)), data_only=True)

    def cents(value: Any) -> Decimal:
        return Decimal(str(value)).quantize(Decimal("0.01"))

    head, *rows = book["Lines"].iter_rows(values_only=True)
    column = {name: place for place, name in enumerate(head)}
    lines = {
        row[0]: (row[column["Packs"]], cents(row[column["Price per pack"]]), cents(row[column["Amount"]]))
        for row in rows
        if isinstance(row[0], int) and row[column["Packs"]]
    }
    sums = {row[0]: row[1] for row in book["Order"].iter_rows(values_only=True) if row[0]}
    total = cents(next(value for name, value in sums.items() if name.startswith("Total")))
    tax = sum((cents(value) for name, value in sums.items() if name.startswith("GST")), Decimal(0))
    assert cents(rows[-1][column["Amount"]]) == cents(sums["Subtotal before tax"])
    return Found(lines, cents(sums["Subtotal before tax"]), tax, total)


def of_csv(order: PurchaseOrder) -> Found:
    rows = list(csv.DictReader(io.StringIO(order_csv(order), newline="")))
    lines = {
        int(row["line"]): (int(row["packs"]), Decimal(row["price"]), Decimal(row["amount"]))
        for row in rows
        if row["change"] != "cancelled"
    }
    ((subtotal, tax, total),) = {(row["subtotal"], row["tax"], row["total"]) for row in rows}
    return Found(lines, Decimal(subtotal), Decimal(tax or 0), Decimal(total))


def of_ubl(order: PurchaseOrder) -> Found:
    document = read(order_ubl(order))
    lines = {}
    for item in document.xpath("cac:OrderLine/cac:LineItem", namespaces=NAMES):
        if words(item, "cbc:LineStatusCode") == ["Cancelled"]:
            continue
        (number,), (packs,) = words(item, "cbc:ID"), words(item, "cbc:Quantity")
        (price,), (line_amount,) = (
            words(item, "cac:Price/cbc:PriceAmount"),
            words(item, "cbc:LineExtensionAmount"),
        )
        lines[int(number)] = (int(packs), Decimal(price), Decimal(line_amount))
    (subtotal,) = words(document, "cac:AnticipatedMonetaryTotal/cbc:LineExtensionAmount")
    (total,) = words(document, "cac:AnticipatedMonetaryTotal/cbc:PayableAmount")
    tax = words(document, "cac:TaxTotal/cbc:TaxAmount")
    parts = words(document, "cac:TaxTotal/cac:TaxSubtotal/cbc:TaxAmount")
    assert sum(map(Decimal, tax), Decimal(0)) == sum(map(Decimal, parts), Decimal(0))
    return Found(lines, Decimal(subtotal), Decimal(tax[0]) if tax else Decimal(0), Decimal(total))


FORMS: dict[str, Callable[[PurchaseOrder], Found]] = {
    "pdf": of_pdf,
    "pdf on Letter": lambda order: of_pdf(order, "Letter"),
    "workbook": of_workbook,
    "csv": of_csv,
    "ubl": of_ubl,
}


@pytest.mark.parametrize("name", ORDERS)
@pytest.mark.parametrize("form", FORMS)
def test_every_form_says_the_same_to_the_cent(form: str, name: str) -> None:
    order = ORDERS[name]
    found = FORMS[form](order)
    assert found == of_order(order)
    assert all(packs * price == line for packs, price, line in found.lines.values())
    assert sum((line for _, _, line in found.lines.values()), Decimal(0)) == found.subtotal
    assert found.subtotal + found.tax == found.total


def test_the_summary_of_products_adds_up_to_the_subtotal_at_the_prices_beside_it() -> None:
    text = text_of(first_order()).partition("Order summary")[2].partition("Truckload 1")[0]
    rows = re.findall(r"(?:firm|forecast) ([\d,]+) ([\d,.]+) ([\d,.]+)$", text, re.MULTILINE)
    assert len(rows) > 6
    assert all(amount(packs) * amount(price) == amount(line) for packs, price, line in rows)
    assert sum(amount(line) for _, _, line in rows) == first_order().subtotal
    assert f"Together before tax {first_order().subtotal:,}" in text


def test_a_section_a_truckload_and_none_of_nothing() -> None:
    text = text_of(first_order())
    sections = re.findall(r"^Truckload (\d+) of (\d+) · (\w+ [\d-]+) · 07:00 to 11:00$", text, re.MULTILINE)
    assert [int(number) for number, _, _ in sections] == [1, 2, 3]
    assert {of for _, of, _ in sections} == {"3"}
    assert sections[0][2] == sections[1][2] == "Monday 2027-03-01"
    assert "0.00" not in text.replace("0.00 ", "").split()


OWN = ("needed", "allowance", "lower bound", "no cutting", "proved", "surveys", "storage", "on site covers")


def everything(order: PurchaseOrder) -> dict[str, str]:
    book = openpyxl.load_workbook(io.BytesIO(order_xlsx(order)))
    cells = " ".join(
        str(cell.value) for sheet in book for row in sheet for cell in row if cell.value is not None
    )
    return {
        "pdf": text_of(order),
        "workbook": cells,
        "csv": order_csv(order),
        "ubl": order_ubl(order).decode(),
    }


@pytest.mark.parametrize("name", ORDERS)
def test_nothing_of_the_buyers_own_need_allowance_or_bound_is_shown(name: str) -> None:
    for form, text in everything(ORDERS[name]).items():
        for word in OWN:
            assert word not in text.lower(), f"{word!r} in {form}"


def test_parties_terms_and_the_revision_stand_in_every_form_that_people_read() -> None:
    told = everything(second_order())
    for form in ("pdf", "workbook", "ubl"):
        for word in (
            "QY-3-R2",
            "Quarry Road 1",
            "Oldbridge",
            "+61 2 5550 0300",
            "orders@buyer.invalid",
            "11 000 000 002",
            "30 days from the end of the month",
            "QY-C-7",
            "Q-2027-041",
            "one truck at a time",
            "2027-01-25",
            money_text(second_order().total) if form == "ubl" else "",
        ):
            assert word in told[form], f"{word!r} is not in the {form}"
    assert "replaces QY-3 of 2027-01-11" in told["pdf"]
    assert "QY-3-R2,QY-3,2,2027-01-25,,QY-3," in told["csv"]
