"""The `products` table: what the supplier sells, as a union of board, bracket, anchor and tape.

Each kind has the sizes that it is used by. In files and JSON they stand in the same columns: `length_mm` is a board's
length along the slab edge, a bracket's reach into the gap, and the length of a roll of tape.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Any, ClassVar, Literal

from pydantic import BeforeValidator, Field, PlainSerializer, model_validator

from optimiser.model.exact_decimal import decimal_out, exact_decimal
from optimiser.model.money import NOTHING, Money
from optimiser.model.sizes import Size
from optimiser.model.table import Millimetres, Table

Kind = Literal["board", "bracket", "anchor", "tape"]
KINDS: tuple[Kind, ...] = ("board", "bracket", "anchor", "tape")
"""In trade order, in which an order lists them."""

Code = Annotated[str, Field(min_length=1, max_length=60)]
PerPack = Annotated[int, Field(ge=1, le=10**6)]
Kilograms = Annotated[
    Decimal,
    BeforeValidator(exact_decimal),
    PlainSerializer(decimal_out, when_used="json"),
    Field(gt=0, le=10**5, decimal_places=3),
]
"""The weight of one piece: a board, a bracket, an anchor, a roll."""
LeadDays = Annotated[int, Field(ge=0, le=1000)]
TaxRate = Annotated[
    Decimal,
    BeforeValidator(exact_decimal),
    PlainSerializer(decimal_out, when_used="json"),
    Field(ge=0, le=1),
]
"""The rate of a tax on the price: 0.10 of a tenth."""


class _ProductRow(Table):
    """What every product has; the kinds add the sizes that they are used by.

    `price` is for one pack, `weight_kg` of one piece, `carbon_kg` what one piece stands for in kg of CO2 equivalent by
    its own declaration; `material` and `supplier` are words of the user's own. `tax_rate` is its own (None: the
    project's).
    """

    needs: ClassVar[tuple[str, ...]] = ()
    """The columns that a product of the kind cannot do without."""

    code: Code
    kind: Kind

    @model_validator(mode="before")
    @classmethod
    def _sizes_for_its_kind(cls, data: Any) -> Any:
        """Raises ValueError naming the size that is not given."""
        if isinstance(data, dict) and isinstance(data.get("code"), str):
            for name, field in cls.model_fields.items():
                column = field.alias or name
                if column in cls.needs and data.get(column) is None and data.get(name) is None:
                    kind = cls.model_fields["kind"].default
                    raise ValueError(f"the {kind} {data['code']} has no {column}")
        return data

    @model_validator(mode="after")
    def _kind_is_always_given(self) -> _ProductRow:
        """The kind tells which product it is, so it is written even where only what was given is."""
        self.__pydantic_fields_set__.add("kind")
        return self


class Board(_ProductRow):
    """Mineral-wool board: as long as strips are, as wide as is ripped into them."""

    needs = ("length_mm", "width_mm")

    kind: Literal["board"] = "board"
    length_mm: Millimetres
    width_mm: Millimetres
    thickness_mm: Millimetres | None = None
    per_pack: PerPack = 1
    price: Money = NOTHING
    lead_days: LeadDays = 0
    pack_name: str = ""
    weight_kg: Kilograms | None = None
    carbon_kg: Kilograms | None = None
    material: str = ""
    supplier: str = ""
    tax_rate: TaxRate | None = None

    @property
    def size(self) -> Size:
        """Its length and width."""
        return Size(self.length_mm, self.width_mm)


class Bracket(_ProductRow):
    """A bracket of one size: `reach_mm` (`length_mm` in files) is how far it reaches into the gap."""

    needs = ("length_mm",)

    kind: Literal["bracket"] = "bracket"
    reach_mm: Millimetres = Field(alias="length_mm")
    width_mm: Millimetres | None = None
    thickness_mm: Millimetres | None = None
    per_pack: PerPack = 1
    price: Money = NOTHING
    lead_days: LeadDays = 0
    pack_name: str = ""
    weight_kg: Kilograms | None = None
    carbon_kg: Kilograms | None = None
    material: str = ""
    supplier: str = ""
    tax_rate: TaxRate | None = None


class Anchor(_ProductRow):
    """What holds a bracket to the slab; its sizes are the supplier's own."""

    kind: Literal["anchor"] = "anchor"
    length_mm: Millimetres | None = None
    width_mm: Millimetres | None = None
    thickness_mm: Millimetres | None = None
    per_pack: PerPack = 1
    price: Money = NOTHING
    lead_days: LeadDays = 0
    pack_name: str = ""
    weight_kg: Kilograms | None = None
    carbon_kg: Kilograms | None = None
    material: str = ""
    supplier: str = ""
    tax_rate: TaxRate | None = None


class Tape(_ProductRow):
    """Joint tape: `roll_mm` (`length_mm` in files) is the length of a roll."""

    needs = ("length_mm",)

    kind: Literal["tape"] = "tape"
    roll_mm: Millimetres = Field(alias="length_mm")
    width_mm: Millimetres | None = None
    thickness_mm: Millimetres | None = None
    per_pack: PerPack = 1
    price: Money = NOTHING
    lead_days: LeadDays = 0
    pack_name: str = ""
    weight_kg: Kilograms | None = None
    carbon_kg: Kilograms | None = None
    material: str = ""
    supplier: str = ""
    tax_rate: TaxRate | None = None


Product = Annotated[Board | Bracket | Anchor | Tape, Field(discriminator="kind")]
"""Anything that the supplier sells: its `kind` tells which."""


def length_column_mm(product: Product) -> int | None:
    """What stands under `length_mm` in the `products` table: a board's length, a reach, a roll; or None."""
    if isinstance(product, Bracket):
        return product.reach_mm
    return product.roll_mm if isinstance(product, Tape) else product.length_mm


PRODUCT_OF_KIND: dict[str, type[Board] | type[Bracket] | type[Anchor] | type[Tape]] = {
    "board": Board,
    "bracket": Bracket,
    "anchor": Anchor,
    "tape": Tape,
}
