"""What a cut leaves for levels that are not measured yet: boards now against what its remainders save later.

The first stage of a two-stage stochastic program (Birge and Louveaux, Introduction to Stochastic Programming, 2011).
Later levels are known by a sampled survey; what a remainder saves of them is priced by their linear program (`Worth`).
Ways to cut the measured levels are compared, by boards bought now and what the later levels buy beside what is left:

- as cheaply as can be, nothing known of later levels;
- together with the next levels as sampled, whose pieces are then left uncut: a wide piece shares its board with what
  will fill it, though a board more may be opened now;
- a level measured by itself, from boards of one size, where the rack's room is short: its strips regrouped on boards by
  a program that knows how many remainders there is room for, level after level (`regrouped`), which then compares them;
- elsewhere: at the least cost, but so that the widest remainder is kept, then the widest beside it, and so on: as
  prices are nearly proportional to width, few large ones are worth more than many small ones.

Nothing is cut ahead in any of them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from optimiser.boards.offcuts import remainders_of
from optimiser.boards.problems import Solve
from optimiser.boards.regrouped import Regrouping
from optimiser.cutting.clock import Clock
from optimiser.cutting.demand import prepare
from optimiser.cutting.least_cost import best_plan
from optimiser.cutting.master import Floats
from optimiser.cutting.outcome import Solved, result_of
from optimiser.cutting.prices import fractional_cost, price_pieces
from optimiser.cutting.problem import CuttingPattern, CuttingProblem, CuttingResult, Offcut, Piece
from optimiser.cutting.solve import solve as solve_together
from optimiser.model.sizes import Size

MOST_RACKED = 20  # remainders
LEAST_WORTH = 0.01  # of a board: what is worth less is scrap
LEVELS_TOGETHER = (1, 3)  # of later deliveries that are cut together with the measured ones
EFFORT = 0.3  # of the usual one for what waits, where later levels are cut along
STEP_MM = 4  # within which the widest remainder is found
MOST_KEPT = 6  # remainders that are sought in one cut: what the others leave is small
WORK = 3_000_000  # of the linear solver for each question, the same on every machine
_KEPT = "kept for later "


@dataclass(frozen=True)
class Worth:
    """What a remainder saves of the boards of later levels, in the unit of the problem's costs.

    `price[length, width]` is what one more piece costs there, up to the size of the longest `board`.
    """

    price: Floats
    board: Size
    kerf_mm: int

    @classmethod
    def of(cls, problem: CuttingProblem, later: Sequence[Piece]) -> Worth:
        """By the prices of `later` pieces when they are cut from the boards of `problem`."""
        longest = max(problem.boards, key=lambda board: (board.length_mm, board.width_mm))
        prices = price_pieces(problem.model_copy(update={"pieces": tuple(later), "offcuts": ()}))
        return cls(
            prices.price,
            Size(longest.length_mm, max(board.width_mm for board in problem.boards)),
            longest.kerf_mm,
        )

    def of_size(self, size: Size) -> float:
        """A remainder as long as the board saves what fills its width; a shorter one what fills the end of a strip."""
        length, width = self.board
        across = min(size.width_mm, width)
        if size.length_mm >= length:
            beside = width - across - self.kerf_mm
            saved = self.price[length, width] - (self.price[length, beside] if beside > 0 else 0.0)
        else:
            rest = max(0, length - size.length_mm - self.kerf_mm)
            saved = np.max(self.price[length, : across + 1] - self.price[rest, : across + 1])
        return max(0.0, float(saved))

    def best_of(self, sizes: Iterable[Size], number: int = MOST_RACKED) -> list[Size]:
        """The remainders that are worth most, at most so many, without those that are scrap."""
        worth = {size: self.of_size(size) for size in set(sizes)}
        kept = [size for size in sizes if worth[size] >= LEAST_WORTH]
        return sorted(kept, key=lambda size: (-worth[size], size))[:number]


def room_on_the_rack(
    later: Mapping[tuple[str, ...], Sequence[Piece]],
) -> dict[tuple[str, ...], int]:
    """How many of the `MOST_RACKED` remainders may be of each family of boards: by the area of the pieces to come."""
    area = {
        codes: sum(piece.length_mm * piece.width_min_mm * piece.quantity for piece in pieces)
        for codes, pieces in later.items()
        if pieces
    }
    in_all = sum(area.values())
    return {codes: max(1, MOST_RACKED * here // in_all) for codes, here in area.items()}


def with_view_ahead(solve: Solve, later: Sequence[Piece], seed: int, most_racked: int = MOST_RACKED) -> Solve:
    """`solve`, but so that boards bought less the worth of what is left come to least; `later` are the pieces of later
    levels by a sampled survey, with the stages that they are needed at. Of what is left at most `most_racked` count.
    The bounds stay those of what is measured."""

    def solve_and_keep(problem: CuttingProblem, seconds: float | None) -> CuttingResult:
        mine = _of_these_boards(problem, later)
        if not mine or not problem.pieces or problem.max_carry_stages == 0:
            return solve(problem, seconds)
        share = None if seconds is None else seconds / (2 + len(LEVELS_TOGETHER))
        worth = Worth.of(problem, mine)
        plain = solve(problem, share)
        regrouping = Regrouping.of(problem, plain, mine, most_racked, share)
        if regrouping is not None and not regrouping.rack_is_short():
            regrouping = None
        if regrouping is None:
            candidates = [plain, _with_wide_remainders(problem, plain, mine, solve, seed, share)]
        else:
            candidates = [plain, _of_layouts(problem, regrouping.layouts(seed), plain, plain.solve_seconds)]
        candidates += [_along(problem, plain, part, seed, share) for part in _next_levels(problem, mine)]
        if regrouping is None:
            return min(candidates, key=lambda found: _net_cost(problem, found, mine, worth, most_racked))
        return min(candidates, key=lambda found: _net_boards(problem, found, regrouping, worth, most_racked))

    return solve_and_keep


def _net_boards(
    problem: CuttingProblem, found: CuttingResult, regrouping: Regrouping, worth: Worth, most_racked: int
) -> float:
    """The boards bought now, and those that later levels buy beside what is left, where each remainder takes up room on
    the rack until it is used; ends of strips by their worth, since the program knows no strips of theirs."""
    left, whole = left_of(problem, found)
    kept = worth.best_of(left, most_racked)
    length = problem.boards[0].length_mm
    ends = sum(worth.of_size(size) for size in kept if size.length_mm < length)
    return found.boards + regrouping.to_buy([*kept, *whole]) - ends


def _net_cost(
    problem: CuttingProblem, found: CuttingResult, later: Sequence[Piece], worth: Worth, most_racked: int
) -> float:
    """What is bought now, and what the later pieces take beside what is left, in the solver's unit: by their linear
    program, so that the tenth remainder of a size is not counted at what the first one saves."""
    left, whole = left_of(problem, found)
    there = [*worth.best_of(left, most_racked), *whole]
    code = problem.boards[0].code if len(problem.boards) == 1 else ""  # of several sizes any may serve
    offcuts = tuple(
        Offcut(id=f"{_KEPT}{number}", length_mm=size.length_mm, width_mm=size.width_mm, code=code)
        for number, size in enumerate(there)
    )
    rest = problem.model_copy(update={"pieces": tuple(later), "offcuts": offcuts})
    return float(found.cost / problem.unit) + fractional_cost(rest)


def left_of(problem: CuttingProblem, found: CuttingResult) -> tuple[list[Size], list[Size]]:
    """Every remainder that a cut leaves, and every offcut that it does not touch; whole boards by themselves."""
    sizes = {board.code: Size(board.length_mm, board.width_mm) for board in problem.boards}
    boards = set(sizes.values())
    sizes |= {offcut.id: Size(offcut.length_mm, offcut.width_mm) for offcut in problem.offcuts}
    kerf = problem.boards[0].kerf_mm
    left: list[Size] = []
    whole: list[Size] = []
    used: Counter[str] = Counter()
    for layout in found.layouts:
        used[layout.stock] += layout.repeat
        left += list(remainders_of(layout, sizes[layout.stock], kerf)) * layout.repeat
    for offcut in problem.offcuts:
        size = sizes[offcut.id]
        (whole if size in boards else left).extend([size] * (offcut.quantity - used[offcut.id]))
    return left, whole


def _of_these_boards(problem: CuttingProblem, later: Iterable[Piece]) -> list[Piece]:
    """The later pieces that these boards may serve."""
    codes = {board.code for board in problem.boards}
    return [piece for piece in later if not piece.boards or codes.intersection(piece.boards)]


def _next_levels(problem: CuttingProblem, later: Sequence[Piece]) -> list[list[Piece]]:
    """The pieces of the next deliveries that may use what is cut now: of one, of three, as far as there are so many."""
    last = max(piece.stage for piece in problem.pieces)
    carry = problem.max_carry_stages
    stages = sorted({piece.stage for piece in later if carry is None or piece.stage - last <= carry})
    numbers = sorted({min(number, len(stages)) for number in LEVELS_TOGETHER} - {0})
    return [[piece for piece in later if piece.stage in stages[:number]] for number in numbers]


def _along(
    problem: CuttingProblem, plain: CuttingResult, later: Sequence[Piece], seed: int, seconds: float | None
) -> CuttingResult:
    """Cut together with later levels, whose pieces are then left uncut."""
    together = problem.model_copy(update={"pieces": (*problem.pieces, *later)})
    found = solve_together(together, time_limit=seconds, seed=seed, effort=EFFORT)
    return _only(problem, found, plain)


def _with_wide_remainders(
    problem: CuttingProblem,
    plain: CuttingResult,
    later: Sequence[Piece],
    solve: Solve,
    seed: int,
    seconds: float | None,
) -> CuttingResult:
    kept = widest_remainders(problem, plain, min(piece.width_min_mm for piece in later), seed, seconds)
    if not kept:
        return plain
    found = solve(_asked(problem, kept), seconds)
    return plain if found.cost > plain.cost else _only(problem, found, plain)


def widest_remainders(
    problem: CuttingProblem, plain: CuttingResult, least_mm: int, seed: int, seconds: float | None
) -> tuple[Size, ...]:
    """The remainders that can be kept at the cost of the `plain` cut, each the widest beside those before it, down to a
    width of `least_mm`."""
    length = max(board.length_mm for board in problem.boards)
    clock = Clock(seconds)
    most_cost = int(plain.cost / problem.unit)
    kept: list[Size] = []

    def can_keep(width: int) -> bool:
        asked = prepare(_asked(problem, (*kept, Size(length, width))))
        return best_plan(asked, clock, seed, most_work=WORK).plan.cost <= most_cost

    widest = max(board.width_mm for board in problem.boards) - 1
    while len(kept) < MOST_KEPT and not clock.out() and widest >= least_mm and can_keep(least_mm):
        low, high = least_mm, widest + 1
        while high - low > STEP_MM and not clock.out():
            middle = (low + high) // 2
            if can_keep(middle):
                low = middle
            else:
                high = middle
        kept.append(Size(length, low))
        widest = low
    return tuple(kept)


def _asked(problem: CuttingProblem, kept: Sequence[Size]) -> CuttingProblem:
    """The problem with what shall be kept as further pieces, needed after all others."""
    later = max(piece.stage for piece in problem.pieces) + 1
    asked = tuple(
        Piece(
            id=f"{_KEPT}{number}",
            length_mm=size.length_mm,
            width_min_mm=size.width_mm,
            width_max_mm=size.width_mm,
            stage=later,
        )
        for number, size in enumerate(kept)
    )
    return problem.model_copy(update={"pieces": (*problem.pieces, *asked)})


def _only(problem: CuttingProblem, found: CuttingResult, plain: CuttingResult) -> CuttingResult:
    """The cut of the problem's own pieces alone, with the bounds of the `plain` result, which ask for no more."""
    own = {piece.id for piece in problem.pieces}
    layouts: list[CuttingPattern] = []
    for layout in found.layouts:
        strips = [
            strip.model_copy(update={"pieces": tuple(piece for piece in strip.pieces if piece.id in own)})
            for strip in layout.strips
        ]
        cut = tuple(strip for strip in strips if strip.pieces)
        if cut:
            layouts.append(layout.model_copy(update={"strips": cut}))
    return _of_layouts(problem, layouts, plain, plain.solve_seconds + found.solve_seconds)


def _of_layouts(
    problem: CuttingProblem, layouts: Iterable[CuttingPattern], plain: CuttingResult, seconds: float
) -> CuttingResult:
    """The result of these layouts, with the bounds of the `plain` one."""
    solved = Solved(
        layouts=tuple(layouts),
        bound=int(plain.cost_bound / problem.unit),
        fewest_boards=plain.lower_bound,
        first=plain.first_answer,
    )
    return result_of(problem, [solved], seconds)
