"""What a supplier offers: prices of packs by quantity and by date, lead times, the least order, freight."""

from __future__ import annotations

from datetime import date
from typing import Self

from pydantic import Field, model_validator

from optimiser.model.immutable import Immutable
from optimiser.model.money import Money
from optimiser.model.products import Code, LeadDays, PerPack


class OfferedPrice(Immutable):
    """The price of a pack of `per_pack` of a product, where a delivery brings `from_packs` or more of it.

    It holds from `valid_from` to `valid_until`, both days included; None: no such end. `per_pack`, `pack_name` and
    `lead_days` None: as the project has them.
    """

    code: Code
    price: Money
    from_packs: int = Field(default=1, ge=1, le=10**6)
    per_pack: PerPack | None = None
    pack_name: str = ""
    lead_days: LeadDays | None = None
    valid_from: date | None = None
    valid_until: date | None = None

    @model_validator(mode="after")
    def _period_begins_before_it_ends(self) -> Self:
        if self.valid_from and self.valid_until and self.valid_from > self.valid_until:
            raise ValueError(f"valid_from ({self.valid_from}) is after valid_until ({self.valid_until})")
        return self

    def holds_on(self, day: date) -> bool:
        """Whether it is valid on a day."""
        return (self.valid_from or day) <= day <= (self.valid_until or day)


class Offer(Immutable):
    """One supplier's offer. An order below `minimum_order` is not taken; `freight` is for each delivery, and none from
    an order of `freight_free_from` on."""

    supplier: str = Field(min_length=1)
    reference: str = ""
    currency: str = Field(pattern=r"^[A-Z]{3}$")
    minimum_order: Money | None = None
    freight: Money | None = None
    freight_free_from: Money | None = None
    prices: tuple[OfferedPrice, ...]

    def valid_on(self, day: date) -> tuple[OfferedPrice, ...]:
        """Its prices that hold on a day."""
        return tuple(price for price in self.prices if price.holds_on(day))
