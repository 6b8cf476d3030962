"""A plan with what drawings look up: pieces by id, runs, products, sizes, levels in delivery order."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from functools import cached_property

from optimiser.boards.cutting_sequence import cutting_sequence
from optimiser.boards.cutting_steps import CuttingSequence
from optimiser.boards.forecast_levels import forecast_levels
from optimiser.cutting.problem import CuttingPattern
from optimiser.model.plan import Plan
from optimiser.model.planned_pieces import NotPlanned, PlannedPiece
from optimiser.model.project import Gap, Level, Product, Run
from optimiser.model.sizes import Size
from optimiser.writing.drawing.shapes import without_control_characters


class PlanIndex:
    """A plan with what drawings look up: pieces by id, runs, products, levels in delivery order.

    `text` makes the plan's own words fit for the medium (XML, or a font that lacks letters).
    """

    def __init__(self, plan: Plan, text: Callable[[str], str] = without_control_characters) -> None:
        self.plan = plan
        self.text = text
        self.pieces: dict[str, PlannedPiece] = {piece.id: piece for piece in plan.pieces}
        self.products: Mapping[str, Product] = plan.project.building.products
        self.levels: tuple[Level, ...] = plan.project.levels_in_order()
        self.level_place: Mapping[str, int] = plan.project.building.place_of_level

    @cached_property
    def pieces_of_run(self) -> dict[str, tuple[PlannedPiece, ...]]:
        """Each run's pieces from its start."""
        found: dict[str, list[PlannedPiece]] = {run.run: [] for run in self.plan.project.runs}
        for piece in self.plan.pieces:
            found.setdefault(piece.run, []).append(piece)
        return {run: tuple(sorted(pieces, key=lambda piece: piece.from_mm)) for run, pieces in found.items()}

    @cached_property
    def runs(self) -> Mapping[str, Run]:
        """The runs by name."""
        return self.plan.project.building.runs

    @cached_property
    def gaps_of_run(self) -> Mapping[str, tuple[Gap, ...]]:
        """Each run's readings in order of position."""
        return self.plan.project.building.gaps

    @cached_property
    def not_planned_of_run(self) -> dict[str, list[NotPlanned]]:
        """What cannot be built on each run."""
        found: dict[str, list[NotPlanned]] = {}
        for place in self.plan.not_planned:
            found.setdefault(place.run, []).append(place)
        return found

    @cached_property
    def sequence(self) -> CuttingSequence:
        """What is cut when: each board's openings, remainders and left-overs."""
        plan = self.plan
        return cutting_sequence(plan.project, plan.pieces, plan.layouts, plan.left_over)

    @cached_property
    def layout_numbers(self) -> tuple[int, ...]:
        """The numbers of the plan's layouts, in its order."""
        return tuple(number for number, _ in self.plan.numbered_layouts)

    @cached_property
    def forecast_levels(self) -> frozenset[str]:
        """The levels that are not wholly measured: nothing of them is ready to cut."""
        return forecast_levels(self.plan.project)

    def is_forecast(self, piece: str) -> bool:
        """Whether a piece belongs to a level that must be measured before it is cut."""
        planned = self.pieces.get(piece)
        return planned is not None and planned.level in self.forecast_levels

    @cached_property
    def levels_of_stage(self) -> dict[int, tuple[str, ...]]:
        """The levels of each delivery, in the table's order."""
        found: dict[int, list[str]] = {}
        for level in self.levels:
            found.setdefault(level.sequence, []).append(level.level)
        return {stage: tuple(levels) for stage, levels in found.items()}

    def stages_of(self, levels: Collection[str]) -> tuple[int, ...]:
        """The deliveries of levels, in order."""
        return tuple(
            stage for stage, names in self.levels_of_stage.items() if any(name in levels for name in names)
        )

    def names_in_text(self, levels: Collection[str]) -> str:
        """The names of levels in delivery order, in letters that the medium can show."""
        return ", ".join(self.text(level.level) for level in self.levels if level.level in levels)

    @cached_property
    def board_of_piece(self) -> dict[str, str]:
        """The code of the board that each piece is cut from."""
        return {
            piece.id: layout.code or layout.stock
            for layout in self.plan.layouts
            for strip in layout.strips
            for piece in strip.pieces
        }

    def stage_of(self, piece: str, unknown: int) -> int:
        """The delivery that needs a piece; `unknown` for one that the plan does not list."""
        planned = self.pieces.get(piece)
        place = None if planned is None else self.level_place.get(planned.level)
        return unknown if place is None else self.levels[place].sequence

    def opened_with(self, layout: CuttingPattern) -> int:
        """The delivery with which a layout's board is opened: the first that needs a piece of it."""
        stages = [self.stage_of(piece.id, layout.stage) for strip in layout.strips for piece in strip.pieces]
        return max(layout.stage, min(stages, default=layout.stage))

    @cached_property
    def kept_sizes(self) -> set[tuple[str, int, int, int]]:
        """(board code, stage, length, width) of every left-over that the plan keeps."""
        return {(rest.code, rest.stage, rest.length_mm, rest.width_mm) for rest in self.plan.left_over}

    @cached_property
    def stock_sizes(self) -> Mapping[str, Size]:
        """The size of whatever a layout may be cut from, by the name that layouts give it."""
        return self.plan.project.building.size_of_stock

    def level_of(self, layout: CuttingPattern) -> str:
        """The level with which a layout's board is delivered: the first that needs a piece of it."""
        levels = {
            self.pieces[piece.id].level
            for strip in layout.strips
            for piece in strip.pieces
            if piece.id in self.pieces
        }
        if not levels:
            return self.levels[0].level if self.levels else ""
        return min(levels, key=lambda level: self.level_place.get(level, len(self.levels)))

    def stock_size(self, layout: CuttingPattern) -> Size:
        """The size of the board or offcut that a layout cuts.

        Raises ValueError when neither a product nor a row of the stock table has the layout's name.
        """
        try:
            return self.stock_sizes[layout.stock]
        except KeyError:
            raise ValueError(
                f"a layout is cut from {layout.stock}, which is neither a board of the products nor a row of"
                " the stock table; plan the project again"
            ) from None

    def kerf_of(self, layout: CuttingPattern) -> int:
        """What the saw takes of the board that a layout cuts, in mm."""
        return self.plan.project.building.cutting_rules_of(layout.code or layout.stock).kerf_mm

    def is_offcut(self, layout: CuttingPattern) -> bool:
        """Whether the layout cuts material that is already on site."""
        return layout.stock not in self.products
