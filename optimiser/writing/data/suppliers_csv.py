"""`suppliers.csv` and `split.csv`: suppliers side by side, product by product, and what the cheapest split buys."""

from __future__ import annotations

from optimiser.model.money import from_cents
from optimiser.ordering.supplier_comparison import SupplierComparison
from optimiser.ordering.supplier_split import Split
from optimiser.tables.columns import CURRENCY, constant
from optimiser.tables.suppliers import (
    BOUGHT_PACKS,
    OFFERED_PRODUCTS,
    BoughtPacks,
    OfferedProduct,
    WholeOrder,
)
from optimiser.tables.text import csv_of

SUPPLIERS, SPLIT = "suppliers.csv", "split.csv"
CHEAPEST = "Cheapest split"


def offered_products(found: SupplierComparison) -> tuple[OfferedProduct, ...]:
    """A row a product and supplier."""
    by_name = {supplier.name: supplier for supplier in found.suppliers}
    return tuple(
        OfferedProduct(
            option=option,
            needed=found.needs.of(option.code),
            steps=by_name[option.supplier].steps[option.code],
            reference=by_name[option.supplier].reference,
            bought=found.best.packs_of(option.supplier, option.code) if found.best else 0,
            amount=None if option.split is None else from_cents(option.goods_cents),
            more=None if option.split is None else from_cents(option.more_cents),
            fall=None if option.split is None else from_cents(option.fall_cents),
        )
        for option in found.products
    )


def whole_orders(found: SupplierComparison) -> tuple[WholeOrder, ...]:
    """The cheapest split, and below it what each supplier would cost alone."""
    rows = [] if found.best is None else [_whole(CHEAPEST, found.best, 0, None, "")]
    for option in found.wholes:
        if option.split is None:
            rows.append(WholeOrder(option.supplier, None, None, None, None, None, option.why_not))
        else:
            rows.append(_whole(option.supplier, option.split, option.more_cents, option.fall_share, ""))
    return tuple(rows)


def _whole(name: str, split: Split, more: int, fall_share: object, why_not: str) -> WholeOrder:
    freight = sum(split.freight.values())
    return WholeOrder(
        name,
        from_cents(split.goods_cents),
        from_cents(freight),
        from_cents(split.cents),
        from_cents(more),
        fall_share,
        why_not,
    )


def bought_packs(found: SupplierComparison) -> tuple[BoughtPacks, ...]:
    """What the cheapest split buys, a row a supplier, product and delivery."""
    return tuple(
        BoughtPacks(
            supplier=purchase.supplier,
            code=purchase.code,
            deliver_on=found.needs.days[purchase.delivery],
            packs=purchase.packs,
            price=from_cents(purchase.price_cents),
            amount=from_cents(purchase.cents),
        )
        for purchase in (found.best.purchases if found.best else ())
    )


def suppliers_csv(found: SupplierComparison) -> str:
    """The text of `suppliers.csv`, a row a product and supplier."""
    return csv_of((*OFFERED_PRODUCTS, constant(CURRENCY, found.currency)), offered_products(found))


def split_csv(found: SupplierComparison) -> str:
    """The text of `split.csv`, a row a purchase of the cheapest split."""
    return csv_of((*BOUGHT_PACKS, constant(CURRENCY, found.currency)), bought_packs(found))
