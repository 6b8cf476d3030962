"""How much to order: the simulation against closed forms, its options, and the plan that takes its quantity."""

from __future__ import annotations

import json
from collections.abc import Sequence
from decimal import Decimal
from math import ceil, comb, exp, sqrt
from statistics import NormalDist
from xml.etree import ElementTree

import numpy as np
import pytest

from optimiser.errors.problems import CannotBeDone
from optimiser.model.plan import Staging
from optimiser.model.project import (
    Allowance,
    Anchor,
    Board,
    Bracket,
    Detail,
    Gap,
    Heading,
    Level,
    Project,
    Run,
    Tape,
)
from optimiser.planning.plan import plan
from optimiser.simulation.counts import Counting, DrawCounts, needs_of
from optimiser.simulation.heuristic_bias import HeuristicBias
from optimiser.simulation.simulate import simulate
from optimiser.simulation.simulated_allowance import SimulatedAllowance
from optimiser.takeoff.quantities import unit_of
from optimiser.writing.office.allowance_chart import allowance_svg

BRACKETS = tuple(
    Bracket(code=f"K-{reach}", length_mm=reach, per_pack=10, price="12.00") for reach in range(80, 170, 10)
)
ANCHOR = Anchor(code="A-8", per_pack=100, price="41.50")
TAPE = Tape(code="T-75", length_mm=10_000, price="23.10")


def building(
    runs_mm: Sequence[int],
    *,
    board_mm: tuple[int, int] = (1200, 1000),
    tolerance_mm: int | None = 10,
    levels: int = 1,
    measured: Sequence[int] = (),
    allowance: Sequence[Allowance] = (),
    **detail: object,
) -> Project:
    """Runs of these lengths on every level, gaps of 150 mm: nominal, save on the `measured` levels."""
    board = Board(code="B-120", length_mm=board_mm[0], width_mm=board_mm[1], per_pack=2, price="100.00")
    runs, gaps = [], []
    for level in range(levels):
        for number, length in enumerate(runs_mm):
            run = f"L{level}-{number}"
            runs.append(Run(run=run, level=f"L{level}", length_mm=length, board=("B-120",)))
            basis = (
                {"basis": "measured"}
                if level in measured
                else {"basis": "nominal", "tolerance_mm": tolerance_mm}
            )
            gaps.append(Gap(run=run, at_mm=0, gap_mm=150, **basis))
    return Project(
        detail=Detail(**detail),
        products=(board, *BRACKETS, ANCHOR, TAPE),
        levels=[Level(level=f"L{level}", sequence=level) for level in range(levels)],
        runs=runs,
        gaps=gaps,
        allowance=allowance,
    )


def quantity(found: SimulatedAllowance, code: str):  # type: ignore[no-untyped-def]
    return next(item for item in found.quantities if item.code == code)


def chance_of_at_least(gap_mm: int, nominal_mm: int = 150, deviation_mm: float = 5.0) -> float:
    """That a normal gap, rounded to the millimetre, is at least so much."""
    return 1 - NormalDist(nominal_mm, deviation_mm).cdf(gap_mm - 0.5)


def binomial_quantile(trials: int, chance: float, level: float) -> int:
    below = 0.0
    for successes in range(trials + 1):
        below += comb(trials, successes) * chance**successes * (1 - chance) ** (trials - successes)
        if below >= level:
            return successes
    return trials


# -- closed forms


def test_one_run_with_one_gap_takes_a_second_board_as_often_as_the_normal_law_says() -> None:
    """Two short edges share a board of 330 mm while their cut widths sum to at most that: gaps of 150 mm each do."""
    project = building([400, 400], board_mm=(400, 330))
    project = project.model_copy(
        update={"gaps": (project.gaps[0], project.gaps[1].model_copy(update={"tolerance_mm": None}))}
    )
    found = quantity(simulate(project, draws=4000, service_level=0.5), "B-120")
    chance = chance_of_at_least(151)  # 151 mm -> 167 mm, and 167 + 165 > 330
    assert found.frequency.keys() == {1, 2}
    assert found.frequency[2] / 4000 == pytest.approx(chance, abs=3 * sqrt(chance * (1 - chance) / 4000))


def test_independent_levels_take_a_binomial_number_of_boards() -> None:
    """Each level takes one board or two, by the threshold above; levels that are not surveyed are cut apart."""
    project = building([400, 400], board_mm=(400, 330), levels=20)
    gaps = tuple(
        gap.model_copy(update={"tolerance_mm": None}) if gap.run.endswith("-1") else gap
        for gap in project.gaps
    )
    found = quantity(
        simulate(project.model_copy(update={"gaps": gaps}), draws=2000, service_level=0.9), "B-120"
    )
    chance = chance_of_at_least(151)
    assert found.mean == pytest.approx(20 + 20 * chance, abs=3 * sqrt(20 * chance * (1 - chance) / 2000))
    mean = found.mean
    variance = sum(count * (value - mean) ** 2 for value, count in found.frequency.items()) / 2000
    assert variance == pytest.approx(20 * chance * (1 - chance), rel=0.12)
    truth = 20 + binomial_quantile(20, chance, 0.9)
    low, high = found.interval
    assert low is not None
    assert high is not None
    assert low <= truth <= high
    assert abs(found.order - truth) <= 1


def test_a_size_of_bracket_is_needed_as_often_as_the_gap_passes_its_threshold() -> None:
    """110 mm and 120 mm reach 75 % of the gap equally well, over and under, at 115 / 0.75 = 153.3 mm."""
    found = simulate(building([400] * 30), draws=1500)
    chance = chance_of_at_least(154)  # the next sizes up and down are far off: 140 mm and 167 mm
    longer = sum(quantity(found, code).mean for code in ("K-120", "K-130") if any(
        item.code == code for item in found.quantities
    ))  # fmt: skip
    assert longer == pytest.approx(30 * chance, abs=3 * sqrt(30 * chance * (1 - chance) / 1500))


def test_tape_is_the_normal_sum_of_correlated_gaps() -> None:
    """Two joints 1200 mm apart in a run: the variance of their sum is 2 s^2 (1 + exp(-1200 / length))."""
    # wide limits, so that a joint lies at every 1200 mm whatever the gaps; both are knots of the process
    project = building(
        [3_600] * 10,
        oversize_min=Decimal("0.10"),
        oversize_max=Decimal(1),
        correlation_length_mm=1500,
    )
    found = simulate(project, draws=1500, service_level=0.9)
    joints, each = 20, 150 + 2 * 50
    variance = 10 * (2 * 25 * (1 + exp(-1200 / 1500)) + 2 / 12)
    expected = NormalDist(joints * each, sqrt(variance))
    assert found.tape_mm[0] == pytest.approx(expected.mean, abs=3 * 1.25 * expected.stdev / sqrt(1500) + 1)
    assert found.tape_mm[1] == pytest.approx(expected.inv_cdf(0.9), abs=0.3 * expected.stdev)


def test_the_order_at_balanced_costs_is_the_quantile_at_the_critical_fractile() -> None:
    project = building([400] * 12, board_mm=(400, 330))
    by_cost = simulate(project, draws=300, shortage_cost=19, surplus_cost=1)
    assert by_cost.service_level == pytest.approx(0.95)
    by_level = simulate(project, draws=300, service_level=0.95)
    # the costs are of one missing and one left over, so each product's quantity balances them by itself
    assert [item.order for item in by_cost.quantities] == [item.order_alone for item in by_level.quantities]
    assert by_cost.covered == by_level.covered_alone < by_level.covered
    assert all(item.expected_cost is not None for item in by_cost.quantities)


# -- what it says


def test_without_spread_every_draw_is_the_plan() -> None:
    project = building([9_000, 7_000], tolerance_mm=1, correlation_length_mm=3000)
    still = project.model_copy(
        update={"gaps": tuple(gap.model_copy(update={"gap_mm": 145}) for gap in project.gaps)}
    )
    found = simulate(still, draws=20)
    made = plan(still)
    assert quantity(found, "B-120").order == made.boards["B-120"].count == quantity(found, "B-120").planned
    assert quantity(found, "K-110").median == sum(level.brackets["K-110"] for level in made.counts.values())


def test_equal_seeds_give_equal_results_whatever_the_number_of_workers() -> None:
    project = building([9_000, 5_500])
    one = simulate(project, draws=40, seed=5, workers=1)
    three = simulate(project, draws=40, seed=5, workers=3)
    assert one == three
    assert one != simulate(project, draws=40, seed=6)


def test_a_longer_simulation_begins_with_the_shorter_ones_draws() -> None:
    project = building([9_000])
    short = quantity(simulate(project, draws=20), "B-120").frequency
    long = quantity(simulate(project, draws=60), "B-120").frequency
    assert all(long.get(value, 0) >= count for value, count in short.items())


def test_measured_levels_stay_as_measured() -> None:
    project = building([9_000], levels=2, measured=[0])
    found = simulate(project, draws=30)
    assert (found.runs_drawn, found.runs) == (1, 2)
    both = simulate(building([9_000], levels=2), draws=30)
    # K-120 is needed only where a gap is drawn
    assert quantity(found, "K-120").greatest <= quantity(both, "K-120").greatest / 2 + 8


@pytest.mark.parametrize(("staging", "boards"), [("level", 6), ("carry", 5)])
def test_measured_levels_are_certain_and_take_what_their_plan_does(staging: Staging, boards: int) -> None:
    """Eight strips a level, six from a board: two boards each, or three for both measured levels together."""
    project = building([9_000], levels=3, measured=[0, 1])
    found = simulate(project, draws=40, staging=staging)
    item = quantity(found, "B-120")
    assert (item.planned, item.median, item.extra) == (boards, boards, 0)
    assert found.bias.above_plan == {"B-120": 0}


def test_flat_percentages_stand_beside_the_order_with_their_risk() -> None:
    found = quantity(simulate(building([400, 400], board_mm=(400, 330), levels=20), draws=200), "B-120")
    for percentage in (5, 10):
        flat = found.flat[percentage]
        assert flat.quantity == ceil(found.planned * (100 + percentage) / 100)
        short = sum(count for value, count in found.frequency.items() if value > flat.quantity)
        assert flat.short_share == short / 200
    assert found.short_share <= 0.05
    assert found.flat[5].mean_short >= found.flat[10].mean_short


def test_the_json_is_the_contracts() -> None:
    found = json.loads(json.dumps(simulate(building([9_000]), draws=20).as_json()))
    assert {"order", "median", "interval"} <= set(found["boards"]["B-120"])
    assert "K-110" in found["brackets"]
    assert found["anchors"]["A-8"]["order"] >= found["anchors"]["A-8"]["median"]
    assert found["tape"]["T-75"]["order"] >= 1
    assert found["tape_mm"]["order"] >= found["tape_mm"]["median"] > 0
    assert found["bias"]["sample"] == 10


def test_gaps_that_leave_the_tested_range_are_told() -> None:
    found = simulate(building([9_000], gap_max_mm=152), draws=30)
    assert found.not_planned_share > 0
    assert any("left open" in note for note in found.notes)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"draws": 0}, "0 draws"),
        ({"draws": 20_001}, "give 1 to 20000"),
        ({"service_level": 1.01}, "above 0 and at most 1"),
        ({"shortage_cost": 5.0}, "both the cost"),
        ({"shortage_cost": 0.0, "surplus_cost": 1.0}, "must cost more than 0"),
    ],
)
def test_options_that_make_no_sense_are_refused_in_plain_words(options: dict[str, float], said: str) -> None:
    with pytest.raises(CannotBeDone, match=said):
        simulate(building([3_000]), **options)  # type: ignore[arg-type]


@pytest.mark.parametrize("tolerance", [None, 0])
def test_without_a_tolerance_every_draw_is_the_plan(tolerance: int | None) -> None:
    project = building([13_000, 700], tolerance_mm=tolerance)
    found = simulate(project, draws=30, service_level=0.99)
    made = plan(project)
    planned = {line.code: 0 for line in made.order.lines}
    for line in made.order.lines:
        planned[line.code] += line.needed
    assert {item.code: item.order for item in found.quantities} == planned
    for item in found.quantities:
        assert item.frequency == {item.planned: 30}
        assert (item.median, item.extra, item.interval) == (item.order, 0, (item.order, item.order))
    assert found.tape_mm == (sum(level.tape_mm for level in made.counts.values()),) * 2
    assert (found.runs_drawn, found.bias.sample) == (0, 0)
    assert found.notes[0].startswith("Nothing is drawn")


def test_a_service_level_of_one_covers_every_draw() -> None:
    found = simulate(building([9_000]), draws=40, service_level=1.0)
    for item in found.quantities:
        assert (item.order, item.short_share) == (max(item.greatest, item.planned), 0)
        assert item.order_alone == item.greatest
        assert item.interval == (item.greatest, None)
    assert any("no number of draws" in note for note in found.notes)


def test_progress_is_told_to_the_last_draw() -> None:
    told: list[tuple[int, int]] = []
    simulate(building([3_000]), draws=40, progress=lambda done, total: told.append((done, total)))
    assert told[-1] == (40, 40)
    assert told == sorted(told)


# -- the plan takes it


def test_the_plan_orders_the_simulated_quantity_and_nothing_on_top_of_it() -> None:
    simulated = [Allowance(kind=kind, fraction="simulated") for kind in ("board", "anchor")]
    project = building([400, 400], board_mm=(400, 330), levels=20, allowance=simulated)
    made, found = plan(project), simulate(project, draws=300)
    for code in ("B-120", "A-8"):
        lines = [line for line in made.order.lines if line.code == code]
        expected = quantity(found, code)
        assert sum(line.needed for line in lines) == expected.planned
        assert sum(line.quantity for line in lines) == expected.order >= expected.planned
        assert {line.status for line in lines} == {"forecast"}
    assert sum(line.allowance for line in made.order.lines if line.code == "B-120") > 0


def test_bracket_sizes_that_only_the_tolerances_call_for_have_forecast_lines_of_their_own() -> None:
    made = plan(building([400] * 30))
    lines = {line.code: line for line in made.order.lines if line.kind == "bracket"}
    assert {"K-100", "K-110", "K-120"} <= lines.keys()
    assert (lines["K-110"].needed, lines["K-120"].needed, lines["K-120"].status) == (30, 0, "forecast")
    assert lines["K-120"].quantity == lines["K-120"].allowance > 0
    assert any("more of some brackets than the draws need" in warning for warning in made.warnings)


# -- all products together


def short_draws(project: Project, ordered: dict[str, int], draws: int = 300) -> dict[str, np.ndarray]:
    """Which draws of the whole building need more of a product than is ordered, counted beside the planner's way."""
    counting = Counting.of(project, "whole")
    seeds = np.random.SeedSequence(0).spawn(draws)
    counts = DrawCounts.joined([counting.count(gaps) for gaps in counting.process.gaps(seeds)])
    needs = dict(needs_of(project, counts, HeuristicBias(sample=0, boards={"B-120": 0.0}, bound={})))
    return {
        code: need > ordered.get(code, 0) * unit_of(project.product(code)) for code, need in needs.items()
    }


def test_the_default_order_of_a_nominal_building_covers_its_own_draws_in_every_product_at_once() -> None:
    """It once covered none of its 300 surveys in one bracket size, and half of them jointly at the best."""
    project = building([9_000, 7_000], levels=4)
    made = plan(project)
    ordered: dict[str, int] = {}
    for line in made.order.lines:
        ordered[line.code] = ordered.get(line.code, 0) + line.quantity
    short = short_draws(project, ordered)
    any_short = np.logical_or.reduce(list(short.values()))
    assert (~any_short).sum() >= 285
    assert made.forecast is not None
    assert made.forecast.covered == (~any_short).sum()
    planned = {line.code: line.needed for line in made.order.lines}
    nominal_only = np.logical_or.reduce(list(short_draws(project, planned).values()))
    assert nominal_only.sum() == 300  # what the nominal gaps take covers no draw at all


def test_the_allowance_and_the_plan_order_the_same() -> None:
    rates = [Allowance(kind=kind, fraction="0.05") for kind in ("board", "bracket", "anchor", "tape")]
    project = building([9_000, 7_000], levels=3, measured=[0], allowance=rates)
    made, found = plan(project, seed=3), simulate(project, draws=300, seed=3)
    for item in found.quantities:
        lines = [line for line in made.order.lines if line.code == item.code]
        assert sum(line.packs for line in lines) == item.packs
        assert sum(line.quantity for line in lines) == item.order + item.breakage
    assert made.forecast is not None
    assert (made.forecast.covered, made.forecast.covered_alone) == (found.covered, found.covered_alone)
    assert made.forecast.cost == found.cost == made.order.total


def test_product_by_product_covers_far_less_than_it_says() -> None:
    found = simulate(building([9_000, 7_000], levels=4), draws=300)
    assert all(item.frequency for item in found.quantities)
    assert found.covered_alone < 0.85 * 300
    assert found.covered >= 285
    joint = found.as_json()["joint"]
    assert joint["covered"] >= 0.95 > joint["product_by_product"]
    assert joint["proved"]
    assert Decimal(joint["cost"]) >= Decimal(joint["lower_bound_cost"])


def test_the_service_level_is_the_projects_unless_another_is_asked_for() -> None:
    project = building([9_000]).model_copy(update={"project": Heading(service_level="0.8")})
    assert simulate(project, draws=40).service_level == 0.8
    assert simulate(project, draws=40, service_level=0.9).service_level == 0.9
    made = plan(project)
    assert made.forecast is not None
    assert made.forecast.service_level == Decimal("0.8")
    assert made.forecast.covered >= 240


# -- the chart


def test_the_histogram_is_sound_svg_in_greys() -> None:
    found = simulate(building([400, 400], board_mm=(400, 330), levels=20), draws=100)
    root = ElementTree.fromstring(allowance_svg(found, "A < B & C"))
    words = ["".join(node.itertext()) for node in root.iter("{http://www.w3.org/2000/svg}text")]
    board = quantity(found, "B-120")
    assert f"order at 0.95: {board.order}" in words
    assert f"nominal plan: {board.planned}" in words
    assert any(word.startswith("plan + 10 %") for word in words)
    bars = [node for node in root.iter("{http://www.w3.org/2000/svg}rect") if node.get("class") == "bar"]
    assert len(bars) == len(board.frequency)
    colours = {node.get(key) for node in root.iter() for key in ("fill", "stroke")} - {None, "none"}
    assert all(colour and colour[1:3] == colour[3:5] == colour[5:7] for colour in colours)
