"""Few large loads or many small ones as a matter of money: one sum of goods, loads and storage, with one bound."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Iterator
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from optimiser.checking import broken_rules_of_plan
from optimiser.model.money import CENT, NOTHING
from optimiser.model.order import DeliveryCosts
from optimiser.model.plan import Plan
from optimiser.model.project import PriceBreak, Project
from optimiser.planning.plan import plan
from tests.builders.levels import FIRST, weekly

NIGHTS_IN_A_WEEK = 7


def planned(project: Project) -> Plan:
    return plan(project, staging="level")


def costs_of(made: Plan) -> DeliveryCosts:
    assert made.delivery_costs is not None
    return made.delivery_costs


def test_a_dear_load_is_worth_storing() -> None:
    made = planned(weekly(delivery_cost="180.00", storage_cost="1.50"))
    costs = costs_of(made)
    assert len(made.deliveries) == 1
    assert (costs.goods, costs.delivery, costs.storage) == (800, 180, Decimal("43.20"))  # 28.8 m2 weeks
    assert (costs.total, costs.lower_bound, costs.optimal) == (Decimal("1023.20"), Decimal("1023.20"), True)


def test_dear_storage_is_worth_small_loads() -> None:
    made = planned(weekly(delivery_cost="5.00", storage_cost="9.00"))
    costs = costs_of(made)
    assert [delivery.levels for delivery in made.deliveries] == [("L1",), ("L2",), ("L3",), ("L4",)]
    assert (costs.loads, costs.delivery, costs.storage, costs.total) == (4, 20, 0, 820)


def test_between_the_two_some_levels_share_a_load() -> None:
    """4.8 m2 for a week cost 14.40: less than a load of 20.00, for two weeks more."""
    made = planned(weekly(delivery_cost="20.00", storage_cost="3.00"))
    assert [delivery.levels for delivery in made.deliveries] == [("L1", "L2"), ("L3", "L4")]
    assert costs_of(made).storage == 2 * Decimal("14.40")


def test_a_price_break_joins_the_sum() -> None:
    breaks = (PriceBreak(code="B-120", from_packs=6, price="95.00"),)  # type: ignore[arg-type]
    cheap = planned(weekly(price_breaks=breaks, storage_cost="0.50"))
    dear = planned(weekly(price_breaks=breaks, storage_cost="9.00"))
    assert costs_of(cheap).goods == 760
    assert costs_of(dear).goods == 800


def test_without_a_price_there_is_no_sum() -> None:
    assert planned(weekly(truck_pallets=4)).delivery_costs is None


def test_a_price_that_no_building_costs_is_refused_in_words() -> None:
    from optimiser.errors.problems import CannotBeDone

    dear = weekly(delivery_cost="9999999999.00", storage_cost="9999999999.00")
    with pytest.raises(CannotBeDone, match=r"check (the prices|delivery_cost)"):
        planned(dear)


# -- compared with every way to bring the lines


def every_schedule(made: Plan, days: list[date]) -> Iterator[dict[tuple[str, str], date]]:
    """Every day for every line, each product in the order in which it is needed; brackets of a level together."""
    needed = {level.level: level.needed_on for level in made.project.levels}
    kinds: dict[str, list[str]] = {}
    for line in made.order.lines:
        if line.packs:
            kinds.setdefault("board" if line.kind == "board" else "rest", [])
            if line.level not in kinds["board" if line.kind == "board" else "rest"]:
                kinds["board" if line.kind == "board" else "rest"].append(line.level)
    ways = []
    for kind, levels in kinds.items():
        choices = [[day for day in days if day <= (needed[level] or day)] for level in levels]
        ways.append(
            [
                {(kind, level): day for level, day in zip(levels, chosen, strict=True)}
                for chosen in itertools.product(*choices)
                if list(chosen) == sorted(chosen)
            ]
        )
    for parts in itertools.product(*ways):
        yield {place: day for part in parts for place, day in part.items()}


def sum_of(made: Plan, arrives: dict[tuple[str, str], date]) -> Fraction:
    """Goods, loads and storage of uncut bought boards, counted night by night."""
    project = made.project
    (limits,) = project.deliveries
    needed = {level.level: level.needed_on for level in project.levels}
    size = {p.code: p.size.area_mm2 for p in project.boards}
    packs: dict[date, Counter[str]] = {}
    changes: Counter[date] = Counter()
    for line in made.order.lines:
        day = arrives.get(("board" if line.kind == "board" else "rest", line.level))
        if line.packs and day:
            packs.setdefault(day, Counter())[line.code] += line.packs
            changes[day] += line.packs * line.per_pack * size.get(line.code, 0)
        used_on = needed[line.level]
        assert used_on is not None
        changes[used_on] -= line.needed * size.get(line.code, 0)
    total = Fraction(0)
    for here in packs.values():
        for code, number in here.items():
            prices = [project.product(code).price]
            rows = sorted(
                (row for row in project.price_breaks if row.code == code), key=lambda r: r.from_packs
            )
            prices += [row.price for row in rows if row.from_packs <= number]
            total += number * Fraction(prices[-1])
        holds = limits.pallet_packs or 1
        pallets = sum(-(-number // holds) for code, number in here.items() if code in size)
        trucks = max(1, -(-pallets // limits.truck_pallets)) if limits.truck_pallets else 1
        total += trucks * Fraction(limits.delivery_cost or 0)
    area, day = 0, min(changes)
    while day <= max(changes):
        area += changes[day]
        if day < max(changes):
            total += Fraction(limits.storage_cost or 0) * area / (NIGHTS_IN_A_WEEK * 10**6)
        day += timedelta(days=1)
    return total


@st.composite
def tiny(draw: st.DrawFn) -> Project:
    """Up to four levels on days of March, their lengths and all prices at random; a truck, a price break or none."""
    storeys = draw(st.integers(1, 4))
    breaks = draw(
        st.just(())
        | st.builds(
            lambda n, p: (PriceBreak(code="B-120", from_packs=n, price=str(p)),),  # type: ignore[arg-type]
            st.integers(2, 6),
            st.integers(60, 99),
        )
    )
    limits: dict[str, Any] = {
        "delivery_cost": str(draw(st.integers(0, 120))),
        "storage_cost": f"{draw(st.integers(0, 800)) / 100:.2f}",
        "truck_pallets": draw(st.none() | st.integers(1, 5)),
        "pallet_packs": draw(st.none() | st.integers(1, 3)),
    }
    base = weekly(storeys=storeys, price_breaks=breaks, **limits)
    lengths = draw(st.lists(st.sampled_from((7_200, 14_400, 21_600, 28_800)), min_size=4, max_size=4))
    days = sorted(draw(st.lists(st.sampled_from(range(24)), min_size=4, max_size=4)))
    return base.model_copy(
        update={
            "runs": tuple(
                run.model_copy(update={"length_mm": n}) for run, n in zip(base.runs, lengths, strict=False)
            ),
            "levels": tuple(
                level.model_copy(update={"needed_on": FIRST + timedelta(days=n)})
                for level, n in zip(base.levels, days, strict=False)
            ),
        }
    )


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(tiny())
def test_no_schedule_costs_less_by_trying_all(project: Project) -> None:
    made = planned(project)
    costs = costs_of(made)
    days = {level.needed_on for level in project.levels if level.needed_on and level.needed_on.weekday() < 5}
    days |= {delivery.deliver_on for delivery in made.deliveries if delivery.deliver_on}
    own = {
        ("board" if line.kind == "board" else "rest", line.level): line.deliver_on
        for line in made.order.lines
        if line.packs and line.deliver_on
    }
    best = min(sum_of(made, arrives) for arrives in every_schedule(made, sorted(days)))
    assert sum_of(made, own) == best
    assert costs.optimal
    # what waits beside the boards costs alike in every schedule
    assert costs.total >= round(best, 2) - Fraction(1, 100)


# -- the judge


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"goods": CENT}, "goods must be 800.00, but is 0.01"),
        ({"loads": 3}, "loads must be 2, but is 3"),
        ({"delivery": CENT}, "delivery must be 40.00, but is 0.01"),
        ({"storage": Decimal("0.99")}, "storage must be 28.80, but is 0.99"),
        ({"total": Decimal("0.05")}, "total must be 868.80, but is 0.05"),
        ({"lower_bound": Decimal("900.00")}, "the lower bound 900.00 is above the sum 868.80"),
        ({"lower_bound": Decimal("800.00")}, "optimal must be False"),
    ],
)
def test_the_judge_finds_a_wrong_sum(changed: dict[str, Decimal | int], told: str) -> None:
    made = planned(weekly(delivery_cost="20.00", storage_cost="3.00"))
    assert broken_rules_of_plan(made) == []
    wrong = made.model_copy(update={"delivery_costs": costs_of(made).model_copy(update=changed)})
    assert told in "\n".join(broken_rules_of_plan(wrong))


def test_the_judge_knows_a_schedule_below_a_bound_that_is_too_high() -> None:
    """Storage for nothing: all in one load costs 820.00. The plan says 860.00 with three loads, as if proved."""
    made = planned(weekly(storeys=2, delivery_cost="20.00"))
    apart = planned(weekly(storeys=2, delivery_cost="20.00", storage_cost="9.00"))
    limits = made.project.deliveries
    lying = apart.model_copy(
        update={
            "project": apart.project.model_copy(update={"deliveries": limits}),
            "delivery_costs": costs_of(apart).model_copy(update={"storage": NOTHING}),
        }
    )
    assert "is above 420.00, what the order costs with all on the first day" in "\n".join(
        broken_rules_of_plan(lying)
    )


def test_the_judge_misses_a_sum_that_is_not_told() -> None:
    made = planned(weekly(delivery_cost="20.00"))
    silent = made.model_copy(update={"delivery_costs": None})
    assert "no sum is told" in "\n".join(broken_rules_of_plan(silent))
