"""The `crew_rates` table: how long a crew takes for each part of the work, and what an hour costs, one row a rate."""

from __future__ import annotations

from decimal import Decimal

from pydantic import Field, SerializerFunctionWrapHandler, model_serializer

from optimiser.model.detail import Rate
from optimiser.model.money import NOTHING, Money
from optimiser.model.table import Table


class CrewRates(Table):
    """Minutes of one person for each part of the work, and the cost of an hour in the project's currency.

    All are placeholders of common practice, no source, until the user's own are given; an hour without a cost has
    none, and the hours are then counted without money.
    """

    measure_minutes: Rate = Field(default=Decimal("1"), ge=0, le=1000)
    board_minutes: Rate = Field(default=Decimal("2"), ge=0, le=1000)
    rip_minutes: Rate = Field(default=Decimal("1"), ge=0, le=1000)
    cross_cut_minutes: Rate = Field(default=Decimal("0.5"), ge=0, le=1000)
    notch_minutes: Rate = Field(default=Decimal("2"), ge=0, le=1000)
    bracket_minutes: Rate = Field(default=Decimal("3"), ge=0, le=1000)
    piece_minutes: Rate = Field(default=Decimal("3"), ge=0, le=1000)
    joint_minutes: Rate = Field(default=Decimal("1.5"), ge=0, le=1000)
    hour_cost: Money = NOTHING

    # no return type: with one the JSON schema would lose the rates
    @model_serializer(mode="wrap")
    def _as_given(self, dump: SerializerFunctionWrapHandler):  # type: ignore[no-untyped-def]
        """Only the rates that were given are written: one left out stays a placeholder when it is read back."""
        return {name: value for name, value in dump(self).items() if name in self.model_fields_set}

    @property
    def placeholders(self) -> tuple[str, ...]:
        """The rates in minutes that the project did not give."""
        return tuple(
            name
            for name in type(self).model_fields
            if name not in self.model_fields_set and name != "hour_cost"
        )
