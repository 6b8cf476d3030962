"""The order as a supplier receives it: parties, terms, truckloads of lines at the prices that are paid, taxes, the sum.

What a plan knows and a supplier has no business with (need, allowance, bounds, storage) is not in it. Immutable, and
equal to itself read back from JSON: a later revision is made against the one that it replaces.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Literal

from pydantic import Field

from optimiser.model.detail import Rate
from optimiser.model.immutable import Immutable
from optimiser.model.money import Money, total_of
from optimiser.model.parties import Party
from optimiser.model.products import Kind, TaxRate
from optimiser.model.time_of_day import TimeOfDay

Change = Literal["", "unchanged", "revised", "added", "cancelled"]
"""What a revision does to a line; '' on an order that replaces none."""


class LineBefore(Immutable):
    """What the replaced revision said of a line: its packs, the price of one, its day and whether it was firm."""

    packs: int
    packs_for: dict[str, int] = Field(default_factory=dict)
    price: Money
    deliver_on: date | None
    status: Literal["firm", "forecast"]


class OrderedLine(Immutable):
    """One product on one truckload: `packs` x `price` = `amount`, always.

    `number` stays from revision to revision. `price` is that of a pack where a delivery brings so many: `from_packs` is
    the price break that it comes from (None: the list price). A forecast line may still change; by `confirm_by` its
    levels are measured. `packs_for` parts them by the level that they are for, `before` is what the replaced revision
    said of it (None: nothing).
    """

    number: int = Field(ge=1)
    code: str
    kind: Kind
    description: str
    status: Literal["firm", "forecast"]
    packs_for: dict[str, int]
    confirm_by: date | None = None
    packs: int = Field(ge=0)
    per_pack: int
    pack_name: str
    list_price: Money
    price: Money
    from_packs: int | None = None
    amount: Money
    tax_rate: TaxRate | None = None
    weight_kg: Rate | None = None
    change: Change = ""
    before: LineBefore | None = None

    @property
    def levels(self) -> tuple[str, ...]:
        """The levels that it is for."""
        return tuple(self.packs_for)


class Truckload(Immutable):
    """What one truck brings: the `load`th of the `loads` of a delivery. `number` counts over the order, from 1.

    `pallets` and `weight_kg` are None where the project does not say; `deliver_on` None: to be agreed. `trucks` above
    1: its lines come on so many trucks, and how they are parted is the supplier's to choose.
    """

    number: int
    delivery: int
    load: int = 1
    loads: int = 1
    trucks: int = 1
    deliver_on: date | None
    pallets: int | None = None
    lines: tuple[OrderedLine, ...]

    @property
    def amount(self) -> Decimal:
        """What its lines come to."""
        return total_of(line.amount for line in self.lines)

    @property
    def weight_kg(self) -> Decimal | None:
        """What its packs of a known weight weigh; None where that of a board is not known."""
        known = [line.weight_kg for line in self.lines if line.weight_kg is not None]
        unknown = any(line.weight_kg is None and line.kind == "board" for line in self.lines)
        return None if unknown or not known else sum(known, Decimal(0))

    @property
    def levels(self) -> tuple[str, ...]:
        """The levels that it brings material for."""
        return tuple(dict.fromkeys(level for line in self.lines for level in line.levels))


class TaxAtRate(Immutable):
    """The tax on all lines of one rate, rounded once to the currency's smallest unit."""

    rate: TaxRate
    taxable: Money
    tax: Money


class Replaced(Immutable):
    """A document of this order that was issued before."""

    document: str
    revision: int
    issued_on: date | None
    total: Money


class PurchaseOrder(Immutable):
    """An order to one supplier. `document` is the document's own name: the `reference`, and the revision from the
    second on, or the day of a supplementary order (see `supplementary`). `revision` None: a draft. `original` and
    `replaces` are the first revision and the last one before, `superseded_by` the number of the newest where that is a
    later one: then this one counts no more."""

    reference: str
    document: str
    revision: int | None = None
    issued_on: date | None = None
    original: Replaced | None = None
    replaces: Replaced | None = None
    superseded_by: int | None = None
    project: str
    currency: str
    buyer: Party
    supplier: Party
    deliver_to: Party
    payment_terms: str = ""
    contract_reference: str = ""
    supplier_reference: str = ""
    delivery_from: TimeOfDay | None = None
    delivery_until: TimeOfDay | None = None
    unloading: str = ""
    tax_name: str = ""
    truckloads: tuple[Truckload, ...]
    cancelled: tuple[OrderedLine, ...] = ()
    taxes: tuple[TaxAtRate, ...] = ()
    subtotal: Money
    tax: Money
    total: Money
    highest_line: int = 0  # ever given to a line of this order, cancelled ones included
    # single units by code and level that are on record as ordered before: an order of what is needed beyond them
    ordered_besides: dict[str, dict[str, int]] = Field(default_factory=dict)
    order_by: date | None = None  # the earliest day by which a line must be ordered

    @property
    def lines(self) -> tuple[OrderedLine, ...]:
        """All lines that order something, truckload by truckload."""
        return tuple(line for truckload in self.truckloads for line in truckload.lines)

    @property
    def supplementary(self) -> bool:
        """Whether it comes on top of what is on record as ordered, and replaces none of it."""
        return bool(self.ordered_besides) and self.replaces is None

    @property
    def taxed(self) -> bool:
        """Whether any line states its rate of tax."""
        return bool(self.taxes)

    def amount_of(self, status: Literal["firm", "forecast"]) -> Decimal:
        """What the firm lines, or those that are a forecast, come to before tax."""
        return total_of(line.amount for line in self.lines if line.status == status)

    @property
    def window(self) -> str:
        """'07:00 to 11:00', 'from 07:00', 'until 11:00' or nothing."""
        opens = f"{self.delivery_from:%H:%M}" if self.delivery_from else ""
        closes = f"{self.delivery_until:%H:%M}" if self.delivery_until else ""
        if opens and closes:
            return f"{opens} to {closes}"
        return f"from {opens}" if opens else f"until {closes}" if closes else ""

    @property
    def as_replaced(self) -> Replaced:
        """What a later revision says of this one."""
        return Replaced(
            document=self.document, revision=self.revision or 1, issued_on=self.issued_on, total=self.total
        )
