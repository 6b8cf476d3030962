"""Suppliers side by side on the terminal."""

from __future__ import annotations

from dataclasses import replace

from optimiser.model.money import from_cents
from optimiser.ordering.supplier_comparison import SupplierComparison
from optimiser.tables.amounts import grouped_money
from optimiser.tables.columns import only
from optimiser.tables.suppliers import OFFERED_PRODUCTS, WHOLE_ORDERS
from optimiser.writing.data.suppliers_csv import offered_products, whole_orders
from optimiser.writing.terminal.console import filled_table, print_list, terminal

NOTE = (
    "Prices as they hold on the day of ordering, before tax; packs rounded up once and carried from delivery to"
    " delivery."
    " 'Pack less': what the price of each pack must fall by for all of the product to be bought there, the rest of the"
    " order as cheap as can be. A price says nothing of whether a product is that of the tested detail."
)


def split_in_words(found: SupplierComparison) -> str:
    """What the cheapest split costs, and what is proved of it."""
    best = found.best
    if best is None:
        return "These offers together cannot bring what is needed."
    cents = grouped_money(from_cents(best.cents), found.currency)
    if best.proved:
        return f"Cheapest split {cents}; no split of these offers costs less: proved."
    least = grouped_money(from_cents(best.least_cents), found.currency)
    return f"Cheapest split found {cents}; no split of these offers costs less than {least}."


def show_suppliers(found: SupplierComparison, files: tuple[str, ...] = ()) -> None:
    """Prints the comparison on stdout."""
    console = terminal(120)
    console.print(f"Suppliers for an order on {found.ordered_on}, in {found.currency}", style="bold")
    console.print()
    names = (
        "code",
        "needed",
        "supplier",
        "packs",
        "lead_days",
        "amount",
        "more",
        "fall",
        "fall_share",
        "bought",
    )
    columns = [
        replace(column, heading=column.narrow_heading, unit="", short="")
        for column in only(OFFERED_PRODUCTS, *names)
    ]
    console.print(
        filled_table("Product by product", columns, offered_products(found), found.currency, close=True)
    )
    whole = [replace(column, unit="") for column in WHOLE_ORDERS if column.name != "why_not"]
    possible = [row for row in whole_orders(found) if row.total is not None]
    console.print(filled_table("The whole order", whole, possible, found.currency, close=True))
    console.print(split_in_words(found), style="bold")
    cannot = [f"{option.supplier} alone: {option.why_not}" for option in found.wholes if option.why_not]
    cannot += [
        f"{option.code} from {option.supplier}: {option.why_not}"
        for option in found.products
        if option.why_not
    ]
    print_list(console, "Cannot be", (*found.missing, *cannot))
    print_list(console, "What the figures mean", (NOTE,))
    print_list(console, "Files", files)
