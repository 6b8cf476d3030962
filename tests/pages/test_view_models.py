"""Pure views of a plan made by hand: one board bought for L01 yields all four pieces, two of them L02's."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.pages import words
from api.pages.boards_view import boards_page, drawn_layout, run_pictures, step_counts
from api.pages.charts import histogram_svg, staging_bars, waste_bar
from api.pages.deliveries_view import on_site, time_line
from api.pages.gap_form import GapForm
from api.pages.level_view import level_view, run_page
from api.pages.order_view import order_view
from api.pages.section_view import section_view
from api.pages.studies_view import gap_options, simulated
from optimiser.boards.waiting_count import WaitingCount
from optimiser.model.plan import Plan
from optimiser.model.planned_pieces import NotPlanned
from optimiser.model.project import DeliveryLimits, Level
from optimiser.ordering.site_storage import standing_over_time
from optimiser.planning.plan import plan as plan_of
from optimiser.studies.gap_option import Choice, Comparison, GapOption, with_best
from optimiser.writing.drawing.not_ready import NOT_READY
from optimiser.writing.drawing.plan_index import PlanIndex
from tests.builders import plans_by_hand
from tests.builders.small_plan import small_plan, small_project
from tests.builders.supplier_job import FIRST_ISSUED, supplier_plan

PLAN = small_plan()
DATES = [delivery.order_by for delivery in PLAN.deliveries if delivery.order_by]


def test_the_next_order_date_is_the_first_that_has_not_passed() -> None:
    before = order_view(PLAN, min(DATES))
    assert before.next is not None
    assert before.next.order_by == min(DATES)
    assert before.next.days == "today"
    assert before.late == 0
    after = order_view(PLAN, date(2028, 1, 1))
    assert after.next is None
    assert after.late == len(DATES)


def test_what_is_issued_is_ordered_and_no_date_of_it_has_passed() -> None:
    after = order_view(PLAN, date(2028, 1, 1), issued=True)
    assert (after.next, after.late) == (None, 0)
    assert {row.state for row in after.deliveries} == {"ordered"}
    line = time_line(PLAN, date(2028, 1, 1), issued=True)
    assert line is not None
    assert not any(bar.late for bar in line.bars)


def test_the_order_says_what_it_costs_and_what_is_proved() -> None:
    view = order_view(PLAN, min(DATES))
    assert view.total == "AUD " + PLAN.model_dump(mode="json")["order"]["total"]
    assert (view.boards, view.lower_bound, view.proved) == (1, 1, True)
    assert view.board_sizes == ("1 of B-120, 1200 x 1000 mm",)
    assert sum(row.boards for row in section_view(PLAN).rows) == view.boards
    assert sum(row.needed for row in view.products if row.kind == "board") == view.boards
    assert sum(row.packs for row in view.products) == view.packs
    assert view.year == ", 2027"


def test_the_section_stands_on_the_first_delivered_level_and_shows_what_each_gets() -> None:
    view = section_view(PLAN)
    assert [row.level for row in view.rows] == ["L02", "L01"]
    assert view.rows[0].y < view.rows[1].y < view.height
    assert [row.boards for row in view.rows] == [0, 1]  # without the board of allowance
    assert view.rows[0].pieces == 2


def test_the_section_marks_what_is_not_planned_and_not_measured() -> None:
    place = NotPlanned(
        run="L02-N", level="L02", from_mm=0, to_mm=10, what="piece", reason="too wide", mend="ask"
    )
    assert section_view(small_plan(not_planned=(place,))).rows[0].not_planned == 1
    view = section_view(plans_by_hand.small_plan())
    assert all(0 <= row.left < row.right <= view.width for row in view.rows)


def test_on_site_every_board_is_counted_and_no_remainder_waits_after_the_last_level() -> None:
    first, last = on_site(PLAN)
    assert (first.boards_in, first.boards_cut, first.spare_boards) == (4, 1, 3)  # one pack of four
    assert (first.remainders, first.remainders_mm2) == (1, 1200 * 670)  # L02's two strips and what is over
    assert (last.remainders, last.spare_boards) == (0, 3)
    assert (first.left_over_mm2, last.left_over_mm2) == (0, 1200 * 340)


def test_on_site_holds_for_a_tower() -> None:
    plan = plans_by_hand.tower(levels=4, runs=2)
    rows = on_site(plan)
    assert (rows[-1].remainders, rows[-1].remainders_mm2) == (0, 0)


def test_a_delivery_that_serves_several_levels_is_counted_where_the_chart_counts_it() -> None:
    project = small_project()
    one_day = DeliveryLimits(crane_days=(min(day for level in project.levels if (day := level.needed_on)),))
    narrow = project.products[0].model_copy(update={"width_mm": 400, "per_pack": 1})
    combined = plan_of(
        project.model_copy(update={"deliveries": (one_day,), "products": (narrow, *project.products[1:])}),
        advise=False,
    )
    assert [delivery.levels for delivery in combined.deliveries] == [("L01", "L02")]
    rows = on_site(combined)
    moments = standing_over_time(
        combined.project, combined.pieces, combined.layouts, combined.usable_left_over or (), combined.order
    )
    assert [row.boards_in for row in rows] == [moment.arriving_boards for moment in moments]
    assert [row.spare_boards for row in rows] == [
        moment.standing_boards - moment.used_boards for moment in moments
    ]
    assert [row.boards_in for row in rows][1:] == [0]
    assert None not in [row.deliver_on for row in rows]  # no date is open: both come with the one delivery


def test_what_is_counted_with_a_level_arrives_on_the_day_that_its_delivery_has() -> None:
    several = supplier_plan()
    days = {line.deliver_on for line in several.order.lines if line.level == "L03" and line.packs}
    assert len(days) == 2, (
        "goods of one level come on two days, the first of them with those of earlier levels"
    )
    brought: dict[date | None, int] = {}
    for row in on_site(several):
        brought[row.deliver_on] = brought.get(row.deliver_on, 0) + row.packs_in
    assert {day: packs for day, packs in brought.items() if packs} == {
        delivery.deliver_on: sum(delivery.packs.values()) for delivery in several.deliveries
    }


def test_a_products_price_is_the_one_that_is_paid_beside_the_one_in_list() -> None:
    rows = {row.code: row for row in order_view(supplier_plan(), FIRST_ISSUED).products}
    cheaper, as_listed = rows["B-120"], rows["K-110"]
    assert (cheaper.packs, cheaper.price, cheaper.list_price) == (3, "204.35", "212.00")
    assert cheaper.amount == "613.05"
    assert (as_listed.price, as_listed.list_price) == ("60.50", "")


def test_the_time_line_runs_from_order_to_arrival_and_says_what_is_late() -> None:
    line = time_line(PLAN, max(DATES))
    assert line is not None
    assert all(bar.from_x < bar.to_x <= line.width for bar in line.bars)
    assert [bar.late for bar in line.bars] == [day < max(DATES) for day in DATES]
    assert line.today_x is not None
    assert time_line(PLAN, date(2030, 1, 1)).today_x is None  # type: ignore[union-attr]


def test_without_dates_there_is_no_time_line_and_no_next_order() -> None:
    project = small_project()
    undated = project.model_copy(
        update={
            "levels": tuple(Level(level=level.level, sequence=level.sequence) for level in project.levels)
        }
    )
    plan = small_plan(undated)
    assert time_line(plan, date(2027, 1, 1)) is None
    assert order_view(plan, date(2027, 1, 1)).next is None


def test_the_crew_sees_its_runs_its_counts_and_the_boards_of_its_pieces() -> None:
    view = level_view(PlanIndex(PLAN), 2)
    assert (view.level, view.pieces, view.brackets, view.from_rack) == ("L02", 2, {"K-110": 4}, 2)
    assert (view.opened, view.kept) == ((), ())
    assert [(row.number, row.name, row.size, row.kept_with, row.pieces) for row in view.taken] == [
        (1, "B001-R1", "1200 x 670", "L01", ("L02-N-001", "L02-N-002"))
    ]
    first = level_view(PlanIndex(PLAN), 1)
    assert ([row.name for row in first.opened], first.taken, first.from_rack) == (["B001"], (), 0)
    assert [(part.name, part.waits_for) for part in first.kept] == [("B001-R1", "L02")]
    assert view.before == (1, "L01")
    assert view.after is None
    with pytest.raises(IndexError, match="2 levels"):
        level_view(PlanIndex(PLAN), 3)


def test_each_piece_of_a_run_says_from_which_board_and_place_it_is_cut() -> None:
    page = run_page(PlanIndex(PLAN), 2)
    assert [(row.name, row.layout, row.taken, row.place) for row in page.pieces] == [
        ("001", 1, "B001-R1", "C"),
        ("002", 1, "B001-R1", "D"),
    ]
    with pytest.raises(IndexError, match="2 runs"):
        run_page(PlanIndex(PLAN), 0)


@pytest.mark.parametrize("plan", [PLAN, plans_by_hand.small_plan()])
def test_every_run_and_layout_is_drawn(plan: Plan) -> None:
    index = PlanIndex(plan)
    for run in plan.project.runs:
        assert all("<title" in picture and "<desc" in picture for picture in run_pictures(index, run.run))
    for number in range(1, len(plan.layouts) + 1):
        assert f"Cutting pattern {number}" in drawn_layout(index, number).picture


def test_everything_that_is_cut_is_on_some_part_of_some_level_once() -> None:
    plan = plans_by_hand.tower(levels=3, runs=4)
    index = PlanIndex(plan)
    counts = step_counts(index)
    found: list[str] = []
    for place, _, count in counts:
        parts = boards_page(index, place, 1).parts
        shown = [step.name for part in range(1, parts + 1) for step in boards_page(index, place, part).drawn]
        assert len(shown) == count
        found += shown
    assert sorted(found) == sorted(step.name for step in index.sequence.steps)


def test_a_board_is_shown_whole_and_delivery_by_delivery() -> None:
    shown = drawn_layout(PlanIndex(PLAN), 1)
    assert [
        (step.name, step.taken, step.levels, [part.name for part in step.kept]) for step in shown.steps
    ] == [
        ("B001", False, ("L01",), ["B001-R1"]),
        ("B001-R1", True, ("L02",), []),
    ]


def test_what_is_not_measured_is_marked_as_not_ready_to_cut() -> None:
    index = PlanIndex(plans_by_hand.small_plan())
    assert [level_view(index, place).ready for place in (1, 2)] == [True, False]
    assert [boards_page(index, place, 1).ready for place in (1, 2)] == [True, False]
    assert all(NOT_READY in step.picture for step in boards_page(index, 2, 1).drawn)
    assert not any(NOT_READY in step.picture for step in boards_page(index, 1, 1).drawn)


def test_the_waste_bar_adds_up_to_the_whole_board_area() -> None:
    parts = waste_bar(PLAN.waste)
    assert sum(part.width for part in parts) == pytest.approx(1000, abs=0.05)
    assert [part.share for part in parts] == pytest.approx([0.66, 0.34, 0.0])


def test_modes_are_bars_against_the_most_boards() -> None:
    more = PLAN.model_copy(
        update={
            "staging": "level",
            "proofs": (PLAN.proofs[0].model_copy(update={"boards": 2, "lower_bound": 2}),),
        }
    )
    bars = staging_bars([("a", PLAN), ("b", more)])
    assert [(bar.staging, bar.boards, bar.width, bar.more) for bar in bars] == [
        ("whole", 1, 50.0, 0),
        ("level", 2, 100.0, 1),
    ]
    assert bars[0].waiting == WaitingCount(pieces=2, piece_stages=2, remainders=1)


def compared(*options: GapOption) -> dict[str, Any]:
    notes = Comparison(
        options=options, edge_mm=9000, runs=2, currency="AUD", shifted=False, notes=("By hand.",)
    )
    assert Comparison.of_json(notes.as_json()) == notes
    return notes.as_json()


def option(gap: int, boards: int | None, scrap: float = 0.1, **more: Any) -> GapOption:
    return GapOption(
        gap_mm=gap, choice=Choice(oversize=(Decimal("0.1"), Decimal("0.15"))), cut_width_mm=gap, strips_per_board=5,
        boards=boards, lower_bound=boards, scrap_fraction=scrap, boards_per_100_m=boards, cost="1.00", joints=3, **more,
    )  # fmt: skip


def test_what_wastes_least_is_the_least_scrap_and_not_the_fewest_boards() -> None:
    rows = with_best(
        [option(150, 10, 0.02), option(160, 9, 0.08), option(170, 4, 0.01, problem="1 place")], False
    )
    view = gap_options(compared(*rows))
    assert [(row.gap_mm, row.best) for row in view.options] == [
        (150, ("least scrap",)),
        (160, ("fewest boards", "least cost")),
        (170, ()),
    ]


def test_the_saw_tooth_is_drawn_as_steps_and_its_axes_begin_at_zero() -> None:
    view = gap_options(compared(option(150, 10), option(160, 12)))
    (line, _) = re.findall(r'class="option" points="([^"]+)"', view.chart)
    points = [tuple(map(float, point.split(","))) for point in line.split()]
    assert all(a[0] == b[0] or a[1] == b[1] for a, b in pairwise(points))  # level or upright, never slanted
    assert len({y for _, y in points}) == 2
    assert ">0</text>" in view.chart


def test_a_simulation_says_what_to_order_by_kind_and_code() -> None:
    board = {
        "planned": 220, "median": 226, "order": 233, "extra": 13, "packs": 59, "short_share": 0.04,
        "flat": {"10%": {"quantity": 242, "short_share": 0.0}}, "frequency": {"226": 60, "233": 36, "235": 4},
    }  # fmt: skip
    found = simulated({"draws": 100, "service_level": 0.95, "boards": {"B-120": board}, "brackets": {}})
    (quantity,) = found.quantities
    assert (quantity.kind, quantity.code, quantity.order, quantity.median) == ("boards", "B-120", 233, 226)
    assert quantity.flat == (("10%", 242, 0.0),)
    assert quantity.histogram.count('class="covered"') == 2
    assert quantity.histogram.count('class="short"') == 1
    assert "boards of B-120</text>" in quantity.histogram  # both axes are named
    assert "draws</text>" in quantity.histogram


@given(st.dictionaries(st.integers(1, 5000), st.integers(1, 50), min_size=1), st.integers(1, 5000))
def test_a_histogram_never_mixes_covered_and_short_draws(frequency: dict[int, int], order: int) -> None:
    drawn = histogram_svg(frequency, order, "draws", "boards")
    told = [
        part.split(": ") for part in drawn.split("<desc")[1].split("</desc>")[0].split(">")[1].split("; ")
    ]
    counted = {int(greatest): int(count) for greatest, count in told}
    covered = sum(count for value, count in frequency.items() if value <= order)
    assert sum(count for greatest, count in counted.items() if greatest <= order) == covered
    assert sum(counted.values()) == sum(frequency.values())
    assert len(counted) <= 25
    for kind, number in (
        ("covered", sum(g <= order for g in counted)),
        ("short", sum(g > order for g in counted)),
    ):
        assert drawn.count(f'class="{kind}"') == number


def test_no_text_of_a_drawing_is_smaller_than_eleven_pixels() -> None:
    for picture in (
        *run_pictures(PlanIndex(PLAN), PLAN.project.runs[0].run),
        drawn_layout(PlanIndex(PLAN), 1).picture,
    ):
        shown = float(re.search(r'width="([0-9.]+)"', picture)[1])  # type: ignore[index]
        paper = float(re.search(r'viewBox="0 0 ([0-9.]+)', picture)[1])  # type: ignore[index]
        smallest = min(map(float, re.findall(r'font-size="([0-9.]+)"', picture)))
        assert smallest * shown / paper >= 10.95


def test_numbers_dates_and_lengths_are_said_as_people_write_them() -> None:
    assert words.day(date(2027, 2, 8)) == "Mon 8 Feb 2027"
    assert words.day(None) == "date open"
    assert words.metres(41850) == "41.85 m"
    assert words.grouped("17737.90") == "17,737.90"
    assert words.grouped("-0.50") == "-0.50"
    assert words.grouped("-1424.00") == "-1,424.00"
    assert words.count(1, "delivery", "deliveries") == "1 delivery"
    assert words.count(1200, "board") == "1,200 boards"
    assert words.days_from(date(2027, 2, 8), date(2027, 2, 6)) == "2 days ago"
    assert words.moment("2027-02-03T09:31:00.000000Z") == "3 Feb 2027, 09:31 UTC"


@pytest.mark.parametrize(
    ("written", "says"),
    [
        ({"seed": "inf"}, "seed is inf: write a whole number such as 1."),
        ({"seed": "1.5"}, "seed is 1.5: write a whole number such as 1."),
        ({"time_limit": "inf"}, "time_limit is inf: write a number such as 10."),
        ({"time_limit": "soon"}, "time_limit is soon: write a number such as 10."),
        ({"to_mm": 100}, "from_mm (140) is above to_mm (100): swap them."),
    ],
)
def test_a_form_of_gaps_says_what_is_no_number(written: dict[str, Any], says: str) -> None:
    form = GapForm.model_validate({"from_mm": 140, "to_mm": 160, **written})
    assert form.request() == (None, says)


def test_of_one_level_or_run_one_is_said() -> None:
    assert words.no_such("The building", 1, "level", 5) == "The building has 1 level; there is no level 5."
    assert words.no_such("The plan", 12, "layout", 0) == "The plan has 12 layouts; there is no layout 0."
