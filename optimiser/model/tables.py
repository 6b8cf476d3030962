"""The rows of a project's tables beside its products and its detail: levels, runs, gaps, stock and what limits them."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import Field, model_validator

from optimiser.model.detail import Rate
from optimiser.model.money import Money
from optimiser.model.products import Kind, TaxRate
from optimiser.model.sizes import Size
from optimiser.model.staging import DeliverySequence
from optimiser.model.table import Millimetres, Position, Table
from optimiser.model.time_of_day import TimeOfDay

Basis = Literal["measured", "nominal"]
Combine = Literal["none", "fewest_loads"]
Weekday = Literal["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"]
WEEKDAYS: tuple[Weekday, ...] = (
    "Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday",
)  # fmt: skip


class Heading(Table):
    """The `project` table: whose order this is.

    `service_level` is the share of the possible surveys that the quantities of nominal levels cover. `carry_cost` is
    what it costs to keep one remainder from one delivery to the next (None: waiting has no price). `relabel_cost` is
    what it costs to change the label of one piece when a job is planned again (None: nothing, a placeholder).

    What a supplier must know beside the goods: `payment_terms`, `contract_reference`, `supplier_reference` (that of the
    quotation), when a truck may come (`delivery_from` to `delivery_until`) and how it is unloaded (`unloading`).
    `tax_rate` is that of every product without one of its own, under the name `tax_name` (None: no tax is stated).
    """

    name: str = ""
    currency: str = Field(default="AUD", pattern=r"^[A-Z]{3}$")
    country: str = Field(default="AU", pattern=r"^[A-Z]{2}(-[A-Z0-9]{1,3})?$")
    order_reference: str = ""
    buyer: str = ""
    supplier: str = ""
    deliver_to: str = ""
    max_carry_stages: int | None = Field(default=None, ge=0)
    carry_cost: Money | None = None
    relabel_cost: Money | None = None
    service_level: Rate = Field(default=Decimal("0.95"), gt=0, le=1)
    payment_terms: str = ""
    contract_reference: str = ""
    supplier_reference: str = ""
    delivery_from: TimeOfDay | None = None
    delivery_until: TimeOfDay | None = None
    unloading: str = ""
    tax_name: str = ""
    tax_rate: TaxRate | None = None

    @model_validator(mode="after")
    def _window_opens_before_it_closes(self) -> Heading:
        if self.delivery_from and self.delivery_until and self.delivery_from >= self.delivery_until:
            raise ValueError(
                f"delivery_from ({self.delivery_from:%H:%M}) is not before delivery_until"
                f" ({self.delivery_until:%H:%M})"
            )
        return self


class Level(Table):
    """The `levels` table. `sequence` is the delivery order; equal numbers are delivered together."""

    level: str = Field(min_length=1, max_length=60)
    sequence: Annotated[DeliverySequence, Field(ge=0, le=100_000)]
    needed_on: date | None = None


class Run(Table):
    """The `runs` table: one slab edge, measured along it from its start; curved where it has a `radius_mm`.

    `detail` names the tested detail that it is built by ('': the project's own `detail`), `joins` the run that begins
    where this one ends ('': it ends openly): their meeting is a taped joint. A mullion stands at its middle:
    `mullion_width_mm` along the edge by `mullion_depth_mm` into the gap, None where not measured.
    """

    run: str = Field(min_length=1, max_length=60)
    level: str
    length_mm: Millimetres
    board: tuple[str, ...] = Field(min_length=1)
    mullions_mm: tuple[Position, ...] = ()
    detail: str = ""
    joins: str = ""
    mullion_width_mm: Millimetres | None = None
    mullion_depth_mm: Millimetres | None = None
    radius_mm: Millimetres | None = None


class Gap(Table):
    """The `gaps` table: the gap at one position of a run.

    Where it was read at the top and at the bottom of the slab both are kept, and `gap_mm` is the wider. `taken_on` is
    the day of the reading.
    """

    run: str
    at_mm: Position
    gap_mm: Millimetres
    basis: Basis = "measured"
    tolerance_mm: Position | None = None
    gap_top_mm: Millimetres | None = None
    gap_bottom_mm: Millimetres | None = None
    taken_on: date | None = None

    @model_validator(mode="after")
    def _the_wider_counts(self) -> Gap:
        read = [gap for gap in (self.gap_top_mm, self.gap_bottom_mm) if gap is not None]
        if read and self.gap_mm != max(read):
            raise ValueError(f"gap_mm ({self.gap_mm}) is not the wider of top and bottom ({max(read)})")
        return self


class Stock(Table):
    """The `stock` table: a board or offcut already on site, from `level`'s delivery on ('' = from the start).

    `name` is what patterns call it; a table's row has none, and is called by its number, stock-1.
    """

    code: str
    length_mm: Millimetres
    width_mm: Millimetres
    quantity: int = Field(default=1, ge=1, le=10**6)
    level: str = ""
    name: str = Field(default="", max_length=60)

    @property
    def size(self) -> Size:
        """Its length and width."""
        return Size(self.length_mm, self.width_mm)


class Allowance(Table):
    """The `allowance` table: breakage and loss on top of the cutting plan, by kind of product.

    `fraction` is a rate, or 'simulated': then the tolerance simulation of nominal gaps sets it.
    """

    kind: Kind
    fraction: Annotated[Rate, Field(ge=0, le=1)] | Literal["simulated"]


class DeliveryLimits(Table):
    """The `deliveries` table, one row: what a delivery may bring and costs, and what the site can take; None: no limit.

    A pallet takes `pallet_packs` packs of boards (1 when not given: each pack is a place of its own), a truck
    `truck_pallets` pallets and `truck_payload_kg`; brackets, anchors and tape take no pallet. Where neither is
    given, a delivery is one load. At most `trucks_a_delivery` truckloads come on a day. A delivery is worth at
    least `minimum_order`.

    Deliveries arrive only on `crane_days`, or every `every_days` days on `delivery_weekday`, or on any working day.
    A delivery brings what its levels cut next; `combine` = 'fewest_loads' brings packs forward to save loads.

    `delivery_cost` is for a load, `storage_cost` for a m2 that is taken for a week. At most `site_storage_m2`
    of board stands on site: face area, or floor area where `stack_height_mm` or `stack_layers` says how boards
    are stacked. The floor takes `floor_load_kg_m2`, so that a stack is no higher than that allows.
    """

    truck_pallets: int | None = Field(default=None, ge=1, le=10**6)
    pallet_packs: int | None = Field(default=None, ge=1, le=10**6)
    truck_payload_kg: int | None = Field(default=None, ge=1, le=10**6)
    trucks_a_delivery: int | None = Field(default=None, ge=1, le=10**4)
    combine: Combine = "none"
    minimum_order: Money | None = None
    delivery_cost: Money | None = None
    storage_cost: Money | None = None
    site_storage_m2: int | None = Field(default=None, ge=0, le=10**7)
    stack_height_mm: Millimetres | None = None
    stack_layers: int | None = Field(default=None, ge=1, le=1000)
    floor_load_kg_m2: int | None = Field(default=None, ge=1, le=10**6)
    delivery_weekday: Weekday | None = None
    every_days: int | None = Field(default=None, ge=1, le=364)
    crane_days: tuple[date, ...] = ()

    @model_validator(mode="after")
    def _columns_agree(self) -> DeliveryLimits:
        if self.trucks_a_delivery and not (self.truck_pallets or self.truck_payload_kg):
            raise ValueError("trucks_a_delivery needs a truck's size: truck_pallets or truck_payload_kg")
        if self.crane_days and (self.delivery_weekday or self.every_days):
            raise ValueError("crane_days already say the days: no delivery_weekday or every_days beside them")
        if self.delivery_weekday and self.every_days and self.every_days % 7:
            raise ValueError(f"every_days ({self.every_days}) on one weekday must be 7, 14, 21 and so on")
        return self

    @property
    def stacked(self) -> bool:
        """Whether boards are stacked, so that storage is counted in floor area, not in face area."""
        return self.stack_height_mm is not None or self.stack_layers is not None


class PriceBreak(Table):
    """The `price_breaks` table: `price` of a pack where a delivery brings at least `from_packs` of a product."""

    code: str
    from_packs: int = Field(ge=2, le=10**6)
    price: Money
