"""Deliveries put together: a truck's size, a minimum order, price breaks, the site's storage and crane days."""

from __future__ import annotations

import itertools
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import HealthCheck, given, reject, settings
from hypothesis import strategies as st

from optimiser.checking import broken_rules_of_plan
from optimiser.checking.building import Building
from optimiser.checking.on_site import standing_on
from optimiser.errors.problems import CannotBeDone
from optimiser.model.plan import Plan
from optimiser.model.project import (
    KINDS,
    WEEKDAYS,
    Anchor,
    DeliveryLimits,
    PriceBreak,
    Project,
    Stock,
)
from optimiser.ordering.delivery_days import pallets_of
from optimiser.ordering.price_breaks import price_of
from optimiser.ordering.site_storage import standing_over_time
from optimiser.planning.plan import plan
from tests.builders.levels import FIRST, week, weekly
from tests.builders.random_projects import projects

BOARD_M2 = 1.2


def planned(project: Project) -> Plan:
    return plan(project, staging="level")


def arrivals(made: Plan) -> list[tuple[date | None, tuple[str, ...], int]]:
    """Day, levels and packs of boards of each delivery."""
    return [(d.deliver_on, d.levels, d.packs.get("B-120", 0)) for d in made.deliveries]


def test_without_limits_each_level_has_its_own_delivery() -> None:
    made = planned(weekly())
    assert [(d.level, d.deliver_on, d.packs["B-120"], d.levels, d.trucks) for d in made.deliveries] == [
        (f"L{n}", week(n), 2, (), None) for n in range(1, 5)
    ]


def test_full_trucks_come_as_late_as_they_can() -> None:
    made = planned(weekly(truck_pallets=4, combine="fewest_loads"))
    assert arrivals(made) == [(week(1), ("L1", "L2"), 4), (week(3), ("L3", "L4"), 4)]
    assert [(d.trucks, d.pallets) for d in made.deliveries] == [(1, 4), (1, 4)]


def test_a_level_that_needs_more_than_a_truck_gets_several() -> None:
    made = planned(weekly(truck_pallets=1, pallet_packs=1))
    assert [d.trucks for d in made.deliveries] == [2, 2, 2, 2]


def test_packs_share_a_pallet() -> None:
    made = planned(weekly(truck_pallets=1, pallet_packs=4, combine="fewest_loads"))
    assert [(d.trucks, d.pallets, d.packs["B-120"]) for d in made.deliveries] == [(1, 1, 4), (1, 1, 4)]


def test_crane_days_are_the_last_ones_in_time() -> None:
    days = (date(2027, 2, 24), date(2027, 3, 10), date(2027, 3, 20))
    made = planned(weekly(crane_days=days))
    assert arrivals(made) == [
        (date(2027, 2, 24), ("L1", "L2"), 4),
        (date(2027, 3, 10), ("L3",), 2),
        (date(2027, 3, 20), ("L4",), 2),
    ]
    assert made.warnings == () or not any("crane" in warning for warning in made.warnings)


def test_a_level_needed_before_the_first_crane_day_is_told_with_the_days() -> None:
    made = planned(weekly(crane_days=(date(2027, 3, 5), date(2027, 3, 20))))
    assert arrivals(made)[0] == (week(1), ("L1",), 2)
    (told,) = [warning for warning in made.warnings if "crane" in warning]
    assert "level L1 is needed on 2027-03-01" in told
    assert "2027-03-05, is 4 days later" in told


def test_a_minimum_order_brings_forward_only_as_much_as_it_must() -> None:
    made = planned(weekly(minimum_order="300.00"))
    assert arrivals(made) == [(week(1), ("L1", "L2"), 4), (week(3), ("L3", "L4"), 4)]
    assert not any("minimum" in warning for warning in made.warnings)


def test_an_order_below_the_minimum_is_told_with_what_is_missing() -> None:
    made = planned(weekly(minimum_order="1000.00"))
    assert len(made.deliveries) == 1
    (told,) = [warning for warning in made.warnings if "minimum order" in warning]
    short = 1000 - made.order.total
    assert f"AUD {short:.2f} below the minimum order of AUD 1000.00" in told


def test_the_sites_storage_splits_what_a_truck_would_bring() -> None:
    """Two levels' boards are 9.6 m2, and what is left over of a level stands beside them."""
    made = planned(weekly(truck_pallets=8, combine="fewest_loads", site_storage_m2=10))
    for standing in standing_over_time(
        made.project, made.pieces, made.layouts, made.usable_left_over or (), made.order
    ):
        assert standing.standing_mm2 <= 10 * 10**6
    assert not any("storage" in warning for warning in made.warnings)
    assert 1 < len(made.deliveries) <= 4


def test_storage_that_is_too_small_is_told_by_level_and_by_how_much() -> None:
    made = planned(weekly(storeys=1, site_storage_m2=4))
    (told,) = [warning for warning in made.warnings if "storage" in warning]
    assert "on 2027-03-01, with the delivery for L1, 4.8 m2 of board stand on site, 0.8 m2 more than" in told


def test_a_price_break_is_worth_a_larger_delivery() -> None:
    breaks = (PriceBreak(code="B-120", from_packs=6, price="80.00"),)  # type: ignore[arg-type]
    made = planned(weekly(price_breaks=breaks))
    boards = [line for line in made.order.lines if line.code == "B-120"]
    assert {line.price for line in boards} == {80}
    assert arrivals(made)[0][2] == 8  # six and two would leave two at the full price
    assert made.order.total == sum(delivery.amount for delivery in made.deliveries)


def test_a_price_break_yields_to_the_sites_storage() -> None:
    breaks = (PriceBreak(code="B-120", from_packs=6, price="80.00"),)  # type: ignore[arg-type]
    made = planned(weekly(price_breaks=breaks, site_storage_m2=10))
    assert {line.price for line in made.order.lines if line.code == "B-120"} == {100}


def test_a_level_without_a_day_is_told_and_nothing_is_put_together() -> None:
    base = weekly(truck_pallets=4)
    levels = (*base.levels[:3], base.levels[3].model_copy(update={"needed_on": None}))
    made = planned(base.model_copy(update={"levels": levels}))
    assert [delivery.levels for delivery in made.deliveries] == [()] * 4
    assert any("L4 has no needed_on date" in warning for warning in made.warnings)


def test_prices_and_pallets() -> None:
    breaks = tuple(PriceBreak(code="B-120", from_packs=n, price=str(p)) for n, p in ((10, 90), (20, 80)))  # type: ignore[arg-type]
    project = weekly(price_breaks=breaks, pallet_packs=4)
    assert [price_of(project, "B-120", packs) for packs in (1, 9, 10, 19, 20)] == [100, 100, 90, 90, 80]
    assert pallets_of(project, {"B-120": 9, "K-110": 5}) == 3


def cheapest_by_trying_all(project: Project, made: Plan) -> tuple[int, int]:
    """The fewest truckloads, then the fewest board-area days, over every way to divide the levels' packs into
    deliveries in their order, each on the day on which its first level needs it."""
    packs = [sum(line.packs for line in made.order.lines if (line.level, line.kind) == (level.level, "board"))
             for level in project.levels]  # fmt: skip
    limits = project.deliveries[0]
    best = (10**9, 10**9)
    for parted in itertools.product((False, True), repeat=len(packs) - 1):
        groups = [[0]]
        for level, part in enumerate(parted, start=1):
            if part:
                groups.append([level])
            else:
                groups[-1].append(level)
        trucks = early = 0
        for group in groups:
            brought = sum(packs[level] for level in group)
            trucks += max(1, -(-brought // (limits.truck_pallets or 1)))
            early += sum(packs[level] * 7 * (level - group[0]) for level in group)
        best = min(best, (trucks, early))
    return best


@pytest.mark.parametrize("truck_pallets", [1, 2, 3, 4, 5, 6, 9, 12])
def test_trucks_and_days_are_the_fewest_by_trying_all(truck_pallets: int) -> None:
    lengths = (28_800, 14_400, 21_600, 7_200, 36_000)
    base = weekly(storeys=5, truck_pallets=truck_pallets, combine="fewest_loads")
    runs = tuple(run.model_copy(update={"length_mm": n}) for run, n in zip(base.runs, lengths, strict=True))
    february = tuple(  # the fifth Monday of March 2027 is a holiday
        level.model_copy(update={"needed_on": level.needed_on - timedelta(weeks=4)})
        for level in base.levels
        if level.needed_on
    )
    boards_only = tuple(product for product in base.products if product.kind == "board")
    project = base.model_copy(update={"runs": runs, "products": boards_only, "levels": february})
    made = planned(project)
    day_of = {level.level: level.needed_on for level in project.levels}
    trucks = sum(delivery.trucks or 0 for delivery in made.deliveries)
    early = sum(
        line.packs * (due - line.deliver_on).days
        for line in made.order.lines
        if line.deliver_on and (due := day_of[line.level])
    )
    assert (trucks, early) == cheapest_by_trying_all(project, made)


def test_equal_projects_and_seeds_give_equal_schedules() -> None:
    project = weekly(truck_pallets=3, site_storage_m2=12, minimum_order="250.00")
    assert planned(project).deliveries == planned(project).deliveries


@st.composite
def limited(draw: st.DrawFn) -> Project:
    """A random project, every level with its day, and random limits."""
    base = draw(projects(max_runs=4, longest_run_mm=6000))
    codes = [product.code for product in base.products]
    breaks: list[PriceBreak] = []
    for code in draw(st.lists(st.sampled_from(codes), max_size=2, unique=True)):
        full = base.product(code).price
        steps = draw(st.lists(st.integers(2, 8), min_size=1, max_size=2, unique=True))
        for number, packs in enumerate(sorted(steps), start=1):
            breaks.append(PriceBreak(code=code, from_packs=packs, price=full // (number + 1)))
    days = draw(st.lists(st.dates(date(2026, 12, 1), date(2028, 6, 30)), max_size=5, unique=True))
    weighed = tuple(
        product.model_copy(update={"weight_kg": Decimal(draw(st.integers(1, 40_000))) / 1000})
        if product.kind == "board"
        else product
        for product in base.products
    )
    in_kg = draw(st.booleans())
    every = draw(st.sampled_from((None, "weekday", "days", "crane")))
    sized = draw(st.none() | st.integers(1, 6))
    limits = DeliveryLimits(
        truck_pallets=sized,
        pallet_packs=draw(st.none() | st.integers(1, 4)),
        truck_payload_kg=draw(st.none() | st.integers(40, 400)) if in_kg else None,
        trucks_a_delivery=draw(st.none() | st.integers(1, 2)) if sized else None,
        combine=draw(st.sampled_from(("none", "fewest_loads"))),
        minimum_order=draw(st.none() | st.integers(0, 2000)),
        delivery_cost=draw(st.none() | st.integers(0, 500)),
        storage_cost=draw(st.none() | st.integers(0, 20)),
        site_storage_m2=draw(st.none() | st.integers(0, 30)),
        stack_height_mm=draw(st.none() | st.integers(120, 900)),
        stack_layers=draw(st.none() | st.integers(1, 7)),
        floor_load_kg_m2=draw(st.none() | st.integers(5, 200)) if in_kg else None,
        delivery_weekday=draw(st.sampled_from(WEEKDAYS)) if every == "weekday" else None,
        every_days=draw(st.integers(1, 20)) if every == "days" else None,
        crane_days=tuple(sorted(days)) if every == "crane" else (),
    )
    levels = tuple(
        level.model_copy(update={"needed_on": draw(st.dates(date(2027, 1, 4), date(2027, 6, 30)))})
        for level in base.levels
    )
    return base.model_copy(
        update={
            "products": weighed if in_kg else base.products,
            "levels": levels,
            "deliveries": (limits,),
            "price_breaks": tuple(breaks),
        }
    )


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(limited())
def test_every_schedule_is_judged_and_nothing_comes_late(project: Project) -> None:
    try:
        made = plan(project)  # the judge sees it inside, limits included
    except CannotBeDone as failure:
        assert "independent judge" not in str(failure)  # noqa: PT017
        reject()
    needed = {level.level: level.needed_on for level in project.levels}
    for line in made.order.lines:
        due = needed[line.level]
        assert line.deliver_on is not None
        assert due is not None
        assert line.deliver_on <= due


# -- the judge


def sound() -> Plan:
    return planned(
        weekly(truck_pallets=4, combine="fewest_loads", crane_days=tuple(week(n) for n in range(1, 5)))
    )


def changed_line(made: Plan, level: str, **fields: Any) -> Plan:
    lines = tuple(
        line.model_copy(update=fields) if (line.level, line.code) == (level, "B-120") else line
        for line in made.order.lines
    )
    return made.model_copy(update={"order": made.order.model_copy(update={"lines": lines})})


def changed_delivery(made: Plan, **fields: Any) -> Plan:
    first, *rest = made.deliveries
    return made.model_copy(update={"deliveries": (first.model_copy(update=fields), *rest)})


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (lambda p: changed_line(p, "L1", deliver_on=week(2)), "it comes on 2027-03-08, but is needed on 2027-03-01"),
        (lambda p: changed_line(p, "L4", deliver_on=date(2027, 3, 16)), "2027-03-16, which is no crane day"),
        (lambda p: changed_line(p, "L4", order_by=date(2027, 3, 16)), "order_by must be 2027-03-15"),
        (
            lambda p: changed_line(p, "L2", price=Decimal("90.00"), amount=Decimal("180.00")),
            "price must be 100.00, that for 4 packs",
        ),
        (lambda p: changed_line(p, "L2", amount=1), "amount must be 200.00"),
        (lambda p: changed_delivery(p, trucks=2), "trucks must be 1, but is 2"),
        (lambda p: changed_delivery(p, pallets=3), "pallets must be 4, but is 3"),
        (lambda p: changed_delivery(p, packs={"B-120": 3}), "the order has 4 packs of B-120, but the delivery 3"),
        (lambda p: changed_delivery(p, levels=("L1",)), "levels must be ('L1', 'L2'), but is ('L1',)"),
        (lambda p: p.model_copy(update={"deliveries": p.deliveries[1:]}), "but 0 deliveries bring them"),
        (lambda p: p.model_copy(update={"deliveries": p.deliveries[::-1]}), "in the order of their days"),
    ],
)  # fmt: skip
def test_the_judge_finds_what_is_wrong(change: Any, told: str) -> None:
    assert broken_rules_of_plan(sound()) == []
    assert told in "\n".join(broken_rules_of_plan(change(sound())))


@pytest.mark.parametrize(
    ("limits", "told"),
    [
        ({"site_storage_m2": 4}, "more than 4 m2, and no warning says so"),
        ({"minimum_order": "1000.00"}, "less than the minimum order of 1000.00, and no warning says so"),
        ({"crane_days": (week(2),)}, "no crane day, and no warning says so"),
    ],
)
def test_the_judge_wants_every_limit_that_is_not_kept_to_be_told(limits: dict[str, Any], told: str) -> None:
    made = planned(weekly(**limits))
    silent = made.model_copy(
        update={"warnings": tuple(w for w in made.warnings if not w.startswith("Deliveries"))}
    )
    assert told in "\n".join(broken_rules_of_plan(silent))


def test_stock_stands_on_site_beside_what_a_delivery_brings() -> None:
    """Four boards of 1.2 m2 come, and ten offcuts of 0.12 m2 lie there, too narrow to serve; one lies on L2."""
    stock = (
        Stock(code="B-120", length_mm=1200, width_mm=100, quantity=10, level="L1"),
        Stock(code="B-120", length_mm=1200, width_mm=110, quantity=1, level="L2"),
    )
    made = planned(weekly(storeys=2).model_copy(update={"stock": stock}))
    building = Building(made.project, made)
    assert standing_on(building, FIRST - timedelta(days=1)) == 0
    assert standing_on(building, FIRST) == 4 * 1_200_000 + 10 * 120_000
    assert standing_on(building, week(2)) == 4 * 1_200_000 + 10 * 120_000 + 132_000


def test_products_of_every_kind_may_have_a_price_break() -> None:
    """Anchors with a break are scheduled by themselves, beside the rest of the level's accessories."""
    assert "anchor" in KINDS
    base = weekly(price_breaks=(PriceBreak(code="A-1", from_packs=2, price="20.00"),))  # type: ignore[arg-type]
    anchor = Anchor(code="A-1", per_pack=40, price="31.20")  # type: ignore[arg-type]
    made = planned(base.model_copy(update={"products": (*base.products, anchor)}))
    prices = {line.price for line in made.order.lines if line.code == "A-1" and line.packs}
    assert prices == {20}
