"""Steps of the work that are cut alike, gathered delivery by delivery: what the crew cuts in one go."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from optimiser.boards.cutting_steps import CuttingStep
from optimiser.writing.drawing.placed_board import BoardCuts, grouping_key
from optimiser.writing.drawing.plan_index import PlanIndex
from optimiser.writing.drawing.step_cuts import step_cuts


@dataclass(frozen=True, slots=True)
class Pattern:
    """One way to cut, for every board or remainder that is cut so with one delivery."""

    number: int
    stage: int
    boards: tuple[BoardCuts, ...]

    @property
    def cuts(self) -> BoardCuts:
        """The one that stands for all."""
        return self.boards[0]

    @property
    def count(self) -> int:
        """How many boards or remainders are cut so."""
        return len(self.boards)


class CutAt(NamedTuple):
    """Where a piece is cut: with which delivery, from which board or remainder, at which place of its drawing."""

    stage: int
    name: str
    place: str


@dataclass(frozen=True, slots=True)
class DeliveryCuts:
    """What is cut with one delivery: boards opened and remainders of several strips as patterns, the rest in words.

    `narrow` are the remainders with a single strip, rests of strips and halves of tapered pairs among them, which
    need no drawing. `steps` has all.
    """

    stage: int
    steps: tuple[CuttingStep, ...]
    patterns: tuple[Pattern, ...]
    narrow: tuple[BoardCuts, ...]

    @property
    def in_order(self) -> tuple[BoardCuts, ...]:
        """Everything that is cut, in the order of the sheets."""
        return (*(cuts for pattern in self.patterns for cuts in pattern.boards), *self.narrow)


def cuts_by_delivery(index: PlanIndex) -> dict[int, DeliveryCuts]:
    """Each delivery's patterns and narrow remainders, in delivery order.

    Boards come first, those of most alike at the head, then what stands on site, then the remainders from the
    rack. What rests on nominal gaps stands in patterns of its own.
    """
    return {
        stage: _delivery(index, stage, index.sequence.with_delivery(stage)) for stage in index.sequence.stages
    }


def ready_and_not(index: PlanIndex, delivery: DeliveryCuts) -> tuple[DeliveryCuts, DeliveryCuts]:
    """A delivery's cuts parted: those of measured levels, and those that wait for their survey."""
    ready = [step for step in delivery.steps if not any(index.is_forecast(piece) for piece in step.pieces)]
    other = [step for step in delivery.steps if any(index.is_forecast(piece) for piece in step.pieces)]
    if not other:
        return delivery, DeliveryCuts(delivery.stage, (), (), ())
    return _delivery(index, delivery.stage, ready), _delivery(index, delivery.stage, other)


def _delivery(index: PlanIndex, stage: int, steps: Iterable[CuttingStep]) -> DeliveryCuts:
    groups: dict[tuple[object, ...], list[BoardCuts]] = {}
    narrow: list[BoardCuts] = []
    steps = tuple(steps)
    for step in steps:
        cuts = step_cuts(index, step)
        one_strip = step.taken is not None and len(step.strips) == 1 and step.rest is None
        if cuts.kind == "board" and not one_strip:
            groups.setdefault(grouping_key(cuts), []).append(cuts)
        else:
            narrow.append(cuts)
    ordered = sorted(
        groups.values(),
        key=lambda boards: (boards[0].remainder, boards[0].offcut, boards[0].code, -len(boards)),
    )
    patterns = tuple(Pattern(number, stage, tuple(boards)) for number, boards in enumerate(ordered, start=1))
    return DeliveryCuts(stage, steps, patterns, tuple(narrow))


def places_of_pieces(deliveries: Mapping[int, DeliveryCuts]) -> dict[str, CutAt]:
    """Where each piece is cut, in the order of cutting."""
    return {
        piece.id: CutAt(stage, cuts.name, piece.place)
        for stage, delivery in deliveries.items()
        for cuts in delivery.in_order
        for piece in cuts.pieces
    }
