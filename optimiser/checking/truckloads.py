"""What packs take to bring: pallets, weight and truckloads; and their price by quantity."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from math import ceil

from optimiser.checking.building import Building
from optimiser.model.money import NOTHING
from optimiser.model.project import DeliveryLimits


def pallets(building: Building, limits: DeliveryLimits, packs: Mapping[str, int]) -> int:
    """Pallets of boards, each product on its own."""
    return sum(
        ceil(Fraction(number, limits.pallet_packs or 1))
        for code, number in packs.items()
        if code in building.products and building.products[code].kind == "board"
    )


def weight_kg(building: Building, packs: Mapping[str, int]) -> Fraction:
    """What packs weigh; a product without a weight counts as nothing."""
    return sum(
        (
            number * building.products[code].per_pack * Fraction(building.products[code].weight_kg or 0)
            for code, number in packs.items()
            if code in building.products
        ),
        Fraction(0),
    )


def truckloads(building: Building, limits: DeliveryLimits, packs: Mapping[str, int]) -> int | None:
    """Trucks for packs, by pallets and by weight, whichever takes more; None where no truck has a size."""
    if limits.truck_pallets is None and limits.truck_payload_kg is None:
        return None
    by_pallets = (
        Fraction(pallets(building, limits, packs), limits.truck_pallets) if limits.truck_pallets else 0
    )
    by_weight = weight_kg(building, packs) / limits.truck_payload_kg if limits.truck_payload_kg else 0
    return max(1, ceil(by_pallets), ceil(by_weight))


def price_for(building: Building, code: str, packs: int) -> Decimal:
    """The price of a pack where so many of the product come on a day."""
    due = building.products[code].price if code in building.products else NOTHING
    for row in sorted(building.project.price_breaks, key=lambda row: row.from_packs):
        if row.code == code and row.from_packs <= packs:
            due = row.price
    return due
