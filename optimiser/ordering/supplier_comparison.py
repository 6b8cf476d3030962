"""Suppliers side by side for the same need: what each would cost alone, the cheapest split, and what each price would
have to fall by to win its product."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from optimiser.errors.listed import listed
from optimiser.model.offer import Offer
from optimiser.model.plan import Plan
from optimiser.ordering.supplier_offers import Needs, Supplier, needs_of, own_offer, share, suppliers_of
from optimiser.ordering.supplier_split import Split, cheapest_split

_MANY = 3  # days spelt out before 'and n more'


@dataclass(frozen=True)
class ProductOption:
    """All of one product from one supplier, the rest as cheap as can be.

    `split` is that choice as a whole, None where it cannot be, which `why_not` tells. `more_cents` is what it costs
    more than the cheapest split; `fall_cents` the least that each pack's price must fall by for it to cost no more, and
    `fall_share` that of what its packs cost.
    """

    supplier: str
    code: str
    chosen: bool
    packs: int
    goods_cents: int
    split: Split | None
    more_cents: int
    fall_cents: int
    fall_share: Decimal
    why_not: str = ""


@dataclass(frozen=True)
class WholeOption:
    """All that is needed from one supplier.

    `split` is None where it cannot be, which `why_not` tells; `more_cents` is what it costs more than the cheapest
    split, `fall_share` by what share of its goods its prices must fall for it to cost no more.
    """

    supplier: str
    split: Split | None
    more_cents: int
    fall_share: Decimal
    why_not: str = ""


@dataclass(frozen=True)
class SupplierComparison:
    """`best` is the cheapest split, None where the offers together cannot bring what is needed: `missing` tells why."""

    currency: str
    ordered_on: date
    needs: Needs
    suppliers: tuple[Supplier, ...]
    best: Split | None
    wholes: tuple[WholeOption, ...]
    products: tuple[ProductOption, ...]
    missing: tuple[str, ...]


def compare_suppliers(plan: Plan, offers: Iterable[Offer], on: date) -> SupplierComparison:
    """The offers and the prices that stand in the project, for an order of all that the plan orders, placed on a day.

    The project's own prices are left out where an offer of its supplier's is among the offers. Raises ValueError for an
    offer in another currency, or two of one supplier.
    """
    given = tuple(offers)
    project = plan.project
    own = () if any(offer.supplier == project.project.supplier for offer in given) else (own_offer(project),)
    needs = needs_of(plan)
    suppliers = suppliers_of(project, needs, (*own, *given), on)
    best = cheapest_split(needs, suppliers)
    return SupplierComparison(
        currency=project.project.currency,
        ordered_on=on,
        needs=needs,
        suppliers=suppliers,
        best=best,
        wholes=tuple(_whole(needs, supplier, best) for supplier in suppliers),
        products=tuple(
            _product(needs, suppliers, supplier, code, best)
            for code in needs.by_then
            for supplier in suppliers
            if code in supplier.steps
        ),
        missing=() if best is not None else tuple(_missing(needs, suppliers)),
    )


def _whole(needs: Needs, supplier: Supplier, best: Split | None) -> WholeOption:
    split = cheapest_split(needs, (supplier,))
    if split is None:
        return WholeOption(supplier.name, None, 0, Decimal(0), "; ".join(_why_not(needs, supplier)))
    more = 0 if best is None else split.cents - best.cents
    return WholeOption(supplier.name, split, more, share(more, split.goods_cents))


def _product(
    needs: Needs, suppliers: Sequence[Supplier], supplier: Supplier, code: str, best: Split | None
) -> ProductOption:
    alone = best is not None and all(
        purchase.supplier == supplier.name for purchase in best.purchases if purchase.code == code
    )
    split = best if alone else cheapest_split(needs, suppliers, {code: supplier.name})
    if split is None:
        why = "; ".join(_late(needs, supplier, code)) or "below its least order"
        return ProductOption(supplier.name, code, False, 0, 0, None, 0, 0, Decimal(0), why)
    packs = split.packs_of(supplier.name, code)
    goods = sum(purchase.cents for purchase in split.purchases if purchase.code == code)
    more = 0 if best is None else max(0, split.cents - best.cents)
    return ProductOption(
        supplier=supplier.name,
        code=code,
        chosen=alone,
        packs=packs,
        goods_cents=goods,
        split=split,
        more_cents=more,
        fall_cents=-(-more // packs) if packs else 0,
        fall_share=share(more, goods),
    )


def _why_not(needs: Needs, supplier: Supplier) -> Iterable[str]:
    """Why a supplier cannot bring all that is needed."""
    lacking = [code for code in needs.by_then if code not in supplier.steps]
    if lacking:
        yield f"offers no {', '.join(lacking)}"
    late = [
        f"{code} {words}"
        for code in needs.by_then
        if code in supplier.steps
        for words in _late(needs, supplier, code)
    ]
    yield from late
    if not lacking and not late:
        yield "below its least order"


def _late(needs: Needs, supplier: Supplier, code: str) -> Iterable[str]:
    """For which deliveries a product cannot be there in time."""
    steps, before = supplier.steps[code], 0
    days = []
    for day, wanted, in_time in zip(needs.days, needs.by_then[code], steps.in_time, strict=True):
        if wanted > before and not in_time:
            days.append(f"{day}")
        before = max(before, wanted)
    if days:
        yield f"not in time for {listed(days, _MANY)} ({steps.lead_days} working days)"


def _missing(needs: Needs, suppliers: Sequence[Supplier]) -> Iterable[str]:
    """Which products nobody brings, or nobody in time."""
    found = False
    for code in needs.by_then:
        sellers = [supplier for supplier in suppliers if code in supplier.steps]
        if not sellers:
            found = True
            yield f"{code}: nobody offers it"
        elif cheapest_split(needs.only(code), _unbound(sellers)) is None:
            found = True
            late = [f"{seller.name}: {words}" for seller in sellers for words in _late(needs, seller, code)]
            yield f"{code}: {'; '.join(late) or 'nobody sells so few packs'}"
    if not found:
        yield "the least orders of the suppliers cannot all be kept"


def _unbound(suppliers: Sequence[Supplier]) -> tuple[Supplier, ...]:
    """The suppliers without least order and freight."""
    return tuple(Supplier(supplier.name, supplier.reference, supplier.steps) for supplier in suppliers)
