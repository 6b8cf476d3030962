"""The steps in which boards are cut, delivery by delivery: what each takes, cuts, keeps and leaves, to the mm2."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from optimiser.boards.delivery_order import Slot
from optimiser.model.remainder import Remainder
from optimiser.model.staging import DeliverySequence


@dataclass(frozen=True, slots=True)
class Rest:
    """A rectangle that nothing more is planned for: a left-over to keep, or scrap. Sizes in mm."""

    length_mm: int
    width_mm: int
    keep: bool


@dataclass(frozen=True, slots=True)
class Areas:
    """Where a step's area goes, in mm2: `taken` is the sum of the others. A taper's area may end in a half.

    `scrap`: what is trimmed beside pieces, and rests too small to keep.
    """

    taken: Fraction
    pieces: Fraction
    remainders: Fraction
    left_overs: Fraction
    kerf: Fraction
    scrap: Fraction


@dataclass(frozen=True, slots=True)
class StripCut:
    """A strip, or the rest of one, as it is cut in one step.

    `strip` counts the board's strips from the datum edge (from 0), and `numbers` the pieces cut now among the
    `pieces_in_all` of the whole strip (from 1). `length_mm` and `width_mm` are what there is of it now. `slots`
    are cut now, from its datum end; of a pair for two deliveries only the piece that is needed now is in its
    slot, and what waits of it is in `halves`, which has an entry a slot. `rest` is what waits at its far end,
    `end` what is over.
    """

    strip: int
    numbers: tuple[int, ...]
    pieces_in_all: int
    length_mm: int
    width_mm: int
    slots: tuple[Slot, ...]
    halves: tuple[Remainder | None, ...]
    rest: Remainder | None
    end: Rest | None


@dataclass(frozen=True, slots=True)
class CuttingStep:
    """What is cut from one board or remainder with one delivery.

    `taken` is the remainder that comes from the rack, None where the board is opened; `length_mm` and `width_mm`
    are its size. `rest` is what waits of its full width, `edge` what is over there. `levels` are those whose
    pieces are cut, in delivery order.
    """

    stage: DeliverySequence
    levels: tuple[str, ...]
    board: str
    layout: int
    stock: str
    code: str
    on_site: bool
    taken: Remainder | None
    length_mm: int
    width_mm: int
    strips: tuple[StripCut, ...]
    rest: Remainder | None
    edge: Rest | None
    areas: Areas

    @property
    def name(self) -> str:
        """The name of what is cut: the board's, or the remainder's."""
        return self.taken.name if self.taken else self.board

    @property
    def kept(self) -> tuple[Remainder, ...]:
        """The remainders that go on the rack, in the order of their names."""
        parts = [self.rest, *(part for strip in self.strips for part in (strip.rest, *strip.halves))]
        return tuple(part for part in parts if part is not None)

    @property
    def left_overs(self) -> tuple[Rest, ...]:
        """What is over and large enough to keep."""
        rests = (self.edge, *(strip.end for strip in self.strips))
        return tuple(rest for rest in rests if rest is not None and rest.keep)

    @property
    def pieces(self) -> tuple[str, ...]:
        """The ids of the pieces that are got, in the order of cutting."""
        return tuple(piece.id for strip in self.strips for slot in strip.slots for piece in slot)


@dataclass(frozen=True)
class CuttingSequence:
    """All steps of a plan, in the order of work: delivery by delivery, board by board."""

    steps: tuple[CuttingStep, ...]

    @cached_property
    def remainders(self) -> tuple[Remainder, ...]:
        """Every remainder that is ever racked, board by board in the order in which they are kept."""
        return tuple(part for step in sorted(self.steps, key=_by_board) for part in step.kept)

    @cached_property
    def _by_stage(self) -> dict[DeliverySequence, tuple[CuttingStep, ...]]:
        found: dict[DeliverySequence, list[CuttingStep]] = {}
        for step in self.steps:
            found.setdefault(step.stage, []).append(step)
        return {stage: tuple(steps) for stage, steps in found.items()}

    @property
    def stages(self) -> tuple[DeliverySequence, ...]:
        """The deliveries with which anything is cut, the levels' own sequence numbers."""
        return tuple(sorted(self._by_stage))

    def with_delivery(self, stage: DeliverySequence) -> tuple[CuttingStep, ...]:
        """What is cut with a delivery: the boards that are opened first, then the remainders that are taken."""
        return self._by_stage.get(stage, ())

    def on_rack_after(self, stage: DeliverySequence) -> tuple[Remainder, ...]:
        """The remainders that stand on the rack when a delivery is cut."""
        return tuple(part for part in self.remainders if part.stage <= stage < part.cut_stage)


def _by_board(step: CuttingStep) -> tuple[int, str, int]:
    return step.layout, step.board, step.stage
