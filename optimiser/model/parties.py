"""The `parties` table: who buys, who supplies and where the goods go, as their accounts and drivers must know them."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from optimiser.model.table import Table

Role = Literal["buyer", "supplier", "deliver_to"]
ROLES: tuple[Role, ...] = ("buyer", "supplier", "deliver_to")

CountryCode = Annotated[str, Field(pattern=r"^([A-Z]{2})?$")]
"""ISO 3166-1 alpha-2, or nothing."""


class Party(Table):
    """One party of an order. `name` is what the `project` table calls it where nothing stands here; `address` is the
    street and number on one line; `contact` a person, with `telephone` and `email`; `tax_number` what the tax office
    knows it by."""

    party: Role
    name: str = ""
    address: str = ""
    postcode: str = ""
    city: str = ""
    country: CountryCode = ""
    contact: str = ""
    telephone: str = ""
    email: str = ""
    tax_number: str = ""

    @property
    def place(self) -> str:
        """'2000 Newport, AU': postcode, city and country, as far as they are known."""
        town = " ".join(part for part in (self.postcode, self.city) if part)
        return ", ".join(part for part in (town, self.country) if part)

    @property
    def lines(self) -> tuple[str, ...]:
        """Name, address, place, contact, telephone, email and tax number, a line each, as far as they are known."""
        return tuple(
            line
            for line in (
                self.name,
                self.address,
                self.place,
                self.contact,
                self.telephone,
                self.email,
                f"Tax number {self.tax_number}" if self.tax_number else "",
            )
            if line
        )
