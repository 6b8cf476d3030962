"""A supplier's prices into a project's products: price, pack, lead time and price breaks, as they hold on a day."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from optimiser.model.offer import Offer, OfferedPrice
from optimiser.model.project import PriceBreak, Project
from optimiser.tables.amounts import amount_text


@dataclass(frozen=True)
class Priced:
    """A project at a supplier's prices, what changed of each product, and what of the offer was left aside."""

    project: Project
    changed: tuple[str, ...]
    left_aside: tuple[str, ...]


def with_prices(project: Project, offer: Offer, on: date) -> Priced:
    """The project with the prices of an offer that hold on a day; its other products stay.

    The price from one pack on becomes the product's, those from more packs on its price breaks, in place of those that
    it had. Raises ValueError for an offer in another currency.
    """
    refuse_another_currency(project, offer)
    currency, products = project.project.currency, project.building.products
    left_aside = [
        f"{code}: no product of the project"
        for code in dict.fromkeys(price.code for price in offer.prices)
        if code not in products
    ]
    valid = offer.valid_on(on)
    held = {price.code for price in valid}
    left_aside += [
        f"{code}: no price holds on {on}"
        for code in dict.fromkeys(price.code for price in offer.prices)
        if code in products and code not in held
    ]
    changed: list[str] = []
    updates: dict[str, dict[str, Any]] = {}
    breaks = [row for row in project.price_breaks if row.code not in held]
    for code in (code for code in products if code in held):
        steps = sorted((price for price in valid if price.code == code), key=lambda price: price.from_packs)
        first, price = steps[0], products[code].price
        update: dict[str, Any] = {}
        if first.from_packs == 1:
            update["price"] = price = first.price
        if first.per_pack is not None:
            update["per_pack"] = first.per_pack
        if first.pack_name:
            update["pack_name"] = first.pack_name
        if first.lead_days is not None:
            update["lead_days"] = first.lead_days
        if offer.supplier != project.project.supplier:
            update["supplier"] = offer.supplier
        kept = []
        for step in steps:
            if step.from_packs == 1:
                continue
            if step.price > price:
                left_aside.append(f"{code}: from {step.from_packs} packs on dearer than fewer")
                continue
            price = step.price
            kept.append(step)
        updates[code] = update
        breaks += [PriceBreak(code=code, from_packs=step.from_packs, price=step.price) for step in kept]
        changed += _told(products[code], update, kept, currency)
    made = project.model_copy(
        update={
            "products": tuple(
                product.model_copy(update=updates.get(product.code, {})) for product in project.products
            ),
            "price_breaks": tuple(breaks),
        }
    )
    return Priced(made, tuple(changed), tuple(left_aside))


def refuse_another_currency(project: Project, offer: Offer) -> None:
    """Raises ValueError for an offer in another currency than the project's."""
    if offer.currency != project.project.currency:
        raise ValueError(
            f"{offer.supplier} offers in {offer.currency}, the project is in {project.project.currency}"
        )


def _told(product: Any, update: dict[str, Any], steps: Iterable[OfferedPrice], currency: str) -> list[str]:
    said = []
    for name, value in update.items():
        before = getattr(product, name)
        if before != value:
            shown = (
                (amount_text(before, currency), amount_text(value, currency))
                if name == "price"
                else (before or "nothing", value)
            )
            said.append(f"{name} {shown[0]} to {shown[1]}")
    more = [f"{amount_text(step.price, currency)} from {step.from_packs}" for step in steps]
    if more:
        said.append(f"price breaks {', '.join(more)} packs")
    return [f"{product.code}: {'; '.join(said)}"] if said else []
