"""What to order of one product, from what every draw of a simulation needs of it: the quantity and how sure it is."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from math import ceil
from typing import Any

from optimiser.model.immutable import Immutable
from optimiser.model.project import Product
from optimiser.simulation.quantiles import at_ranks, expected_cost, quantile

FLAT_PERCENTAGES = (5, 10)


class FlatOrder(Immutable):
    """What ordering a flat percentage on top of the nominal plan would mean: the quantity, in which share of the draws
    it is too little, and how many are missing and left over on average."""

    quantity: int
    short_share: float
    mean_short: float
    mean_surplus: float


class OrderQuantity(Immutable):
    """One product over all draws, in single boards, brackets, anchors or whole rolls.

    `order` covers the share of the draws in all products together, `order_alone` in this product by itself.
    `planned` is what the plan of the gaps as they stand uses. `interval` bounds the true quantile, of which
    `order_alone` is the estimate, with 95 % confidence (None: too few draws). `frequency` counts the draws by their
    need. `flat` is by percentage. `breakage` comes on top for breakage and loss, at the measured levels only.
    """

    code: str
    kind: str
    planned: int
    order: int
    order_alone: int
    breakage: int
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
        """Whole packs for the order, with what is for breakage and loss."""
        return -(-(self.order + self.breakage) // self.per_pack)

    def as_json(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "order": self.order,
            "order_alone": self.order_alone,
            "breakage": self.breakage,
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
    joint: int | None = None,
    breakage: int = 0,
) -> OrderQuantity:
    """What to order of a product, beside what covers a share `level` of the draws in it alone.

    `needs` are the draws', in any order; `planned` is what the plan uses. `joint` is the quantity that covers the
    share in all products together; None: the one for this product alone is ordered. `ranks` are those of the
    interval's ends (`quantiles.interval_ranks`). `costs` of one missing and of one left over give the expected
    cost, None none.
    """
    values = sorted(needs)
    alone = quantile(values, level)
    order = alone if joint is None else joint
    flat = {
        percentage: _flat(values, ceil(Fraction(planned * (100 + percentage), 100)))
        for percentage in FLAT_PERCENTAGES
    }
    here = _flat(values, order)
    return OrderQuantity(
        code=product.code,
        kind=product.kind,
        planned=planned,
        order=order,
        order_alone=alone,
        breakage=breakage,
        median=quantile(values, 0.5),
        mean=sum(values) / len(values),
        least=values[0],
        greatest=values[-1],
        interval=at_ranks(values, ranks),
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
