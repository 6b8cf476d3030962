"""A refit: what a newer survey makes of pieces that are cut already. Types only; `optimiser.replanning.refit` makes it.

Immutable; integer millimetres and square millimetres, exact money.
"""

from __future__ import annotations

from optimiser.cutting.status import Status
from optimiser.model.immutable import Immutable
from optimiser.model.order import Order
from optimiser.model.planned_boards import PlannedLeftOver, PlannedPattern
from optimiser.model.planned_pieces import NotPlanned, PlannedPiece
from optimiser.model.sizes import Size
from optimiser.tables.amounts import grouped_money
from optimiser.tables.text import counted


class Reuse(Immutable):
    """A cut piece and the place that it goes to. `cut_to_mm` is its new length where it is shortened;
    `width_start_mm` and `width_end_mm` are its widths when fitted, `trimmed` whether they are less than as cut."""

    piece: str
    place: str
    level: str
    run: str
    from_mm: int
    to_mm: int
    cut_to_mm: int | None
    trimmed: bool
    width_start_mm: int
    width_end_mm: int


class Recut(Immutable):
    """A place that no cut piece serves: what must be cut for it, and from what (`source`: a board's code, a
    left-over or the end of a shortened piece, named as in `materials`)."""

    place: str
    level: str
    run: str
    from_mm: int
    to_mm: int
    width_min_mm: int
    width_max_mm: int
    cut_width_start_mm: int
    cut_width_end_mm: int
    source: str
    code: str


class Material(Immutable):
    """Board on hand that is not a piece: a left-over, an unused stock row, the end of a shortened piece."""

    id: str
    code: str
    length_mm: int
    width_mm: int
    quantity: int
    what: str

    @property
    def size(self) -> Size:
        """Its length and width."""
        return Size(self.length_mm, self.width_mm)


class KeptPiece(Immutable):
    """A cut piece that serves no place of the newer survey: it stays on site as it is."""

    piece: str
    code: str
    length_mm: int
    width_start_mm: int
    width_end_mm: int


class BroughtForward(Immutable):
    """Packs that are ordered already, but must come with an earlier level than they were ordered for."""

    code: str
    packs: int
    from_level: str
    to_level: str


class Account(Immutable):
    """Where all board went, in mm2. In: `bought` + `stock` + `ordered` (by this refit). Out: `fitted` (closed
    levels) + `reused` + `recut` + `kept_pieces` + `left_over` + `uncut_boards` + `scrap`, of which `reworked` is
    what shortening and trimming cut pieces lost."""

    bought_mm2: int
    stock_mm2: int
    ordered_mm2: int
    fitted_mm2: int
    reused_mm2: int
    recut_mm2: int
    kept_pieces_mm2: int
    left_over_mm2: int
    uncut_boards_mm2: int
    scrap_mm2: int
    reworked_mm2: int


class Refit(Immutable):
    """What becomes of cut pieces, what is re-cut, and what must be ordered on top of what is bought.

    `most_reusable` and `most_reused_mm2` are proved by duality: no assignment re-uses more pieces, and none of
    as many serves more area. `pieces` are all pieces as they will be fitted (closed levels as they are).
    `recut_lower_bound` is proved for the places that are re-cut: no way of cutting them takes fewer boards.
    """

    cut_pieces: int
    closed_pieces: int
    reused_pieces: int
    most_reusable: int
    most_reused_mm2: int
    stays: tuple[Reuse, ...]
    moves: tuple[Reuse, ...]
    recut: tuple[Recut, ...]
    kept_pieces: tuple[KeptPiece, ...]
    not_planned: tuple[NotPlanned, ...]
    pieces: tuple[PlannedPiece, ...]
    materials: tuple[Material, ...]
    layouts: tuple[PlannedPattern, ...]
    left_over: tuple[PlannedLeftOver, ...]
    recut_boards: dict[str, int]
    recut_lower_bound: int
    uncut_boards: dict[str, int]
    order: Order
    brought_forward: tuple[BroughtForward, ...]
    account: Account
    cut_levels: tuple[str, ...]
    fitted_levels: tuple[str, ...]
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]

    @property
    def status(self) -> Status:
        """Whether every place is served, by the most cut pieces that can be re-used and the fewest boards."""
        proved = self.reused_pieces == self.most_reusable and self.recut_lower_bound == sum(
            self.recut_boards.values()
        )
        return Status.of(proved=proved, left_out=bool(self.not_planned))

    def __repr__(self) -> str:
        """'1,578 of 1,579 pieces re-used, proved; 34 cut again; to order AUD 120.00'."""
        free = self.cut_pieces - self.closed_pieces
        proof = "proved" if self.reused_pieces == self.most_reusable else f"at most {self.most_reusable:,}"
        order = grouped_money(self.order.total, self.order.currency) if self.order.lines else "nothing"
        return (
            f"{self.reused_pieces:,} of {counted(free, 'piece')} re-used, {proof}; {len(self.recut):,} cut again;"
            f" to order {order}"
        )

    __str__ = __repr__
