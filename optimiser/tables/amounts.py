"""Amounts of money as people read them."""

from __future__ import annotations

from decimal import Decimal

# fmt: off
WITHOUT_DECIMALS = frozenset((
    "BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW", "PYG", "RWF", "UGX", "UYI", "VND", "VUV", "XAF", "XOF",
    "XPF",
))
# fmt: on
"""Currencies whose minor unit is the unit itself (ISO 4217, exponent 0)."""


def amount_text(amount: Decimal, currency: str) -> str:
    """Decimal('123456.00') -> '123,456.00'; whole amounts of a currency that has no smaller unit as '123,456'."""
    whole = currency in WITHOUT_DECIMALS and amount == amount.to_integral_value()
    return f"{amount:,.0f}" if whole else f"{amount:,.2f}"


def grouped_money(amount: Decimal, currency: str) -> str:
    """Decimal('123456.00') -> 'AUD 123,456.00'."""
    return f"{currency} {amount_text(amount, currency)}"
