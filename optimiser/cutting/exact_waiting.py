"""The least waiting of a small problem, exactly: the level-packing model of `exact` with a stage for every board.

Every strip is opened by one of its pieces and lies on one of the boards; a piece waits from the stage at which its
board is opened. CP-SAT minimises the waiting, or proves how little can wait.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from time import perf_counter
from typing import TYPE_CHECKING

from optimiser.cutting.demand import Demand
from optimiser.cutting.open_boards import OpenBoard, OpenStrip
from optimiser.cutting.parts import Source
from optimiser.cutting.problem import Piece

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

MOST_PIECES = 24
MOST_PLACES = 400  # pieces x boards


@dataclass(frozen=True)
class LeastWaiting:
    """The best plan found (None: none better than asked for) and what no plan has less of."""

    boards: list[OpenBoard] | None
    bound: int


def applies(demand: Demand, sources: Sequence[int]) -> bool:
    """No tapered pieces, one kerf, and few enough pieces and boards."""
    pieces = demand.problem.pieces
    count = sum(piece.quantity for piece in pieces)
    return (
        count <= MOST_PIECES
        and count * len(sources) <= MOST_PLACES
        and not any(piece.tapered for piece in pieces)
        and len({demand.sources[s].kerf for s in sources}) == 1
    )


def least_waiting(
    demand: Demand,
    sources: Sequence[int],
    most_cost: int,
    less_than: int,
    effort: float,
    seconds: float | None = None,
) -> LeastWaiting:
    """The least waiting with the boards `sources` (an entry a board, some may stay unopened) within `most_cost`, if
    it is less than `less_than`, by CP-SAT within `effort` deterministic seconds and `seconds` of the clock."""
    from ortools.sat.python import cp_model  # late: its import takes longer than most solves

    started = perf_counter()
    problem = demand.problem
    pieces = [(i, piece) for i, piece in enumerate(problem.pieces) for _ in range(piece.quantity)]
    pieces.sort(key=lambda item: (-item[1].width_min_mm, -item[1].length_mm, item[0]))
    bins = [demand.sources[s] for s in sources]
    model = cp_model.CpModel()
    n = len(pieces)
    stages = [piece.stage for _, piece in pieces]
    joins = [  # joins[j][i]: piece j lies in the strip that the wider piece i opens
        {
            i: model.new_bool_var("")
            for i in range(j)
            if _side_by_side(problem.trim, pieces[i][1], pieces[j][1])
        }
        for j in range(n)
    ]
    opens = [model.new_bool_var("") for _ in range(n)]
    on = [
        {b: model.new_bool_var("") for b, source in enumerate(bins) if _serves(source, piece)}
        for _, piece in pieces
    ]  # on[j][b]: piece j lies on board b
    carry = problem.max_carry_stages
    opened = [model.new_int_var(min(stages), max(stages), "") for _ in bins]
    since = [model.new_int_var(min(stages), stages[j], "") for j in range(n)]
    for j in range(n):
        model.add_exactly_one([opens[j], *joins[j].values()])
        model.add_exactly_one(on[j].values())
        for i, join in joins[j].items():
            model.add_implication(join, opens[i])
            for b in range(len(bins)):
                here, there = on[j].get(b), on[i].get(b)
                if here is not None and there is not None:
                    model.add(here == there).only_enforce_if(join)
                elif here is not None:
                    model.add_implication(join, here.negated())
                elif there is not None:
                    model.add_implication(join, there.negated())
        for b, var in on[j].items():
            model.add(since[j] == opened[b]).only_enforce_if(var)
            if carry is not None and bins[b].available is None:
                model.add(opened[b] >= stages[j] - carry).only_enforce_if(var)
    used = [model.new_bool_var("") for _ in bins]
    for b, source in enumerate(bins):
        widths = []
        for i in range(n):
            if b not in on[i]:
                continue
            model.add_implication(on[i][b], used[b])
            strip = model.new_bool_var("")  # piece i opens a strip on board b
            model.add_bool_or([opens[i].negated(), on[i][b].negated(), strip])
            model.add_implication(strip, opens[i])
            model.add_implication(strip, on[i][b])
            widths.append((pieces[i][1].width_min_mm + source.kerf) * strip)
            room = source.length + source.kerf
            taken = sum(
                (pieces[j][1].length_mm + source.kerf) * joins[j][i] for j in range(i + 1, n) if i in joins[j]
            )
            model.add(taken <= room - (pieces[i][1].length_mm + source.kerf)).only_enforce_if(strip)
        model.add(sum(widths) <= source.width + source.kerf)
        if b and sources[b] == sources[b - 1]:
            model.add_implication(used[b], used[b - 1])
            model.add(opened[b - 1] <= opened[b]).only_enforce_if([used[b - 1], used[b]])
    model.add(sum(source.price * var for source, var in zip(bins, used, strict=True)) <= most_cost)
    model.add(sum(stages) - sum(since) <= less_than - 1)
    model.maximize(sum(since))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 0
    solver.parameters.max_deterministic_time = effort
    if seconds is not None:
        solver.parameters.max_time_in_seconds = max(0.01, seconds - (perf_counter() - started))
    status = solver.solve(model)
    if status == cp_model.INFEASIBLE:
        return LeastWaiting(None, less_than)
    bound = 0
    if status == cp_model.OPTIMAL:
        bound = round(sum(stages) - solver.objective_value)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return LeastWaiting(None, bound)
    return LeastWaiting(_read(demand, solver, pieces, sources, opens, joins, on), bound)


def _side_by_side(trim: bool, opener: Piece, other: Piece) -> bool:
    """Whether a strip as wide as the opener's least width may hold the other, no wider, piece."""
    return trim or opener.width_min_mm <= other.width_max_mm


def _serves(source: Source, piece: Piece) -> bool:
    return (
        piece.length_mm <= source.length
        and piece.width_min_mm <= source.width
        and (not piece.boards or not source.code or source.code in piece.boards)
        and (source.available is None or source.first_stage <= piece.stage <= source.last_stage)
    )


def _read(
    demand: Demand,
    solver: cp_model.CpSolver,
    pieces: list[tuple[int, Piece]],
    sources: Sequence[int],
    opens: list[cp_model.IntVar],
    joins: list[dict[int, cp_model.IntVar]],
    on: list[dict[int, cp_model.IntVar]],
) -> list[OpenBoard]:
    type_of = {member: t for t, kind in enumerate(demand.types) for member in kind.members}
    boards = [OpenBoard(s, []) for s in sources]
    strips: dict[int, OpenStrip] = {}
    for j, (index, piece) in enumerate(pieces):
        opener = j if solver.value(opens[j]) else next(i for i, var in joins[j].items() if solver.value(var))
        if opener == j:
            strips[j] = OpenStrip(piece.width_min_mm, [])
            board = next(b for b, var in on[j].items() if solver.value(var))
            boards[board].strips.append(strips[j])
        strips[opener].held.append((type_of[index],))
        strips[opener].names.append([index])
    return [board for board in boards if board.strips]
