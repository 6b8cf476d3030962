"""Money: one exact type that means the same in Python, in JSON and in OpenAPI.

In Python it is a `Decimal` in units of the project's currency with two places (108 dollars: Decimal('108.00')); in
JSON it is decimal text ("108.00"), and the JSON schema says so. It is never a binary float: a float that is given,
such as a number of a JSON document, is read through its shortest decimal text. Solvers count whole cents: `cents_of`
goes there and `from_cents` comes back.
"""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Annotated

from pydantic import BeforeValidator, Field, PlainSerializer, WithJsonSchema

CENT = Decimal("0.01")
NOTHING = Decimal("0.00")
MOST = 10**10
"""The greatest amount that the models hold, in units of the currency: no building costs as much."""


def exact_amount(value: object) -> Decimal:
    """An amount as written ("212.00", 212, 212.5 or a Decimal), exactly, with two places.

    Raises ValueError when it is no amount of money or has parts of a cent.
    """
    if not isinstance(value, (str, int, Decimal, float)) or isinstance(value, bool):
        raise ValueError(f"{value!r} is not an amount of money such as 212.00")
    try:
        amount = Decimal(str(value))
    except ArithmeticError as error:
        raise ValueError(f"{value!r} is not an amount of money such as 212.00") from error
    if not amount.is_finite():
        raise ValueError(f"{value!r} is not an amount of money such as 212.00")
    if abs(amount) > MOST:
        return amount  # for the type's own limit to refuse
    if amount * 100 != int(amount * 100):
        raise ValueError(f"{value!r} has parts of a cent")
    return from_cents(int(amount * 100))


def money_text(amount: Decimal) -> str:
    """An amount as decimal text with two places: Decimal('1696') -> '1696.00'."""
    return f"{amount:.2f}"


def cents_of(amount: Decimal) -> int:
    """Whole cents for a solver: Decimal('108.00') -> 10800. Raises ValueError for parts of a cent."""
    cents = amount * 100
    if cents != int(cents):
        raise ValueError(f"{amount} has parts of a cent")
    return int(cents)


def from_cents(cents: int) -> Decimal:
    """A whole number of cents as an amount: 10800 -> Decimal('108.00')."""
    return Decimal(cents) * CENT


def total_of(amounts: Iterable[Decimal]) -> Decimal:
    """The exact sum of amounts; Decimal('0.00') of none."""
    return sum(amounts, NOTHING)


def believable(amount: Decimal) -> Decimal:
    """The amount itself. Raises ValueError, with the fix, for one that no building costs."""
    if amount > MOST:
        raise ValueError(
            f"the order comes to {money_text(amount)}, which no building costs: check the prices"
        )
    return amount


Money = Annotated[
    Decimal,
    BeforeValidator(exact_amount),
    PlainSerializer(money_text, return_type=str, when_used="json"),
    Field(ge=0, le=MOST),
    WithJsonSchema(
        {
            "type": "string",
            "pattern": r"^[0-9]{1,11}(\.[0-9]{1,2})?$",
            "description": "An exact amount in units of the project's currency, as decimal text: '108.00'.",
            "examples": ["108.00"],
        }
    ),
]
"""An amount of money, from nothing to `MOST`, in units of the project's currency."""

MoneyDifference = Annotated[
    Decimal,
    BeforeValidator(exact_amount),
    PlainSerializer(money_text, return_type=str, when_used="json"),
    Field(ge=-MOST, le=MOST),
    WithJsonSchema(
        {
            "type": "string",
            "pattern": r"^-?[0-9]{1,11}(\.[0-9]{1,2})?$",
            "description": "An exact amount more or less, in units of the project's currency: '-108.00'.",
            "examples": ["-108.00"],
        }
    ),
]
"""What an amount of money changes by: below nought where it falls."""
