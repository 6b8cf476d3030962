"""What to order of one product, from what every draw of a simulation needs of it: the quantity and how sure it is."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil
from typing import Any

from optimiser.project import Product
from optimiser.quantiles import expected_cost, quantile

FLAT_PERCENTAGES = (5, 10)


@dataclass(frozen=True)
class FlatOrder:
    """What ordering a flat percentage on top of the nominal plan would mean: the quantity, in which share of the draws
    it is too little, and how many are missing and left over on average."""

    quantity: int
    short_share: float
    mean_short: float
    mean_surplus: float


@dataclass(frozen=True)
class OrderQuantity:
    """One product over all draws, in single boards, brackets, anchors or whole rolls.

    `planned` is what the plan of the nominal gaps uses. `interval` bounds the true quantile with 95 % confidence
    (None: too few draws). `frequency` counts the draws by their need. `flat` is by percentage.
    """

    code: str
    kind: str
    planned: int
    order: int
    median: int
    mean: float
    least: int
    greatest: int
    interval: tuple[int | None, int | None]
    short_share: float
    mean_surplus: float
    per_pack: int
    frequency: dict[int, int]
    flat: dict[int, FlatOrder]
    expected_cost: float | None = None

    @property
    def extra(self) -> int:
        """What goes on top of the nominal plan: never less than nothing, since the plan must be buildable."""
        return max(0, self.order - self.planned)

    @property
    def packs(self) -> int:
        """Whole packs for the order."""
        return -(-self.order // self.per_pack)

    def as_json(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "order": self.order,
            "median": self.median,
            "planned": self.planned,
            "extra": self.extra,
            "packs": self.packs,
            "per_pack": self.per_pack,
            "mean": round(self.mean, 3),
            "min": self.least,
            "max": self.greatest,
            "interval": list(self.interval),
            "short_share": round(self.short_share, 6),
            "mean_surplus": round(self.mean_surplus, 3),
            "expected_cost": None if self.expected_cost is None else round(self.expected_cost, 4),
            "flat": {
                f"{percentage}%": {
                    "quantity": flat.quantity,
                    "short_share": round(flat.short_share, 6),
                    "mean_short": round(flat.mean_short, 3),
                    "mean_surplus": round(flat.mean_surplus, 3),
                }
                for percentage, flat in self.flat.items()
            },
            "frequency": {str(value): count for value, count in self.frequency.items()},
        }


def order_quantity(
    product: Product,
    needs: Sequence[int],
    planned: int,
    level: float,
    ranks: tuple[int, int],
    costs: tuple[float, float] | None,
) -> OrderQuantity:
    """The quantity of a product that covers a share `level` of the draws, whose needs are given in any order.

    `planned` is what the plan uses. `ranks` are those of the interval's ends (`optimiser.quantiles.interval_ranks`).
    `costs` of one missing and of one left over give the expected cost, None none.
    """
    values = sorted(needs)
    order = quantile(values, level)
    flat = {
        percentage: _flat(values, ceil(Fraction(planned * (100 + percentage), 100)))
        for percentage in FLAT_PERCENTAGES
    }
    lower, upper = ranks
    here = _flat(values, order)
    return OrderQuantity(
        code=product.code,
        kind=product.kind,
        planned=planned,
        order=order,
        median=quantile(values, 0.5),
        mean=sum(values) / len(values),
        least=values[0],
        greatest=values[-1],
        interval=(
            values[lower - 1] if lower >= 1 else None,
            values[upper - 1] if upper <= len(values) else None,
        ),
        short_share=here.short_share,
        mean_surplus=here.mean_surplus,
        per_pack=product.per_pack,
        frequency=dict(sorted(Counter(values).items())),
        flat=flat,
        expected_cost=None if costs is None else expected_cost(values, order, *costs),
    )


def _flat(values: Sequence[int], quantity: int) -> FlatOrder:
    count = len(values)
    return FlatOrder(
        quantity=quantity,
        short_share=sum(value > quantity for value in values) / count,
        mean_short=sum(max(0, value - quantity) for value in values) / count,
        mean_surplus=sum(max(0, quantity - value) for value in values) / count,
    )
