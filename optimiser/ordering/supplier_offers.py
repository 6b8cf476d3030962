"""What is needed, delivery by delivery, and what each supplier offers of it: what a choice of suppliers is made from.

The need is the plan's: single units with their allowance, which are rounded up to packs only once a supplier's packs
are known. Prices are those that hold on the day of ordering.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from itertools import accumulate

from optimiser.model.money import NOTHING, cents_of
from optimiser.model.offer import Offer, OfferedPrice
from optimiser.model.plan import Plan
from optimiser.model.project import Project
from optimiser.ordering.offered_prices import refuse_another_currency
from optimiser.ordering.working_days import WorkingDays, working_days_of


@dataclass(frozen=True)
class Needs:
    """What is needed by each delivery: `days` in order of time (None: not known yet, and last), and for each code how
    many single units are needed by each of them, all earlier ones included. `room_by_then` is how many may be there by
    then before packs are rounded up: what the plan itself brings, where that is more than is needed."""

    days: tuple[date | None, ...]
    by_then: Mapping[str, tuple[int, ...]]
    room_by_then: Mapping[str, tuple[int, ...]]

    def only(self, code: str) -> Needs:
        """The need of one product."""
        return Needs(self.days, {code: self.by_then[code]}, {code: self.room_by_then[code]})

    def of(self, code: str) -> int:
        """How many of a product are needed in all."""
        return self.by_then[code][-1]


def needs_of(plan: Plan) -> Needs:
    """What a plan orders, in single units with the allowance, by the days of its deliveries."""
    by_day: dict[date | None, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    brought: dict[date | None, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    for line in plan.order.lines:
        by_day[line.deliver_on][line.code] += line.quantity
        brought[line.deliver_on][line.code] += line.packs * line.per_pack
    days: tuple[date | None, ...] = tuple(sorted(by_day, key=lambda day: day or date.max))
    codes = [product.code for product in plan.project.building.in_trade_order]
    by_then = {
        code: tuple(accumulate(by_day[day][code] for day in days))
        for code in codes
        if any(by_day[day][code] for day in days)
    }
    room = {
        code: tuple(map(max, wanted, accumulate(brought[day][code] for day in days)))
        for code, wanted in by_then.items()
    }
    return Needs(days, by_then, room)


@dataclass(frozen=True)
class Steps:
    """A supplier's prices of one product: a pack holds `per_pack`; `prices` are cents a pack from so many packs in a
    delivery on, the fewest first. `in_time` says of each delivery whether it can be there."""

    per_pack: int
    prices: tuple[tuple[int, int], ...]
    in_time: tuple[bool, ...]
    lead_days: int

    def cents(self, packs: int) -> int | None:
        """What so many packs of one delivery cost; None where fewer are not sold."""
        price = None
        for from_packs, each in self.prices:
            if packs >= from_packs:
                price = each
        return 0 if not packs else None if price is None else packs * price


@dataclass(frozen=True)
class Supplier:
    """What a supplier offers of what is needed, in cents; None: no least order, no freight."""

    name: str
    reference: str
    steps: Mapping[str, Steps]
    minimum_cents: int = 0
    freight_cents: int = 0
    free_from_cents: int | None = None


def own_offer(project: Project) -> Offer:
    """The prices that stand in the project, as an offer of its supplier's; what a load costs to bring is the freight of
    a delivery."""
    breaks = [
        OfferedPrice(code=row.code, price=row.price, from_packs=row.from_packs)
        for row in project.price_breaks
    ]
    prices = [OfferedPrice(code=product.code, price=product.price) for product in project.products]
    name = project.project.supplier or "the project"
    return Offer(
        supplier=f"{name} (as planned)",
        currency=project.project.currency,
        freight=project.delivery_limits.delivery_cost if project.delivery_limits else None,
        prices=tuple(price for price in (*prices, *breaks) if price.price > 0),
    )


def suppliers_of(project: Project, needs: Needs, offers: Iterable[Offer], on: date) -> tuple[Supplier, ...]:
    """The suppliers with what they offer of what is needed, for an order that is placed on a day.

    Packs, lead times and the pack's size that an offer does not state are the project's. Raises ValueError for an
    offer in another currency, or of a supplier that is named twice.
    """
    calendar = working_days_of(project.project.country)
    found: list[Supplier] = []
    for offer in offers:
        refuse_another_currency(project, offer)
        if any(supplier.name == offer.supplier for supplier in found):
            raise ValueError(
                f"{offer.supplier} has two offers: give one of them another name, or leave it out"
            )
        steps = {
            code: _steps(project, code, prices, needs.days, calendar, on)
            for code in needs.by_then
            if (prices := [price for price in offer.valid_on(on) if price.code == code])
        }
        found.append(
            Supplier(
                name=offer.supplier,
                reference=offer.reference,
                steps=steps,
                minimum_cents=cents_of(offer.minimum_order or NOTHING),
                freight_cents=cents_of(offer.freight or NOTHING),
                free_from_cents=(
                    None if offer.freight_free_from is None else cents_of(offer.freight_free_from)
                ),
            )
        )
    return tuple(found)


def _steps(
    project: Project,
    code: str,
    prices: Sequence[OfferedPrice],
    days: Sequence[date | None],
    calendar: WorkingDays,
    on: date,
) -> Steps:
    product = project.product(code)
    lead = next((price.lead_days for price in prices if price.lead_days is not None), product.lead_days)
    per_pack = next((price.per_pack for price in prices if price.per_pack is not None), product.per_pack)
    return Steps(
        per_pack=per_pack,
        prices=tuple(sorted((price.from_packs, cents_of(price.price)) for price in prices)),
        in_time=tuple(day is None or calendar.before(day, lead) >= on for day in days),
        lead_days=lead,
    )


def share(part: int, whole: int) -> Decimal:
    """A part of a whole as a rate with four places, rounded up, so that a fall of so much is enough."""
    return Decimal(-(-part * 10_000 // whole)) / 10_000 if whole else Decimal(0)
