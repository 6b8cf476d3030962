"""What every row of a project's tables shares: immutable, no unknown columns, whole millimetres."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from optimiser.model.immutable import Immutable

LONGEST_MM = 10_000_000  # ten kilometres: beyond any slab edge, so a larger number is a slip

Millimetres = Annotated[int, Field(gt=0, le=LONGEST_MM)]
Position = Annotated[int, Field(ge=0, le=LONGEST_MM)]


class Table(Immutable):
    """A row of one of the contract's tables: immutable, no unknown columns."""
