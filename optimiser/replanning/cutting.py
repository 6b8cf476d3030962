"""What is open is cut: boards of the plan before stay where they are still right, the rest comes from what is at hand,
then from boards to order.

Measured levels are cut together, each forecast delivery by itself (`boards.forecast_levels`). Of each such part the
boards that stay are taken first, and what they leave unused is offered to the rest; only where that is not proved to
cost the least are some of them given up, the emptiest first, and at last all, and the cheapest is taken: boards, and
the labels that it changes where that has a price. The measured levels leave what the forecast can use
(`boards.view_ahead`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil

from optimiser.boards.carry_fallback import with_independent_stage_fallback
from optimiser.boards.cut import forecast_pieces
from optimiser.boards.family_cuts import Cut, cut_families
from optimiser.boards.forecast_levels import forecast_levels, solve_forecast_levels_separately
from optimiser.boards.offcuts import remainders_of
from optimiser.boards.problems import BoardFamily, board_families, carry_limit
from optimiser.boards.view_ahead import MOST_RACKED, room_on_the_rack, with_view_ahead
from optimiser.cutting.outcome import Solved, result_of
from optimiser.cutting.problem import CuttingPattern, CuttingProblem, CuttingResult, Offcut, Piece
from optimiser.cutting.solve import Clock, fewest_boards, proved_bound, solve
from optimiser.joints.layout import LaidPiece, lay_out
from optimiser.model.plan import Staging
from optimiser.model.planned_boards import PlannedPattern
from optimiser.model.progress import AtHand
from optimiser.model.project import Project
from optimiser.model.sizes import Size
from optimiser.replanning.keep import KeptBoard
from optimiser.replanning.label_price import LabelPrice
from optimiser.replanning.whole_boards import counted_as_bought, from_boards_at_hand
from optimiser.simulation.sampled_survey import sampled_survey

FREED = (Fraction(1, 4), Fraction(1, 2), Fraction(1))
"""Of the boards that could stay what is given up, where keeping them costs more than the least."""


def cut_open_places(
    project: Project,
    places: Sequence[LaidPiece],
    kept: Sequence[KeptBoard],
    at_hand: Sequence[AtHand],
    later: Sequence[BoardFamily],
    numbers_given: Iterable[int],
    staging: Staging,
    time_limit: float | None,
    seed: int,
) -> Cut:
    """The places cut from the project's stock, which is what is `at_hand`, and from boards to order.

    A layout that cuts all that a kept board does has its number; the others get such as no board of the job ever had
    (`numbers_given`). `later` are the levels to be measured, by a sampled survey. `time_limit` in seconds.
    """
    whole = frozenset(item.name for item in at_hand if item.whole)
    counted = {item.name for item in at_hand if counted_as_bought(project, item)}
    rack = project.model_copy(
        update={"stock": tuple(row for row in project.stock if row.name not in counted)}
    )
    forecast = forecast_pieces(project, places)
    sampled = tuple(piece for family in later for piece in family.problem.pieces)
    room = room_on_the_rack({family.codes: family.problem.pieces for family in later})
    cutting = _Cutting(tuple(kept), whole, forecast, sampled, room, seed, LabelPrice.of(project))
    cut = cut_families(
        rack,
        board_families(rack, places, staging),
        lambda family, seconds: solve_forecast_levels_separately(
            family.problem, forecast, cutting.part, seconds
        ),
        lambda problem, seconds: fewest_boards(problem, Clock(seconds)),
        time_limit,
    )
    cut = replace(cut, layouts=_numbered(cut.layouts, kept, numbers_given))
    return from_boards_at_hand(project, cut, places, at_hand, carry_limit(project, staging))


def sampled_levels(project: Project, staging: Staging, seed: int) -> tuple[BoardFamily, ...]:
    """The cutting of the levels that are not measured yet, by one sampled survey of them."""
    survey = sampled_survey(project, forecast_levels(project), seed).model_copy(update={"stock": ()})
    if not survey.runs:
        return ()
    return tuple(
        replace(
            family,
            problem=family.problem.model_copy(
                update={
                    "pieces": tuple(
                        piece.model_copy(update={"id": f"sampled {piece.id}"})
                        for piece in family.problem.pieces
                    )
                }
            ),
        )
        for family in board_families(survey, lay_out(survey).pieces, staging)
    )


@dataclass(frozen=True)
class _Cutting:
    """`whole` are the names of whole boards at hand, `forecast` the pieces of levels that are not measured and `later`
    what those levels may need when they are, with `room` on the rack by family of boards."""

    kept: tuple[KeptBoard, ...]
    whole: frozenset[str]
    forecast: frozenset[str]
    later: tuple[Piece, ...]
    room: Mapping[tuple[str, ...], int]
    seed: int
    label: LabelPrice

    def part(self, problem: CuttingProblem, seconds: float | None) -> CuttingResult:
        """The measured levels, or a forecast delivery."""
        stays = _there(problem, self.kept, self.whole)
        if not stays:
            return self._solve(problem, seconds)
        share = None if seconds is None else seconds / (2 + len(FREED))
        found = self._around(problem, stays, share)
        if found.optimal:
            return found
        cheapest = solve(problem, time_limit=share, seed=self.seed, waiting=False)
        candidates = [found]
        for part in FREED:
            if candidates[-1].cost <= cheapest.cost:
                break  # freeing more would only change more labels
            still = _without_emptiest(stays, part)
            candidates.append(self._around(problem, still, share) if still else self._solve(problem, share))
        return min(candidates, key=lambda one: self.label.with_boards(problem, one, stays.values()))

    def _around(
        self, problem: CuttingProblem, stays: Mapping[int, CuttingPattern], seconds: float | None
    ) -> CuttingResult:
        """The boards that stay, and the rest of the pieces cut from what they leave and from other boards."""
        settled = {
            piece.id for pattern in stays.values() for strip in pattern.strips for piece in strip.pieces
        }
        used = Counter(pattern.stock for pattern in stays.values())
        rests = _rests(problem, stays)
        left = tuple(
            offcut.model_copy(update={"quantity": offcut.quantity - used[offcut.id]})
            for offcut in problem.offcuts
            if offcut.quantity > used[offcut.id]
        )
        rest = problem.model_copy(
            update={
                "pieces": tuple(piece for piece in problem.pieces if piece.id not in settled),
                "offcuts": (*left, *rests),
            }
        )
        clock = Clock(seconds)
        result = self._solve(rest, seconds)
        boards = dict(stays)
        layouts: list[CuttingPattern] = []
        for layout in result.layouts:
            number = _board_of_rest(layout.stock)
            if number is None:
                layouts.append(layout)
            else:
                stay = boards[number]
                boards[number] = stay.model_copy(update={"strips": (*stay.strips, *layout.strips)})
        proved = Clock(None if clock.left is None else clock.left())
        solved = Solved(
            layouts=(*boards.values(), *layouts),
            bound=int(proved_bound(problem, proved) / problem.unit),
            fewest_boards=fewest_boards(problem, proved),
            first=result.first_answer,
        )
        return result_of(problem, [solved], clock.seconds)

    def _solve(self, problem: CuttingProblem, seconds: float | None) -> CuttingResult:
        """The problem solved; what is measured with a view to what is not."""
        solve_and_carry = with_independent_stage_fallback(
            lambda part, limit: solve(part, time_limit=limit, seed=self.seed)
        )
        if self.forecast.intersection(piece.id for piece in problem.pieces):
            return solve_and_carry(problem, seconds)
        room = self.room.get(tuple(board.code for board in problem.boards), MOST_RACKED)
        return with_view_ahead(solve_and_carry, self.later, self.seed, room)(problem, seconds)


def _without_emptiest(stays: Mapping[int, CuttingPattern], part: Fraction) -> dict[int, CuttingPattern]:
    """The boards that stay without a part of them: those that the least is cut from."""

    def cut_mm2(number: int) -> tuple[int, int]:
        pieces = (piece for strip in stays[number].strips for piece in strip.pieces)
        return sum(piece.length_mm * piece.width_mm for piece in pieces), number

    freed = set(sorted(stays, key=cut_mm2)[: ceil(len(stays) * part)])
    return {number: pattern for number, pattern in stays.items() if number not in freed}


def _there(
    problem: CuttingProblem, kept: Iterable[KeptBoard], whole: frozenset[str]
) -> dict[int, CuttingPattern]:
    """The kept boards of these pieces, by number, each with what it is cut from: a remainder if it is still free, a
    whole board at hand that comes just in time for it, so that earlier ones are left to those that need them, or one to
    order."""
    stage_of = {piece.id: piece.stage for piece in problem.pieces}
    free = Counter({offcut.id: offcut.quantity for offcut in problem.offcuts})
    at_hand = sorted(
        (offcut for offcut in problem.offcuts if offcut.id in whole), key=lambda offcut: -offcut.stage
    )
    codes = {board.code for board in problem.boards}
    carry = problem.max_carry_stages
    found: dict[int, CuttingPattern] = {}
    for board in kept:
        pattern = board.pattern
        if pattern.code not in codes or not board.pieces <= stage_of.keys():
            continue
        stock = pattern.stock
        if stock in codes:
            stock = next(
                (
                    offcut.id
                    for offcut in at_hand
                    if offcut.code == pattern.code
                    and free[offcut.id] > 0
                    and offcut.stage <= pattern.stage
                    and (
                        carry is None or max(map(stage_of.__getitem__, board.pieces)) - offcut.stage <= carry
                    )
                ),
                stock,
            )
        if stock not in codes:
            if free[stock] <= 0:
                continue
            free[stock] -= 1
        found[board.number] = pattern.model_copy(update={"stock": stock})
    return found


_REST = "rest of board "


def _rests(problem: CuttingProblem, stays: Mapping[int, CuttingPattern]) -> list[Offcut]:
    """What the boards that stay leave of their whole length, where it is wide enough for a piece."""
    sizes = {board.code: Size(board.length_mm, board.width_mm) for board in problem.boards}
    sizes |= {offcut.id: Size(offcut.length_mm, offcut.width_mm) for offcut in problem.offcuts}
    kerfs = {board.code: board.kerf_mm for board in problem.boards}
    least = min((piece.width_min_mm for piece in problem.pieces), default=1)
    found = []
    for number, pattern in stays.items():
        size = sizes[pattern.stock]
        for rest in remainders_of(pattern, size, kerfs[pattern.code]):
            if rest.length_mm == size.length_mm and rest.width_mm >= least:
                found.append(
                    Offcut(
                        id=f"{_REST}{number}",
                        length_mm=rest.length_mm,
                        width_mm=rest.width_mm,
                        stage=pattern.stage,
                        code=pattern.code,
                    )
                )
                break
    return found


def _board_of_rest(stock: str) -> int | None:
    return int(stock.removeprefix(_REST)) if stock.startswith(_REST) else None


def _numbered(
    layouts: Iterable[PlannedPattern], kept: Iterable[KeptBoard], numbers_given: Iterable[int]
) -> tuple[PlannedPattern, ...]:
    """The layouts with their numbers, in the order in which they are opened."""
    kept_of = {piece: board for board in kept for piece in board.pieces}
    following = max((*numbers_given, *(board.number for board in kept)), default=0) + 1
    found = []
    for layout in layouts:
        pieces = {piece.id for strip in layout.strips for piece in strip.pieces}
        same = next((kept_of[piece] for piece in sorted(pieces) if piece in kept_of), None)
        if same is not None and same.pieces <= pieces:
            number = same.number
        else:
            number, following = following, following + 1
        found.append(layout.model_copy(update={"number": number}))
    return tuple(sorted(found, key=lambda layout: (layout.stage, layout.number or 0)))
