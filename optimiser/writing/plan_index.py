"""A plan with what drawings look up: pieces by id, runs, products, sizes, levels in delivery order."""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property

from optimiser.cutting.problem import Layout
from optimiser.cutting_stages import stock_names
from optimiser.plan import NotPlanned, Plan, PlannedPiece
from optimiser.project import Gap, Level, Product, Run
from optimiser.writing.shapes import without_control_characters


class PlanIndex:
    """A plan with what drawings look up: pieces by id, runs, products, levels in delivery order.

    `text` makes the plan's own words fit for the medium (XML, or a font that lacks letters).
    """

    def __init__(self, plan: Plan, text: Callable[[str], str] = without_control_characters) -> None:
        self.plan = plan
        self.text = text
        self.pieces: dict[str, PlannedPiece] = {piece.id: piece for piece in plan.pieces}
        self.products: dict[str, Product] = {product.code: product for product in plan.project.products}
        self.levels: tuple[Level, ...] = plan.project.levels_in_order()
        self.level_place: dict[str, int] = {level.level: place for place, level in enumerate(self.levels)}

    @cached_property
    def pieces_of_run(self) -> dict[str, tuple[PlannedPiece, ...]]:
        """Each run's pieces from its start."""
        found: dict[str, list[PlannedPiece]] = {run.run: [] for run in self.plan.project.runs}
        for piece in self.plan.pieces:
            found.setdefault(piece.run, []).append(piece)
        return {run: tuple(sorted(pieces, key=lambda piece: piece.from_mm)) for run, pieces in found.items()}

    @cached_property
    def runs(self) -> dict[str, Run]:
        """The runs by name."""
        return {run.run: run for run in self.plan.project.runs}

    @cached_property
    def gaps_of_run(self) -> dict[str, tuple[Gap, ...]]:
        """Each run's readings in order of position."""
        return self.plan.project.gaps_of()

    @cached_property
    def not_planned_of_run(self) -> dict[str, list[NotPlanned]]:
        """What cannot be built on each run."""
        found: dict[str, list[NotPlanned]] = {}
        for place in self.plan.not_planned:
            found.setdefault(place.run, []).append(place)
        return found

    @cached_property
    def kept_sizes(self) -> set[tuple[str, int, int, int]]:
        """(board code, stage, length, width) of every left-over that the plan keeps."""
        return {(rest.code, rest.stage, rest.length_mm, rest.width_mm) for rest in self.plan.left_over}

    @cached_property
    def stock_sizes(self) -> dict[str, tuple[int, int]]:
        """(length, width) of whatever a layout may be cut from, by the name that layouts give it."""
        sizes = {
            code: (product.length_mm, product.width_mm)
            for code, product in self.products.items()
            if product.length_mm is not None and product.width_mm is not None
        }
        names = stock_names(self.plan.project)
        for name, item in zip(names, self.plan.project.stock, strict=True):
            sizes[name] = (item.length_mm, item.width_mm)
        return sizes

    def level_of(self, layout: Layout) -> str:
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

    def stock_size(self, layout: Layout) -> tuple[int, int]:
        """(length, width) of the board or offcut that a layout cuts, in mm.

        Raises ValueError when neither a product nor a row of the stock table has the layout's name.
        """
        try:
            return self.stock_sizes[layout.stock]
        except KeyError:
            raise ValueError(
                f"a layout is cut from {layout.stock}, which is neither a board of the products nor a row of"
                " the stock table; plan the project again"
            ) from None

    def is_offcut(self, layout: Layout) -> bool:
        """Whether the layout cuts material that is already on site."""
        return layout.stock not in self.products
