"""The sum of boards and carrying, re-derived: packs that are paid for, remainders times deliveries at their price."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import ceil

from optimiser.checking.building import Building
from optimiser.checking.figures import figure
from optimiser.model.money import NOTHING, cents_of


def broken_rules_of_carrying(building: Building) -> Iterator[str]:
    """Where keeping a remainder has a price the plan tells the sum, its parts add up, and the bound is not above it.

    The price may be another than the project's: it may be given for one plan alone.
    """
    found, given = building.plan.carrying, building.project.project.carry_cost
    costs = building.plan.delivery_costs
    due_there = found.carrying if found else NOTHING
    if costs is not None and costs.waiting != due_there:
        yield f"delivery_costs: waiting must be what carrying costs, {due_there}, but is {costs.waiting}"
    if found is None:
        if given is not None:
            yield f"carrying: the project's carry_cost is {given}, but the plan tells no sum of boards and carrying"
        return
    kept = sum(building.carried(part.stage, part.cut_stage) for part in building.plan.remainders)
    boards = _paid_for_boards(building)
    for field, due in (
        ("remainder_stages", Fraction(kept)),
        ("boards", Fraction(ceil(boards), 100)),
        ("carrying", Fraction(found.price) * kept),
        ("total", Fraction(ceil(boards), 100) + Fraction(found.price) * kept),
    ):
        said = getattr(found, field)
        if Fraction(said) != due:
            places = ".0f" if field == "remainder_stages" else ".2f"
            yield f"carrying: {field} must be {figure(due, places)}, but is {said}"
    if found.lower_bound > found.total:
        yield f"carrying: the lower bound {found.lower_bound} is above the sum {found.total} that was reached"
    if found.optimal != (found.lower_bound == found.total):
        yield f"carrying: optimal must be {found.lower_bound == found.total}, but is {found.optimal}"


def _paid_for_boards(building: Building) -> Fraction:
    """Cents: whole packs with their allowance, or, where a level is nominal, the boards at the price of one."""
    rate = building.allowance_of("board")
    paid = Fraction(0)
    for code, count in building.plan.boards.items():
        product = building.products.get(code)
        if product is None or product.kind != "board" or count.count <= 0:
            continue
        packs = Fraction(count.count, product.per_pack)
        if not building.forecast:
            packs = Fraction(ceil(Fraction(count.count + ceil(count.count * rate), product.per_pack)))
        paid += packs * cents_of(product.price)
    return paid
