"""What was measured on site, what may be bought, and the rules of the tested detail.

Immutable models of the contract's tables. Lengths are integer millimetres, money (`optimiser.model.money`) and rates
exact decimals: binary floats never carry either. Reading (`optimiser.reading`) builds a `Project` from files and
reports every fault with its place; the models here refuse what could not be planned at all.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cached_property
from typing import Any, Self

from pydantic import Field, model_validator

from optimiser.model.building import Building
from optimiser.model.crew_rates import CrewRates
from optimiser.model.detail import Detail, Rate
from optimiser.model.edges import faults_of_joins
from optimiser.model.parties import Party, Role
from optimiser.model.products import KINDS, Anchor, Board, Bracket, Kind, Product, Tape
from optimiser.model.survey_limits import SurveyLimits
from optimiser.model.table import LONGEST_MM, Table
from optimiser.model.tables import (
    WEEKDAYS,
    Allowance,
    Basis,
    Combine,
    DeliveryLimits,
    Gap,
    Heading,
    Level,
    PriceBreak,
    Run,
    Stock,
    Weekday,
)
from optimiser.tables.text import counted

__all__ = [
    "KINDS", "LONGEST_MM", "WEEKDAYS", "Allowance", "Anchor", "Basis", "Board", "Bracket", "Combine", "CrewRates",
    "DeliveryLimits", "Detail", "Gap", "Heading", "Kind", "Level", "Party", "PriceBreak", "Product", "Project", "Rate",
    "Run", "Stock", "SurveyLimits", "Table", "Tape", "Weekday",
]  # fmt: skip


class Project(Table):
    """Everything one building's plan is made from.

    `survey_limits` say from where on the survey is questioned, `crew_rates` how long the work takes,
    `reading_notes` what reading it had to assume (a decimal rounded up, a reading marked as approximate).
    """

    project: Heading = Heading()
    detail: Detail = Detail()
    details: dict[str, Detail] = Field(default_factory=dict)
    products: tuple[Product, ...]
    levels: tuple[Level, ...]
    runs: tuple[Run, ...]
    gaps: tuple[Gap, ...]
    stock: tuple[Stock, ...] = ()
    allowance: tuple[Allowance, ...] = ()
    deliveries: tuple[DeliveryLimits, ...] = Field(default=(), max_length=1)
    price_breaks: tuple[PriceBreak, ...] = ()
    parties: tuple[Party, ...] = ()
    survey_limits: SurveyLimits = SurveyLimits()
    crew_rates: CrewRates = CrewRates()
    reading_notes: tuple[str, ...] = ()

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
            if run.detail and run.detail not in self.details:
                raise ValueError(f"run {run.run} names the unknown detail {run.detail}")
        for fault in faults_of_joins(self.runs):
            raise ValueError(f"run {fault.run} joins {runs[fault.run].joins}: {fault.message}")
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
        if len({row.party for row in self.parties}) != len(self.parties):
            raise ValueError("a party has two rows")
        for limits in self.deliveries:
            for board in self.boards:
                if limits.stack_height_mm and (board.thickness_mm or LONGEST_MM) > limits.stack_height_mm:
                    raise ValueError(f"no board {board.code} of a known thickness fits stack_height_mm")
                if (limits.truck_payload_kg or limits.floor_load_kg_m2) and board.weight_kg is None:
                    raise ValueError(f"a limit in kg is given, but the board {board.code} has no weight_kg")
        return self

    @cached_property
    def building(self) -> Building:
        """The index of this project: levels, products, runs and gaps by their keys."""
        return Building(
            self.products, self.levels, self.runs, self.gaps, self.stock, self.detail, self.details
        )

    def __copy__(self) -> Self:
        """A copy without the index, so that a changed copy makes its own."""
        copied = super().__copy__()
        copied.__dict__.pop("building", None)
        return copied

    def __deepcopy__(self, memo: dict[int, Any] | None = None) -> Self:
        copied = super().__deepcopy__(memo)
        copied.__dict__.pop("building", None)
        return copied

    def product(self, code: str) -> Product:
        """The product with this code. Raises KeyError when there is none."""
        return self.building.products[code]

    @property
    def boards(self) -> tuple[Board, ...]:
        """All boards, in the catalogue's order."""
        return tuple(self.building.boards.values())

    @property
    def brackets(self) -> tuple[Bracket, ...]:
        """All bracket sizes, in the catalogue's order."""
        return self.building.brackets

    @property
    def anchors(self) -> tuple[Anchor, ...]:
        """All anchors, in the catalogue's order."""
        return tuple(item for item in self.products if isinstance(item, Anchor))

    @property
    def tapes(self) -> tuple[Tape, ...]:
        """All tapes, in the catalogue's order."""
        return tuple(item for item in self.products if isinstance(item, Tape))

    def products_of(self, kind: Kind) -> tuple[Product, ...]:
        """All products of a kind, in the catalogue's order."""
        return self.building.by_kind[kind]

    def levels_in_order(self) -> tuple[Level, ...]:
        """The levels in delivery order; equal sequences keep the table's order."""
        return self.building.levels_in_order

    @property
    def delivery_limits(self) -> DeliveryLimits | None:
        """The row of the `deliveries` table; an empty row where only price breaks are given; None without both."""
        if self.deliveries:
            return self.deliveries[0]
        return DeliveryLimits() if self.price_breaks else None

    def party(self, role: Role) -> Party:
        """The buyer, the supplier or whoever takes delivery: the row of the `parties` table with the name of the
        `project` table where it has none of its own."""
        named: str = getattr(self.project, role)
        row = next((row for row in self.parties if row.party == role), Party(party=role))
        return row if row.name else row.model_copy(update={"name": named})

    def with_runs(self, runs: Iterable[Run]) -> Project:
        """The project with these of its runs only, and their gaps."""
        kept = tuple(runs)
        names = {run.run for run in kept}
        return self.model_copy(
            update={"runs": kept, "gaps": tuple(gap for gap in self.gaps if gap.run in names)}
        )

    def gaps_of(self) -> Mapping[str, tuple[Gap, ...]]:
        """Each run's gaps in order of position."""
        return self.building.gaps

    def __repr__(self) -> str:
        """'Sample Tower: 14 levels, 56 runs, 1,304 gaps'."""
        parts = ((self.levels, "level"), (self.runs, "run"), (self.gaps, "gap"))
        return (
            f"{self.project.name or 'Project'}: {', '.join(counted(len(rows), noun) for rows, noun in parts)}"
        )

    __str__ = __repr__
