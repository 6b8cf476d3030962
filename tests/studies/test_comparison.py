"""Which gap? The saw-tooth, its proof, and every option beside the plan of the same building at that gap."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Sequence
from decimal import Decimal
from math import ceil
from xml.etree import ElementTree

import pytest

from optimiser.errors.problems import CannotBeDone
from optimiser.model.project import (
    Allowance,
    Anchor,
    Board,
    Bracket,
    Detail,
    Gap,
    Level,
    Product,
    Project,
    Run,
    Stock,
    Tape,
)
from optimiser.planning.plan import plan
from optimiser.studies.comparison import compare, gaps_between
from optimiser.studies.gap_figures import at_gap
from optimiser.studies.gap_option import Comparison
from optimiser.writing.office.gap_chart import gaps_svg
from optimiser.writing.office.gaps_csv import gaps_csv

BOARD = Board(code="B-120", length_mm=1200, width_mm=1000, per_pack=4, price="212.00")
BRACKETS = tuple(
    Bracket(code=f"K-{reach}", length_mm=reach, per_pack=50, price="60.00") for reach in range(40, 200, 10)
)
ANCHOR = Anchor(code="A-8", per_pack=100, price="41.50")
TAPE = Tape(code="T-75", length_mm=45_000, price="23.10")


def edge(
    lengths_mm: Sequence[int] = (36_000,),
    products: Sequence[Product] = (),
    gaps: Sequence[Gap] = (),
    **fields: object,
) -> Project:
    """Runs on a level each, gaps of 150 mm unless given."""
    levels = [Level(level=f"L{number}", sequence=number) for number in range(len(lengths_mm))]
    runs = [
        Run(run=f"R{number}", level=f"L{number}", length_mm=length, board=("B-120",))
        for number, length in enumerate(lengths_mm)
    ]
    return Project(
        products=(BOARD, *BRACKETS, ANCHOR, TAPE, *products),
        levels=levels,
        runs=runs,
        gaps=gaps or [Gap(run=run.run, at_mm=0, gap_mm=150) for run in runs],
        **fields,
    )


def test_at_150_mm_six_strips_come_out_of_a_board_and_at_151_mm_five() -> None:
    # 36 m are 30 pieces of 1200 mm; 150 x 1.10 = 165 -> 6 strips of 1000 mm; 151 x 1.10 = 166.1 -> 167 -> 5.
    found = compare(edge(), gaps=range(149, 153))
    assert [option.gap_mm for option in found.options] == [149, 150, 151, 152]
    assert [option.cut_width_mm for option in found.options] == [164, 165, 167, 168]
    assert [option.strips_per_board for option in found.options] == [6, 6, 5, 5]
    assert [option.boards for option in found.options] == [5, 5, 6, 6]
    assert [option.lower_bound for option in found.options] == [5, 5, 6, 6]
    assert [option.boards_more_at_next_gap for option in found.options] == [0, 1, 0, None]
    assert all(option.optimal and option.joints == 29 for option in found.options)


@pytest.mark.parametrize("gap_mm", range(60, 240, 11))
def test_full_lengths_take_as_many_boards_as_strips_say(gap_mm: int) -> None:
    (option,) = compare(edge(), gaps=[gap_mm]).options
    width = -(-gap_mm * 110 // 100)
    assert option.boards == option.lower_bound == ceil(30 / (1000 // width))
    if option.whole:
        assert sum(option.brackets.values()) == option.anchors == 60
    assert option.tape_mm == 29 * (gap_mm + 100)


@pytest.mark.parametrize("gap_mm", [90, 133, 151])
def test_an_option_has_the_figures_of_the_plan_at_that_gap(gap_mm: int) -> None:
    project = edge(
        (11_350, 7_420),
        stock=(Stock(code="B-120", length_mm=1200, width_mm=430, quantity=2),),
        allowance=(Allowance(kind="board", fraction="0.05"), Allowance(kind="bracket", fraction="0.1")),
        detail=Detail(kerf_mm=3),
    )
    # in one delivery: of several, a plan rather lets nothing wait than keeps its left-overs together
    one_delivery = tuple(level.model_copy(update={"sequence": 1}) for level in project.levels)
    project = project.model_copy(update={"levels": one_delivery})
    (option,) = compare(project, gaps=[gap_mm]).options
    here = at_gap(project, gap_mm)
    assert here is not None
    made = plan(here)
    assert option.boards is not None
    assert option.boards <= made.boards["B-120"].count  # a plan cuts more where the pack is paid for anyway
    assert option.lower_bound == made.boards["B-120"].lower_bound
    if option.boards == made.boards["B-120"].count:
        assert option.scrap_fraction == pytest.approx(made.waste.scrap_fraction, abs=0.01)
    assert option.cost == made.order.total
    counts = made.counts.values()
    assert option.joints == sum(level.joints for level in counts)
    assert option.tape_mm == sum(level.tape_mm for level in counts)
    assert option.anchors == sum(level.anchors for level in counts)
    assert option.brackets == dict(sum((Counter(level.brackets) for level in counts), Counter()))


def test_a_gap_outside_the_tested_range_is_a_row_that_says_so() -> None:
    found = compare(edge(detail=Detail(gap_min_mm=100, gap_max_mm=101)), gaps=range(99, 103))
    problems = [option.problem for option in found.options]
    assert problems[0] == problems[3] == "outside the tested range of 100 to 101 mm"
    assert problems[1:3] == ["", ""]
    assert found.options[0].boards is None
    assert found.options[0].cost is None


def test_a_gap_without_a_fitting_bracket_is_a_row_that_says_so_and_is_never_the_best() -> None:
    # 45 mm: a bracket must reach 31.5 to 38.25 mm, and the shortest on offer is 40 mm.
    (without,) = compare(edge(), gaps=range(45, 46)).options
    assert without.problem == "no bracket on offer fits 30 of 30 pieces: it must reach 32 to 38 mm"
    assert without.best == ()
    assert without.boards == 2  # still counted


def test_a_gap_without_a_whole_cut_width_says_so() -> None:
    tight = Detail(oversize_min=Decimal("0.10"), oversize_max=Decimal("0.101"))
    (option,) = compare(edge(detail=tight), gaps=range(63, 64)).options
    assert option.boards is None
    assert "no whole cut width" in option.problem


def test_boards_oversize_insertion_and_brackets_stand_side_by_side() -> None:
    wide = Board(code="B-WIDE", length_mm=1200, width_mm=1005, per_pack=4, price="220.00")
    found = compare(
        edge(products=(wide,)),
        gaps=[151],
        boards=[["B-120"], ["B-WIDE"]],
        oversize=[(Decimal("0.10"), Decimal("0.15")), (Decimal("0.05"), Decimal("0.15"))],
    )
    assert [option.boards for option in found.options] == [6, 5, 5, 5]  # 167 mm: 5 or 6 strips; 159 mm: 6
    assert [option.boards_by_code for option in found.options][2] == {"B-WIDE": 5}
    assert len(found.by_choice()) == 4
    assert [option.best for option in found.options if "best at this gap" in option.best] != []
    reaches = compare(edge(), gaps=range(150, 151), brackets=[["K-110"], ["K-120"], ["K-90"]]).options
    assert [option.brackets for option in reaches] == [{"K-110": 60}, {"K-120": 60}, {}]
    assert [option.whole for option in reaches] == [True, True, False]
    bands = [
        (Decimal("0.5"), Decimal("0.6"), Decimal("0.62")),
        (Decimal("0.7"), Decimal("0.75"), Decimal("0.85")),
    ]
    sizes = [option.brackets for option in compare(edge(), gaps=range(150, 151), insertion=bands).options]
    assert sizes == [{"K-90": 60}, {"K-110": 60}]


def test_the_best_is_the_last_gap_of_the_best_tooth() -> None:
    found = compare(edge(), gaps=range(140, 161))
    best = {mark: option.gap_mm for option in found.options for mark in option.best}
    assert best["fewest boards"] == 150
    assert best["least scrap"] == 150


def test_a_shifted_comparison_keeps_the_shape_of_each_run() -> None:
    gaps = [Gap(run="R0", at_mm=at, gap_mm=gap) for at, gap in ((0, 140), (18_000, 150), (36_000, 160))]
    project = edge(gaps=gaps)
    moved = at_gap(project, 151, shifted=True)
    assert moved is not None
    assert [gap.gap_mm for gap in moved.gaps] == [141, 151, 161]
    (own,) = compare(project, gaps=range(150, 151), shifted=True).options
    assert own.boards == plan(project).boards["B-120"].count
    assert at_gap(project, 9, shifted=True) is None
    (impossible,) = compare(project, gaps=range(9, 10), shifted=True).options
    assert "less than 1 mm" in impossible.problem


def test_only_the_runs_asked_for_are_compared() -> None:
    found = compare(edge((36_000, 12_000)), gaps=range(150, 151), runs=["R1"])
    assert (found.runs, found.edge_mm, found.options[0].pieces) == (1, 12_000, 10)
    assert any("1 of 2 runs" in note for note in found.notes)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"gaps": range(11)}, "give 1 mm or more"),
        ({"gaps": []}, "no gap to compare"),
        ({"gaps": range(1, 200_001)}, "more than"),
        ({"gaps": [100], "boards": [["B-7"]]}, "B-7 is no board of the products"),
        ({"gaps": [100], "brackets": [["K-1"]]}, "K-1 is no bracket"),
        ({"gaps": [100], "runs": ["X*"]}, r"no run is called X\*"),
        ({"gaps": [100], "oversize": [(Decimal("0.2"), Decimal("0.1"))]}, "is above"),
    ],
)
def test_options_that_make_no_sense_are_refused_in_plain_words(options: dict[str, object], said: str) -> None:
    with pytest.raises(CannotBeDone, match=said):
        compare(edge(), **options)


@pytest.mark.parametrize(
    ("between", "said"), [((0, 10), "give 1 mm or more"), ((20, 10), "swap them"), ((10, 20, 0), "step is 0")]
)
def test_a_range_of_gaps_that_makes_no_sense_is_refused(between: tuple[int, ...], said: str) -> None:
    with pytest.raises(CannotBeDone, match=said):
        gaps_between(*between)


def test_both_ends_of_a_range_are_compared() -> None:
    assert list(gaps_between(140, 150, 5)) == [140, 145, 150]


def test_gaps_are_compared_in_order_and_once_each() -> None:
    found = compare(edge(), gaps=iter([152, 150, 152]))
    assert [option.gap_mm for option in found.options] == [150, 152]


def test_progress_is_told_to_the_last_option() -> None:
    told: list[tuple[int, int]] = []
    compare(edge(), gaps=range(100, 103), progress=lambda done, total: told.append((done, total)))
    assert told == [(1, 3), (2, 3), (3, 3)]


# -- what is written


@pytest.fixture(scope="module")
def found() -> Comparison:
    return compare(edge(detail=Detail(gap_max_mm=152)), gaps=range(148, 155))


def test_the_csv_has_a_row_an_option_with_exact_money(found: Comparison) -> None:
    rows = list(csv.DictReader(io.StringIO(gaps_csv(found))))
    assert [row["gap_mm"] for row in rows] == [str(gap) for gap in range(148, 155)]
    at_150 = rows[2]
    # 5 boards in packs of 4, 60 brackets in packs of 50, one pack of anchors, one roll of tape
    assert at_150["cost"] == "608.60" == f"{2 * 212 + 2 * 60 + 41.50 + 23.10:.2f}"
    assert (at_150["boards"], at_150["lower_bound"], at_150["optimal"], at_150["joints"]) == (
        "5",
        "5",
        "true",
        "29",
    )
    assert (at_150["brackets K-110"], at_150["boards_more_at_next_gap"]) == ("60", "1")
    assert 0 <= float(at_150["scrap_fraction"]) < 0.02
    assert (rows[-1]["boards"], rows[-1]["cost"]) == ("", "")
    assert "outside the tested range" in rows[-1]["problem"]


def test_the_columns_of_brackets_go_by_size(found: Comparison) -> None:
    option = found.options[0].model_copy(update={"brackets": {"K-100": 1, "K-20": 2, "K-90": 3}})
    heading = gaps_csv(found.model_copy(update={"options": (option,)})).partition("\r\n")[0]
    assert heading.endswith("brackets K-20,brackets K-90,brackets K-100")


def test_the_chart_is_sound_svg_in_greys_with_its_teeth_labelled(found: Comparison) -> None:
    text = gaps_svg(found, "Tom & <Jerry>\x07")
    root = ElementTree.fromstring(text)
    words = ["".join(node.itertext()) for node in root.iter("{http://www.w3.org/2000/svg}text")]
    assert {"6", "5", "to 150", "boards per 100 m"} <= set(words)
    assert any("cannot be built whole" in word for word in words)
    colours = {node.get(key) for node in root.iter() for key in ("fill", "stroke")} - {None, "none"}
    assert all(colour and colour[1:3] == colour[3:5] == colour[5:7] for colour in colours)
    assert "1 board more" in "".join(root.itertext())


def test_json_holds_every_option_in_plain_values(found: Comparison) -> None:
    values = found.as_json()
    assert (
        values["options"][2] | {"cost": "608.60", "boards": 5, "best": values["options"][2]["best"]}
        == (values["options"][2])
    )
    assert values["options"][-1]["boards"] is None
