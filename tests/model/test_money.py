"""Money means the same in Python, in JSON and in OpenAPI: units of the currency, exact, with two places."""

from __future__ import annotations

import json
import re
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from optimiser.model.money import MOST, Money, cents_of, from_cents, money_text, total_of
from optimiser.model.order import Order, OrderLine
from optimiser.model.project import PriceBreak
from optimiser.planning.plan import plan
from tests.builders.levels import building

MONEY: TypeAdapter[Decimal] = TypeAdapter(Money)
CENTS = st.integers(0, 10**12)


def test_a_price_is_what_was_written() -> None:
    """Seen once: a product given 10800 for its price in cents cost 1,080,000."""
    row = PriceBreak(code="B-120", from_packs=2, price="108.00")  # type: ignore[arg-type]
    assert row.price == Decimal("108.00")
    with pytest.raises(ValidationError, match="price_cents"):
        PriceBreak(code="B-120", from_packs=2, price_cents=10800)  # type: ignore[call-arg]


def test_an_order_made_anew_from_its_own_dump_costs_the_same() -> None:
    """Seen once: a total that had been dumped came back a hundred times too large."""
    order = plan(building()).order
    assert order.total > 0
    assert Order(**order.model_dump()).total == order.total
    assert Order(**order.model_dump()) == order
    assert Order.model_validate_json(order.model_dump_json()) == order


def test_the_schema_says_what_the_json_holds() -> None:
    """Seen once: the schema promised whole cents where the text held units."""
    for mode in ("validation", "serialization"):
        schema = OrderLine.model_json_schema(mode=mode)  # type: ignore[arg-type]
        for field in ("price", "amount"):
            found = schema["properties"][field]
            assert found["type"] == "string"
            assert "units of the project's currency" in found["description"]
            assert re.search(found["pattern"], "108.00")
            assert not any(
                re.search(found["pattern"], wrong) for wrong in ("108.001", "-1.00", "AUD 108", "")
            )


@given(CENTS)
def test_cents_go_there_and_back(cents: int) -> None:
    amount = from_cents(cents)
    assert cents_of(amount) == cents
    assert MONEY.validate_python(money_text(amount)) == amount
    assert MONEY.validate_json(MONEY.dump_json(amount)) == amount
    assert re.search(MONEY.json_schema()["pattern"], json.loads(MONEY.dump_json(amount)))


@given(st.lists(CENTS))
def test_a_total_is_exact(cents: list[int]) -> None:
    assert cents_of(total_of(map(from_cents, cents))) == sum(cents)


@given(CENTS)
def test_a_number_of_a_json_document_is_read_by_its_text(cents: int) -> None:
    """0.1 + 0.2 is no price, but 0.3 is three tenths exactly."""
    assert MONEY.validate_python(float(f"{cents // 100}.{cents % 100:02d}")) == from_cents(cents)


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("212.005", "'212.005' has parts of a cent"),
        (0.001, "0.001 has parts of a cent"),
        ("NaN", "'NaN' is not an amount of money such as 212.00"),
        ("dear", "'dear' is not an amount of money such as 212.00"),
        (True, "True is not an amount of money such as 212.00"),
        ([], r"\[\] is not an amount of money such as 212.00"),
        ("-1", "greater than or equal to 0"),
        (str(MOST + 1), "less than or equal to 10000000000"),
        ("1e999999", "less than or equal to 10000000000"),
    ],
)
def test_what_is_no_amount_is_refused(written: Any, said: str) -> None:
    with pytest.raises(ValidationError, match=said):
        MONEY.validate_python(written)


def test_parts_of_a_cent_never_reach_a_solver() -> None:
    with pytest.raises(ValueError, match="parts of a cent"):
        cents_of(Decimal("0.005"))
