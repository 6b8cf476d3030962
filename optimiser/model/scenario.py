"""A scenario: what is to differ from a project as it was surveyed, and how it is planned then.

Nothing here is a measurement or a tested value: a scenario asks what an order would come to. The tested detail, local
code and a licensed practitioner decide what may be built.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from itertools import pairwise
from typing import Annotated, Any, Literal, Self, get_args

from pydantic import Field, ModelWrapValidatorHandler, ValidationError, WithJsonSchema, model_validator

from optimiser.model.detail import BracketChoice, Rate
from optimiser.model.immutable import Immutable
from optimiser.model.money import Money
from optimiser.model.offer import Offer
from optimiser.model.products import Code
from optimiser.model.scenario_faults import as_scenario_faults, scenario_fault
from optimiser.model.table import Millimetres, Position
from optimiser.model.tables import Combine, Weekday

Limit = Literal[
    "truck_pallets",
    "pallet_packs",
    "truck_payload_kg",
    "trucks_a_delivery",
    "combine",
    "minimum_order",
    "delivery_cost",
    "storage_cost",
    "site_storage_m2",
    "stack_height_mm",
    "stack_layers",
    "floor_load_kg_m2",
    "delivery_weekday",
    "every_days",
    "crane_days",
    "max_carry_stages",
    "carry_cost",
]
"""What limits or prices deliveries and carrying, and can be set aside."""
LIMITS: tuple[Limit, ...] = get_args(Limit)
OF_DELIVERIES: tuple[Limit, ...] = LIMITS[:-2]
OF_DETAIL = (
    "oversize_min",
    "oversize_max",
    "bracket_insertion_min",
    "bracket_insertion",
    "bracket_insertion_max",
    "bracket_choice",
    "taper_max_mm",
    "curve_offset_max_mm",
    "strip_min_mm",
    "kerf_mm",
)
"""Rules and choices of the detail that a scenario may give."""

_RATE = WithJsonSchema({"anyOf": [{"type": "number", "minimum": 0, "maximum": 1}, {"type": "string"}]})
Share = Annotated[Rate, Field(ge=0, le=1), _RATE]
"""A rate whose JSON schema is the same where it is read and where it is written, so that a scenario is one type."""
Count = Annotated[int, Field(ge=1, le=10**6)]


class Scenario(Immutable):
    """Options under a name. What is left out (None, empty) is as the project has it, and planned as `plan` does.

    `gap_mm` sets every run's gap, or with `shifted` moves each run's own gaps to that mean; `runs` (names or patterns)
    takes only these. The rules of the detail are given to every detail of the project. `boards` are the sizes on offer
    for every run, `brackets` the bracket sizes on offer. `supplier` takes over the prices of that supplier's offer.
    `precut` cuts nominal levels now, with the saw's `kerf_mm`: what that is expected to scrap is told beside the plan.
    `without` sets limits of the project aside. The last five say how it is planned, as the options of `plan`.
    """

    name: str = Field(min_length=1, max_length=60, pattern=r"\S")
    gap_mm: Annotated[int, Field(ge=1, le=2000)] | None = None
    shifted: bool = False
    runs: tuple[Annotated[str, Field(min_length=1, max_length=60)], ...] = Field(default=(), max_length=1000)
    oversize_min: Share | None = None
    oversize_max: Share | None = None
    bracket_insertion_min: Share | None = None
    bracket_insertion: Share | None = None
    bracket_insertion_max: Share | None = None
    bracket_choice: BracketChoice | None = None
    taper_max_mm: Position | None = None
    curve_offset_max_mm: Millimetres | None = None
    strip_min_mm: Position | None = None
    boards: tuple[Code, ...] = Field(default=(), max_length=50)
    brackets: tuple[Code, ...] = Field(default=(), max_length=50)
    supplier: str = Field(default="", max_length=200)
    precut: bool = False
    kerf_mm: Annotated[int, Field(ge=0, le=50)] | None = None
    truck_pallets: Count | None = None
    pallet_packs: Count | None = None
    truck_payload_kg: Count | None = None
    trucks_a_delivery: Annotated[int, Field(ge=1, le=10**4)] | None = None
    combine: Combine | None = None
    minimum_order: Money | None = None
    delivery_cost: Money | None = None
    storage_cost: Money | None = None
    site_storage_m2: Annotated[int, Field(ge=0, le=10**7)] | None = None
    stack_height_mm: Millimetres | None = None
    stack_layers: Annotated[int, Field(ge=1, le=1000)] | None = None
    floor_load_kg_m2: Count | None = None
    delivery_weekday: Weekday | None = None
    every_days: Annotated[int, Field(ge=1, le=364)] | None = None
    crane_days: tuple[date, ...] = Field(default=(), max_length=1000)
    max_carry_stages: Annotated[int, Field(ge=0, le=1000)] | None = None
    without: tuple[Limit, ...] = Field(default=(), max_length=len(LIMITS))
    service_level: Annotated[Rate, Field(gt=0, le=1), _RATE] | None = None
    staging: Literal["whole", "carry", "level"] = "whole"
    carry_cost: Money | None = None
    waiting_choice: Annotated[int, Field(ge=1, le=1000)] | None = None
    joint_rounds: Annotated[int, Field(ge=0, le=20)] | None = None
    time_limit: Annotated[float, Field(gt=0, le=600)] | None = None
    seed: int = Field(default=0, ge=0, le=2**31 - 1)

    @model_validator(mode="wrap")
    @classmethod
    def _faults_name_the_scenario(cls, data: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        try:
            made = handler(data)
        except ValidationError as error:
            raise as_scenario_faults(error, data, tuple(cls.model_fields)) from None
        for fault in made._contradictions():
            raise scenario_fault(made.name, fault)
        return made

    def _contradictions(self) -> Iterator[str]:
        """Options that cannot be given together, each with its values and the mend."""
        for band in (OF_DETAIL[:2], OF_DETAIL[2:5]):
            given = [(rule, getattr(self, rule)) for rule in band if getattr(self, rule) is not None]
            for (low, least), (high, most) in pairwise(given):
                if least > most:
                    yield f"{low} ({least}) is above {high} ({most}); swap them"
        if self.shifted and self.gap_mm is None:
            yield "shifted moves the gaps to a mean, and gap_mm is not given; give gap_mm"
        for limit in self.without:
            if (value := getattr(self, limit)) not in (None, ()):
                yield f"{limit} is given ({value}) and set aside by without; take one of them"
        for other in ("carry_cost", "joint_rounds", "time_limit"):
            if self.waiting_choice is not None and (value := getattr(self, other)):
                yield (
                    f"waiting_choice ({self.waiting_choice}) is given together with {other} ({value}); leave one out"
                )

    @property
    def changes(self) -> Mapping[str, Any]:
        """What is given beside the name, in the order of the fields; nothing else differs from the project."""
        return {
            name: getattr(self, name)
            for name, field in type(self).model_fields.items()
            if name != "name" and getattr(self, name) != field.default
        }

    @property
    def words(self) -> str:
        """'oversize_max 0.12, staging level'; 'as the project has it' where nothing is given."""
        return ", ".join(_said(name, value) for name, value in self.changes.items()) or NOTHING_CHANGED

    @property
    def rules(self) -> Mapping[str, Any]:
        """The rules of the detail that are given."""
        return {name: getattr(self, name) for name in OF_DETAIL if getattr(self, name) is not None}

    @property
    def limits(self) -> Mapping[str, Any]:
        """The columns of the `deliveries` table that are given; None or empty where one is set aside."""
        given: dict[str, Any] = {
            name: getattr(self, name) for name in OF_DELIVERIES if getattr(self, name) not in (None, ())
        }
        none: dict[str, Any] = {name: _NO_LIMIT.get(name) for name in OF_DELIVERIES if name in self.without}
        return {**given, **none}

    @property
    def not_plannable(self) -> str:
        """Why no order can be planned of it, with the mend; '' where one can. Gaps that nobody measured are for
        comparing: nothing may be cut to them."""
        if self.gap_mm is not None:
            return (
                f"gap_mm {self.gap_mm} is not what was surveyed, and nothing may be cut to it: compare with it, and"
                " plan once the survey has that gap"
            )
        if self.runs:
            return f"it takes only the runs {' '.join(self.runs)}: leave runs out to plan the whole building"
        return ""


class PricedScenario(Immutable):
    """A scenario, with the offers of suppliers and the day of ordering on which their prices must hold, where it names
    a supplier."""

    scenario: Scenario
    offers: tuple[Offer, ...] = Field(default=(), max_length=50)
    on: date | None = None


NOTHING_CHANGED = "as the project has it"
_NO_LIMIT: Mapping[str, Any] = {"combine": "none", "crane_days": ()}


def _said(name: str, value: Any) -> str:
    if isinstance(value, bool):
        return name
    if isinstance(value, tuple):
        return f"{name} {' '.join(str(part) for part in value)}"
    return f"{name} {value}"
