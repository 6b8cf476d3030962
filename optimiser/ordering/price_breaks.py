"""What a pack costs where a delivery brings many."""

from __future__ import annotations

from decimal import Decimal

from optimiser.model.project import Project


def price_of(project: Project, code: str, packs: int) -> Decimal:
    """The price of a pack where a delivery brings so many packs of a product."""
    price = project.product(code).price
    for row in sorted(project.price_breaks, key=lambda row: row.from_packs):
        if row.code == code and packs >= row.from_packs:
            price = row.price
    return price
