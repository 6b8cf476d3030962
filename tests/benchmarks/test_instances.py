"""The benchmark's instances are those that were published or promised, and its quick run works."""

from __future__ import annotations

import json
from collections import Counter, defaultdict
from itertools import islice
from pathlib import Path

import pytest

from benchmarks.__main__ import main
from benchmarks.instances.cutgen import CLASSES, CutgenClass, cutgen, cutgen_items
from benchmarks.instances.facade import BOARD, SIZES, facade, window_of_gap
from benchmarks.instances.triplets import triplet_sizes, triplets
from benchmarks.instances.two_stage import problem_of_line
from benchmarks.instances.uniform import uniform
from benchmarks.known_optima import known_two_stage_optimum
from benchmarks.registry import GROUPS, TARGETS
from benchmarks.rivals.cp_sat import direct_cp_sat
from benchmarks.rivals.first_fit_decreasing import first_fit_decreasing
from benchmarks.rivals.plain_linear_programme import plain_linear_programme
from tests.builders.brute_force import minimum_by_trying_everything


def test_cutgen_draws_its_published_first_instance() -> None:
    """T. Gau and G. Wäscher, CUTGEN1, EJOR 84 (1995) 572-579: m 10, L 1000, v 0.375-0.625, dbar 50."""
    first = next(cutgen_items(CutgenClass(10, 0.375, 0.625, 50), seed=1994))
    assert first == [
        (577, 63),
        (570, 64),
        (544, 85),
        (539, 84),
        (526, 54),
        (512, 20),
        (504, 24),
        (459, 31),
        (446, 48),
        (378, 27),
    ]


def test_cutgen_meets_the_demand_of_its_class() -> None:
    for parameters in CLASSES:
        for number, items in enumerate(islice(cutgen_items(parameters), 3), start=1):
            problem = cutgen(parameters, number)
            assert [(piece.width_min_mm, piece.quantity) for piece in problem.pieces] == items
            total = parameters.lengths * parameters.average_demand
            assert abs(sum(demand for _, demand in items) - total) <= parameters.lengths


@pytest.mark.parametrize("count", [60, 120, 249, 501])
def test_triplets_fill_their_boards_exactly(count: int) -> None:
    sizes = triplet_sizes(count, seed=1)
    assert len(sizes) == count
    assert sum(sizes) == 1000 * count // 3
    assert all(250 < size < 500 for size in sizes)
    assert sum(piece.quantity for piece in triplets(count, seed=1).pieces) == count


def test_uniform_sizes_lie_between_20_and_100() -> None:
    problem = uniform(1000, seed=1)
    assert len(problem.pieces) == 1000
    assert {piece.width_min_mm for piece in problem.pieces} == set(range(20, 101))
    assert problem.boards[0].width_mm == 150


@pytest.mark.parametrize("size", SIZES)
def test_a_facade_has_its_levels_pieces_bays_and_windows(size: str) -> None:
    levels, pieces_a_level = SIZES[size]
    problem = facade(size, seed=1)
    assert Counter(piece.stage for piece in problem.pieces) == dict.fromkeys(
        range(1, levels + 1), pieces_a_level
    )
    assert problem.counts_boards
    windows = {window_of_gap(gap) for gap in range(25, 400)}
    by_level = defaultdict(list)
    for piece in problem.pieces:
        assert 300 <= piece.length_mm <= BOARD.length_mm
        assert piece.quantity == 1
        assert (piece.width_min_mm, piece.width_max_mm) in windows
        by_level[piece.stage].append((piece.width_min_mm, piece.width_max_mm))
    assert all(len(set(level)) <= pieces_a_level // 5 + 1 for level in by_level.values())


def test_the_window_of_a_gap_is_exact() -> None:
    """A 150 mm gap at 10 % is cut 165 mm (common practice, no source); in floating point it would be 166."""
    assert window_of_gap(150) == (165, 180)
    assert window_of_gap(149) == (164, 178)


def test_seeds_alone_decide_an_instance() -> None:
    assert facade("S", 1) == facade("S", 1)
    assert facade("S", 1) != facade("S", 2)
    assert triplets(60, 1) == triplets(60, 1)
    assert triplets(60, 1) != triplets(60, 2)


def test_a_line_of_the_open_instances_becomes_a_problem() -> None:
    """An invented line in the published form: W 30, H 20, three pieces 10 x 4 and one 30 x 7."""
    problem = problem_of_line("invented;2;30;20;10,4,3;30,7")
    assert (problem.boards[0].length_mm, problem.boards[0].width_mm, problem.trim) == (30, 20, True)
    three, one = problem.pieces
    assert (three.length_mm, three.width_min_mm, three.width_max_mm, three.quantity) == (10, 4, 20, 3)
    assert (one.length_mm, one.width_min_mm, one.width_max_mm, one.quantity) == (30, 7, 20, 1)


def test_the_optima_that_are_known() -> None:
    """The level-packing model of A. Lodi, S. Martello and D. Vigo, J. Comb. Optim. 8 (2004)."""
    assert known_two_stage_optimum("cl01_020_01")[0] == 8
    assert known_two_stage_optimum("cl03_020_10")[0] == 7
    assert known_two_stage_optimum("cl01_040_03")[0] == 17
    assert known_two_stage_optimum("beng03")[0] == 9
    assert known_two_stage_optimum("cl08_020_05") == (
        6,
        "computed here: level-packing model of Lodi, Martello and Vigo (2004) proved by CP-SAT",
    )
    assert known_two_stage_optimum("cl01_040_09") == (None, "")


def test_rivals_agree_with_trying_everything() -> None:
    """Six pieces of a facade: CP-SAT finds the minimum, no LP bound is above it, no first fit below."""
    for seed in range(1, 6):
        whole = facade("S", seed)
        problem = whole.model_copy(update={"pieces": whole.pieces[seed:50:8][:6]})
        minimum = minimum_by_trying_everything(problem).boards
        assert direct_cp_sat(problem, time_limit=20, workers=1).boards == minimum
        bound = plain_linear_programme(problem, time_limit=20).lower_bound
        assert bound is not None
        assert bound <= minimum <= (first_fit_decreasing(problem).boards or 0)


def test_every_target_names_a_group_that_is_large_enough() -> None:
    sizes = {group.name: len(group.cases) for group in GROUPS}
    assert all(target.needed <= sizes[target.group] for target in TARGETS)
    assert len(sizes) == len(GROUPS)


def test_a_quick_run_measures_and_writes_its_results(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Targets may be missed on a busy machine (exit code 1), but everything is measured, sound, written."""
    assert main(["--quick", "--only", "facade-S", "--results", str(tmp_path)]) in (0, 1)
    results = json.loads((tmp_path / "results.json").read_text(encoding="utf-8"))
    (group,) = results["groups"]
    assert [case["case"] for case in group["cases"]] == ["facade-S-01", "facade-S-02"]
    for case in group["cases"]:
        assert case["broken_rules"] == []
        assert case["lower_bound"] <= case["boards"]
        assert case["solve_seconds"] > 0
        assert case["outside_seconds"] > 0
    assert group["cases"][0]["command_boards"] == group["cases"][0]["boards"]
    ways = {row["way"]: row for row in results["comparisons"]}
    assert set(ways) == {"this solver", "first fit", "fixed width", "level by level", "CP-SAT", "plain LP"}
    assert ways["this solver"]["boards"] <= ways["first fit"]["boards"]
    assert ways["this solver"]["boards"] <= ways["fixed width"]["boards"]
    assert "facade S, 3 levels x 50 pieces" in (tmp_path / "results.md").read_text(encoding="utf-8")
    assert "Side by side" in capsys.readouterr().out


def test_an_unknown_group_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--only", "nothing"]) == 2
    assert "no group begins with 'nothing'" in capsys.readouterr().err


def test_the_surveys_questions_find_planted_mistakes_and_leave_clean_surveys_alone(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """A short run of the benchmark: every kind twice, two clean surveys of each noise."""
    from benchmarks.survey_questions import main as survey_questions

    assert survey_questions(["--planted", "18", "--clean", "2"]) == 0
    assert "met" in capsys.readouterr().out
