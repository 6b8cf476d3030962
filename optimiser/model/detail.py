"""The `detail` table: the rules of the tested detail."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Literal

from pydantic import (
    BeforeValidator,
    Field,
    PlainSerializer,
    SerializerFunctionWrapHandler,
    model_serializer,
    model_validator,
)

from optimiser.model.exact_decimal import decimal_out, exact_decimal
from optimiser.model.table import Millimetres, Position, Table

BracketChoice = Literal["nearest", "cheapest", "fewest_sizes"]
Rate = Annotated[Decimal, BeforeValidator(exact_decimal), PlainSerializer(decimal_out, when_used="json")]


CHOICES = frozenset({"bracket_choice", "strip_min_mm"})
"""What the user chooses freely: left out, it is no placeholder of a tested value."""


IN_ORDER = (
    ("oversize_min", "oversize_max"),
    ("gap_min_mm", "gap_max_mm"),
    ("bracket_insertion_min", "bracket_insertion"),
    ("bracket_insertion", "bracket_insertion_max"),
)
"""Rules of which the first is never above the second."""


class Detail(Table):
    """The `detail` table: the rules of the tested detail, each one data, never a constant in code.

    A rule that the user does not give keeps a placeholder (common practice, no source); `placeholders` lists
    those, and every plan warns of them. The tested detail, local code and a licensed practitioner decide.

    The ends of a tapered piece differ by `taper_max_mm` at most (0: no piece is tapered); a piece of a curved edge
    is so short that the curve leaves the chord by at most `curve_offset_max_mm`. `bracket_choice` says which of the
    sizes that fit is taken, `strip_min_mm` how thin a rip may be (0: not asked): choices of the user's, not rules that
    are tested.
    """

    oversize_min: Rate = Field(default=Decimal("0.10"), ge=0, le=1)
    oversize_max: Rate = Field(default=Decimal("0.15"), ge=0, le=1)
    gap_min_mm: Millimetres = 25
    gap_max_mm: Millimetres = 400
    piece_length_min_mm: Millimetres = 300
    taper_max_mm: Position = 30
    curve_offset_max_mm: Millimetres = 5
    joint_to_mullion_min_mm: Position = 100
    trim: bool = True
    kerf_mm: int = Field(default=0, ge=0, le=50)
    strip_min_mm: Position = 0
    bracket_insertion: Rate = Field(default=Decimal("0.75"), gt=0, le=1)
    bracket_insertion_min: Rate = Field(default=Decimal("0.70"), gt=0, le=1)
    bracket_insertion_max: Rate = Field(default=Decimal("0.85"), gt=0, le=1)
    bracket_end_distance_mm: Millimetres = 300
    bracket_spacing_max_mm: Millimetres = 600
    bracket_to_mullion_min_mm: Position = 75
    bracket_choice: BracketChoice = "nearest"
    anchors_per_bracket: int = Field(default=1, ge=0, le=100)
    tape_faces: int = Field(default=1, ge=0, le=2)
    tape_lap_mm: Position = 50
    correlation_length_mm: Millimetres = 3000
    reading_age_max_days: int = Field(default=42, ge=0, le=3650)

    @model_validator(mode="after")
    def _limits_in_order(self) -> Detail:
        for low, high in IN_ORDER:
            if getattr(self, low) > getattr(self, high):
                raise ValueError(f"{low} ({getattr(self, low)}) is above {high} ({getattr(self, high)})")
        return self

    # no return type: with one the JSON schema would lose the rules
    @model_serializer(mode="wrap")
    def _as_given(self, dump: SerializerFunctionWrapHandler):  # type: ignore[no-untyped-def]
        """Only the rules that were given are written: one left out is a placeholder, and stays one when read back."""
        return {name: value for name, value in dump(self).items() if name in self.model_fields_set}

    @property
    def placeholders(self) -> tuple[str, ...]:
        """The rules that the project did not give and that stand at common practice; a choice is none."""
        return tuple(
            name
            for name in type(self).model_fields
            if name not in self.model_fields_set and name not in CHOICES
        )
