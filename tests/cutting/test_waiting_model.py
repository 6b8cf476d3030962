"""The program of waiting proves bounds: true for any prices, and as good as the program's own value for its duals."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import product
from random import Random

import numpy as np
import pytest

from optimiser.cutting.problem import Board, CuttingProblem, Objective, Offcut, Piece
from optimiser.cutting.waiting_bound import DEARER, DEAREST, WHOLE, _children, prove
from optimiser.cutting.waiting_kinds import Aim
from optimiser.cutting.waiting_model import INFINITE, Node, WaitingModel

LENGTH = 1000


def problem_of(
    *pieces: tuple[int, int, int, int],
    widths: tuple[int, ...] = (1000,),
    prices: tuple[int, ...] = (1,),
    offcuts: tuple[Offcut, ...] = (),
    kerf: int = 0,
    carry: int | None = None,
) -> CuttingProblem:
    """Pieces as (stage, how many, length, width), on boards 1000 mm long."""
    return CuttingProblem(
        boards=tuple(
            Board(code=f"B{k}", length_mm=LENGTH, width_mm=width, kerf_mm=kerf, price_cents=price)
            for k, (width, price) in enumerate(zip(widths, prices, strict=True))
        ),
        pieces=tuple(
            Piece(
                id=f"P{k}",
                length_mm=length,
                width_min_mm=width,
                width_max_mm=width,
                quantity=count,
                stage=stage,
            )
            for k, (stage, count, length, width) in enumerate(pieces)
        ),
        offcuts=offcuts,
        max_carry_stages=carry,
        objective=Objective.LEAST_COST,
    )


def solved(model: WaitingModel, node: Node) -> tuple[float, Fraction]:
    """The program's value once no strip improves it and no room is used that no plan has; the bound of its duals."""
    model.set_node(node)
    for t, kind in enumerate(
        model.kinds
    ):  # alone in a strip that is opened whenever: else too few may wait at first
        model.add_strips([(s, (t,), kind.width_min) for s in range(kind.rank + 1)])
    while True:
        value = model.solve_once()
        new, bound = model.price(model.duals(), node)
        if not new:
            if model.opened()[1] <= WHOLE or model.excess_price >= DEAREST:
                return value, bound
            model.raise_excess_price(DEARER)


def node(
    ranks: int,
    least: dict[int, int] | None = None,
    most: dict[int, int] | None = None,
    least_waiting: dict[int, int] | None = None,
    most_waiting: dict[int, int] | None = None,
) -> Node:
    """Limits by rank of the stage; nothing else is limited."""
    return Node(
        tuple((least or {}).get(s, 0) for s in range(ranks)),
        tuple((most or {}).get(s, INFINITE) for s in range(ranks)),
        tuple((least_waiting or {}).get(s, 0) for s in range(ranks)),
        tuple((most_waiting or {}).get(s, INFINITE) for s in range(ranks)),
    )


THREE_STAGES = problem_of((1, 3, 1000, 300), (2, 5, 1000, 250), (2, 3, 400, 350), (3, 4, 1000, 450))


@pytest.mark.parametrize(
    "limits",
    [
        node(3),
        node(3, most={0: 1}),
        node(3, least={0: 2}),
        node(3, least={0: 2}, most={1: 3}),
        node(3, least_waiting={0: 2}),
        node(3, most_waiting={0: 1}),
        node(3, least={0: 2}, least_waiting={1: 1}, most_waiting={0: 3}),
    ],
    ids=["free", "few early", "many early", "both", "some wait", "few wait", "all of it"],
)
@pytest.mark.parametrize("cost", [5, 6])
def test_the_duals_of_a_solved_program_prove_its_value(limits: Node, cost: int) -> None:
    """Strong duality: what is rounded in between is far less than a thousandth of a piece."""
    model = WaitingModel(THREE_STAGES, Aim(cost, (1, 3, 5)))
    value, bound = solved(model, limits)
    assert float(bound) == pytest.approx(value, abs=1e-3)
    assert float(bound) <= value + 1e-6


SEVERAL = problem_of(
    (1, 3, 1000, 300),
    (2, 5, 1000, 250),
    (2, 3, 400, 350),
    (3, 4, 1000, 450),
    widths=(1000, 600),
    prices=(50, 33),
    offcuts=(
        Offcut(id="early", length_mm=1000, width_mm=320),
        Offcut(id="late", length_mm=1000, width_mm=260, stage=2),
    ),
    kerf=3,
)


@pytest.mark.parametrize("cost", [205, 215, 225])
@pytest.mark.parametrize(
    "most", [{}, {"B1": 1}, {"B0": 3, "B1": 2}], ids=["no limit", "one limit", "two limits"]
)
def test_so_they_do_with_prices_limits_by_code_and_offcuts(cost: int, most: dict[str, int]) -> None:
    model = WaitingModel(SEVERAL, Aim(cost, (50, 120, 200), most_boards=most))
    for limits in (node(3), node(3, most={0: 1}), node(3, least={1: 4}), node(3, least_waiting={0: 1})):
        value, bound = solved(model, limits)
        if model.opened()[1] <= WHOLE:  # else no plan keeps these limits, and the value is the price of that
            assert float(bound) == pytest.approx(value, abs=1e-2)
        assert float(bound) <= value + 1e-6


@pytest.mark.parametrize("price", [Fraction(1, 4), Fraction(3), Fraction(40)])
def test_so_they_do_where_cost_and_waiting_are_one_sum(price: Fraction) -> None:
    for posed in (THREE_STAGES, SEVERAL):
        model = WaitingModel(posed, Aim(None, (1, 3, 5), carry_cost=price))
        value, bound = solved(model, node(3))
        assert float(bound) == pytest.approx(value, rel=1e-4)
        assert float(bound) <= value + 1e-6


@pytest.mark.parametrize("cost", [2, 3])
def test_so_they_do_where_tapered_pieces_of_one_type_lie_head_to_tail(cost: int) -> None:
    """200 to 300 mm over the board's length: four in pairs of 500 mm on a board, three where each lies alone."""
    tapered = {"length_mm": LENGTH, "width_min_mm": 300, "width_max_mm": 1000}
    ends = {"width_start_mm": 200, "width_end_mm": 300}
    posed = problem_of(widths=(1000,), prices=(1,)).model_copy(
        update={
            "pieces": tuple(
                Piece.model_validate({"id": f"P{stage}", "quantity": 4, "stage": stage, **tapered, **ends})
                for stage in (1, 2)
            )
        }
    )
    value, bound = solved(WaitingModel(posed, Aim(cost, (1, 2))), node(2))
    assert value == pytest.approx(0.0, abs=1e-6)
    assert float(bound) <= value + 1e-6
    two, six = (
        piece.model_copy(update={"quantity": count})
        for piece, count in zip(posed.pieces, (2, 6), strict=True)
    )
    three = posed.model_copy(update={"pieces": (two, six)})
    value, bound = solved(WaitingModel(three, Aim(2, (1, 2))), node(2))
    assert value == pytest.approx(2.0)
    assert float(bound) == pytest.approx(value, abs=1e-3)


def plans(widths: list[int], stages: list[int]) -> Iterator[tuple[list[int], int, list[int]]]:
    """Every way to deal out full-length strips to boards of 1000 mm: boards opened until each stage, what waits, and
    how many wait from each stage to the next."""
    numbers = sorted(set(stages))
    for place in product(range(len(widths)), repeat=len(widths)):
        if any(board > max(place[:k], default=-1) + 1 for k, board in enumerate(place)):
            continue  # boards are numbered as they come
        held = [[k for k, board in enumerate(place) if board == b] for b in set(place)]
        if any(sum(widths[k] for k in board) > 1000 for board in held):
            continue
        opened = [min(stages[k] for k in board) for board in held]
        until = [sum(stage <= number for stage in opened) for number in numbers]
        since = {k: stage for stage, board in zip(opened, held, strict=True) for k in board}
        waiting = [sum(since[k] <= number < stages[k] for k in since) for number in numbers]
        yield until, sum(stages[k] - since[k] for k in since), waiting


@pytest.mark.parametrize("seed", range(8))
def test_any_prices_prove_a_bound_that_no_plan_beats(seed: int) -> None:
    """Prices at random, or the program's own pushed about, at limits that some plan keeps."""
    random = Random(f"waiting {seed}")
    widths = [random.randint(200, 700) for _ in range(6)]
    stages = sorted(random.randint(1, 3) for _ in widths)
    posed = problem_of(*((stage, 1, 1000, width) for stage, width in zip(stages, widths, strict=True)))
    every = list(plans(widths, stages))
    fewest = min(until[-1] for until, _, _ in every)
    model = WaitingModel(posed, Aim(fewest + seed % 2))
    ranks = model.ranks
    within = [plan for plan in every if plan[0][-1] <= fewest + seed % 2]
    for _ in range(15):
        until, _, waiting = random.choice(within)
        least = tuple(max(0, n - random.randint(0, 1)) for n in until)
        most = tuple(random.choice([INFINITE, n + random.randint(0, 1)]) for n in until)
        some = tuple(max(0, n - random.randint(0, 1)) for n in waiting)
        few = tuple(random.choice([INFINITE, n]) for n in waiting)
        limits = Node(least, most, some, few)
        truth = min(
            waits
            for opened, waits, late in within
            if all(a <= n <= b for a, n, b in zip(least, opened, most, strict=True))
            and all(a <= n <= b for a, n, b in zip(some, late, few, strict=True))
        )
        model.set_node(limits)
        model.solve_once()
        noise = np.array([random.choice([0.0, random.uniform(-1, 1)]) for _ in range(model.rows)])
        for duals in (model.duals(), noise, model.duals() + noise):
            _, bound = model.price(duals, limits)
            assert 0 <= bound <= truth
    assert prove(model, lambda: None, 10**6, lambda: False).value <= min(waits for _, waits, _ in within)
    assert ranks == len(set(stages))


def test_a_fraction_of_a_board_is_excluded_by_both_branches_and_no_whole_number_is() -> None:
    fewer, more = _children(Node.free(3), ([0.5, 1.2, 3.0], [0.0, 0.0, 0.0])) or (None, None)
    assert fewer is not None
    assert more is not None
    assert (fewer.least, fewer.most) == ((0, 0, 0), (0, INFINITE, INFINITE))
    assert (more.least, more.most) == ((1, 1, 1), (INFINITE,) * 3)


def test_where_boards_are_whole_pieces_that_wait_are_branched_on() -> None:
    given = node(2, least_waiting={0: 1}, most_waiting={0: 4})
    fewer, more = _children(given, ([1.0, 3.0], [2.5, 0.1])) or (None, None)
    assert fewer is not None
    assert more is not None
    assert (fewer.least_waiting, fewer.most_waiting) == ((1, 0), (2, INFINITE))
    assert (more.least_waiting, more.most_waiting) == ((3, 0), (4, INFINITE))
    assert _children(given, ([1.0, 3.0], [2.0, 0.0])) is None


def test_duals_that_ask_too_much_of_a_board_prove_what_is_left_when_they_are_scaled_down() -> None:
    """Two pieces as wide as a board: at four boards a piece the duals are four times too large."""
    model = WaitingModel(
        problem_of((1, 1, 1000, 1000), (2, 1, 1000, 1000)), Aim(None, carry_cost=Fraction(1))
    )
    duals = np.zeros(model.rows)
    duals[:2] = 4.0
    assert model.price(duals, Node.free(2))[1] == 2
    duals[model.waiting_row] = -9.0  # a piece that waits costs nine, and one may
    assert model.price(duals, node(2, most_waiting={0: 1}))[1] == 0


def test_an_offcut_that_comes_too_late_for_all_that_is_worth_something_takes_nothing_off_the_bound() -> None:
    late = Offcut(id="late", length_mm=1000, width_mm=900, stage=2)
    model = WaitingModel(problem_of((1, 1, 400, 1000), (2, 1, 400, 900), offcuts=(late,)), Aim(0))
    duals = np.zeros(model.rows)
    duals[[kind.rank for kind in model.kinds].index(0)] = 1.0
    assert model.price(duals, Node.free(2))[1] == 1
