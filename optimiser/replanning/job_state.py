"""How a job stands by its record: what is cut, fitted and spoilt, on the rack, bought and lost."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from optimiser.cutting.problem import Strip
from optimiser.model.progress import AtHand, CutBoard


@dataclass
class Happened:
    """`cut` and `fitted` are ids of pieces (fitted ones are cut too), `spoilt` those that were cut and are lost;
    `boards` are opened; `rack` is what is kept, by name, and `waiting` the strips that the plan still cuts from a
    remainder; `ordered`, `ordered_for` a level, `delivered` and `lost` are single units by product code."""

    cut: set[str] = field(default_factory=set)
    fitted: set[str] = field(default_factory=set)
    spoilt: set[str] = field(default_factory=set)
    boards: list[CutBoard] = field(default_factory=list)
    rack: dict[str, AtHand] = field(default_factory=dict)
    waiting: dict[str, tuple[Strip, ...]] = field(default_factory=dict)
    ordered: Counter[str] = field(default_factory=Counter)
    ordered_for: dict[str, Counter[str]] = field(default_factory=dict)
    delivered: Counter[str] = field(default_factory=Counter)
    lost: Counter[str] = field(default_factory=Counter)

    @property
    def opened(self) -> set[int]:
        """The numbers of the layouts whose boards are opened."""
        return {board.number for board in self.boards}
