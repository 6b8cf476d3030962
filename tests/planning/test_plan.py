"""The whole story: every plan that is handed out keeps every rule, and says what it rests on."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from optimiser.boards.cut import PlanProgress
from optimiser.boards.families import families_of
from optimiser.boards.problems import carry_limit, price_of_a_board
from optimiser.checking import broken_rules_of_plan
from optimiser.cutting.problem import Board as BoardToCut
from optimiser.cutting.problem import CuttingProblem, Objective
from optimiser.errors.broken_rules import BreaksRules
from optimiser.errors.problems import CannotBeDone
from optimiser.model.money import cents_of
from optimiser.model.plan import Plan, Staging
from optimiser.model.project import Allowance, Board, Detail, Gap, Heading, Level, Project, Run, Stock
from optimiser.planning.plan import plan
from optimiser.planning.warnings import SEARCH_STOPPED
from optimiser.writing.data.plan_json import plan_json
from tests.builders.levels import STAGINGS, building
from tests.builders.random_projects import projects
from tests.builders.small_plan import small_project

# -- the trade's own example


def test_a_150_mm_gap_is_cut_165_with_the_110_bracket_at_300_and_900() -> None:
    piece = plan(building()).pieces[0]
    assert (piece.id, piece.length_mm, piece.width_min_mm) == (
        "L1-N-001",
        1200,
        165,
    )  # floating point says 166
    assert piece.cut_width_start_mm == piece.cut_width_end_mm == 165
    assert (piece.bracket, piece.brackets_at_mm) == ("K-110", (300, 900))


def test_six_strips_of_165_come_out_of_a_board_for_three_levels() -> None:
    found = plan(building())
    assert found.boards["B-120"].model_dump() == {
        "count": 1, "lower_bound": 1, "optimal": True, "packs": 1, "lower_bound_packs": 1,
    }  # fmt: skip
    assert [(line.level, line.needed) for line in found.order.lines if line.kind == "board"] == [("L1", 1)]


# -- staging


def test_what_each_staging_lets_an_offcut_do() -> None:
    boards = {staging: plan(building(), staging=staging).boards["B-120"].count for staging in STAGINGS}
    assert boards == {"whole": 1, "carry": 2, "level": 3}


def test_layouts_show_the_levels_own_sequence_numbers() -> None:
    assert {layout.stage for layout in plan(building(), staging="level").layouts} == {10, 20, 30}


def test_carrying_counts_deliveries_not_sequence_numbers() -> None:
    project = building(project=Heading(max_carry_stages=2))
    assert plan(project, staging="carry").boards["B-120"].count == 1
    assert plan(project, staging="carry").max_carry_stages == 2
    assert [carry_limit(building(), staging) for staging in STAGINGS] == [None, 1, 0]


def test_levels_of_one_sequence_share_their_boards_and_the_first_in_the_table_gets_them() -> None:
    levels = (Level(level="L2", sequence=1), Level(level="L1", sequence=1), Level(level="L3", sequence=2))
    found = plan(building(storeys=3).model_copy(update={"levels": levels}), staging="level")
    assert [(line.level, line.needed) for line in found.order.lines if line.kind == "board"] == [
        ("L2", 1),
        ("L3", 1),
    ]


# -- material on site


def test_stock_lowers_the_order_and_keeps_its_name() -> None:
    stock = (Stock(code="B-120", length_mm=1200, width_mm=1000, quantity=1),)
    found = plan(building(stock=stock))
    assert found.boards["B-120"].count == 0
    assert {(layout.stock, layout.code) for layout in found.layouts} == {("stock-1", "B-120")}
    assert found.waste.stock_mm2 == 1_200_000
    assert found.waste.bought_mm2 == 0


def test_stock_of_a_later_level_serves_no_earlier_one() -> None:
    stock = (Stock(code="B-120", length_mm=1200, width_mm=1000, quantity=1, level="L3"),)
    found = plan(building(stock=stock), staging="level")
    assert found.boards["B-120"].count == 2


def test_a_product_named_like_a_row_of_the_stock_is_refused_with_the_mend() -> None:
    products = (*building().products, Board(code="stock-1", length_mm=1200, width_mm=500))
    stock = (Stock(code="B-120", length_mm=1200, width_mm=380),)
    with pytest.raises(CannotBeDone, match="rename the product"):
        plan(building(products=products, stock=stock))


# -- several boards for a run


def two_boards(price_small: str, price_large: str) -> Project:
    products = (
        Board(code="S", length_mm=1200, width_mm=500, per_pack=3, price=price_small),
        Board(code="L", length_mm=1200, width_mm=1000, per_pack=2, price=price_large),
        *(product for product in building().products if product.kind != "board"),
    )
    project = building(storeys=1, products=products, runs=(), gaps=())
    runs = (
        Run(run="L1-N", level="L1", length_mm=2400, board=("S", "L")),
        Run(run="L1-S", level="L1", length_mm=1200, board=("L",)),
    )
    gaps = tuple(Gap(run=run.run, at_mm=0, gap_mm=150) for run in runs)
    return Project(**{**dict(project), "runs": runs, "gaps": gaps})


def test_of_several_boards_the_cheapest_mix_is_bought() -> None:
    # three pieces 165 mm wide: one L takes all; S takes the two of L1-N only
    found = plan(two_boards("30.00", "20.00"))
    assert {code: count.count for code, count in found.boards.items()} == {"S": 0, "L": 1}
    assert found.boards["L"].lower_bound == 1  # L1-S may be cut from L only
    assert (found.proofs[0].codes, found.proofs[0].cost_cents, found.proofs[0].optimal) == (
        ("S", "L"),
        1000,
        True,
    )


def test_without_prices_the_least_board_area_is_bought() -> None:
    found = plan(two_boards("0", "0"))
    assert {code: count.count for code, count in found.boards.items()} == {"S": 0, "L": 1}
    assert any("S, L" in warning and "least board area" in warning for warning in found.warnings)


def test_board_codes_are_grouped_where_they_share_runs() -> None:
    runs = [
        Run(run=str(n), level="L", length_mm=1, board=tuple(codes))
        for n, codes in enumerate(("AB", "C", "BD", "E"))
    ]
    assert families_of(runs) == (("A", "B", "D"), ("C",), ("E",))


@given(
    packs=st.lists(st.tuples(st.integers(1, 30), st.integers(1, 100_000)), min_size=1, max_size=4),
)
def test_prices_per_board_are_exact(packs: list[tuple[int, int]]) -> None:
    boards = [
        Board(
            code=str(n),
            length_mm=1200,
            width_mm=1000,
            per_pack=per_pack,
            price=f"{cents / 100:.2f}",
        )
        for n, (per_pack, cents) in enumerate(packs)
    ]
    problem = CuttingProblem(
        boards=tuple(
            BoardToCut(code=board.code, length_mm=1200, width_mm=1000, price_cents=price_of_a_board(board))
            for board in boards
        ),
        pieces=(),
        objective=Objective.LEAST_COST,
    )
    for board, price in zip(boards, problem.solver_prices, strict=True):
        exact = Fraction(cents_of(board.price), board.per_pack)
        assert price * problem.unit <= exact
        if max(problem.solver_prices) < 10**8:
            assert price * problem.unit == exact


# -- what is left out, and what is said


def test_nothing_to_plan_is_refused_with_every_place() -> None:
    with pytest.raises(CannotBeDone) as refused:
        plan(building(storeys=2, gap_mm=900))
    assert len([reason for reason in refused.value.reasons if "-N" in reason]) == 2


def test_a_place_without_bracket_is_listed_and_still_cut() -> None:
    products = tuple(product for product in building().products if product.kind != "bracket")
    found = plan(building(storeys=1, products=products))
    assert [place.what for place in found.not_planned] == ["bracket", "bracket"]
    assert len(found.pieces) == 2
    assert found.counts["L1"].anchors == 0


def test_warnings_name_what_the_plan_rests_on() -> None:
    products = tuple(product for product in building().products if product.kind not in ("anchor", "tape"))
    levels = (
        Level(level="L1", sequence=1, needed_on=date(2027, 3, 7)),  # a Sunday
        Level(level="L2", sequence=2, needed_on=date(2027, 2, 1)),
        Level(level="L3", sequence=3),
    )
    gaps = tuple(Gap(run=f"L{n}-N", at_mm=0, gap_mm=150, basis="nominal") for n in (1, 2, 3))
    project = building(products=products, levels=levels, gaps=gaps, project=Heading(country="XX"))
    said = " | ".join(plan(project, staging="level").warnings)
    for words in (
        "oversize_min 0.1",
        "no anchor",
        "no tape",
        "Nominal gaps, not measured: levels L1, L2, L3",
        "No needed_on date: level L3",
        "working days of 'XX' are not known",
        "L1 (2027-03-07)",
        "L2 before L1",
        "No price: product K-110",
    ):
        assert words in said


def test_an_offcut_larger_than_its_board_is_warned_of() -> None:
    """2400 mm written for 240 mm would leave the order short of boards."""
    (board,) = (product for product in building().products if isinstance(product, Board))
    sound = Stock(code=board.code, length_mm=board.length_mm, width_mm=board.width_mm)
    slip = Stock(code=board.code, length_mm=1200, width_mm=2400)
    assert not any("Stock larger" in told for told in plan(building(stock=(sound,))).warnings)
    (told,) = (one for one in plan(building(stock=(sound, slip))).warnings if "Stock larger" in one)
    assert f"{board.code} 1200 x 2400 (its board is {board.length_mm} x {board.width_mm})" in told


def test_cautions_stand_on_every_plan_and_nothing_is_called_compliant() -> None:
    found = plan(building())
    said = " ".join(found.cautions)
    for words in (
        "fall protection",
        "respirator",
        "away from the body",
        "Lifting",
        "practitioner",
        "EN 1366-4",
    ):
        assert words in said
    assert "complian" not in plan_json(found).lower()


# -- allowance, progress, time, seeds


def test_the_allowance_stands_beside_what_is_needed() -> None:
    found = plan(
        building(storeys=1, length_mm=24_000, allowance=(Allowance(kind="bracket", fraction="0.05"),))
    )
    bracket = next(line for line in found.order.lines if line.kind == "bracket")
    assert (bracket.needed, bracket.allowance, bracket.quantity) == (40, 2, 42)
    assert all(line.allowance == 0 for line in found.order.lines if line.kind != "bracket")


def test_a_simulated_allowance_of_a_complete_survey_is_nothing() -> None:
    found = plan(building(storeys=1, allowance=(Allowance(kind="board", fraction="simulated"),)))
    assert [line.allowance for line in found.order.lines if line.kind == "board"] == [0]


def test_progress_is_told_in_boards() -> None:
    told: list[PlanProgress] = []
    plan(building(), progress=told.append)
    assert told[-1].codes == ("B-120",)
    assert told[-1].counts_boards
    assert told[-1].bound <= told[-1].best


def test_equal_seeds_give_equal_plans() -> None:
    assert without_seconds(plan(building(), seed=3)) == without_seconds(plan(building(), seed=3))


def without_seconds(found: Plan) -> Plan:
    proofs = tuple(proof.model_copy(update={"solve_seconds": 0.0}) for proof in found.proofs)
    return found.model_copy(update={"proofs": proofs})


def test_a_plan_that_the_judge_rejects_is_not_handed_out(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("optimiser.planning.assembled.CAUTIONS", ("",))
    with pytest.raises(BreaksRules) as refused:
        plan(small_project())
    assert "cautions" in refused.value.rules[0]


def test_the_detail_keeps_its_placeholders_through_plan_json() -> None:
    found = plan(building(detail=Detail(oversize_min="0.10")))
    read = Plan.model_validate_json(plan_json(found))
    assert read == found
    assert read.project.detail.placeholders == found.project.detail.placeholders


# -- whatever the project


@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)
@given(project=projects(), staging=st.sampled_from(STAGINGS))
def test_every_plan_keeps_every_rule_and_reads_back_equal(project: Project, staging: Staging) -> None:
    try:
        found = plan(project, staging=staging)
    except BreaksRules:
        raise
    except CannotBeDone:
        return
    assert broken_rules_of_plan(found, project) == []
    assert Plan.model_validate_json(plan_json(found)) == found


# -- a search that is stopped


def test_a_stopped_search_is_told_and_its_plan_keeps_every_rule() -> None:
    project = building()
    stopped = plan(project, stop_after=0.0)
    assert stopped.warnings[0] == SEARCH_STOPPED
    assert broken_rules_of_plan(stopped, project) == []
    assert stopped.boards["B-120"].lower_bound <= stopped.boards["B-120"].count


def test_an_end_that_is_not_met_leaves_the_plan_as_it_is() -> None:
    free, ended = plan(building()), plan(building(), stop_after=3600.0)
    assert SEARCH_STOPPED not in ended.warnings
    assert ended.layouts == free.layouts
    assert ended.warnings == free.warnings
