"""Boards that are paid for anyway: what is left of the last pack, once the allowance is taken from it."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from math import ceil

from optimiser.boards.forecast_levels import forecast_levels
from optimiser.boards.problems import price_of_a_board
from optimiser.cutting.paid_anyway import BudgetOf
from optimiser.cutting.problem import CuttingResult
from optimiser.cutting.second_aim import Budget
from optimiser.model.money import cents_of
from optimiser.model.project import Project


def flat_fractions(project: Project) -> dict[str, Fraction]:
    """The allowance by product code where the project writes a rate; a simulated one is left out."""
    return {
        product.code: Fraction(row.fraction)
        for row in project.allowance
        if not isinstance(row.fraction, str)
        for product in project.products_of(row.kind)
    }


def packs_for(number: int, fraction: Fraction, per_pack: int) -> int:
    """Whole packs for so many boards (or brackets) and the allowance on them, each rounded up once; none for none.

    >>> packs_for(146, Fraction(2, 100), 4)
    38
    """
    return -(-(number + ceil(number * fraction)) // per_pack)


def boards_within(boards: int, fraction: Fraction, per_pack: int) -> int:
    """The most boards that can be cut without another pack than `boards` take, allowance included.

    >>> boards_within(146, Fraction(2, 100), 4)
    149
    """
    packs = packs_for(boards, fraction, per_pack)
    most = boards
    while packs_for(most + 1, fraction, per_pack) == packs:
        most += 1
    return most


def paid_boards(project: Project) -> BudgetOf:
    """How many boards of each code may be cut at no further cost.

    Where a level is still nominal nothing is free: what a pack of firm boards has left serves the forecast.
    """
    fractions = flat_fractions(project)
    some_forecast = bool(forecast_levels(project))

    def budget(bought: Mapping[str, int]) -> Budget:
        if some_forecast:
            return Budget()
        products = project.building.boards
        return Budget(
            boards={
                code: boards_within(count, fractions.get(code, Fraction(0)), products[code].per_pack)
                for code, count in bought.items()
            }
        )

    return budget


def paid_cents(project: Project, bought: Mapping[str, int]) -> Fraction:
    """What so many boards of each code cost: whole packs with their allowance, or, where a level is nominal and its
    packs follow from simulation, the boards alone."""
    products = project.building.boards
    if forecast_levels(project):
        return sum((price_of_a_board(products[code]) * n for code, n in bought.items()), Fraction(0))
    return Fraction(
        sum(packs * cents_of(products[code].price) for code, packs in packs_of(project, bought).items())
    )


def packs_of(project: Project, bought: Mapping[str, int]) -> dict[str, int]:
    """The packs that so many boards of each code come in, allowance included."""
    fractions, products = flat_fractions(project), project.building.boards
    return {
        code: packs_for(n, fractions.get(code, Fraction(0)), products[code].per_pack)
        for code, n in bought.items()
    }


def bought_of(result: CuttingResult, codes: tuple[str, ...]) -> dict[str, int]:
    """The boards of each code that a result of these codes' family buys."""
    if len(codes) == 1:
        return {codes[0]: result.boards}
    return {code: (result.boards_by_code or {}).get(code, 0) for code in codes}
