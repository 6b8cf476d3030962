"""How a job stands when a plan is made again: boards that are opened, what is at hand, what was supplied."""

from __future__ import annotations

from typing import Literal

from optimiser.model.immutable import Immutable
from optimiser.model.sizes import Size

AtHandKind = Literal["remainder", "piece", "on site", "on order", "stock"]


class AtHand(Immutable):
    """Board that the plan need not buy, under the name that its patterns give it.

    A remainder on the rack; a cut piece that serves no place any more; whole boards on site or on order (there with the
    delivery of `level`); stock that was on site from the start. `level` '' is now. Lengths in mm.
    """

    name: str
    kind: AtHandKind
    code: str
    length_mm: int
    width_mm: int
    quantity: int = 1
    level: str = ""

    @property
    def size(self) -> Size:
        """Its length and width."""
        return Size(self.length_mm, self.width_mm)

    @property
    def whole(self) -> bool:
        """Whether these are whole boards as they were bought, on site or on order."""
        return self.kind in ("on site", "on order")

    @property
    def racked(self) -> bool:
        """Whether it is a remainder or a cut piece without a place; stock from the start is the user's own."""
        return self.kind in ("remainder", "piece")


class Part(Immutable):
    """A rectangle of a board, by the name of what it is kept as. Lengths in mm."""

    name: str
    length_mm: int
    width_mm: int


class CutBoard(Immutable):
    """A board that is opened: `number` is its layout's in the plan that it was cut by, `name` what is written on it.

    Of its area (`length_mm` x `width_mm`) `pieces` are cut and `kept` are the remainders that were left of it when the
    plan was made; the rest, `scrap_mm2`, is kerf, trimmings and scrap. `source` is the board's code or the name of what
    was at hand; `bought` says which.
    """

    number: int
    name: str
    source: str
    code: str
    bought: bool
    length_mm: int
    width_mm: int
    pieces: tuple[str, ...]
    kept: tuple[Part, ...] = ()
    twice_pieces_mm2: int
    scrap_mm2: int


class Supplied(Immutable):
    """What was ordered of a product, in single boards, brackets, anchors or rolls, and where it is.

    `usable` of what is not `used` yet may be planned with: the rest is the allowance for breakage and loss. `spare` is
    what of it neither the plan nor its forecast needs. These three are in mm of tape, since a roll that is begun on one
    level serves the next.
    """

    code: str
    ordered: int
    delivered: int
    lost: int
    used: int
    usable: int
    spare: int = 0


class Job(Immutable):
    """How the job stood when the plan was made: from the record and the plans before it.

    `discarded` was at hand until this plan, which has no use for it: it can go.
    """

    cut_boards: tuple[CutBoard, ...] = ()
    at_hand: tuple[AtHand, ...] = ()
    discarded: tuple[AtHand, ...] = ()
    supplied: tuple[Supplied, ...] = ()
