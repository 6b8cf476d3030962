"""What every draw of a simulation needs, kept as it was drawn."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from optimiser.model.immutable import Immutable
from optimiser.model.project import Kind, Project
from optimiser.simulation.counts import DrawCounts
from optimiser.tables.frames import frame_of
from optimiser.tables.simulated import draw_columns

if TYPE_CHECKING:
    import pandas

    from optimiser.joints.arrays import Integers


class DrawnProduct(Immutable):
    """What each draw needs of one product: single boards, brackets and anchors, whole rolls of tape."""

    kind: Kind
    code: str
    needs: tuple[int, ...]


class DrawnNeeds(Immutable):
    """Every draw, an entry a draw in the order drawn.

    `products` are all that a draw can need, in trade order. `not_planned_mm` of the edge are left open; for
    `pieces_without_bracket` no bracket on offer fits.
    """

    products: tuple[DrawnProduct, ...]
    pieces: tuple[int, ...]
    tape_mm: tuple[int, ...]
    pieces_without_bracket: tuple[int, ...]
    not_planned_mm: tuple[int, ...]

    @classmethod
    def of(cls, project: Project, needs: Mapping[str, Integers], counts: DrawCounts) -> DrawnNeeds:
        """The draws' counts, with what they need of each product code; a product that is not counted is left out."""
        return cls(
            products=tuple(
                DrawnProduct(kind=product.kind, code=product.code, needs=tuple(needs[product.code].tolist()))
                for product in project.building.in_trade_order
                if product.code in needs
            ),
            pieces=tuple(counts.pieces.tolist()),
            tape_mm=tuple(counts.tape_mm.tolist()),
            pieces_without_bracket=tuple(counts.without_bracket.tolist()),
            not_planned_mm=tuple(counts.open_mm.tolist()),
        )

    def to_frame(self) -> pandas.DataFrame:
        """A row a draw: see `SimulatedAllowance.draws_frame`."""
        further = ("pieces", "tape_mm", "pieces_without_bracket", "not_planned_mm")
        columns = draw_columns([(product.kind, product.code) for product in self.products], further)
        values = (*(product.needs for product in self.products), *(getattr(self, name) for name in further))
        names = [column.name for column in columns]
        return frame_of(columns, [dict(zip(names, row, strict=True)) for row in zip(*values, strict=True)])
