"""Places that no cut piece serves are re-cut: from what is on hand where that saves boards, then from boards.

What is on hand serves any level, whenever it was left. Boards are staged as the plan's were: each delivery's for
itself (level), for so many later ones (carry), or for any (whole); a nominal level is cut with its own delivery.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from optimiser.boards.carry_fallback import with_independent_stage_fallback
from optimiser.boards.forecast_levels import forecast_levels, solve_forecast_levels_separately
from optimiser.boards.offcuts import remainders_of
from optimiser.boards.problems import board_families
from optimiser.cutting.problem import CuttingProblem, CuttingResult, Offcut
from optimiser.cutting.solve import Clock, fewest_boards, solve
from optimiser.joints.layout import LaidPiece
from optimiser.model.budget import Budget
from optimiser.model.plan import Plan
from optimiser.model.planned_boards import PlannedLeftOver, PlannedPattern
from optimiser.model.project import Project
from optimiser.model.refit import Material
from optimiser.model.sizes import Size
from optimiser.model.staging import DeliverySequence
from optimiser.replanning.inventory import Inventory
from optimiser.replanning.reuse import End


@dataclass(frozen=True)
class RecutResult:
    """How the missing places are cut, in the survey's own sequence numbers.

    `boards` are taken, by code; `lower_bound` is proved: no way of cutting them takes fewer. `widths` and `source`
    (stock, code) are by place.
    """

    layouts: tuple[PlannedPattern, ...]
    boards: Counter[str]
    lower_bound: int
    materials: tuple[Material, ...]
    left_over: tuple[PlannedLeftOver, ...]
    widths: dict[str, int]
    source: dict[str, tuple[str, str]]


def recut_places(
    plan: Plan,
    survey: Project,
    inventory: Inventory,
    ends: Sequence[End],
    missing: Sequence[LaidPiece],
    time_limit: float | None,
    seed: int,
) -> RecutResult:
    """Cuts the `missing` places, those of the survey that no cut piece serves; `ends` are cut off shortened pieces.

    `time_limit` in seconds; None: until it is done. Raises CannotBeDone where boards that may serve a run cannot be cut
    together.
    """
    materials = _materials(plan, inventory, ends)
    building = survey.building
    waiting = forecast_levels(survey)
    forecast = frozenset(place.id for place in missing if place.level in waiting)
    sizes = {code: board.size for code, board in building.boards.items()} | {
        item.id: item.size for item in materials
    }
    code_of = {item.id: item.code for item in materials}
    layouts: list[PlannedPattern] = []
    bound = 0
    budget, pieces_left = Budget(time_limit), len(missing)
    for family in board_families(survey, missing, "whole"):
        count = len(family.problem.pieces)
        share = budget.share(count, of=pieces_left)
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
        result, proved = _staged(problem, forecast, plan.max_carry_stages, share.seconds, seed)
        pieces_left -= count
        budget = budget.after(result.solve_seconds)
        bound += proved
        for layout in result.layouts:
            stock = layout.stock if layout.stock in sizes else family.codes[0]
            layouts.append(
                PlannedPattern(
                    stock=stock,
                    stage=building.sequence_of_stage(layout.stage),
                    repeat=layout.repeat,
                    strips=layout.strips,
                    code=code_of.get(stock, stock),
                )
            )
    cut = [(layout, piece) for layout in layouts for strip in layout.strips for piece in strip.pieces]
    boards: Counter[str] = Counter()
    for layout in layouts:
        boards[layout.code] += 0 if layout.stock in code_of else layout.repeat
    return RecutResult(
        layouts=tuple(layouts),
        boards=+boards,
        lower_bound=bound,
        materials=materials,
        left_over=_left_over(survey, inventory, materials, layouts, sizes, building.sequences[0]),
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
        result = solve_forecast_levels_separately(problem, forecast, each, seconds)
        return result, result.lower_bound
    if carry == 0:
        result = solve_forecast_levels_separately(problem, every, each, seconds)
        return result, result.lower_bound
    limited = problem.model_copy(update={"max_carry_stages": carry})
    if not problem.offcuts:
        result = solve_forecast_levels_separately(
            limited, forecast, with_independent_stage_fallback(each), seconds
        )
        return result, result.lower_bound
    third = Budget(seconds).share(1, of=3).seconds
    first = min(piece.stage for piece in problem.pieces)
    at_first = tuple(offcut.model_copy(update={"stage": first}) for offcut in problem.offcuts)
    carried = solve_forecast_levels_separately(
        limited.model_copy(update={"offcuts": at_first}), forecast, each, third
    )
    apart = solve_forecast_levels_separately(problem, every, each, third)
    better = min((carried, apart), key=lambda result: (result.cost, result.boards))
    if better.boards == 0:
        return better, 0
    return better, min(better.boards, fewest_boards(problem, Clock(third)))


def _left_over(
    survey: Project,
    inventory: Inventory,
    materials: Sequence[Material],
    layouts: Sequence[PlannedPattern],
    sizes: Mapping[str, Size],
    first: DeliverySequence,
) -> tuple[PlannedLeftOver, ...]:
    """What the recut leaves, in sizes that can serve, and material that it does not touch (there from the first)."""
    counted: Counter[tuple[DeliverySequence, str, int, int]] = Counter()
    unused = Counter({item.id: item.quantity for item in materials})
    for layout in layouts:
        if layout.stock in unused:
            unused[layout.stock] -= layout.repeat
        least = inventory.smallest.get(layout.code, Size(1, 1))
        for rest in remainders_of(
            layout, sizes[layout.stock], survey.building.cutting_rules_of(layout.code).kerf_mm
        ):
            if rest.holds(least):
                counted[layout.sequence, layout.code, *rest] += layout.repeat
    for item in materials:
        if unused[item.id]:
            counted[first, item.code, *item.size] += unused[item.id]
    return tuple(
        PlannedLeftOver(stage=sequence, code=code, length_mm=length, width_mm=width, quantity=count)
        for (sequence, code, length, width), count in sorted(counted.items())
    )


def _materials(plan: Plan, inventory: Inventory, ends: Sequence[End]) -> tuple[Material, ...]:
    """Left-overs of boards already cut, stock not cut yet, and the ends of shortened pieces, if large enough."""
    found = [
        Material(id=f"left-over-{number}", code=code, length_mm=length, width_mm=width, quantity=count,
                 what="left over when the plan was cut")
        for number, ((code, length, width), count) in enumerate(sorted(inventory.rests.items()), start=1)
    ]  # fmt: skip
    for name, row in plan.project.building.stock.items():
        if inventory.stock_left[name] > 0:
            found.append(
                Material(id=name, code=row.code, length_mm=row.length_mm, width_mm=row.width_mm,
                         quantity=inventory.stock_left[name], what="stock on site, not cut")
            )  # fmt: skip
    for piece, code, length, width in ends:
        if Size(length, width).holds(inventory.smallest.get(code, Size(1, 1))):
            found.append(
                Material(id=f"end-of-{piece}", code=code, length_mm=length, width_mm=width, quantity=1,
                         what=f"cut off piece {piece} when it is shortened")
            )  # fmt: skip
    return tuple(found)
