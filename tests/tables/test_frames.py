"""Frames: the names of the JSON, documented columns with units, exact money, whole millimetres."""

import inspect
import io
import json
from collections.abc import Callable, Sequence
from decimal import Decimal

import pandas as pd
import pytest

from optimiser.cutting.status import Status
from optimiser.model.order import Order
from optimiser.model.plan import Plan
from optimiser.model.planned_boards import BoardCount
from optimiser.model.planned_pieces import NotPlanned
from optimiser.simulation.simulate import simulate
from optimiser.simulation.simulated_allowance import SimulatedAllowance
from optimiser.studies.comparison import compare
from optimiser.studies.gap_option import Comparison
from optimiser.studies.staging import StagingComparison, stagings
from optimiser.tables.columns import Column
from optimiser.tables.frames import frame_of
from optimiser.tables.gap_options import GAP_OPTIONS
from optimiser.tables.pieces import PIECES
from optimiser.writing.data.plan_json import plan_as_dict
from optimiser.writing.office.gaps_csv import gaps_csv
from optimiser.writing.office.stagings_csv import stagings_csv
from tests.builders.small_plan import small_plan, small_project

PLACE = NotPlanned(
    run="L02-N", level="L02", from_mm=0, to_mm=500, what="bracket", reason="none reaches", mend="add one"
)


@pytest.fixture(scope="module")
def made() -> Plan:
    return small_plan()


@pytest.fixture(scope="module")
def compared() -> Comparison:
    return compare(small_project(), gaps=range(148, 153))


@pytest.fixture(scope="module")
def staged() -> StagingComparison:
    return stagings(small_project(), modes=("level", "whole"))


@pytest.fixture(scope="module")
def simulated() -> SimulatedAllowance:
    project = small_project()
    nominal = tuple(gap.model_copy(update={"basis": "nominal", "tolerance_mm": 20}) for gap in project.gaps)
    return simulate(project.model_copy(update={"gaps": nominal}), draws=40, seed=1)


# -- the plan's frames


def test_the_pieces_are_those_of_the_json(made: Plan) -> None:
    frame = made.pieces_frame()
    rows = plan_as_dict(made)["pieces"]
    assert len(frame) == len(rows) == 4
    for name in set(rows[0]) - {"brackets_at_mm", "notches_at_mm", "mullions_at_mm", "boards", "notches"}:
        assert frame[name].tolist() == [row[name] for row in rows], name
    assert frame["brackets_at_mm"].tolist() == [tuple(row["brackets_at_mm"]) for row in rows]
    assert (frame["length_mm"] == frame["to_mm"] - frame["from_mm"]).all()
    assert frame.attrs["units"]["cut_width_start_mm"] == "mm"
    assert "forecast" in frame.attrs["meanings"]["basis"]


def test_a_piece_without_bracket_has_none(made: Plan) -> None:
    without = made.model_copy(update={"pieces": (made.pieces[0].model_copy(update={"bracket": None}),)})
    assert without.pieces_frame()["bracket"].isna().all()


def test_the_patterns_strip_by_strip_and_piece_by_piece(made: Plan) -> None:
    frame = made.patterns_frame()
    assert len(frame) == sum(len(layout.strips) for layout in made.layouts)
    assert frame["width_mm"].tolist() == [165] * 4
    pieces = frame.explode(["piece_ids", "piece_lengths_mm"])
    assert pieces["piece_ids"].tolist() == [piece.id for piece in made.pieces]
    assert set(frame.columns) >= {"layout", "stock", "stage", "repeat", "strip"}


def test_a_pattern_has_the_number_that_is_written_on_its_boards(made: Plan) -> None:
    """A plan of a job's rest numbers its patterns on from those before."""
    (layout, *others) = made.layouts
    later = made.model_copy(update={"layouts": (layout.model_copy(update={"number": 17}), *others)})
    assert later.patterns_frame()["layout"].tolist()[: len(layout.strips)] == [17] * len(layout.strips)


def test_the_order_adds_up_exactly(made: Plan) -> None:
    frame = made.order.to_frame()
    assert frame["amount"].sum() == Decimal(plan_as_dict(made)["order"]["total"])
    assert all(isinstance(price, Decimal) for price in frame["price"])
    assert frame["deliver_on"].dt.day.tolist()[:1] == [22]
    assert set(frame["currency"]) == {"AUD"}
    for line, row in zip(made.order.lines, frame.to_dict("records"), strict=True):
        assert (line.code, line.level, line.packs, line.quantity) == (
            row["code"], row["level"], row["packs"], row["quantity"],
        )  # fmt: skip


def test_the_deliveries_hold_every_pack(made: Plan) -> None:
    frame = made.deliveries_frame()
    assert frame["levels"].tolist() == [("L01",)] + [("L02",)] * (len(frame) - 1)
    assert frame["packs B-120"].sum() == sum(delivery.packs.get("B-120", 0) for delivery in made.deliveries)
    assert frame["amount"].sum() == made.order.to_frame()["amount"].sum()
    assert frame["trucks"].isna().all()
    assert frame["weight_kg"].isna().all(), "no board's weight is known"


def test_the_counts_of_each_level(made: Plan) -> None:
    frame = made.counts_frame().set_index("level")
    assert frame.loc["L01"].to_dict() == {
        "brackets K-110": 4,
        "brackets": 4,
        "anchors": 4,
        "joints": 1,
        "tape_mm": 250,
    }


def test_no_rows_keep_their_columns_and_types(made: Plan) -> None:
    nothing = made.model_copy(update={"pieces": (), "layouts": (), "deliveries": (), "counts": {}})
    assert (nothing.pieces_frame().shape, nothing.patterns_frame().shape) == ((0, 23), (0, 11))
    assert nothing.pieces_frame()["from_mm"].dtype == "int64"
    assert len(nothing.deliveries_frame()) == len(nothing.counts_frame()) == 0
    empty = Order(lines=(), total=made.order.total, currency="AUD").to_frame()
    assert (len(empty), str(empty["deliver_on"].dtype)) == (0, "datetime64[s]")


# -- the studies' frames


def test_the_comparison_has_the_columns_and_figures_of_its_csv(compared: Comparison) -> None:
    frame = compared.to_frame()
    written = pd.read_csv(io.StringIO(gaps_csv(compared)))
    assert list(frame.columns) == list(written.columns)
    assert frame["boards"].tolist() == written["boards"].tolist()
    assert [float(cost) for cost in frame["cost"]] == written["cost"].tolist()
    assert frame["optimal"].dtype == bool


def test_a_gap_that_cannot_be_built_has_no_figures() -> None:
    frame = compare(small_project(), gaps=[500]).to_frame()
    assert frame[["boards", "lower_bound", "scrap_fraction", "cost"]].isna().all(axis=None)
    assert "tested range" in frame["problem"][0]


def test_the_stagings_have_the_columns_and_figures_of_their_csv(staged: StagingComparison) -> None:
    frame = staged.to_frame()
    written = pd.read_csv(io.StringIO(stagings_csv(staged.options)))
    assert list(frame.columns) == list(written.columns)
    assert frame["boards"].tolist() == written["boards"].tolist()


def test_every_draw_is_kept_and_gives_the_quantities(simulated: SimulatedAllowance) -> None:
    draws = simulated.draws_frame()
    assert len(draws) == simulated.draws == 40
    prefix = {"board": "boards", "bracket": "brackets", "anchor": "anchors", "tape": "tape"}
    for item in simulated.quantities:
        needs = draws[f"{prefix[item.kind]} {item.code}"]
        assert needs.value_counts().to_dict() == item.frequency
        assert (needs.min(), needs.max()) == (item.least, item.greatest)
    assert draws["pieces"].mean() == simulated.pieces_mean
    assert (draws.dtypes == "int64").all()
    assert simulated.to_frame()["order"].tolist() == [item.order for item in simulated.quantities]


def test_the_same_seed_draws_the_same_surveys() -> None:
    project = small_project()
    nominal = tuple(gap.model_copy(update={"basis": "nominal", "tolerance_mm": 20}) for gap in project.gaps)
    project = project.model_copy(update={"gaps": nominal})
    first, again, other = (simulate(project, draws=20, seed=seed).draws_frame() for seed in (3, 3, 4))
    assert first.equals(again)
    assert not first.equals(other)


# -- what every frame promises


def test_the_docstrings_name_every_column(
    made: Plan, compared: Comparison, staged: StagingComparison, simulated: SimulatedAllowance
) -> None:
    ways: Sequence[Callable[[], pd.DataFrame]] = (
        made.pieces_frame,
        made.patterns_frame,
        made.order.to_frame,
        made.deliveries_frame,
        made.counts_frame,
        compared.to_frame,
        staged.to_frame,
        simulated.to_frame,
        simulated.draws_frame,
    )
    for way in ways:
        words = inspect.getdoc(way) or ""
        for name in way().columns:
            told = f"`{name.split()[0]} CODE`" if " " in name else name
            assert told in words, f"{way.__qualname__} does not document {name}"


def test_every_length_says_its_unit() -> None:
    for column in (*PIECES, *GAP_OPTIONS):
        if column.kind == "mm":
            assert (column.unit, column.name[-3:]) == ("mm", "_mm"), column.name


def test_a_missing_count_is_missing_and_not_a_float() -> None:
    rows: list[dict[str, int | None]] = [{"n": 1}, {"n": None}]
    frame = frame_of((Column("n", "N", "count", value=lambda row: row["n"]),), rows)
    assert str(frame["n"].dtype) == "Int64"
    assert frame["n"].isna().tolist() == [False, True]


# -- one line, and a status


def test_a_plan_in_one_line(made: Plan) -> None:
    total = plan_as_dict(made)["order"]["total"]
    assert repr(made) == str(made) == f"1 board, proved; AUD {Decimal(total):,.2f}"
    assert made.status is Status.OPTIMAL
    left_out = small_plan(not_planned=(PLACE,))
    assert repr(left_out).endswith("; 1 place not planned")
    assert left_out.status is Status.PARTLY_PLANNED


def test_a_plan_without_proof_says_how_good_it_may_be(made: Plan) -> None:
    proof = made.proofs[0].model_copy(update={"boards": 3, "lower_bound": 2, "optimal": False})
    loose = made.model_copy(
        update={"proofs": (proof,), "boards": {"B-120": BoardCount(count=3, lower_bound=2, optimal=False)}}
    )
    assert repr(loose).startswith("3 boards, at least 2; AUD")
    assert loose.status is Status.WITHIN_BOUND


def test_what_is_in_one_line_of_everything_else(
    made: Plan, compared: Comparison, staged: StagingComparison, simulated: SimulatedAllowance
) -> None:
    assert repr(made.project) == "Example House (invented): 2 levels, 2 runs, 2 gaps"
    assert repr(made.order).startswith("6 order lines; AUD ")
    assert repr(compared).startswith("5 gap options; fewest boards at 1")
    assert repr(staged) == "level: 2 boards, proved; whole: 2 boards, proved"
    assert repr(simulated).startswith("40 draws, service level 0.95: B-120 ")
    assert all("\n" not in repr(one) for one in (made, made.project, compared, staged, simulated))
    assert compared.options[0].status is Status.OPTIMAL
    (nothing,) = compare(small_project(), gaps=[500]).options
    assert (nothing.status, repr(nothing)[:6]) == (Status.NOT_PLANNED, "500 mm")


def test_html_for_a_notebook(
    made: Plan, compared: Comparison, staged: StagingComparison, simulated: SimulatedAllowance
) -> None:
    for one in (made, made.order, compared, staged, simulated):
        shown = one._repr_html_()
        assert "<table>" in shown
        assert "</table>" in shown
    assert "respirator" in made._repr_html_()
    assert "Placeholders" in made._repr_html_()
    named = small_plan(small_project(name="<script>"))
    assert "<script>" not in named._repr_html_()


def test_the_status_and_one_line_are_not_part_of_the_plan(made: Plan) -> None:
    assert Plan.model_validate(made.model_dump(by_alias=True, mode="json")) == made
    assert "status" not in json.loads(made.model_dump_json())
