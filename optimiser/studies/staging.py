"""What each way of staging the deliveries costs: level by level, carried, or the building as a whole.

One plan is made for each mode, each judged, and their numbers stand side by side: what carrying saves in
boards, and what it asks of the site in pieces to keep apart and board to store.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from fractions import Fraction
from typing import TYPE_CHECKING

from optimiser.boards.cut import PlanProgress
from optimiser.boards.waiting_count import WaitingCount
from optimiser.cutting.status import Status, proof_in_short
from optimiser.model.immutable import Immutable
from optimiser.model.money import Money
from optimiser.model.plan import Plan, Staging
from optimiser.model.project import Project
from optimiser.ordering.site_storage import standing_over_time
from optimiser.planning.plan import plan
from optimiser.studies.frontier import FrontierPoint
from optimiser.studies.frontier import frontier as trade_off
from optimiser.tables.frames import frame_of
from optimiser.tables.frontier import FRONTIER
from optimiser.tables.stagings import STAGINGS
from optimiser.tables.text import counted, html_of

if TYPE_CHECKING:
    import pandas

MODES: tuple[Staging, ...] = ("level", "carry", "whole")


class StagingOption(Immutable):
    """A mode's numbers. `lower_bound` and `bounds` are proved: no plan of that mode buys fewer boards.

    `cost` is the order's total. `waiting`: pieces needed later than their board comes, by how many deliveries
    in all, and the remainders that they wait in. `peak_storage_mm2` is the most board face area on site at a time,
    `peak_at` the levels delivered then. `deliveries` are days on which something arrives, `truckloads` None where
    no truck's size is given.
    """

    staging: Staging
    max_carry_stages: int | None
    boards: int
    lower_bound: int
    boards_by_code: dict[str, int]
    bounds: dict[str, int]
    cost: Money
    waiting: WaitingCount
    paid_least: bool
    peak_storage_mm2: int
    peak_at: tuple[str, ...]
    deliveries: int
    truckloads: int | None
    scrap_fraction: float

    @property
    def optimal(self) -> bool:
        """Whether no plan of this mode can pay for less: fewer boards, or fewer packs of them."""
        return self.paid_least

    @property
    def peak_storage_m2(self) -> Fraction:
        """The peak in square metres."""
        return Fraction(self.peak_storage_mm2, 10**6)

    @property
    def status(self) -> Status:
        """Whether no plan of this mode can pay for less."""
        return Status.of(proved=self.optimal)

    def __repr__(self) -> str:
        """'carry: 220 boards, at least 219'."""
        proof = "proved" if self.optimal else proof_in_short(self.boards, self.lower_bound)
        return f"{self.staging}: {counted(self.boards, 'board')}, {proof}"


class StagingComparison(Immutable):
    """The modes side by side: an option a mode, and the plan that it rests on, in the same order; and the frontier of
    boards against waiting for the staging 'whole', from 'nothing waits' to the fewest boards (empty: not asked for).
    """

    options: tuple[StagingOption, ...]
    plans: tuple[Plan, ...]
    frontier: tuple[FrontierPoint, ...] = ()

    def __repr__(self) -> str:
        """'level: 234 boards, proved; carry: 220 boards, at least 219; ...'."""
        return "; ".join(repr(option) for option in self.options)

    def _repr_html_(self) -> str:
        return html_of(STAGINGS, self.options, repr(self), self.plans[0].order.currency)

    def to_frame(self) -> pandas.DataFrame:
        """The modes as a frame, with the columns of stagings.csv.

        Returns
        -------
        pandas.DataFrame
            Shape (modes, 13), a row a mode: staging, boards, lower_bound, optimal, cost (exact `decimal.Decimal` in
            the project's currency), waiting_pieces, waiting_piece_stages (pieces times deliveries), remainders,
            peak_storage_m2, peak_at (a tuple of levels), deliveries,
            truckloads (missing where no truck's size is given), scrap_fraction (of the board area).
        """
        return frame_of(STAGINGS, self.options)

    def frontier_frame(self) -> pandas.DataFrame:
        """The frontier as a frame, with the columns of frontier.csv.

        Returns
        -------
        pandas.DataFrame
            Shape (plans, 11), a row a plan, 'nothing waits' first: number (what `waiting_choice` takes), boards,
            lower_bound, packs and lower_bound_packs (missing where a level is nominal), paid (exact `decimal.Decimal`
            in the project's currency), waiting_pieces, waiting_piece_stages (pieces times deliveries),
            lower_bound_piece_stages, remainders, least_for_paid.
        """
        return frame_of(FRONTIER, self.frontier)


def stagings(
    project: Project,
    *,
    modes: Iterable[Staging] = MODES,
    time_limit: float | None = None,
    seed: int = 0,
    progress: Callable[[PlanProgress], None] | None = None,
    frontier: bool = True,
) -> StagingComparison:
    """What each way of staging the deliveries costs, one judged plan a mode.

    Parameters
    ----------
    project
        The building.
    modes
        'level' (an offcut serves its own level only), 'carry' (the next deliveries) and 'whole' (any later one).
    time_limit
        Of one mode's solver, and of the frontier's, in seconds; None: until it is done.
    seed
        Equal projects and seeds give equal plans, unless a time limit cut one short.
    progress
        Is told how the cutting goes.
    frontier
        Whether the trade-off of boards against waiting is found too: several times the work of one plan.

    Returns
    -------
    StagingComparison
        The modes' figures and plans, in the order of `modes`, and the frontier; `to_frame()` has a row a mode,
        `frontier_frame()` a row a plan of the frontier.

    Raises
    ------
    CannotBeDone
        Where nothing at all can be planned.
    BreaksRules
        Where the judge finds a broken rule in a plan.
    """
    plans = tuple(
        plan(project, staging=mode, time_limit=time_limit, seed=seed, progress=progress, advise=False)
        for mode in modes
    )
    found = trade_off(project, time_limit=time_limit, seed=seed) if frontier else ()
    return StagingComparison(
        options=tuple(staging_option(made) for made in plans), plans=plans, frontier=found
    )


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
        cost=made.order.total,
        waiting=waiting_of(made),
        paid_least=made.paid_least,
        peak_storage_mm2=peak.standing_mm2 if peak else 0,
        peak_at=_levels_at(made, peak.levels) if peak else (),
        deliveries=len(days),
        truckloads=None if None in trucks else sum(count or 0 for count in trucks),
        scrap_fraction=made.waste.scrap_fraction,
    )


def waiting_of(made: Plan) -> WaitingCount:
    """What waits in a plan, counted in deliveries."""
    return WaitingCount(
        pieces=made.waiting.pieces,
        piece_stages=made.waiting.piece_stages,
        remainders=made.waiting.remainders,
    )


def _levels_at(made: Plan, levels: tuple[str, ...]) -> tuple[str, ...]:
    """The levels of a moment that have anything planned."""
    planned = {piece.level for piece in made.pieces}
    return tuple(level for level in levels if level in planned)
