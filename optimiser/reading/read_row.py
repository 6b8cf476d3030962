"""A table's row on its way from cells to a model."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any


@dataclass
class ReadRow:
    """A row whose cells are read: what could be read of it, as written, and whether all could."""

    number: int
    values: dict[str, Any]
    raw: Mapping[str, object]
    whole: bool
