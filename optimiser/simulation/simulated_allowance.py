"""What simulating says of the quantity to order: the figures of each product, and what they rest on."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from optimiser.model.immutable import Immutable
from optimiser.model.money import Money, money_text
from optimiser.simulation.drawn import DrawnNeeds
from optimiser.simulation.heuristic_bias import HeuristicBias
from optimiser.simulation.order_quantity import OrderQuantity
from optimiser.simulation.quantiles import CONFIDENCE
from optimiser.tables.frames import frame_of
from optimiser.tables.simulated import QUANTITIES
from optimiser.tables.text import html_of

if TYPE_CHECKING:
    import pandas


class SimulatedAllowance(Immutable):
    """What the draws say. `quantities` are in trade order: boards, brackets, anchors, tape.

    `service_level` is the share of draws that an order covers; it follows from the costs where those were given.
    `covered` of the draws need no more of any product than is ordered, `covered_alone` no more than the quantities
    that cover the share product by product. `cost` is that of the packs that cover the share jointly and
    `least_cost` the proved bound on it.
    `not_planned_share` is the mean part of the edge that a draw leaves open because its gap leaves the tested range
    or no piece fits; `without_bracket` the mean number of pieces for which no bracket on offer fits. `drawn` keeps
    what every draw needs.
    """

    quantities: tuple[OrderQuantity, ...]
    draws: int
    seed: int
    service_level: float
    shortage_cost: float | None
    surplus_cost: float | None
    bias: HeuristicBias
    pieces_mean: float
    tape_mm: tuple[int, int]
    runs_drawn: int
    runs: int
    correlation_length_mm: int
    not_planned_share: float
    without_bracket: float
    covered: int
    covered_alone: int
    cost: Money
    least_cost: Money
    notes: tuple[str, ...]
    drawn: DrawnNeeds

    def __repr__(self) -> str:
        """'500 draws, service level 95 %: B-120 233 (plan 226), K-110 402 (plan 398), ...'."""
        ordered = ", ".join(f"{item.code} {item.order:,} (plan {item.planned:,})" for item in self.quantities)
        draws = f"{self.draws:,} draw{'' if self.draws == 1 else 's'}"
        return f"{draws}, service level {self.service_level:.4g}: {ordered or 'nothing to order'}"

    def _repr_html_(self) -> str:
        title = f"{self.draws:,} draws (seed {self.seed}), service level {self.service_level:.4g}"
        return html_of(QUANTITIES, self.quantities, title, notes=self.notes)

    def to_frame(self) -> pandas.DataFrame:
        """What to order of each product, as a frame.

        Returns
        -------
        pandas.DataFrame
            Shape (products, 16), a row a product in trade order: kind, code, order (covers the share jointly with all
            products), order_alone (for the product alone), interval_low, interval_high (the true quantile lies between
            them with 95 % confidence; missing: too few draws), packs, median, min, max, planned, extra, per_pack, mean,
            short_share (of the draws that need more than the order), mean_surplus.
            Numbers are single boards, brackets, anchors and whole rolls; `packs` are packs.
        """
        return frame_of(QUANTITIES, self.quantities)

    def draws_frame(self) -> pandas.DataFrame:
        """What every draw needs, as a frame: products can be correlated, or covered jointly.

        Returns
        -------
        pandas.DataFrame
            Shape (draws, products + 4), a row a draw in the order drawn: `boards CODE`, `brackets CODE`, `anchors CODE`
            (singles), `tape CODE` (whole rolls), then pieces, tape_mm, pieces_without_bracket and not_planned_mm (of
            the edge). All int64. Boards are as `quantities` counts them, less the quick cutting's measured excess.
        """
        return self.drawn.to_frame()

    def of_kind(self, kind: str) -> tuple[OrderQuantity, ...]:
        """The quantities of a kind of product."""
        return tuple(quantity for quantity in self.quantities if quantity.kind == kind)

    def as_json(self) -> dict[str, Any]:
        """Plain values: each kind's products by code, then what the figures rest on."""
        groups = {"board": "boards", "bracket": "brackets", "anchor": "anchors", "tape": "tape"}
        found: dict[str, Any] = {
            name: {quantity.code: quantity.as_json() for quantity in self.of_kind(kind)}
            for kind, name in groups.items()
        }
        return {
            **found,
            "tape_mm": {"order": self.tape_mm[1], "median": self.tape_mm[0]},
            "draws": self.draws,
            "seed": self.seed,
            "service_level": self.service_level,
            "joint": {
                "covered": round(self.covered / self.draws, 6),
                "product_by_product": round(self.covered_alone / self.draws, 6),
                "cost": money_text(self.cost),
                "lower_bound_cost": money_text(self.least_cost),
                "proved": self.cost == self.least_cost,
            },
            "confidence": CONFIDENCE,
            "shortage_cost": self.shortage_cost,
            "surplus_cost": self.surplus_cost,
            "bias": {
                "sample": self.bias.sample,
                "boards_above_bound": {code: round(value, 3) for code, value in self.bias.boards.items()},
                "fraction": round(self.bias.fraction, 5),
                "boards_above_plan": self.bias.above_plan,
                "taken_off": self.bias.corrected,
            },
            "pieces_mean": round(self.pieces_mean, 1),
            "runs_drawn": self.runs_drawn,
            "runs": self.runs,
            "correlation_length_mm": self.correlation_length_mm,
            "not_planned_share": round(self.not_planned_share, 6),
            "pieces_without_bracket_mean": round(self.without_bracket, 3),
            "notes": list(self.notes),
        }
