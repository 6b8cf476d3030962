"""What each way of staging the deliveries costs: level by level, carried, or the building as a whole.

One plan is made for each mode, each judged, and their numbers stand side by side: what carrying saves in
boards, and what it asks of the site in pieces to keep apart and board to store.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from fractions import Fraction

from optimiser.cutting_pieces import PlanProgress
from optimiser.plan import Plan, Staging
from optimiser.planning import plan
from optimiser.project import Project
from optimiser.site_storage import standing_over_time

MODES: tuple[Staging, ...] = ("level", "carry", "whole")


@dataclass(frozen=True)
class StagingOption:
    """A mode's numbers. `lower_bound` and `bounds` are proved: no plan of that mode buys fewer boards.

    `cost_cents` is the order's total. `pieces_carried` are cut with an earlier delivery than they are fitted
    with. `peak_storage_mm2` is the most board face area on site at a time, `peak_at` the levels delivered then.
    `deliveries` are days on which something arrives, `truckloads` None where no truck's size is given.
    """

    staging: Staging
    max_carry_stages: int | None
    boards: int
    lower_bound: int
    boards_by_code: dict[str, int]
    bounds: dict[str, int]
    cost_cents: int
    pieces_carried: int
    peak_storage_mm2: int
    peak_at: tuple[str, ...]
    deliveries: int
    truckloads: int | None
    scrap_fraction: float

    @property
    def optimal(self) -> bool:
        """Whether no plan of this mode can buy fewer boards."""
        return self.boards == self.lower_bound

    @property
    def peak_storage_m2(self) -> Fraction:
        """The peak in square metres."""
        return Fraction(self.peak_storage_mm2, 10**6)


def compare_stagings(
    project: Project,
    *,
    modes: Iterable[Staging] = MODES,
    time_limit: float | None = None,
    seed: int = 0,
    progress: Callable[[PlanProgress], None] | None = None,
) -> tuple[tuple[StagingOption, Plan], ...]:
    """Each mode's numbers and its plan, in the order of `modes`.

    A time limit (seconds) holds for each mode. Raises what `plan` raises.
    """
    found = []
    for mode in modes:
        made = plan(project, staging=mode, time_limit=time_limit, seed=seed, progress=progress)
        found.append((staging_option(made), made))
    return tuple(found)


def staging_option(made: Plan) -> StagingOption:
    """A plan's numbers for the comparison."""
    usable = made.usable_left_over or ()
    standing = standing_over_time(made.project, made.pieces, made.layouts, usable, made.order)
    peak = max(standing, key=lambda moment: moment.standing_mm2, default=None)
    trucks = [delivery.trucks for delivery in made.deliveries]
    days = {delivery.deliver_on or delivery.sequence for delivery in made.deliveries}
    return StagingOption(
        staging=made.staging,
        max_carry_stages=made.max_carry_stages,
        boards=sum(proof.boards for proof in made.proofs),
        lower_bound=sum(proof.lower_bound for proof in made.proofs),
        boards_by_code={code: count.count for code, count in made.boards.items()},
        bounds={code: count.lower_bound for code, count in made.boards.items()},
        cost_cents=made.order.total,
        pieces_carried=pieces_carried(made),
        peak_storage_mm2=peak.standing_mm2 if peak else 0,
        peak_at=_levels_at(made, peak.levels) if peak else (),
        deliveries=len(days),
        truckloads=None if None in trucks else sum(count or 0 for count in trucks),
        scrap_fraction=made.waste.scrap_fraction,
    )


def pieces_carried(made: Plan) -> int:
    """How many pieces are cut with an earlier delivery than their own level's."""
    sequence = {level.level: level.sequence for level in made.project.levels}
    fitted = {piece.id: sequence[piece.level] for piece in made.pieces}
    return sum(
        layout.repeat
        for layout in made.layouts
        for strip in layout.strips
        for piece in strip.pieces
        if fitted[piece.id] > layout.stage
    )


def _levels_at(made: Plan, levels: tuple[str, ...]) -> tuple[str, ...]:
    """The levels of a moment that have anything planned."""
    planned = {piece.level for piece in made.pieces}
    return tuple(level for level in levels if level in planned)
