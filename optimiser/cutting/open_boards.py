"""Boards being made: strips in slots, pieces by name, before they become immutable layouts."""

from __future__ import annotations

from dataclasses import dataclass, field

from optimiser.cutting.demand import Demand


@dataclass(eq=False)
class OpenStrip:
    """A strip being filled: its components, each a tuple of types, and the pieces' indices by component."""

    width: int
    held: list[tuple[int, ...]]
    names: list[list[int]] = field(default_factory=list)

    def widest(self, demand: Demand) -> int:
        """The greatest width at which no piece would leave its window."""
        pieces = demand.problem.pieces
        return max(self.width, min(pieces[index].width_max_mm for names in self.names for index in names))

    def stages(self, demand: Demand) -> tuple[int, int]:
        """The first and the last stage of its pieces."""
        pieces = demand.problem.pieces
        if len(self.names) == 1 and len(self.names[0]) == 1:  # most strips
            alone = pieces[self.names[0][0]].stage
            return alone, alone
        stages = [pieces[index].stage for names in self.names for index in names]
        return min(stages), max(stages)


@dataclass(eq=False)
class OpenBoard:
    """A board or offcut and its strips."""

    source: int
    strips: list[OpenStrip]

    def stage(self, demand: Demand) -> int:
        """When it is opened: with its earliest piece."""
        pieces = demand.problem.pieces
        return min(pieces[index].stage for strip in self.strips for names in strip.names for index in names)

    def copied(self) -> OpenBoard:
        """The same board with strips of its own."""
        return OpenBoard(
            self.source,
            [
                OpenStrip(strip.width, list(strip.held), [list(names) for names in strip.names])
                for strip in self.strips
            ],
        )

    def free_width(self, demand: Demand) -> int:
        """Width across the board that no strip or kerf takes; one more strip needs its width and a kerf of it."""
        source = demand.sources[self.source]
        return source.width + source.kerf - sum(strip.width + source.kerf for strip in self.strips)
