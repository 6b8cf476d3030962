"""The bound over all joint layouts: no layout of as few joints, however it is cut, uses fewer boards."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from itertools import product
from math import ceil, floor

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from optimiser.boards.joint_bound import SCALE, JointBound
from optimiser.boards.joint_prices import LengthFunctions
from optimiser.boards.problems import board_families
from optimiser.boards.proof_over_joints import with_bounds_over_joints
from optimiser.checking import broken_rules_of_plan
from optimiser.cutting.problem import CuttingProblem, Piece
from optimiser.cutting.solve import solve
from optimiser.errors.problems import CannotBeDone
from optimiser.joints.layout import lay_out
from optimiser.model.plan import Staging
from optimiser.model.project import Board, Detail, Gap, Level, Project, Run, Stock
from optimiser.planning.plan import plan
from optimiser.survey.gap_line import GapAlongRun
from tests.boards.test_joint_pricing import building
from tests.builders import levels
from tests.builders.brute_force import minimum_by_trying_everything
from tests.builders.quick_plans import plan_sought_briefly
from tests.builders.random_projects import projects
from tests.ordering.test_order import with_nominal

LENGTH, LEAST = 12, 4  # of a board and of the shortest piece, mm
Shape = tuple[int, int, int, tuple[int, int] | None]


@st.composite
def tiny_buildings(draw: st.DrawFn) -> Project:
    """One or two runs of a few pieces on boards of some 12 x 10 mm; gaps may slope, so that pieces are tapered."""
    kerf = draw(st.integers(0, 1))
    boards = [Board(code="A", length_mm=LENGTH, width_mm=draw(st.integers(9, 13)), price="9.00")]
    if draw(st.booleans()):
        length = draw(st.sampled_from((LENGTH, 8)))
        boards.append(Board(code="B", length_mm=length, width_mm=draw(st.integers(9, 13)), price="6.00"))
    runs, gaps = [], []
    for number in range(draw(st.integers(1, 2))):
        name, length = f"R{number}", draw(st.integers(LEAST, 2 * LENGTH))
        codes = draw(st.sampled_from([("A",), tuple(board.code for board in boards)]))
        mullions = tuple(draw(st.lists(st.integers(1, length - 1), max_size=1)))
        runs.append(Run(run=name, level="L", length_mm=length, board=codes, mullions_mm=mullions))
        measured = sorted({0, length, draw(st.integers(0, length))})
        gaps += [Gap(run=name, at_mm=at, gap_mm=draw(st.integers(2, 7))) for at in measured]
    stock = []
    if draw(st.booleans()):
        stock = [
            Stock(
                code="A", length_mm=draw(st.integers(4, LENGTH)), width_mm=draw(st.integers(3, 9)), quantity=1
            )
        ]
    detail = Detail(
        oversize_min=Decimal(0),
        oversize_max=draw(st.sampled_from((Decimal("0.2"), Decimal("0.5")))),
        gap_min_mm=1,
        gap_max_mm=20,
        piece_length_min_mm=LEAST,
        joint_to_mullion_min_mm=1,
        trim=draw(st.booleans()),
        kerf_mm=kerf,
        taper_max_mm=draw(st.sampled_from((0, 2, 30))),
    )
    return Project(
        detail=detail,
        products=tuple(boards),
        levels=(Level(level="L", sequence=1),),
        runs=tuple(runs),
        gaps=tuple(gaps),
        stock=tuple(stock),
    )


def needs(gap: GapAlongRun, x: int, detail: Detail) -> tuple[Fraction, Fraction]:
    return gap.at(x) * (1 + Fraction(detail.oversize_min)), gap.at(x) * (1 + Fraction(detail.oversize_max))


def shape(project: Project, run: Run, p: int, e: int) -> Shape | None:
    """Length, window and, of a tapered piece, its end widths, by trying every width; None: no piece is possible."""
    gap = GapAlongRun.of(project.building.gaps[run.run])
    sizes = [project.building.boards[code] for code in run.board]
    widest = max((size.width_mm for size in sizes if size.length_mm >= e - p), default=0)
    limits = [needs(gap, x, project.detail) for x in range(p, e + 1)]
    low, high = ceil(max(least for least, _ in limits)), floor(min(most for _, most in limits))
    if low <= high:
        return (e - p, low, high, None) if low <= widest else None
    edges = [
        (max(a, b), a + b, a, b)
        for a, b in product(range(1, widest + 1), repeat=2)
        if abs(a - b) <= project.detail.taper_max_mm
        and all(
            least <= Fraction(a * (e - x) + b * (x - p), e - p) <= most
            for x, (least, most) in zip(range(p, e + 1), limits, strict=True)
        )
    ]
    if not edges:
        return None
    wider, _, a, b = min(edges)
    return e - p, wider, wider, (a, b)


def layouts(project: Project, run: Run) -> list[tuple[Shape, ...]]:
    """Every layout of the fewest pieces, by trying every joint."""
    clear = project.detail.joint_to_mullion_min_mm
    joints = {x for x in range(1, run.length_mm) if all(abs(x - m) >= clear for m in run.mullions_mm)} | {
        run.length_mm
    }

    def from_place(p: int) -> Iterator[tuple[Shape, ...]]:
        if p == run.length_mm:
            yield ()
            return
        for e in sorted(joints):
            if LEAST <= e - p <= LENGTH and (piece := shape(project, run, p, e)):
                yield from ((piece, *rest) for rest in from_place(e))

    found = list(from_place(0))
    fewest = min(map(len, found), default=0)
    return [layout for layout in found if len(layout) == fewest]


def pieces_of(project: Project, runs: list[tuple[Run, tuple[Shape, ...]]]) -> tuple[Piece, ...]:
    widest = max(board.width_mm for board in project.building.boards.values())
    return tuple(
        Piece(
            id=f"{run.run}-{number}",
            length_mm=length,
            width_min_mm=low,
            width_max_mm=high if ends is None else widest,
            boards=tuple(
                code
                for code in run.board
                if project.building.boards[code].length_mm >= length
                and project.building.boards[code].width_mm >= low
            ),
            width_start_mm=ends[0] if ends else None,
            width_end_mm=ends[1] if ends else None,
        )
        for run, layout in runs
        for number, (length, low, high, ends) in enumerate(layout)
    )


def cost_of(problem: CuttingProblem) -> Fraction:
    """The least cost, by trying everything; with tapered pieces that of a plan, which no bound may pass either."""
    if any(piece.tapered for piece in problem.pieces):
        return Fraction(solve(problem, waiting=False).cost)
    minimum = minimum_by_trying_everything(problem)
    return Fraction(minimum.boards if problem.counts_boards else minimum.cost_cents)


def least_cost_over_layouts(project: Project, problem: CuttingProblem) -> Fraction:
    """Boards, or cents, of the cheapest layout, each cut in every way."""
    least: dict[tuple[Shape | str, ...], Fraction] = {}
    for chosen in product(*(layouts(project, run) for run in project.runs)):
        key = tuple(
            x
            for run, layout in zip(project.runs, chosen, strict=True)
            for x in (run.run, *sorted(map(str, layout)))
        )
        if key in least:
            continue
        pieces = pieces_of(project, list(zip(project.runs, chosen, strict=True)))
        least[key] = cost_of(problem.model_copy(update={"pieces": pieces}))
    return min(least.values())


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(tiny_buildings())
def test_no_layout_of_a_tiny_building_beats_the_bound(project: Project) -> None:
    tried = [layouts(project, run) for run in project.runs]
    assume(all(tried) and np.prod([len(t) for t in tried]) <= 200 and sum(len(t[0]) for t in tried) <= 4)
    laid = lay_out(project)
    families = board_families(project, laid.pieces, "whole")
    assume(len(families) == 1)
    problem = families[0].problem
    bound = JointBound(project, project.runs, problem)
    least = least_cost_over_layouts(project, problem)
    assert bound.best() * problem.unit <= least
    assert JointBound(project, project.runs, problem, fewest=False).best() * problem.unit <= least


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(tiny_buildings(), st.integers(0, 2**32))
def test_any_prices_prove_a_bound(project: Project, seed: int) -> None:
    """However bad the prices: the proof does not rest on the program that looks for good ones."""
    tried = [layouts(project, run) for run in project.runs]
    assume(all(tried) and np.prod([len(t) for t in tried]) <= 60 and sum(len(t[0]) for t in tried) <= 4)
    families = board_families(project, lay_out(project).pieces, "whole")
    assume(len(families) == 1)
    bound = JointBound(project, project.runs, families[0].problem)
    random = np.random.default_rng(seed)
    steps = [
        np.sort(random.integers(0, SCALE, (len(group.functions.worth), len(group.widths))), axis=1)
        for group in bound.groups
    ]
    proved = bound.evaluate(bound.exact, steps).bound * families[0].problem.unit
    assert proved <= least_cost_over_layouts(project, families[0].problem)


@settings(max_examples=10, deadline=None, suppress_health_check=list(HealthCheck))
@given(projects(max_runs=4))
def test_a_plan_never_uses_fewer_boards_than_the_bound_over_joints(project: Project) -> None:
    try:
        made = plan_sought_briefly(project, joint_rounds=0)
    except CannotBeDone:
        return
    for proof in made.proofs:
        if proof.lower_bound_any_joints is not None:
            assert 0 <= proof.lower_bound_any_joints <= proof.lower_bound <= proof.boards
        if proof.lower_bound_cents_any_joints is not None:
            assert 0 <= proof.lower_bound_cents_any_joints <= proof.lower_bound_cents
    assert broken_rules_of_plan(made, project) == []


def test_the_bound_over_joints_is_below_the_bound_of_joints_that_waste_a_board() -> None:
    """With the first joints thirteen boards are proved the fewest; other joints, as few, do with twelve."""
    project = building()
    first = plan(project, joint_rounds=0)
    (proof,) = first.proofs
    assert (proof.boards, proof.lower_bound, proof.lower_bound_any_joints) == (13, 13, 12)
    (priced,) = plan(project).proofs
    assert (priced.boards, priced.lower_bound_any_joints) == (12, 12)


@pytest.mark.parametrize(
    ("staging", "nominal", "boards", "bound"),
    [
        ("whole", (), 1, 1),
        ("carry", (), 2, 1),  # limits on carrying are left aside
        ("level", (), 3, 3),
        ("whole", ("L3",), 2, 2),
        ("whole", ("L1", "L3"), 3, 3),
    ],
)
def test_levels_that_share_no_boards_are_bounded_apart(
    staging: Staging, nominal: tuple[str, ...], boards: int, bound: int
) -> None:
    """A third of a board a level: each is rounded up where nothing is carried, and a nominal level always."""
    project = with_nominal(levels.building(), *nominal, tolerance_mm=None)
    (proof,) = plan(project, staging=staging, joint_rounds=0).proofs
    assert (proof.boards, proof.lower_bound_any_joints) == (boards, bound)


def test_each_board_is_bounded_by_the_runs_that_it_serves() -> None:
    """Two levels of six strips each from either board, and a run whose gap no piece can close."""
    base = levels.building(storeys=3, length_mm=7200)
    thick = Board(code="B-150", length_mm=1200, width_mm=1000, thickness_mm=150, price="60.00")
    runs = (base.runs[0], base.runs[1].model_copy(update={"board": ("B-150",)}), base.runs[2])
    gaps = (*base.gaps[:2], base.gaps[2].model_copy(update={"gap_mm": 900}))
    project = base.model_copy(update={"products": (thick, *base.products), "runs": runs, "gaps": gaps})
    made = plan(project, joint_rounds=0)
    assert {proof.codes: (proof.boards, proof.lower_bound_any_joints) for proof in made.proofs} == {
        ("B-120",): (1, 1),
        ("B-150",): (1, 1),
    }


def test_a_piece_as_wide_and_long_as_its_board_takes_it_all() -> None:
    """150 mm are closed with 165, the width of the board: exactly one board, not a part less."""
    base = levels.building(storeys=1, length_mm=1200)
    board = base.products[0].model_copy(update={"width_mm": 165})
    project = base.model_copy(update={"products": (board, *base.products[1:])})
    (family,) = board_families(project, lay_out(project).pieces, "whole")
    assert JointBound(project, project.runs, family.problem).best() == 1


def test_of_several_sizes_the_bound_over_joints_is_one_on_their_cost() -> None:
    base = levels.building(storeys=1)
    half = Board(code="B-HALF", length_mm=1200, width_mm=500, price=Decimal("30.00"))
    runs = tuple(run.model_copy(update={"board": ("B-120", "B-HALF")}) for run in base.runs)
    project = base.model_copy(update={"products": (half, *base.products), "runs": runs})
    (proof,) = plan(project, joint_rounds=0).proofs
    assert proof.lower_bound_any_joints is None
    assert proof.lower_bound_cents_any_joints is not None
    assert 2 * 165 * 53_00 / 1000 <= proof.lower_bound_cents_any_joints <= proof.cost_cents == 3000


def test_equal_projects_have_equal_bounds() -> None:
    project = building()
    made = plan(project, joint_rounds=0)
    laid = lay_out(project).pieces
    again = with_bounds_over_joints(project, laid, "whole", made.proofs)
    assert again == made.proofs


def test_without_time_there_is_no_bound_over_joints() -> None:
    project = building()
    laid = lay_out(project).pieces
    bare = tuple(
        proof.model_copy(update={"lower_bound_any_joints": None, "lower_bound_cents_any_joints": None})
        for proof in plan(project, joint_rounds=0).proofs
    )
    assert with_bounds_over_joints(project, laid, "whole", bare, lambda: 0.0) == bare


def test_a_very_long_edge_is_planned_without_a_bound_over_joints(monkeypatch: pytest.MonkeyPatch) -> None:
    project = building()
    monkeypatch.setattr("optimiser.boards.proof_over_joints.MOST_POSITIONS", 1_000)
    proofs = plan(project, joint_rounds=0).proofs
    assert all(proof.lower_bound_any_joints is None and proof.lower_bound > 0 for proof in proofs)


@pytest.mark.parametrize("kerf", [0, 3])
def test_no_strip_holds_more_than_the_functions_of_length_say(kerf: int) -> None:
    functions = LengthFunctions.of(40, kerf, (10, 15))
    held = functions.held_by(40)
    assert held.tolist() == [functions.unit] * len(functions.worth)
    assert (np.diff(functions.worth, axis=1) >= 0).all()
    for lengths in product(range(0, 41, 3), repeat=3):
        cut = [length for length in lengths if length]
        if sum(cut) + kerf * (len(cut) - 1) <= 40:
            assert (functions.worth[:, cut].sum(axis=1) <= held).all()
