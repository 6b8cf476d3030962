"""Which supplier brings what: the cheapest split of what is needed, by a small integer program, with its proof.

A product may come from several suppliers. In each delivery a supplier's packs are bought at the price for their number;
by each delivery enough is there, and never a largest pack more than that or than the plan itself brings, so that
nothing is brought forward to reach a price break that the site has no room for. A supplier that is used is paid its
freight for each delivery and its least order at the least. HiGHS solves it to a gap of nothing or to a limit of nodes;
costs are added up again in cents, and the bound is the solver's, rounded up to the cent.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil

from highspy import HighsVarType, SolutionStatus, kHighsInf

from optimiser.cutting.quiet_highs import QuietHighs
from optimiser.ordering.supplier_offers import Needs, Steps, Supplier

MOST_NODES = 20_000


@dataclass(frozen=True)
class Purchase:
    """Packs of a product from a supplier in a delivery (its place among the days), at cents a pack."""

    supplier: str
    code: str
    delivery: int
    packs: int
    price_cents: int

    @property
    def cents(self) -> int:
        """What they cost."""
        return self.packs * self.price_cents


@dataclass(frozen=True)
class Split:
    """What is bought from whom, the freight by supplier, what it costs, and what no split can cost less than."""

    purchases: tuple[Purchase, ...]
    freight: Mapping[str, int]
    cents: int
    least_cents: int

    @property
    def proved(self) -> bool:
        """Whether no split of these offers costs less."""
        return self.least_cents >= self.cents

    @property
    def goods_cents(self) -> int:
        """What the goods cost, without freight."""
        return sum(purchase.cents for purchase in self.purchases)

    def packs_of(self, supplier: str, code: str) -> int:
        """How many packs of a product a supplier brings in all."""
        return sum(
            purchase.packs
            for purchase in self.purchases
            if (purchase.supplier, purchase.code) == (supplier, code)
        )


def cheapest_split(
    needs: Needs, suppliers: Sequence[Supplier], only: Mapping[str, str] | None = None
) -> Split | None:
    """The cheapest way to buy what is needed; None where these suppliers cannot bring it.

    `only` names, by code, the one supplier that a product must come from.
    """
    if not needs.by_then:
        return Split((), {}, 0, 0)
    coupled = any(supplier.minimum_cents or supplier.freight_cents for supplier in suppliers)
    groups = [tuple(needs.by_then)] if coupled else [(code,) for code in needs.by_then]
    purchases: list[Purchase] = []
    freight: dict[str, int] = {}
    least = 0
    for codes in groups:  # without freight and least orders no product has to do with another
        solved = _Program(needs, codes, suppliers, only or {}).solved()
        if solved is None:
            return None
        purchases += solved.purchases
        freight |= solved.freight
        least += solved.least_cents
    cents = sum(purchase.cents for purchase in purchases) + sum(freight.values())
    return Split(tuple(purchases), freight, cents, min(least, cents))


class _Program:
    """How many packs each supplier brings in each delivery at each of its prices."""

    def __init__(
        self, needs: Needs, codes: Sequence[str], suppliers: Sequence[Supplier], only: Mapping[str, str]
    ) -> None:
        self.needs, self.suppliers = needs, suppliers
        self.solver = QuietHighs()
        self.solver.setOptionValue("mip_rel_gap", 0.0)
        self.solver.setOptionValue("mip_abs_gap", 0.5)  # of a cent
        self.solver.setOptionValue("mip_max_nodes", MOST_NODES)
        self.cost: dict[int, int] = {}
        self.packs: dict[tuple[str, str, int, int], int] = {}  # supplier, code, delivery, step: variable
        for code in codes:
            self._product(
                code, [s for s in suppliers if code in s.steps and only.get(code) in (None, s.name)]
            )
        for supplier in suppliers:
            self._supplier(supplier)

    def _whole_number(self, most: int) -> int:
        place: int = self.solver.getNumCol()
        self.solver.addCol(0.0, 0.0, float(most), 0, [], [])
        self.solver.changeColIntegrality(place, HighsVarType.kInteger)
        return place

    def _row(self, least: float, most: float, factors: Mapping[int, int]) -> None:
        self.solver.addRow(least, most, len(factors), list(factors), [float(n) for n in factors.values()])

    def _product(self, code: str, sellers: Sequence[Supplier]) -> None:
        """By each delivery enough of a product, and less than the largest pack above what there is room for."""
        by_then, room = self.needs.by_then[code], self.needs.room_by_then[code]
        largest = max((seller.steps[code].per_pack for seller in sellers), default=1)
        singles: dict[int, int] = {}
        for place, wanted in enumerate(by_then):
            for seller in sellers:
                steps = seller.steps[code]
                if steps.in_time[place]:
                    most = (room[-1] + largest - 1) // steps.per_pack
                    for packs in self._delivery(seller.name, code, place, steps, most):
                        singles[packs] = steps.per_pack
            self._row(float(wanted), float(room[place] + largest - 1), singles)

    def _delivery(self, supplier: str, code: str, place: int, steps: Steps, most: int) -> list[int]:
        """Packs of one delivery at each price; at most one of the prices is paid."""
        found, chosen = [], []
        for number, (from_packs, cents) in enumerate(steps.prices):
            if from_packs > most:
                break
            after = steps.prices[number + 1][0] - 1 if number + 1 < len(steps.prices) else most
            packs = self._whole_number(min(most, after))
            self.cost[packs] = cents
            self.packs[supplier, code, place, number] = packs
            found.append(packs)
            if len(steps.prices) > 1 or from_packs > 1:
                paid = self._whole_number(1)
                chosen.append(paid)
                self._row(-kHighsInf, 0, {packs: 1, paid: -min(most, after)})
                self._row(0, kHighsInf, {packs: 1, paid: -from_packs})
        if len(chosen) > 1:
            self._row(-kHighsInf, 1, dict.fromkeys(chosen, 1))
        return found

    def _supplier(self, supplier: Supplier) -> None:
        """The least order and the freight of a supplier that is used."""
        own = {key: packs for key, packs in self.packs.items() if key[0] == supplier.name}
        if not own:
            return
        value = {packs: self.cost[packs] for packs in own.values()}
        bounds = {packs: int(self.solver.getLp().col_upper_[packs]) for packs in own.values()}
        if supplier.minimum_cents:
            used = self._whole_number(1)
            for packs in own.values():
                self._row(-kHighsInf, 0, {packs: 1, used: -bounds[packs]})
            self._row(0, kHighsInf, {**value, used: -supplier.minimum_cents})
        if not supplier.freight_cents:
            return
        free = None
        if supplier.free_from_cents is not None:
            free = self._whole_number(1)
            self._row(0, kHighsInf, {**value, free: -supplier.free_from_cents})
        by_delivery: dict[int, list[int]] = defaultdict(list)
        for (_, _, place, _), packs in own.items():
            by_delivery[place].append(packs)
        for here in by_delivery.values():
            comes, paid = self._whole_number(1), self._whole_number(1)
            for packs in here:
                self._row(-kHighsInf, 0, {packs: 1, comes: -bounds[packs]})
            self._row(0, kHighsInf, {paid: 1, comes: -1, **({free: 1} if free is not None else {})})
            self.cost[paid] = supplier.freight_cents

    def solved(self) -> Split | None:
        """The cheapest purchases, added up in cents; None where there are none."""
        for place, cents in self.cost.items():
            self.solver.changeColCost(place, float(cents))
        self.solver.run_or_raise()
        values = [round(value) for value in self.solver.getSolution().col_value]
        if self.solver.getInfo().primal_solution_status != SolutionStatus.kSolutionStatusFeasible:
            return None
        purchases = tuple(
            Purchase(supplier, code, place, values[variable], self.cost[variable])
            for (supplier, code, place, _), variable in self.packs.items()
            if values[variable]
        )
        freight = {
            supplier.name: cents for supplier in self.suppliers if (cents := freight_of(supplier, purchases))
        }
        cents = sum(purchase.cents for purchase in purchases) + sum(freight.values())
        bound = max(0, ceil(self.solver.getInfo().mip_dual_bound - 1e-3))
        return Split(purchases, freight, cents, min(bound, cents))


def freight_of(supplier: Supplier, purchases: Sequence[Purchase]) -> int:
    """What a supplier's deliveries cost to bring, in cents; nothing from the order on that it brings free."""
    own = [purchase for purchase in purchases if purchase.supplier == supplier.name]
    if (
        supplier.free_from_cents is not None
        and sum(purchase.cents for purchase in own) >= supplier.free_from_cents
    ):
        return 0
    return supplier.freight_cents * len({purchase.delivery for purchase in own})
