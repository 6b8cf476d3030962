"""The cheapest boards that could hold whole strips: strips that keep all conditions, and plans made of them."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from benchmarks.instances.real_projects import facade_in_sizes
from benchmarks.open_groups import MIXTURES
from optimiser.checking import broken_rules_of_result
from optimiser.cutting import cheapest_strips as module
from optimiser.cutting import least_cost, strip_program
from optimiser.cutting.cheapest_strips import cheapest_strips
from optimiser.cutting.columns import complete
from optimiser.cutting.demand import Demand, prepare
from optimiser.cutting.generation import ColumnGeneration
from optimiser.cutting.master import StripColumn
from optimiser.cutting.problem import Board, CuttingProblem, Objective, Piece
from optimiser.cutting.solve import solve
from optimiser.cutting.strip_conditions import Condition
from optimiser.cutting.strip_program import StripPatterns, strips_formed
from optimiser.cutting.whole_strips import WholeStrips


def few_pieces(mixture: str, seed: int) -> CuttingProblem:
    """The first pieces of a small facade, on boards of the mixture's sizes."""
    posed = facade_in_sizes("S", seed, MIXTURES[mixture])
    return posed.model_copy(update={"pieces": posed.pieces[:18]})


def by_width(demand: Demand) -> list[Condition]:
    """That strips lie side by side on boards: of each family by their widths alone."""
    return [
        Condition.of(demand, f, (family.widths + family.kerf).astype(np.int64))
        for f, family in enumerate(demand.families)
    ]


@pytest.mark.parametrize("mixture", MIXTURES)
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_strips_hold_every_piece_once_and_keep_every_condition(mixture: str, seed: int) -> None:
    demand = prepare(few_pieces(mixture, seed))
    conditions = by_width(demand)
    chosen = cheapest_strips(StripPatterns(demand), conditions, 10**6)
    assert chosen is not None
    held = Counter(t for strip in chosen.strips for t in strip.types)
    assert held == {t: kind.demand for t, kind in enumerate(demand.types)}
    for condition in conditions:
        of = Counter(strip.width for strip in chosen.strips if strip.family == condition.family)
        assert condition.worth_of(of) <= condition.held_by(chosen.boards)


@pytest.mark.parametrize("mixture", MIXTURES)
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_no_plan_is_cheaper_than_strips_without_boards(
    mixture: str, seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With every pattern taken: the strips of any plan keep all conditions."""
    monkeypatch.setattr(module, "WORTH_TAKING", 1e9)
    posed = few_pieces(mixture, seed)
    demand = prepare(posed)
    result = solve(posed, waiting=False)
    chosen = cheapest_strips(StripPatterns(demand), by_width(demand), 10**6)
    assert chosen is not None
    cost = sum(source.price * n for source, n in zip(demand.sources, chosen.boards, strict=True))
    assert cost * posed.unit <= result.cost


def test_nothing_is_chosen_where_nothing_costs_less() -> None:
    demand = prepare(few_pieces("three sizes", 1))
    every, conditions = StripPatterns(demand), by_width(demand)
    chosen = cheapest_strips(every, conditions, 10**6)
    assert chosen is not None
    cost = sum(source.price * n for source, n in zip(demand.sources, chosen.boards, strict=True))
    assert cheapest_strips(every, conditions, cost // 2) is None
    assert cheapest_strips(every, conditions, 1) is None


@pytest.mark.parametrize("mixture", MIXTURES)
def test_a_plan_on_them_costs_less_and_breaks_no_rule(mixture: str, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[int] = []
    usual = WholeStrips.cheapest

    def told(self: WholeStrips, below: int, *rest: object) -> object:
        plan = usual(self, below, *rest)  # type: ignore[arg-type]
        asked.append(below)
        assert plan is None or plan.cost < below
        return plan

    monkeypatch.setattr(least_cost, "FEWEST_PIECES_ALONE", 0)
    monkeypatch.setattr(WholeStrips, "cheapest", told)
    posed = facade_in_sizes("S", 3, MIXTURES[mixture])
    result = solve(posed, waiting=False, time_limit=1.0)
    assert broken_rules_of_result(result, posed) == []
    assert asked or result.optimal


def test_where_patterns_are_too_many_the_known_ones_prove_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """Four of 500 x 400 are two strips of two, which a board holds; of strips of one piece it holds but two."""
    demand = prepare(
        CuttingProblem(
            boards=(Board(length_mm=1200, width_mm=1000),),
            objective=Objective.FEWEST_BOARDS,
            pieces=(Piece(id="P", length_mm=500, width_min_mm=400, width_max_mm=400, quantity=4),),
        )
    )
    pairs = [StripColumn(0, 0, ((0, 2),))]
    conditions = by_width(demand)
    assert strips_formed(StripPatterns(demand), conditions, (1,), 1.0).possible is True
    monkeypatch.setattr(strip_program, "MOST_PATTERNS", 1)
    assert strips_formed(StripPatterns(demand), conditions, (1,), 1.0).possible is None
    assert strips_formed(StripPatterns(demand, lambda: pairs), conditions, (1,), 1.0).possible is True


def test_generation_tells_the_strips_that_it_has_found() -> None:
    demand = prepare(few_pieces("three sizes", 2))
    start = complete(demand, [])
    generation = ColumnGeneration(demand, start)
    known = set(generation.known_strips())
    assert known
    generation.run(lambda: start.cost, lambda: False)
    assert known < set(generation.known_strips())


@pytest.mark.parametrize("mixture", MIXTURES)
def test_what_is_chosen_always_costs_less(mixture: str) -> None:
    """Each choice as the next one's limit, until there is none."""
    demand = prepare(few_pieces(mixture, 4))
    every, conditions = StripPatterns(demand), by_width(demand)
    below = 10**6
    while chosen := cheapest_strips(every, conditions, below):
        cost = sum(source.price * n for source, n in zip(demand.sources, chosen.boards, strict=True))
        assert cost < below
        below = cost
