"""What is exchanged with suppliers and colleagues: offers, answers to an order, the order itself, scenarios."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

from tests.fuzzing import mutations
from tests.fuzzing.promises import NotHeld, refused_well, small_plan


def read_offers_file(data: bytes) -> bool:
    """Suppliers' offers, csv or UBL."""
    from optimiser.reading.offers import offers_of

    return bool(refused_well(lambda: offers_of(data, "offers.csv")))


def read_supplier_answer(data: bytes) -> bool:
    """A supplier's answer to an order; what it says goes on record once."""
    from optimiser.model.record import Record
    from optimiser.reading.supplier_answer import answer_of

    answer = refused_well(lambda: answer_of(data, "answer.xml", _order(), Record()))
    if answer is None:
        return False
    record = Record().with_events(answer.events)
    again = refused_well(lambda: answer_of(data, "answer.xml", _order(), record))
    if again is None or record.with_events(again.events) != record:
        raise NotHeld("an answer that is read twice counts twice")
    return True


def read_order(data: bytes) -> bool:
    """An order that was sent, as a revision reads it."""
    from optimiser.reading import read_purchase_order

    found = _of_file(data, ".json", read_purchase_order)
    if found is None:
        return False
    if _of_file(found.model_dump_json().encode(), ".json", read_purchase_order) != found:
        raise NotHeld("an order read from its own JSON is another")
    return True


def read_scenario_file(data: bytes) -> bool:
    """Scenarios, csv or JSON."""
    from optimiser.reading.scenario_rows import read_scenarios

    suffix = ".json" if data.lstrip()[:1] in (b"[", b"{") else ".csv"
    return _of_file(data, suffix, read_scenarios, mends_apart=False) is not None


def _of_file(data: bytes, suffix: str, read: Callable[[Path], Any], mends_apart: bool = True) -> Any:
    with tempfile.NamedTemporaryFile(prefix="fuzzing", suffix=suffix) as file:
        file.write(data)
        file.flush()
        return refused_well(lambda: read(Path(file.name)), mends_apart)


@cache
def _order() -> Any:
    from datetime import date

    from optimiser.ordering.purchase_order import Issue, purchase_order_of

    made = small_plan()
    return purchase_order_of(made.project, made.order, Issue(issued_on=date(2027, 1, 4)))


def order_seeds() -> list[bytes]:
    """The small plan's order."""
    return [_order().model_dump_json().encode()]


def answer_seeds() -> list[bytes]:
    """A response that accepts all, one line by line, and a despatch advice."""
    from tests.builders.supplier_documents import despatch_advice, order_response

    to = _order().document
    lines = [
        {"line": number, "quantity": 2, "unit": "H87", "day": "2027-02-22", "price": "9.90"}
        for number in (1, 2)
    ]
    advice = despatch_advice(lines).replace(b">QY-3<", f">{to}<".encode())
    return [order_response(to=to), order_response(lines, to=to, code="CA"), advice]


def offers_seeds() -> list[bytes]:
    """Two suppliers' prices in csv, and a quotation."""
    from tests.builders.supplier_documents import quotation

    csv = (
        b"supplier,code,price,from_packs,per_pack,lead_days,currency,freight,valid_until\n"
        b"Supplier A (invented),B-120,205.00,1,4,15,AUD,120.00,2027-12-31\n"
        b"Supplier A (invented),B-120,198.00,40,4,15,AUD,120.00,2027-12-31\n"
        b"Supplier B (invented),K-110,58.20,1,25,10,AUD,,\n"
    )
    return [csv, quotation([{"code": "B-120", "price": "205.00"}])]


def scenario_seeds() -> list[bytes]:
    """Scenarios of many options, in csv and JSON."""
    rows: list[dict[str, Any]] = [
        {"name": "as surveyed"},
        {"name": "one size", "boards": ["B-120"], "staging": "whole"},
        {"name": "narrow", "gap_mm": 140, "kerf_mm": 3, "precut": True},
    ]
    csv = b"name,gap_mm,boards,staging,precut\nas surveyed,,,,\nnarrow,140-160/5,,whole,yes\n,150 160,B-120,level,no\n"
    return [csv, json.dumps(rows).encode()]


def changed_trade_file(data: bytes, seed: int, blindly: mutations.BlindChange) -> bytes:
    """A file changed as what it is: XML, JSON or csv."""
    start = data.lstrip()[:1]
    if start == b"<":
        return mutations.changed_document(data, seed, blindly)
    return (mutations.changed_json if start in (b"[", b"{") else mutations.changed_csv)(data, seed, blindly)
