"""What each staging mode costs, left-overs that are really of use, and stock used where it lowers the order."""

from __future__ import annotations

import csv
import json
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import pytest
from hypothesis import HealthCheck, given, reject, settings

from optimiser.boards.usable_offcuts import usable_left_over
from optimiser.boards.waiting_count import WaitingCount
from optimiser.checking import broken_rules_of_plan
from optimiser.commands.main import run
from optimiser.errors.problems import CannotBeDone
from optimiser.model.plan import Plan
from optimiser.model.planned_boards import BoardCount, PlannedLeftOver
from optimiser.model.project import Gap, Heading, Level, Project, Run, Stock
from optimiser.ordering.site_storage import standing_over_time
from optimiser.planning.plan import plan
from optimiser.reading import read_project
from optimiser.studies.frontier import FrontierPoint
from optimiser.studies.staging import MODES, staging_option, stagings, waiting_of
from optimiser.writing.office.frontier_chart import frontier_svg
from tests.builders.levels import building
from tests.builders.project_tables import json_file, tables
from tests.builders.quick_plans import quick_plan
from tests.builders.random_projects import projects

SAMPLES = Path(__file__).resolve().parents[2] / "sample_orders"


def dated(project: Project) -> Project:
    levels = tuple(
        Level(
            level=level.level, sequence=level.sequence, needed_on=date(2027, 5, 3) + timedelta(weeks=number)
        )
        for number, level in enumerate(project.levels)
    )
    return project.model_copy(update={"levels": levels})


# -- the table of modes


def test_every_mode_side_by_side() -> None:
    found = stagings(dated(building()))
    assert [(o.staging, o.boards, o.lower_bound, o.waiting.pieces, o.deliveries) for o in found.options] == [
        ("level", 3, 3, 0, 3),
        ("carry", 2, 2, 2, 3),
        ("whole", 1, 1, 4, 3),
    ]
    for option, made in zip(found.options, found.plans, strict=True):
        assert broken_rules_of_plan(made) == []
        assert option.cost == made.order.total
        assert option.optimal


def test_more_freedom_never_costs_more_on_a_part_of_the_sample_tower() -> None:
    tower = read_project(SAMPLES / "tower" / "tower.json")
    few = [level.level for level in tower.levels[:3]]
    runs = tuple(run for run in tower.runs if run.level in few and run.run.endswith(("-N", "-S")))
    names = {run.run for run in runs}
    part = tower.model_copy(
        update={
            "levels": tower.levels[:3],
            "runs": runs,
            "gaps": tuple(gap for gap in tower.gaps if gap.run in names),
        }
    )
    options = stagings(part).options
    assert [option.staging for option in options] == list(MODES)
    assert options[0].cost >= options[1].cost >= options[2].cost
    assert options[0].waiting.pieces == 0
    assert all(option.lower_bound <= option.boards for option in options)


def test_waiting_pieces_are_those_needed_later_than_their_board_comes() -> None:
    made = plan(building(), staging="whole")
    # six pieces from the first level's board, two of them its own; it is racked with L1 and again with L2
    assert waiting_of(made) == WaitingCount(pieces=4, piece_stages=2 + 2 * 2, remainders=2)
    assert len(made.remainders) == 2
    assert waiting_of(plan(building(), staging="level")) == WaitingCount(
        pieces=0, piece_stages=0, remainders=0
    )


# -- what stands on site


def test_standing_is_counted_by_hand() -> None:
    """One board of 1200 x 1000 a level; each cuts two pieces of 1200 x 165 and leaves 1200 x 670."""
    products = tuple(p.model_copy(update={"per_pack": 1}) for p in building().products)
    made = plan(dated(building(products=products)), staging="level")
    usable = made.usable_left_over or ()
    assert [(item.level, item.length_mm, item.width_mm, item.serves) for item in usable] == [
        ("L1", 1200, 670, ("L2", "L3")),
        ("L2", 1200, 670, ("L3",)),
    ]
    standing = standing_over_time(made.project, made.pieces, made.layouts, usable, made.order)
    board, left = 1200 * 1000, 1200 * 670
    assert [moment.standing_mm2 for moment in standing] == [board, board + left, board + 2 * left]
    assert [(moment.arriving_boards, moment.used_boards) for moment in standing] == [(1, 1)] * 3
    assert staging_option(made).peak_storage_mm2 == board + 2 * left
    assert staging_option(made).peak_at == ("L3",)


def test_remainders_stand_until_their_level_and_stock_until_it_is_cut() -> None:
    stock = (Stock(code="B-120", length_mm=1200, width_mm=1000, quantity=1),)
    made = plan(dated(building(stock=stock)), staging="whole")
    usable = made.usable_left_over or ()
    standing = standing_over_time(made.project, made.pieces, made.layouts, usable, made.order)
    assert [moment.standing_mm2 for moment in standing] == [
        1200 * 1000,  # the stock board, not cut yet
        1200 * (1000 - 2 * 165),  # what waits of it, its last 10 mm included
        1200 * (1000 - 4 * 165),
    ]


def test_without_days_the_deliveries_stand_in_their_order() -> None:
    levels = tuple(Level(level=f"L{n}", sequence=n) for n in (1, 2, 3))
    made = plan(building().model_copy(update={"levels": levels}), staging="level")
    usable = made.usable_left_over or ()
    standing = standing_over_time(made.project, made.pieces, made.layouts, usable, made.order)
    assert [(moment.day, moment.levels) for moment in standing] == [
        (None, ("L1",)),
        (None, ("L2",)),
        (None, ("L3",)),
    ]


def said_to_run_against_the_order(made: Plan) -> bool:
    """Whether a plan warns that a level may miss what it relies on, as its dates run against the delivery order."""
    return any("dates run against the delivery order" in warning for warning in made.warnings)


def test_a_board_that_a_level_needs_before_it_comes_is_missing_on_site_and_is_warned_of() -> None:
    """L1 and L2 are one delivery, in which L1 buys the board that L2 needs ten months sooner."""
    levels = (
        Level(level="L1", sequence=1, needed_on=date(2028, 1, 17)),
        Level(level="L2", sequence=1, needed_on=date(2027, 3, 29)),
        Level(level="L3", sequence=2, needed_on=date(2027, 4, 6)),
    )
    made = plan(building(storeys=3).model_copy(update={"levels": levels}))
    assert said_to_run_against_the_order(made)
    usable = made.usable_left_over or ()
    standing = standing_over_time(made.project, made.pieces, made.layouts, usable, made.order)
    assert [(moment.day, moment.standing_boards) for moment in standing if moment.standing_boards < 0] == [
        (date(2027, 4, 6), -1)
    ]


def test_a_level_that_nothing_is_ordered_for_does_not_say_when_its_delivery_is_used() -> None:
    """L2, delivered with L1 and needed two months sooner, has no run: L1's board is not gone before it has come."""
    levels = (
        Level(level="L1", sequence=2, needed_on=date(2028, 5, 12)),
        Level(level="L2", sequence=2, needed_on=date(2028, 3, 10)),
        Level(level="L3", sequence=1, needed_on=date(2028, 4, 7)),
    )
    project = building(storeys=3).model_copy(update={"levels": levels})
    made = plan(project.with_runs(run for run in project.runs if run.level == "L1"))
    assert not said_to_run_against_the_order(made)
    usable = made.usable_left_over or ()
    standing = standing_over_time(made.project, made.pieces, made.layouts, usable, made.order)
    assert {moment.day: moment.standing_boards for moment in standing} == {
        date(2028, 4, 7): 0,
        date(2028, 5, 12): 1,
    }


@settings(max_examples=20, deadline=None, suppress_health_check=list(HealthCheck))
@given(projects(max_runs=4, longest_run_mm=5000))
def test_what_stands_is_never_less_than_nothing_where_the_dates_follow_the_delivery_order(
    project: Project,
) -> None:
    try:
        made = quick_plan(project)
    except CannotBeDone:
        reject()
    if said_to_run_against_the_order(made):
        return
    usable = made.usable_left_over or ()
    for moment in standing_over_time(project, made.pieces, made.layouts, usable, made.order):
        assert moment.standing_mm2 >= 0
        assert moment.standing_boards >= 0


# -- left-overs that a later level can really use


def left_overs_of(widths: dict[str, int], carry: int | None = None) -> Plan:
    """A level for each gap; the first leaves most of a board."""
    base = building(storeys=len(widths))
    gaps = tuple(Gap(run=f"{level}-N", at_mm=0, gap_mm=gap) for level, gap in widths.items())
    project = base.model_copy(update={"gaps": gaps, "project": Heading(max_carry_stages=carry)})
    return plan(project, staging="level")


def test_a_left_over_too_narrow_for_every_later_level_is_of_no_use() -> None:
    made = left_overs_of({"L1": 350, "L2": 300})  # 2 x 385 leave 230; L2 needs 330
    assert [item for item in made.usable_left_over or () if item.level == "L1"] == []
    narrower = left_overs_of({"L1": 350, "L2": 150})  # L2 needs 165
    assert [(i.width_mm, i.serves) for i in narrower.usable_left_over or () if i.level == "L1"] == [
        (230, ("L2",))
    ]


def test_a_left_over_serves_no_earlier_level_and_none_beyond_max_carry_stages() -> None:
    made = left_overs_of({"L1": 150, "L2": 150, "L3": 150}, carry=1)
    assert {item.level: item.serves for item in made.usable_left_over or ()} == {"L1": ("L2",), "L2": ("L3",)}


def test_only_a_piece_that_fits_both_ways_makes_a_left_over_of_use() -> None:
    """Long and wide pieces of a later level do not add up to one that fits."""
    base = plan(building(storeys=2), staging="level")
    long_narrow, short_wide = base.pieces[2:4]
    pieces = (
        long_narrow.model_copy(update={"from_mm": 0, "to_mm": 1200, "width_min_mm": 100}),
        short_wide.model_copy(update={"from_mm": 0, "to_mm": 300, "width_min_mm": 400}),
    )
    sizes = [(600, 300), (300, 400), (1200, 100), (1199, 399), (299, 999)]
    left = [PlannedLeftOver(length_mm=n, width_mm=w, stage=10, code="B-120") for n, w in sizes]
    found = usable_left_over(base.project, pieces, left)
    assert {(item.length_mm, item.width_mm) for item in found} == {(300, 400), (1200, 100)}


def test_the_judge_wants_usable_left_overs_to_be_true() -> None:
    made = plan(building(), staging="level")
    first, *rest = made.usable_left_over or ()
    for wrong, told in (
        (
            (first.model_copy(update={"serves": ("L3",)}), *rest),
            "it could serve L2, L3, but is said to serve L3",
        ),
        ((first.model_copy(update={"quantity": 9}), *rest), "there are not 9 of it"),
        ((first.model_copy(update={"level": "L2"}), *rest), "its level must be of sequence 10"),
        (tuple(rest), "but is said to serve no level"),
    ):
        assert told in "\n".join(broken_rules_of_plan(made.model_copy(update={"usable_left_over": wrong})))
    assert broken_rules_of_plan(made.model_copy(update={"usable_left_over": None})) == []


# -- stock first where it lowers the order, and only there


def test_an_offcut_on_site_is_used_where_it_saves_a_board() -> None:
    offcut = Stock(code="B-120", length_mm=1200, width_mm=380, quantity=1)
    seven = building(storeys=1, length_mm=8400)  # seven pieces of 165: a board takes six
    assert plan(seven).boards["B-120"].count == 2
    found = plan(seven.model_copy(update={"stock": (offcut,)}))
    assert found.boards["B-120"] == BoardCount(
        count=1, lower_bound=1, optimal=True, packs=1, lower_bound_packs=1
    )
    assert {layout.stock for layout in found.layouts} == {"B-120", "stock-1"}
    assert found.waste.stock_mm2 == 1200 * 380


def test_an_offcut_that_saves_no_board_stays_where_it_is() -> None:
    offcut = Stock(code="B-120", length_mm=1200, width_mm=380, quantity=2)
    six = building(storeys=1, length_mm=7200)
    found = plan(six.model_copy(update={"stock": (offcut,)}))
    assert found.boards["B-120"].count == 1
    assert {layout.stock for layout in found.layouts} == {"B-120"}
    assert found.waste.stock_mm2 == 0


def test_stock_of_the_wrong_board_helps_nothing() -> None:
    base = building(storeys=1, length_mm=8400)
    other = base.products[0].model_copy(update={"code": "B-100"})
    stock = (Stock(code="B-100", length_mm=1200, width_mm=380, quantity=5),)
    found = plan(base.model_copy(update={"products": (*base.products, other), "stock": stock}))
    assert found.boards["B-120"].count == 2


def test_stock_that_saves_a_board_only_together_with_a_second_one_is_used_together() -> None:
    runs = (Run(run="L1-N", level="L1", length_mm=9600, board=("B-120",)),)  # eight pieces: two boards
    base = building(storeys=1).model_copy(update={"runs": runs})
    one = Stock(code="B-120", length_mm=1200, width_mm=170, quantity=1)
    assert plan(base.model_copy(update={"stock": (one,)})).waste.stock_mm2 == 0
    both = plan(base.model_copy(update={"stock": (one.model_copy(update={"quantity": 2}),)}))
    assert both.boards["B-120"].count == 1


# -- the command


@pytest.fixture
def project_file(tmp_path: Path) -> Path:
    return json_file(tmp_path / "project.json", tables())


def test_the_command_prints_a_table_and_writes_the_comparison(
    project_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["stagings", str(project_file), "--out", str(tmp_path / "out")]) == 0
    told = capsys.readouterr().out
    assert [line.split()[0] for line in told.splitlines() if line.strip().startswith(MODES)] == list(MODES)
    assert "board face area on site" in told
    assert "licensed practitioner decide" in told
    rows = list(csv.DictReader((tmp_path / "out" / "stagings.csv").open()))
    assert [row["staging"] for row in rows] == list(MODES)
    assert (tmp_path / "out" / "levels-carry.svg").read_text().startswith("<svg")


def test_the_command_prints_json(project_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["stagings", str(project_file), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [option["staging"] for option in told["stagings"]] == list(MODES)
    for option in told["stagings"]:
        assert option["lower_bound"] <= option["boards"]
        assert set(option["boards_by_code"]) == {"B-120"}
    assert told["currency"] == "AUD"
    assert told["cautions"]


# -- the frontier


def test_the_frontier_goes_from_nothing_waits_to_the_fewest_boards() -> None:
    found = stagings(building(), modes=("whole",))
    assert [(p.number, p.boards, p.waiting.piece_stages) for p in found.frontier] == [
        (1, 3, 0),
        (2, 2, 2),
        (3, 1, 6),
    ]
    assert list(found.frontier_frame()["boards"]) == [3, 2, 1]
    assert stagings(building(), modes=("whole",), frontier=False).frontier == ()


def test_the_command_shows_the_frontier_and_writes_it(
    project_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    assert run(["stagings", str(project_file), "--out", str(out)]) == 0
    told = capsys.readouterr().out
    assert "Boards against waiting" in told
    assert "--waiting-choice N" in told
    rows = list(csv.DictReader((out / "frontier.csv").open()))
    assert [row["number"] for row in rows] == [str(n) for n in range(1, len(rows) + 1)]
    assert rows[0]["waiting_piece_stages"] == "0"
    picture = ElementTree.fromstring((out / "frontier.svg").read_text())
    marks = [
        mark for mark in picture.iter("{http://www.w3.org/2000/svg}circle") if mark.get("class") == "plan"
    ]
    assert len(marks) == len(rows)
    assert run(["stagings", str(project_file), "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)["frontier"]) == len(rows)


def test_a_plan_takes_a_choice_by_its_number_or_a_price(
    project_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["plan", str(project_file), "--waiting-choice", "1", "--json"]) == 0
    chosen = json.loads(capsys.readouterr().out)
    assert (chosen["waiting_choice"], chosen["waiting"]["piece_stages"]) == (1, 0)
    assert run(["plan", str(project_file), "--carry-cost", "2.50", "--json"]) == 0
    priced = json.loads(capsys.readouterr().out)["carrying"]
    assert priced["price"] == "2.50"
    assert float(priced["lower_bound"]) <= float(priced["total"])


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["--waiting-choice", "99"], 1, "waiting choice 99: there are"),
        (["--waiting-choice", "1", "--carry-cost", "1.00"], 2, "give it or --carry-cost, not both"),
        (["--waiting-choice", "1", "--joint-rounds", "1"], 2, "give it or --joint-rounds, not both"),
        (["--carry-cost", "dear"], 2, "such as 2.50"),
        (["--carry-cost", "-1"], 2, "such as 2.50"),
    ],
)
def test_a_choice_that_cannot_be_made_is_told(
    words: list[str], code: int, said: str, project_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["plan", str(project_file), "--json", *words]) == code
    assert said in " ".join(capsys.readouterr().err.replace("\u2502", " ").split())


def test_labels_of_the_picture_keep_clear_of_each_other() -> None:
    points = [
        FrontierPoint(
            number=n, boards=150 + n, lower_bound=100, boards_by_code={}, packs={}, lower_bound_packs={},
            cost="0.00", paid=f"{9000 + n}.00", waiting=WaitingCount(pieces=0, piece_stages=0, remainders=0),
            remainder_stages=0, lower_bound_piece_stages=0, least_for_paid=True,
        )
        for n in (3, 2, 1)
    ]  # fmt: skip
    picture = ElementTree.fromstring(frontier_svg(points, "invented", "AUD"))
    labels = [t for t in picture.iter("{http://www.w3.org/2000/svg}text") if "AUD" in (t.text or "")]
    heights = sorted(float(label.get("y", "0")) for label in labels)
    assert len(heights) == 3
    assert all(after - before >= 10 for before, after in pairwise(heights))
