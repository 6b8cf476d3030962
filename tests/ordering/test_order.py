"""The order: packs and allowances rounded once over the project, dates counted back, money in cents."""

from collections import defaultdict
from datetime import date
from decimal import Decimal
from fractions import Fraction
from math import ceil

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimiser.model.plan import LevelCounts
from optimiser.model.project import Anchor, Board, Bracket, Gap, Heading, Level, Product, Project, Run, Tape
from optimiser.ordering.order import deliveries_of, needed_by_level, order_for
from optimiser.ordering.working_days import working_days_of

AUSTRALIA = working_days_of("AU")


def tower(levels: int = 3, *, products: tuple[Product, ...] | None = None, country: str = "AU") -> Project:
    """A project of `levels` levels, one run each; level L01 is delivered first, on 22 February 2027."""
    return Project(
        project=Heading(name="invented", country=country),
        products=products
        or (
            Tape(code="T-1", length_mm=25_000, price="9.90"),
            Board(
                code="B-120",
                length_mm=1200,
                width_mm=1000,
                per_pack=4,
                price="212.00",
                lead_days=15,
            ),
            Bracket(code="K-110", length_mm=110, per_pack=50, price="60.50", lead_days=5),
            Anchor(code="A-1", per_pack=100, price="31.20"),
            Anchor(code="A-2", per_pack=10, price="1.00"),
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
        "status": "firm",
        "measure_by": None,
    }
    assert order.total == Decimal("1696.00")


def test_a_delivery_uses_up_what_the_last_one_left_over() -> None:
    order = order_for(tower(), {"L01": {"B-120": 5}, "L02": {"B-120": 3}, "L03": {"B-120": 1}}, {}, AUSTRALIA)
    assert [line.packs for line in order.lines] == [2, 0, 1]
    assert [line.amount for line in order.lines] == [424, 0, 212]
    assert [(d.level, d.packs, d.amount) for d in deliveries_of(tower(), order)] == [
        ("L01", {"B-120": 2}, 424),
        ("L03", {"B-120": 1}, 212),
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


def rolls(
    mm: list[int], fractions: dict[str, Fraction] | None = None, **per_level: object
) -> list[tuple[str, int, int]]:
    """Level, needed and allowance of the tape's lines, for so many millimetres a level of rolls of 25 m."""
    project = tower(len(mm))
    needed = needed_by_level(
        project, {}, {f"L{n:02d}": counts(tape_mm=length) for n, length in enumerate(mm, start=1)}
    )
    order = order_for(project, needed, fractions or {}, AUSTRALIA, **per_level)  # type: ignore[arg-type]
    return [(line.level, line.needed, line.allowance) for line in order.lines]


def test_tape_is_counted_in_rolls_over_the_whole_project() -> None:
    assert rolls([10_000, 10_000, 10_000]) == [("L01", 1, 0), ("L03", 1, 0)]


def test_the_allowance_on_tape_is_on_its_millimetres_not_on_whole_rolls() -> None:
    # 20 m and 5 % are 21 m, one roll; 5 % of one roll, rounded up, would be a second one
    assert rolls([20_000], {"T-1": Fraction(5, 100)}) == [("L01", 1, 0)]
    assert rolls([24_000], {"T-1": Fraction(5, 100)}) == [("L01", 1, 1)]


def test_a_roll_is_allowance_from_where_no_later_need_uses_it_up() -> None:
    # 24 m, 30 m and 49 m, with 5 %: 25.2, 31.5 and 51.45 m, 2, 2 and 3 rolls; needed are 1, 2 and 2
    assert rolls([24_000, 6_000, 19_000], {"T-1": Fraction(5, 100)}) == [("L01", 2, 0), ("L03", 0, 1)]


# -- firm and forecast


def with_nominal(project: Project, *levels: str, tolerance_mm: int | None = 10) -> Project:
    """The project with these levels not measured yet."""
    runs = {run.run for run in project.runs if run.level in levels}
    gaps = tuple(
        gap.model_copy(update={"basis": "nominal", "tolerance_mm": tolerance_mm}) if gap.run in runs else gap
        for gap in project.gaps
    )
    return project.model_copy(update={"gaps": gaps})


def test_a_forecast_line_takes_what_the_simulation_adds_in_place_of_the_allowance() -> None:
    project = with_nominal(tower(), "L02")
    order = order_for(
        project, {"L01": {"B-120": 31}, "L02": {"B-120": 10}}, {"B-120": Fraction(2, 100)}, AUSTRALIA,
        {"L02": {"B-120": 4, "K-110": 7}},
    )  # fmt: skip
    assert [
        (line.level, line.code, line.status, line.needed, line.allowance, line.packs) for line in order.lines
    ] == [
        ("L01", "B-120", "firm", 31, 1, 8),
        ("L02", "B-120", "forecast", 10, 4, 4),  # 14 of 16; L01 left none
        ("L02", "K-110", "forecast", 0, 7, 1),
    ]


def test_where_nothing_is_simulated_a_forecast_is_allowed_for_like_the_rest() -> None:
    project = with_nominal(tower(), "L02", tolerance_mm=None)
    order = order_for(
        project, {"L01": {"B-120": 50}, "L02": {"B-120": 50}}, {"B-120": Fraction(2, 100)}, AUSTRALIA
    )
    assert [(line.status, line.allowance) for line in order.lines] == [("firm", 1), ("forecast", 1)]


def test_of_one_delivery_the_measured_levels_are_served_first() -> None:
    project = with_nominal(tower(), "L01")
    levels = tuple(level.model_copy(update={"sequence": 1}) for level in project.levels)
    order = order_for(
        project.model_copy(update={"levels": levels}),
        {"L01": {"B-120": 3}, "L02": {"B-120": 5}},
        {},
        AUSTRALIA,
        {},
    )
    assert [(line.level, line.packs) for line in order.lines] == [("L01", 0), ("L02", 2)]


@settings(max_examples=60, deadline=None)
@given(
    levels=st.lists(
        st.tuples(st.booleans(), st.integers(0, 60_000), st.integers(0, 20_000)), min_size=1, max_size=7
    ),
    percent=st.integers(0, 30),
)
def test_rolls_of_firm_and_forecast_levels_are_rounded_up_once(
    levels: list[tuple[bool, int, int]], percent: int
) -> None:
    nominal = [f"L{n:02d}" for n, (is_nominal, _, _) in enumerate(levels, start=1) if is_nominal]
    project = with_nominal(tower(len(levels)), *nominal)
    names = [level.level for level in project.levels]
    needed = {name: {"T-1": mm} for name, (_, mm, _) in zip(names, levels, strict=True) if mm}
    on_top = {
        name: {"T-1": more} for name, (_, _, more) in zip(names, levels, strict=True) if name in nominal
    }
    order = order_for(project, needed, {"T-1": Fraction(percent, 100)}, AUSTRALIA, on_top)
    lines = {line.level: line for line in order.lines}
    mm_so_far, so_far, needed_so_far, base_so_far = Fraction(0), 0, 0, 0
    for name, (is_nominal, mm, more) in zip(names, levels, strict=True):
        mm_so_far += mm + (more if is_nominal else Fraction(mm * percent, 100))
        base_so_far += mm
        if name in lines:
            assert min(lines[name].needed, lines[name].allowance) >= 0
            assert lines[name].quantity == lines[name].needed + lines[name].allowance == lines[name].packs
            so_far += lines[name].quantity
            needed_so_far += lines[name].needed
        assert so_far == ceil(mm_so_far / 25_000)
        assert needed_so_far >= ceil(Fraction(base_so_far, 25_000))
    assert needed_so_far == ceil(Fraction(base_so_far, 25_000))


def test_the_first_of_several_anchors_is_used_and_a_missing_one_left_out() -> None:
    assert needed_by_level(tower(), {}, {"L01": counts(anchors=7)})["L01"] == {"A-1": 7}
    bare = tower(products=(Board(code="B-120", length_mm=1200, width_mm=1000),))
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
    board = Board(
        code="B-120",
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
        assert line.amount == line.packs * board.price
        so_far["quantity"] += line.quantity
        so_far["packs"] += line.packs
        assert so_far["packs"] * per_pack >= so_far["quantity"]
    whole = sum(needs) + ceil(Fraction(sum(needs) * percent, 100))
    assert so_far["quantity"] == whole
    assert so_far["packs"] == -(-whole // per_pack)
    assert order.total == so_far["packs"] * board.price


def test_an_order_beyond_any_building_is_refused_with_the_mend() -> None:
    dear = Board(code="B-120", length_mm=1200, width_mm=1000, price="9000000000.00")
    with pytest.raises(ValueError, match="check the prices"):
        order_for(tower(products=(dear,)), {"L01": {"B-120": 5}}, {}, AUSTRALIA)
