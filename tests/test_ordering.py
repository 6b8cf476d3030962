"""The order: packs and allowances rounded once over the project, dates counted back, money in cents."""

from collections import defaultdict
from datetime import date
from decimal import Decimal
from fractions import Fraction
from math import ceil

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimiser.ordering import deliveries_of, needed_by_level, order_for
from optimiser.plan import LevelCounts
from optimiser.project import Gap, Heading, Level, Product, Project, Run
from optimiser.working_days import working_days_of

AUSTRALIA = working_days_of("AU")


def tower(levels: int = 3, *, products: tuple[Product, ...] | None = None, country: str = "AU") -> Project:
    """A project of `levels` levels, one run each; level L01 is delivered first, on 22 February 2027."""
    return Project(
        project=Heading(name="invented", country=country),
        products=products
        or (
            Product(code="T-1", kind="tape", length_mm=25_000, price="9.90"),
            Product(
                code="B-120",
                kind="board",
                length_mm=1200,
                width_mm=1000,
                per_pack=4,
                price="212.00",
                lead_days=15,
            ),
            Product(code="K-110", kind="bracket", length_mm=110, per_pack=50, price="60.50", lead_days=5),
            Product(code="A-1", kind="anchor", per_pack=100, price="31.20"),
            Product(code="A-2", kind="anchor", per_pack=10, price="1.00"),
        ),
        levels=tuple(
            Level(level=f"L{n:02d}", sequence=n, needed_on=date(2027, 2, 15 + 7 * n) if n < 2 else None)
            for n in range(1, levels + 1)
        ),
        runs=tuple(
            Run(run=f"R{n}", level=f"L{n:02d}", length_mm=1200, board=("B-120",))
            for n in range(1, levels + 1)
        ),
        gaps=tuple(Gap(run=f"R{n}", at_mm=0, gap_mm=150) for n in range(1, levels + 1)),
    )


def counts(brackets: int = 0, anchors: int = 0, tape_mm: int = 0) -> LevelCounts:
    return LevelCounts(joints=0, brackets={"K-110": brackets}, anchors=anchors, tape_mm=tape_mm)


def test_the_contracts_example_line() -> None:
    # 31 boards, 2 % for breakage, packs of 4 at 212.00: 32 boards in 8 packs, 15 working days ahead.
    order = order_for(tower(), {"L01": {"B-120": 31}}, {"B-120": Fraction(2, 100)}, AUSTRALIA)
    (line,) = order.lines
    assert line.model_dump(mode="json") == {
        "code": "B-120",
        "kind": "board",
        "level": "L01",
        "deliver_on": "2027-02-22",
        "order_by": "2027-02-01",
        "needed": 31,
        "allowance": 1,
        "quantity": 32,
        "per_pack": 4,
        "packs": 8,
        "pack_name": "",
        "price": "212.00",
        "amount": "1696.00",
    }
    assert order.total == 169_600


def test_a_delivery_uses_up_what_the_last_one_left_over() -> None:
    order = order_for(tower(), {"L01": {"B-120": 5}, "L02": {"B-120": 3}, "L03": {"B-120": 1}}, {}, AUSTRALIA)
    assert [line.packs for line in order.lines] == [2, 0, 1]
    assert [line.amount for line in order.lines] == [42_400, 0, 21_200]
    assert [(d.level, d.packs, d.amount) for d in deliveries_of(tower(), order)] == [
        ("L01", {"B-120": 2}, 42_400),
        ("L03", {"B-120": 1}, 21_200),
    ]


def test_boards_come_first_then_brackets_anchors_and_tape() -> None:
    needed = needed_by_level(tower(), {"L01": {"B-120": 2}}, {"L01": counts(4, 4, 300)})
    order = order_for(tower(), needed, {}, AUSTRALIA)
    assert [line.code for line in order.lines] == ["B-120", "K-110", "A-1", "T-1"]


def test_the_earliest_order_date_of_a_delivery_is_its_order_date() -> None:
    order = order_for(tower(), {"L01": {"B-120": 4, "K-110": 9}}, {}, AUSTRALIA)
    (delivery,) = deliveries_of(tower(), order)
    assert (delivery.deliver_on, delivery.order_by) == (date(2027, 2, 22), date(2027, 2, 1))


def test_a_level_without_a_date_has_null_dates() -> None:
    order = order_for(tower(), {"L02": {"B-120": 1}}, {}, AUSTRALIA)
    assert (order.lines[0].deliver_on, order.lines[0].order_by) == (None, None)
    assert deliveries_of(tower(), order)[0].order_by is None


def test_tape_is_counted_in_rolls_over_the_whole_project() -> None:
    needed = needed_by_level(
        tower(),
        {},
        {"L01": counts(tape_mm=10_000), "L02": counts(tape_mm=10_000), "L03": counts(tape_mm=10_000)},
    )
    assert needed == {"L01": {"T-1": 1}, "L02": {}, "L03": {"T-1": 1}}


def test_the_first_of_several_anchors_is_used_and_a_missing_one_left_out() -> None:
    assert needed_by_level(tower(), {}, {"L01": counts(anchors=7)})["L01"] == {"A-1": 7}
    bare = tower(products=(Product(code="B-120", kind="board", length_mm=1200, width_mm=1000),))
    assert needed_by_level(bare, {}, {"L01": counts(anchors=7, tape_mm=70)})["L01"] == {}


def test_levels_are_taken_in_delivery_order_not_table_order() -> None:
    upside_down = tower().model_copy(update={"levels": tuple(reversed(tower().levels))})
    order = order_for(upside_down, {"L02": {"B-120": 3}, "L01": {"B-120": 5}}, {}, AUSTRALIA)
    assert [(line.level, line.packs) for line in order.lines] == [("L01", 2), ("L02", 0)]


def test_an_allowance_is_exact_where_floating_point_is_not() -> None:
    # 7 % of 100 is 7; in floating point 100 * 0.07 is 7.000000000000001, and one board too many is bought.
    order = order_for(tower(), {"L01": {"B-120": 100}}, {"B-120": Fraction(Decimal("0.07"))}, AUSTRALIA)
    assert order.lines[0].allowance == 7


@settings(max_examples=60, deadline=None)
@given(
    needs=st.lists(st.integers(0, 40), min_size=1, max_size=8),
    percent=st.integers(0, 100),
    per_pack=st.integers(1, 30),
    price_cents=st.integers(0, 10_000_00),
)
def test_whatever_is_needed_is_there_in_time_and_rounding_is_paid_once(
    needs: list[int], percent: int, per_pack: int, price_cents: int
) -> None:
    board = Product(
        code="B-120",
        kind="board",
        length_mm=1200,
        width_mm=1000,
        per_pack=per_pack,
        price=Decimal(price_cents) / 100,
    )
    project = tower(len(needs), products=(board,))
    needed = {f"L{n:02d}": {"B-120": number} for n, number in enumerate(needs, start=1)}
    order = order_for(project, needed, {"B-120": Fraction(percent, 100)}, AUSTRALIA)
    so_far: dict[str, int] = defaultdict(int)
    for line in order.lines:
        assert line.needed > 0
        assert min(line.allowance, line.packs) >= 0
        assert line.quantity == line.needed + line.allowance
        assert line.amount == line.packs * price_cents
        so_far["quantity"] += line.quantity
        so_far["packs"] += line.packs
        assert so_far["packs"] * per_pack >= so_far["quantity"]
    whole = sum(needs) + ceil(Fraction(sum(needs) * percent, 100))
    assert so_far["quantity"] == whole
    assert so_far["packs"] == -(-whole // per_pack)
    assert order.total == so_far["packs"] * price_cents


def test_an_order_beyond_any_building_is_refused_with_the_mend() -> None:
    dear = Product(code="B-120", kind="board", length_mm=1200, width_mm=1000, price="9000000000.00")
    with pytest.raises(ValueError, match="check the prices"):
        order_for(tower(products=(dear,)), {"L01": {"B-120": 5}}, {}, AUSTRALIA)
