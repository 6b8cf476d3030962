"""Places that no cut piece serves are cut anew: from what is on hand where that saves boards, then from boards.

What is on hand serves any level, whenever it was left. Boards are staged as the plan's were: each delivery's for
itself (level), for so many later ones (carry), or for any (whole); a nominal level is cut with its own delivery.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from optimiser.carried_or_apart import no_worse_than_apart
from optimiser.cutting.problem import CuttingProblem, CuttingResult, Layout, LeftOver, Offcut
from optimiser.cutting.solve import Clock, fewest_boards, solve
from optimiser.cutting_stages import Stages, board_families, stock_rows
from optimiser.forecast import forecast_levels, solve_forecasts_apart
from optimiser.joints import LaidPiece
from optimiser.on_hand import OnHand
from optimiser.plan import Plan
from optimiser.planned_pieces import piece_id, piece_to_cut
from optimiser.project import Project
from optimiser.refit import Material
from optimiser.remainders import remainders_of
from optimiser.reusing import End


@dataclass(frozen=True)
class CutAnew:
    """How the missing places are cut, in the survey's own sequence numbers.

    `boards` are taken, by code; `lower_bound` is proved: no way of cutting them takes fewer. `widths` and `source`
    (stock, code) are by place.
    """

    layouts: tuple[Layout, ...]
    boards: Counter[str]
    lower_bound: int
    materials: tuple[Material, ...]
    left_over: tuple[LeftOver, ...]
    widths: dict[str, int]
    source: dict[str, tuple[str, str]]


def cut_anew(
    plan: Plan,
    survey: Project,
    there: OnHand,
    ends: Sequence[End],
    places: Sequence[LaidPiece],
    missing: Sequence[LaidPiece],
    time_limit: float | None,
    seed: int,
) -> CutAnew:
    """Cuts the `missing` ones of the survey's places; `ends` are cut off shortened pieces."""
    materials = _materials(plan, there, ends)
    stages = Stages.of(survey)
    waiting = forecast_levels(places)
    forecast = frozenset(piece_id(place) for place in missing if place.level in waiting)
    sizes = {p.code: (p.length_mm or 0, p.width_mm or 0) for p in survey.products_of("board")} | {
        item.id: (item.length_mm, item.width_mm) for item in materials
    }
    code_of = {item.id: item.code for item in materials}
    layouts: list[Layout] = []
    bound = 0
    time_left, pieces_left = time_limit, len(missing)
    for family in board_families(survey, [piece_to_cut(survey, place) for place in missing], "whole"):
        count = len(family.problem.pieces)
        share = None if time_left is None else max(0.0, time_left) * count / pieces_left
        offcuts = tuple(
            Offcut(
                id=item.id,
                code=item.code,
                length_mm=item.length_mm,
                width_mm=item.width_mm,
                quantity=item.quantity,
            )
            for item in materials
            if item.code in family.codes
        )
        problem = family.problem.model_copy(update={"offcuts": offcuts, "max_carry_stages": None})
        result, proved = _staged(problem, forecast, plan.max_carry_stages, share, seed)
        pieces_left -= count
        time_left = None if time_left is None else time_left - result.solve_seconds
        bound += proved
        for layout in result.layouts:
            stock = layout.stock if layout.stock in sizes else family.codes[0]
            update = {
                "stage": stages.sequence(layout.stage),
                "code": code_of.get(stock, stock),
                "stock": stock,
            }
            layouts.append(layout.model_copy(update=update))
    cut = [(layout, piece) for layout in layouts for strip in layout.strips for piece in strip.pieces]
    boards: Counter[str] = Counter()
    for layout in layouts:
        boards[layout.code] += 0 if layout.stock in code_of else layout.repeat
    return CutAnew(
        layouts=tuple(layouts),
        boards=+boards,
        lower_bound=bound,
        materials=materials,
        left_over=_left_over(survey, there, materials, layouts, sizes, stages.sequence(1)),
        widths={piece.id: piece.width_mm for _, piece in cut},
        source={piece.id: (layout.stock, layout.code) for layout, piece in cut},
    )


def _staged(
    problem: CuttingProblem, forecast: Collection[str], carry: int | None, seconds: float | None, seed: int
) -> tuple[CuttingResult, int]:
    """The recut under the plan's staging, and a proved bound on its boards.

    Limited carrying with material on hand is solved both delivery by delivery and carried with the material
    used first, and the better is taken: its bound is that of unlimited carrying.
    """

    def each(part: CuttingProblem, limit: float | None) -> CuttingResult:
        return solve(part, time_limit=limit, seed=seed)

    every = [piece.id for piece in problem.pieces]
    if carry is None:
        result = solve_forecasts_apart(problem, forecast, each, seconds)
        return result, result.lower_bound
    if carry == 0:
        result = solve_forecasts_apart(problem, every, each, seconds)
        return result, result.lower_bound
    limited = problem.model_copy(update={"max_carry_stages": carry})
    if not problem.offcuts:
        result = solve_forecasts_apart(limited, forecast, no_worse_than_apart(each), seconds)
        return result, result.lower_bound
    third = None if seconds is None else seconds / 3
    first = min(piece.stage for piece in problem.pieces)
    at_first = tuple(offcut.model_copy(update={"stage": first}) for offcut in problem.offcuts)
    carried = solve_forecasts_apart(limited.model_copy(update={"offcuts": at_first}), forecast, each, third)
    apart = solve_forecasts_apart(problem, every, each, third)
    better = min((carried, apart), key=lambda result: (result.cost_cents or 0, result.boards))
    if better.boards == 0:
        return better, 0
    return better, min(better.boards, fewest_boards(problem, Clock(third)))


def _left_over(
    survey: Project,
    there: OnHand,
    materials: Sequence[Material],
    layouts: Sequence[Layout],
    sizes: dict[str, tuple[int, int]],
    first: int,
) -> tuple[LeftOver, ...]:
    """What the recut leaves, in sizes that can serve, and material that it does not touch (there from the first)."""
    counted: Counter[tuple[int, str, int, int]] = Counter()
    unused = Counter({item.id: item.quantity for item in materials})
    for layout in layouts:
        if layout.stock in unused:
            unused[layout.stock] -= layout.repeat
        least = there.smallest.get(layout.code, (1, 1))
        for length, width in remainders_of(layout, sizes[layout.stock], survey.detail.kerf_mm):
            if length >= least[0] and width >= least[1]:
                counted[layout.stage, layout.code, length, width] += layout.repeat
    for item in materials:
        if unused[item.id]:
            counted[first, item.code, item.length_mm, item.width_mm] += unused[item.id]
    return tuple(
        LeftOver(stage=stage, code=code, length_mm=length, width_mm=width, quantity=count)
        for (stage, code, length, width), count in sorted(counted.items())
    )


def _materials(plan: Plan, there: OnHand, ends: Sequence[End]) -> tuple[Material, ...]:
    """Left-overs of boards already cut, stock not cut yet, and the ends of shortened pieces, if large enough."""
    found = [
        Material(id=f"left-over-{number}", code=code, length_mm=length, width_mm=width, quantity=count,
                 what="left over when the plan was cut")
        for number, ((code, length, width), count) in enumerate(sorted(there.rests.items()), start=1)
    ]  # fmt: skip
    for name, row in stock_rows(plan.project).items():
        if there.stock_left[name] > 0:
            found.append(
                Material(id=name, code=row.code, length_mm=row.length_mm, width_mm=row.width_mm,
                         quantity=there.stock_left[name], what="stock on site, not cut")
            )  # fmt: skip
    for piece, code, length, width in ends:
        least = there.smallest.get(code, (1, 1))
        if length >= least[0] and width >= least[1]:
            found.append(
                Material(id=f"end-of-{piece}", code=code, length_mm=length, width_mm=width, quantity=1,
                         what=f"cut off piece {piece} when it is shortened")
            )  # fmt: skip
    return tuple(found)
