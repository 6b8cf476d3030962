"""What a scenario comes to: the figures of its plan, and several side by side with the best and the frontiers marked.
Types and plain values."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any, Literal

from optimiser.cutting.status import Status, proof_in_short
from optimiser.model.immutable import Immutable
from optimiser.model.money import Money
from optimiser.model.scenario import Scenario
from optimiser.tables.amounts import grouped_money
from optimiser.tables.text import counted

if TYPE_CHECKING:
    import pandas

Against = Literal["waiting_piece_stages", "deliveries"]
AGAINST: tuple[Against, ...] = ("waiting_piece_stages", "deliveries")
"""What cost is weighed against: pieces times the deliveries that they wait, and days on which something arrives."""

BEST_IN: Mapping[str, str] = {
    "cost": "least cost",
    "boards": "fewest boards",
    "scrap_mm2": "least scrap",
    "waiting_piece_stages": "least waiting",
    "deliveries": "fewest deliveries",
    "packs": "fewest packs",
    "widths": "fewest widths",
    "joints": "fewest joints",
    "brackets": "fewest brackets",
    "lead_days": "shortest lead",
}
"""In what a scenario may be the best of all that can be built whole, and how that is said."""


class ScenarioFigures(Immutable):
    """The figures of a scenario's plan, which the judge found in order.

    `boards` are bought, and no plan of these pieces and this staging buys fewer than `lower_bound`; `proved`: none can
    be paid for with less. `cost` is the order with what is priced beside it: loads, storage, waiting, a supplier's
    freight; `goods` is the order alone. `scrap_mm2` is the board area that is neither fitted nor kept,
    `scrap_fraction` its share of all board. Waiting is in pieces and in pieces times deliveries, `remainders` what
    they lie in. `deliveries` are days on which something arrives, `loads` None where no truck's size is given, `packs`
    those of all products, `widths` the distinct strip widths that are ripped. `lead_days` is the longest lead time of
    what is ordered, in working days. `scrapped_by_precutting` is the expected boards' worth of pieces cut ahead that
    would not fit; None: nothing is cut ahead, or a tolerance is not known. `seconds` the cutting solver took.
    """

    cost: Money
    goods: Money
    boards: int
    lower_bound: int
    proved: bool
    scrap_mm2: int
    scrap_fraction: float
    waiting_pieces: int
    waiting_piece_stages: int
    remainders: int
    deliveries: int
    loads: int | None
    packs: int
    widths: int
    joints: int
    brackets: int
    lead_days: int
    order_by: date | None
    last_delivery: date | None
    not_planned: int
    scrapped_by_precutting: float | None
    warnings: tuple[str, ...]
    seconds: float


class ScenarioResult(Immutable):
    """A scenario with its `figures`; None where nothing can be planned, which `problem` tells. `best`: in which of
    BEST_IN it is the best of all that can be built whole; `unbeaten`: against which of AGAINST no other of these costs
    as little and takes as little, with one of both less."""

    scenario: Scenario
    figures: ScenarioFigures | None = None
    problem: str = ""
    best: tuple[str, ...] = ()
    unbeaten: tuple[Against, ...] = ()

    @property
    def whole(self) -> bool:
        """Whether everything can be built as it stands."""
        return self.figures is not None and not self.figures.not_planned

    @property
    def status(self) -> Status:
        """What is known of its plan."""
        if self.figures is None:
            return Status.NOT_PLANNED
        return Status.of(proved=self.figures.proved, left_out=not self.whole)

    @property
    def best_words(self) -> tuple[str, ...]:
        """'least cost', 'fewest boards' ..."""
        return tuple(BEST_IN[name] for name in self.best)

    def __repr__(self) -> str:
        """'thin: 146 boards, proved'."""
        if self.figures is None:
            return f"{self.scenario.name}: {self.problem}"
        boards, bound = self.figures.boards, self.figures.lower_bound
        proof = "proved" if self.figures.proved else proof_in_short(boards, bound)
        return f"{self.scenario.name}: {counted(boards, 'board')}, {proof}"


class ScenarioComparison(Immutable):
    """Scenarios side by side, in the order in which they were given; `notes` say what the figures rest on."""

    results: tuple[ScenarioResult, ...]
    currency: str
    notes: tuple[str, ...] = ()

    def named(self, name: str) -> ScenarioResult | None:
        """The result of the scenario of this name."""
        return next((one for one in self.results if one.scenario.name == name), None)

    @property
    def cheapest(self) -> ScenarioResult | None:
        """The first that costs least of all that can be built whole; None: none can, or nothing has a price."""
        whole = [one for one in self.results if one.whole and one.figures and one.figures.cost]
        return min(whole, key=lambda one: one.figures.cost if one.figures else 0, default=None)

    def __repr__(self) -> str:
        """'3 scenarios; least cost thin: 146 boards, proved; AUD 17,737.90'."""
        found = self.cheapest
        if found is None or found.figures is None:
            return counted(len(self.results), "scenario")
        cost = grouped_money(found.figures.cost, self.currency)
        return f"{counted(len(self.results), 'scenario')}; least cost {found!r}; {cost}"

    def _repr_html_(self) -> str:
        from optimiser.tables.columns import only
        from optimiser.tables.scenarios import IN_SHORT, SCENARIOS
        from optimiser.tables.text import html_of

        return html_of(only(SCENARIOS, *IN_SHORT), self.results, repr(self), self.currency, self.notes)

    def to_frame(self) -> pandas.DataFrame:
        """The scenarios as a frame, with the columns of scenarios.csv.

        Returns
        -------
        pandas.DataFrame
            Shape (scenarios, 31), a row a scenario: scenario, changes, cost and goods (exact `decimal.Decimal` in
            `currency`), boards, lower_bound, proved, scrap_m2, scrap_fraction, waiting_pieces, waiting_piece_stages,
            remainders, deliveries, loads, packs, widths, joints, brackets, lead_days, order_by, last_delivery,
            not_planned, scrapped_by_precutting (boards), best, on_frontier_of_waiting, on_frontier_of_deliveries,
            seconds, currency, warnings (their number), problem, status. Figures are missing where nothing can be
            planned.
        """
        from optimiser.tables.frames import frame_of
        from optimiser.tables.scenarios import scenario_columns

        return frame_of(scenario_columns(self.currency), self.results)


def marked(results: Sequence[ScenarioResult]) -> Iterator[ScenarioResult]:
    """The results with the best of each figure and the frontiers marked. Only what can be built whole takes part; in a
    figure in which all are alike none is the best."""
    whole = [place for place, one in enumerate(results) if one.whole]
    best: dict[int, list[str]] = {}
    for name in BEST_IN:
        values = {place: getattr(results[place].figures, name) for place in whole}
        if len(set(values.values())) > 1 and (name != "cost" or all(values.values())):
            for place in whole:
                if values[place] == min(values.values()):
                    best.setdefault(place, []).append(name)
    priced = [place for place in whole if _figure(results[place], "cost")]
    for place, one in enumerate(results):
        unbeaten = tuple(
            against
            for against in AGAINST
            if place in priced and not any(_beats(results[other], one, against) for other in priced)
        )
        yield one.model_copy(update={"best": tuple(best.get(place, ())), "unbeaten": unbeaten})


def _beats(one: ScenarioResult, other: ScenarioResult, against: Against) -> bool:
    """Whether one costs and takes no more than another, and less of either."""
    here = (_figure(one, "cost"), _figure(one, against))
    there = (_figure(other, "cost"), _figure(other, against))
    return here != there and all(mine <= its for mine, its in zip(here, there, strict=True))


def _figure(result: ScenarioResult, name: str) -> Any:
    return getattr(result.figures, name)
