"""One index of a project: a level's stage, a product by its code, a run's gaps, looked up instead of searched for.

`Project.building` keeps it, so whoever has a project has it too. Each part is made when it is first asked for.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from functools import cached_property

from optimiser.model.detail import Detail
from optimiser.model.edges import Edge, Junction, edges_of, junctions_of
from optimiser.model.products import KINDS, Anchor, Board, Bracket, Kind, Product, Tape
from optimiser.model.sizes import Size
from optimiser.model.staging import FIRST_STAGE, DeliverySequence, Stage
from optimiser.model.tables import Gap, Level, Run, Stock


class Building:
    """A project's tables by their keys. Lengths are in whole mm."""

    def __init__(
        self,
        products: tuple[Product, ...],
        levels: tuple[Level, ...],
        runs: tuple[Run, ...],
        gaps: tuple[Gap, ...],
        stock: tuple[Stock, ...] = (),
        detail: Detail | None = None,
        details: Mapping[str, Detail] | None = None,
    ) -> None:
        self._products, self._levels, self._runs, self._gaps, self._stock = (
            products,
            levels,
            runs,
            gaps,
            stock,
        )
        self._details: dict[str, Detail] = {"": detail or Detail(), **(details or {})}

    # -- what may be bought

    @cached_property
    def products(self) -> Mapping[str, Product]:
        """Every product by its code, in the catalogue's order."""
        return {product.code: product for product in self._products}

    @cached_property
    def boards(self) -> Mapping[str, Board]:
        """The boards by code."""
        return {item.code: item for item in self._products if isinstance(item, Board)}

    @cached_property
    def brackets(self) -> tuple[Bracket, ...]:
        """The bracket sizes on offer, in the catalogue's order."""
        return tuple(item for item in self._products if isinstance(item, Bracket))

    @cached_property
    def anchor(self) -> Anchor | None:
        """The anchor that is ordered: the first listed, or None."""
        return next((item for item in self._products if isinstance(item, Anchor)), None)

    @cached_property
    def tape(self) -> Tape | None:
        """The tape that is ordered: the first listed, or None."""
        return next((item for item in self._products if isinstance(item, Tape)), None)

    @cached_property
    def by_kind(self) -> Mapping[Kind, tuple[Product, ...]]:
        """The products of each kind, in the catalogue's order."""
        return {kind: tuple(item for item in self._products if item.kind == kind) for kind in KINDS}

    @cached_property
    def in_trade_order(self) -> tuple[Product, ...]:
        """The products as an order lists them: boards, brackets, anchors, tape."""
        return tuple(item for kind in KINDS for item in self.by_kind[kind])

    # -- levels and their deliveries

    @cached_property
    def levels_in_order(self) -> tuple[Level, ...]:
        """The levels in delivery order; equal sequences keep the table's order."""
        return tuple(sorted(self._levels, key=lambda level: level.sequence))

    def in_delivery_order(self, levels: Collection[str]) -> tuple[str, ...]:
        """Those of the building's levels that are among these names, in delivery order."""
        return tuple(level.level for level in self.levels_in_order if level.level in levels)

    @cached_property
    def levels(self) -> Mapping[str, Level]:
        """The levels by name, in delivery order."""
        return {level.level: level for level in self.levels_in_order}

    @cached_property
    def place_of_level(self) -> Mapping[str, int]:
        """Where each level stands in the delivery order, from 0; levels of one delivery count one after the other."""
        return {name: place for place, name in enumerate(self.levels)}

    @cached_property
    def sequences(self) -> tuple[DeliverySequence, ...]:
        """The deliveries' sequence numbers, the first first."""
        return tuple(sorted({level.sequence for level in self._levels}))

    @cached_property
    def sequence_of_level(self) -> Mapping[str, DeliverySequence]:
        """The delivery of each level by the table's own number."""
        return {level.level: level.sequence for level in self._levels}

    @cached_property
    def stage_of_sequence(self) -> Mapping[DeliverySequence, Stage]:
        """The solver's count of each delivery."""
        return {sequence: Stage(place) for place, sequence in enumerate(self.sequences, start=FIRST_STAGE)}

    @cached_property
    def stage_of_level(self) -> Mapping[str, Stage]:
        """When each level's pieces are needed, as the solver counts."""
        return {name: self.stage_of_sequence[sequence] for name, sequence in self.sequence_of_level.items()}

    def sequence_of_stage(self, stage: int) -> DeliverySequence:
        """The levels' own sequence number of a stage. Raises IndexError when there are not so many deliveries."""
        if stage < FIRST_STAGE:
            raise IndexError(f"stages count from {FIRST_STAGE}: there is none of {stage}")
        return self.sequences[stage - FIRST_STAGE]

    @cached_property
    def delivered_together(self) -> Mapping[DeliverySequence, tuple[str, ...]]:
        """The levels of each delivery, in the table's order."""
        found: dict[DeliverySequence, tuple[str, ...]] = {}
        for level in self._levels:
            found[level.sequence] = (*found.get(level.sequence, ()), level.level)
        return found

    # -- runs and their gaps

    @cached_property
    def runs(self) -> Mapping[str, Run]:
        """The runs by name, in the table's order."""
        return {run.run: run for run in self._runs}

    @cached_property
    def gaps(self) -> Mapping[str, tuple[Gap, ...]]:
        """Each run's gaps in order of position."""
        found: dict[str, list[Gap]] = {run.run: [] for run in self._runs}
        for gap in self._gaps:
            found[gap.run].append(gap)
        return {run: tuple(sorted(gaps, key=lambda gap: gap.at_mm)) for run, gaps in found.items()}

    # -- the details that runs are built by

    def detail_of(self, run: str) -> Detail:
        """The tested detail that a run is built by. Raises KeyError for an unknown run or detail."""
        return self._details[self.runs[run].detail]

    @cached_property
    def details(self) -> tuple[Detail, ...]:
        """Each run's detail, in the table's order."""
        return tuple(self._details[run.detail] for run in self._runs)

    @cached_property
    def details_in_use(self) -> Mapping[str, Detail]:
        """The details that any run is built by, by name ('': the one that runs without a name take)."""
        used = {run.detail for run in self._runs}
        return {name: detail for name, detail in self._details.items() if name in used}

    @cached_property
    def placeholders(self) -> Mapping[str, tuple[str, ...]]:
        """By detail in use the rules that stand at common practice: that of curves only where a run of it is curved."""
        curved = {run.detail for run in self._runs if run.radius_mm is not None}
        return {
            name: tuple(
                rule for rule in detail.placeholders if rule != "curve_offset_max_mm" or name in curved
            )
            for name, detail in self.details_in_use.items()
        }

    @cached_property
    def _detail_of_board(self) -> Mapping[str, Detail]:
        """A detail that cuts each board: of the first run that it may serve."""
        found: dict[str, Detail] = {}
        for run in self._runs:
            for code in run.board:
                found.setdefault(code, self._details[run.detail])
        return found

    def cutting_rules_of(self, code: str) -> Detail:
        """The detail whose kerf and trimming hold for a board: of a board that serves no run, the project's own.

        Boards that are cut together have one kerf and one rule of trimming (`optimiser.boards.families`).
        """
        return self._detail_of_board.get(code, self._details[""])

    # -- where runs meet

    @cached_property
    def junctions(self) -> tuple[Junction, ...]:
        """Where a run begins that another one joins, in the order of the joining runs."""
        return junctions_of(self._runs)

    @cached_property
    def edges(self) -> tuple[Edge, ...]:
        """The slab edges that the runs make up: closed loops, and open ones from their first run."""
        return edges_of(self._runs)

    # -- what is on site already

    @cached_property
    def stock(self) -> Mapping[str, Stock]:
        """The rows of the `stock` table by the name that patterns give them: their own, or `stock-1`, `stock-2`, ..."""
        return {row.name or f"stock-{number}": row for number, row in enumerate(self._stock, start=1)}

    @cached_property
    def size_of_stock(self) -> Mapping[str, Size]:
        """The size of whatever a pattern may cut: a board by its code, a row of the stock by its name."""
        return {code: board.size for code, board in self.boards.items()} | {
            name: row.size for name, row in self.stock.items()
        }
