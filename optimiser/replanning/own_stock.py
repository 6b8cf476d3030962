"""The stock of a survey as something at hand."""

from __future__ import annotations

from optimiser.model.progress import AtHand
from optimiser.model.project import Project


def own_stock(project: Project) -> tuple[AtHand, ...]:
    """The survey's own stock table, which is what is at hand before anything happened."""
    return tuple(
        AtHand(
            name=name,
            kind="stock",
            code=row.code,
            length_mm=row.length_mm,
            width_mm=row.width_mm,
            quantity=row.quantity,
            level=row.level,
        )
        for name, row in project.building.stock.items()
    )
