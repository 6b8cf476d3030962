"""What was measured on site, what may be bought, and the rules of the tested detail.

Immutable models of the contract's tables. Lengths are integer millimetres, money integer cents, rates exact
decimals: binary floats never carry either. Reading (`optimiser.reading`) builds a `Project` from files and
reports every fault with its place; the models here refuse what could not be planned at all.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, PlainSerializer, model_validator

Kind = Literal["board", "bracket", "anchor", "tape"]
Basis = Literal["measured", "nominal"]
KINDS: tuple[Kind, ...] = ("board", "bracket", "anchor", "tape")

LONGEST_MM = 10_000_000  # ten kilometres: beyond any slab edge, so a larger number is a slip


def _cents_of(value: object) -> object:
    """A price as written ("212.00", 212 or Decimal) in integer cents; anything else is left to pydantic.

    Raises ValueError when the price has parts of a cent.
    """
    if isinstance(value, (str, int, Decimal, float)) and not isinstance(value, bool):
        try:
            cents = Decimal(str(value)) * 100
        except ArithmeticError as error:
            raise ValueError(f"{value!r} is not an amount of money such as 212.00") from error
        if not cents.is_finite() or cents != int(cents):
            raise ValueError(f"{value!r} has parts of a cent")
        return int(cents)
    return value


def money_text(cents: int) -> str:
    """Integer cents as a decimal string with two places: 169600 -> '1696.00'."""
    sign = "-" if cents < 0 else ""
    return f"{sign}{abs(cents) // 100}.{abs(cents) % 100:02d}"


def _exact_decimal(value: object) -> object:
    """Floats pass through their shortest decimal text, so that 0.1 is one tenth exactly."""
    return Decimal(repr(value)) if isinstance(value, float) else value


def _decimal_out(value: Decimal) -> float | int:
    return int(value) if value == value.to_integral_value() else float(value)


Rate = Annotated[Decimal, BeforeValidator(_exact_decimal), PlainSerializer(_decimal_out, when_used="json")]
Cents = Annotated[
    int, BeforeValidator(_cents_of), PlainSerializer(money_text, when_used="json"), Field(ge=0, le=10**12)
]
Millimetres = Annotated[int, Field(gt=0, le=LONGEST_MM)]
Position = Annotated[int, Field(ge=0, le=LONGEST_MM)]


class Table(BaseModel):
    """A row of one of the contract's tables: immutable, no unknown columns."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)


class Heading(Table):
    """The `project` table: whose order this is."""

    name: str = ""
    currency: str = Field(default="AUD", pattern=r"^[A-Z]{3}$")
    country: str = Field(default="AU", pattern=r"^[A-Z]{2}(-[A-Z0-9]{1,3})?$")
    order_reference: str = ""
    buyer: str = ""
    supplier: str = ""
    deliver_to: str = ""
    max_carry_stages: int | None = Field(default=None, ge=0)


class Detail(Table):
    """The `detail` table: the rules of the tested detail, each one data, never a constant in code.

    A rule that the user does not give keeps a placeholder (common practice, no source); `placeholders` lists
    those, and every plan warns of them. The tested detail, local code and a licensed practitioner decide.
    """

    oversize_min: Rate = Field(default=Decimal("0.10"), ge=0, le=1)
    oversize_max: Rate = Field(default=Decimal("0.15"), ge=0, le=1)
    gap_min_mm: Millimetres = 25
    gap_max_mm: Millimetres = 400
    piece_length_min_mm: Millimetres = 300
    joint_to_mullion_min_mm: Position = 100
    trim: bool = True
    kerf_mm: int = Field(default=0, ge=0, le=50)
    bracket_insertion: Rate = Field(default=Decimal("0.75"), gt=0, le=1)
    bracket_insertion_min: Rate = Field(default=Decimal("0.70"), gt=0, le=1)
    bracket_insertion_max: Rate = Field(default=Decimal("0.85"), gt=0, le=1)
    bracket_end_distance_mm: Millimetres = 300
    bracket_spacing_max_mm: Millimetres = 600
    bracket_to_mullion_min_mm: Position = 75
    anchors_per_bracket: int = Field(default=1, ge=0, le=100)
    tape_faces: int = Field(default=1, ge=0, le=2)
    tape_lap_mm: Position = 50
    correlation_length_mm: Millimetres = 3000

    @model_validator(mode="after")
    def _limits_in_order(self) -> Detail:
        for low, high in (
            ("oversize_min", "oversize_max"),
            ("gap_min_mm", "gap_max_mm"),
            ("bracket_insertion_min", "bracket_insertion"),
            ("bracket_insertion", "bracket_insertion_max"),
        ):
            if getattr(self, low) > getattr(self, high):
                raise ValueError(f"{low} ({getattr(self, low)}) is above {high} ({getattr(self, high)})")
        return self

    @property
    def placeholders(self) -> tuple[str, ...]:
        """The rules that the project did not give and that stand at common practice."""
        return tuple(name for name in type(self).model_fields if name not in self.model_fields_set)


class Product(Table):
    """The `products` table: what the supplier sells. `price` is for one pack, in cents.

    `length_mm` of a bracket is its reach into the gap, of a tape the length of a roll; a board has both its
    length along the slab edge and the width that is ripped into strips.
    """

    code: str = Field(min_length=1, max_length=60)
    kind: Kind
    length_mm: Millimetres | None = None
    width_mm: Millimetres | None = None
    thickness_mm: Millimetres | None = None
    per_pack: int = Field(default=1, ge=1, le=10**6)
    price_cents: Cents = Field(default=0, alias="price")
    lead_days: int = Field(default=0, ge=0, le=1000)
    pack_name: str = ""

    @model_validator(mode="after")
    def _sizes_for_its_kind(self) -> Product:
        needed = {"board": ("length_mm", "width_mm"), "bracket": ("length_mm",), "tape": ("length_mm",)}
        for field in needed.get(self.kind, ()):
            if getattr(self, field) is None:
                raise ValueError(f"the {self.kind} {self.code} has no {field}")
        return self


class Level(Table):
    """The `levels` table. `sequence` is the delivery order; equal numbers are delivered together."""

    level: str = Field(min_length=1, max_length=60)
    sequence: int = Field(ge=0, le=100_000)
    needed_on: date | None = None


class Run(Table):
    """The `runs` table: one straight slab edge, measured from its start."""

    run: str = Field(min_length=1, max_length=60)
    level: str
    length_mm: Millimetres
    board: tuple[str, ...] = Field(min_length=1)
    mullions_mm: tuple[Position, ...] = ()


class Gap(Table):
    """The `gaps` table: the gap at one position of a run."""

    run: str
    at_mm: Position
    gap_mm: Millimetres
    basis: Basis = "measured"
    tolerance_mm: Position | None = None


class Stock(Table):
    """The `stock` table: a board or offcut already on site, from `level`'s delivery on ('' = from the start)."""

    code: str
    length_mm: Millimetres
    width_mm: Millimetres
    quantity: int = Field(default=1, ge=1, le=10**6)
    level: str = ""


class Allowance(Table):
    """The `allowance` table: breakage and loss on top of the cutting plan, by kind of product.

    `fraction` is a rate, or 'simulated': then the tolerance simulation of nominal gaps sets it.
    """

    kind: Kind
    fraction: Annotated[Rate, Field(ge=0, le=1)] | Literal["simulated"]


class DeliveryLimits(Table):
    """The `deliveries` table, one row: what a delivery may bring and what the site can take; None: no limit.

    A pallet takes `pallet_packs` packs of boards (1 when not given: each pack is a place of its own), a truck
    `truck_pallets` pallets; brackets, anchors and tape ride along. A delivery is worth at least
    `minimum_order`. At most `site_storage_m2` of board face area stands on site. Deliveries arrive only on
    `crane_days` (none given: on any working day).
    """

    truck_pallets: int | None = Field(default=None, ge=1, le=10**6)
    pallet_packs: int | None = Field(default=None, ge=1, le=10**6)
    minimum_order_cents: Cents | None = Field(default=None, alias="minimum_order")
    site_storage_m2: int | None = Field(default=None, ge=0, le=10**7)
    crane_days: tuple[date, ...] = ()


class PriceBreak(Table):
    """The `price_breaks` table: `price` of a pack where a delivery brings at least `from_packs` of a product."""

    code: str
    from_packs: int = Field(ge=2, le=10**6)
    price_cents: Cents = Field(alias="price")


class Project(Table):
    """Everything one building's plan is made from."""

    project: Heading = Heading()
    detail: Detail = Detail()
    products: tuple[Product, ...]
    levels: tuple[Level, ...]
    runs: tuple[Run, ...]
    gaps: tuple[Gap, ...]
    stock: tuple[Stock, ...] = ()
    allowance: tuple[Allowance, ...] = ()
    deliveries: tuple[DeliveryLimits, ...] = Field(default=(), max_length=1)
    price_breaks: tuple[PriceBreak, ...] = ()

    @model_validator(mode="after")
    def _references_hold(self) -> Project:
        """Raises ValueError naming the first reference that does not hold (reading names them all)."""
        products = {product.code: product for product in self.products}
        if len(products) != len(self.products):
            raise ValueError("a product code occurs twice")
        levels = {level.level for level in self.levels}
        if len(levels) != len(self.levels):
            raise ValueError("a level occurs twice")
        runs = {run.run: run for run in self.runs}
        if len(runs) != len(self.runs):
            raise ValueError("a run occurs twice")
        for run in self.runs:
            if run.level not in levels:
                raise ValueError(f"run {run.run} names the unknown level {run.level}")
            for code in run.board:
                if code not in products or products[code].kind != "board":
                    raise ValueError(f"run {run.run} names {code}, which is no board of the products")
            if any(mullion > run.length_mm for mullion in run.mullions_mm):
                raise ValueError(f"run {run.run} has a mullion beyond its end")
        measured: set[tuple[str, int]] = set()
        for gap in self.gaps:
            if gap.run not in runs:
                raise ValueError(f"a gap names the unknown run {gap.run}")
            if gap.at_mm > runs[gap.run].length_mm:
                raise ValueError(f"a gap of run {gap.run} at {gap.at_mm} lies beyond its end")
            if (gap.run, gap.at_mm) in measured:
                raise ValueError(f"run {gap.run} has two gaps at {gap.at_mm}")
            measured.add((gap.run, gap.at_mm))
        without = set(runs) - {gap.run for gap in self.gaps}
        if without:
            raise ValueError(f"no gap on run {min(without)}")
        for item in self.stock:
            if item.code not in products or products[item.code].kind != "board":
                raise ValueError(f"stock names {item.code}, which is no board of the products")
            if item.level and item.level not in levels:
                raise ValueError(f"stock names the unknown level {item.level}")
        if len({allowance.kind for allowance in self.allowance}) != len(self.allowance):
            raise ValueError("a kind has two allowances")
        for row in self.price_breaks:
            if row.code not in products:
                raise ValueError(f"a price break names {row.code}, which is no product")
        if len({(row.code, row.from_packs) for row in self.price_breaks}) != len(self.price_breaks):
            raise ValueError("a product has two price breaks at the same number of packs")
        return self

    def product(self, code: str) -> Product:
        """The product with this code. Raises KeyError when there is none."""
        for product in self.products:
            if product.code == code:
                return product
        raise KeyError(code)

    def products_of(self, kind: Kind) -> tuple[Product, ...]:
        """All products of a kind, in the catalogue's order."""
        return tuple(product for product in self.products if product.kind == kind)

    def levels_in_order(self) -> tuple[Level, ...]:
        """The levels in delivery order; equal sequences keep the table's order."""
        return tuple(sorted(self.levels, key=lambda level: level.sequence))

    @property
    def delivery_limits(self) -> DeliveryLimits | None:
        """The row of the `deliveries` table; an empty row where only price breaks are given; None without both."""
        if self.deliveries:
            return self.deliveries[0]
        return DeliveryLimits() if self.price_breaks else None

    def with_runs(self, runs: Iterable[Run]) -> Project:
        """The project with these of its runs only, and their gaps."""
        kept = tuple(runs)
        names = {run.run for run in kept}
        return self.model_copy(
            update={"runs": kept, "gaps": tuple(gap for gap in self.gaps if gap.run in names)}
        )

    def gaps_of(self) -> dict[str, tuple[Gap, ...]]:
        """Each run's gaps in order of position."""
        found: dict[str, list[Gap]] = {run.run: [] for run in self.runs}
        for gap in self.gaps:
            found[gap.run].append(gap)
        return {run: tuple(sorted(gaps, key=lambda gap: gap.at_mm)) for run, gaps in found.items()}
