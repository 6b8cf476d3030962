"""The strips of a cut put together on boards anew, so that what is left of them serves the levels to come.

The measured level and the next ones as sampled are one program of strips and remainders, in which the rack has room for
so many (`rack_program`). Boards that are cut now are whole in it, those of later levels may be parts: the first stage
of a two-stage stochastic program with one sample (Birge and Louveaux, Introduction to Stochastic Programming, 2011). It
is rounded by diving: the column nearest to one more board is fixed, the rest solved again, a few times with chance.
The same program says what any other cut of the level comes to: boards bought, and what its remainders leave to buy.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from random import Random

from optimiser.boards.rack_program import Opening, RackProgram
from optimiser.cutting.clock import Clock
from optimiser.cutting.demand import prepare
from optimiser.cutting.heuristic import TOLERANCES, strips_for
from optimiser.cutting.problem import CuttingPattern, CuttingProblem, CuttingResult, Offcut, Piece, Strip
from optimiser.model.sizes import Size

LEVELS_AHEAD = 6
SCARCE = 1e-3  # of a board, for a place on the rack
DIVES = 4
CUTS_COMPARED = 4
ROUNDS_IN_A_DIVE = 4  # of new columns after each board
SURE = 0.9  # of a board: what is fixed along with the surest one
STRIPS_A_BOARD_FIXED = 40  # of those that are left: in a large level several boards are fixed at a time
CHANCE = 0.3  # of a board: what chance adds in all dives but the first


@dataclass(frozen=True)
class Regrouping:
    """A level's strips, from the cut `plain`, and those of later levels with the room on the rack; widths with a kerf.

    `settled` are the layouts of offcuts shorter than a board, which stay as they are.
    """

    problem: CuttingProblem
    strips: Mapping[int, tuple[Strip, ...]]
    settled: tuple[CuttingPattern, ...]
    offcuts: tuple[Offcut, ...]
    later: tuple[Mapping[int, int], ...]
    most_racked: int
    program: RackProgram
    seconds: float | None

    @classmethod
    def of(
        cls,
        problem: CuttingProblem,
        plain: CuttingResult,
        later: Sequence[Piece],
        most_racked: int,
        seconds: float | None,
    ) -> Regrouping | None:
        """None where it does not apply: to several sizes of boards, or to pieces of several stages. Half of the
        `seconds` are for the question and the layouts, the rest for what the cuts that are compared leave to buy."""
        if len(problem.boards) > 1 or len({piece.stage for piece in problem.pieces}) > 1 or not later:
            return None
        (board,) = problem.boards
        kerf = board.kerf_mm
        full = tuple(
            offcut.model_copy(update={"quantity": 1})
            for offcut in problem.offcuts
            if offcut.length_mm == board.length_mm and offcut.width_mm <= board.width_mm
            for _ in range(offcut.quantity)
        )
        served = {board.code, *(offcut.id for offcut in full)}
        strips: dict[int, list[Strip]] = defaultdict(list)
        for layout in plain.layouts:
            for strip in layout.strips if layout.stock in served else ():
                strips[strip.width_mm + kerf] += [strip] * layout.repeat
        to_come = tuple(_strips_of_levels(problem, later))
        program = RackProgram(
            [{width: len(held) for width, held in strips.items()}, *to_come],
            board.width_mm + kerf,
            [offcut.width_mm + kerf for offcut in full],
            most_racked,
        )
        return cls(
            problem,
            {width: tuple(held) for width, held in strips.items()},
            tuple(layout for layout in plain.layouts if layout.stock not in served),
            full,
            to_come,
            most_racked,
            program,
            seconds,
        )

    def rack_is_short(self) -> bool:
        """Whether another place on the rack would save anything: elsewhere boards can be weighed without the room."""
        clock = self._clock(4)
        self.program.out_of_time = clock.out
        self.program.solve()
        return self.program.dearest_place() > SCARCE

    def layouts(self, seed: int) -> tuple[CuttingPattern, ...]:
        """The strips on boards and offcuts anew, by the best of a few dives."""
        clock = self._clock(4)
        self.program.out_of_time = clock.out
        self.program.solve()
        dives: list[tuple[float, dict[Opening, int]]] = []
        for number in range(DIVES):
            if dives and clock.out():
                break
            dives.append(_dive(self.program, Random(f"{seed} {number}") if number else None))
        _, openings = min(dives, key=lambda dive: dive[0])
        return (*self.settled, *self._cut_as(openings))

    def _clock(self, part: int) -> Clock:
        return Clock(None if self.seconds is None else self.seconds / part)

    def _cut_as(self, openings: Mapping[Opening, int]) -> Iterator[CuttingPattern]:
        (board,) = self.problem.boards
        rest = {width: list(held) for width, held in self.strips.items()}
        for opening, times in openings.items():
            for _ in range(times):
                cut = tuple(
                    rest[width].pop()
                    for level, width, number in opening.strips
                    if level == 0
                    for _ in range(number)
                )
                stock = board.code if opening.offcut is None else self.offcuts[opening.offcut].id
                stage = self.problem.pieces[0].stage
                yield CuttingPattern(stock=stock, stage=stage, code=board.code, strips=cut)

    def to_buy(self, kept: Sequence[Size]) -> float:
        """What the later levels buy beside these remainders, as long as a board, in boards: by the linear program."""
        (board,) = self.problem.boards
        rooms = [size.width_mm + board.kerf_mm for size in kept if size.length_mm == board.length_mm]
        whole = board.width_mm + board.kerf_mm
        clock = self._clock(2 * CUTS_COMPARED)
        program = RackProgram([{}, *self.later], whole, rooms, self.most_racked, clock.out)
        program.add(column for column in self.program.columns if column.level > 0 and column.offcut is None)
        return program.solve()


def _strips_of_levels(problem: CuttingProblem, later: Sequence[Piece]) -> Iterator[Counter[int]]:
    """How many strips of each width, a kerf included, the next levels need, each formed by itself."""
    last = max(piece.stage for piece in problem.pieces)
    carry = problem.max_carry_stages
    stages = sorted({piece.stage for piece in later if carry is None or piece.stage - last <= carry})
    for stage in stages[:LEVELS_AHEAD]:
        pieces = tuple(piece for piece in later if piece.stage == stage)
        demand = prepare(problem.model_copy(update={"pieces": pieces, "offcuts": ()}))
        needed = {kind: pieces.demand for kind, pieces in enumerate(demand.types)}
        found: Counter[int] = Counter()
        for column, number in strips_for(demand, needed, TOLERANCES[0]).items():
            width = int(demand.families[column.family].widths[column.width])
            found[width + problem.boards[0].kerf_mm] += number
        yield found


def _dive(program: RackProgram, chance: Random | None) -> tuple[float, dict[Opening, int]]:
    """What is bought in all when the first level's strips are on whole boards, and those boards and offcuts."""
    program.left = dict(program.wanted[0])
    fixed: Counter[int] = Counter()
    opened: set[int] = set()
    racked = 0
    while any(program.left.values()):
        program.solve(ROUNDS_IN_A_DIVE)
        at_once = max(1, sum(program.left.values()) // STRIPS_A_BOARD_FIXED)
        least = 0.0 if program.out_of_time() else SURE
        for share, column in (*_by_share(program, fixed, chance), *_alone(program)):
            if at_once <= 0 and share < least:
                break
            opening = program.columns[column]
            if opening.offcut in opened:
                continue
            fitting = _fitting(opening, program.left, racked < program.room)
            if fitting is None:
                continue
            program.add([fitting])
            fixed[program.index[fitting]] += 1
            program.fix(program.index[fitting], fixed[program.index[fitting]])
            for level, width, number in fitting.strips:
                if level == 0:
                    program.left[width] -= number
            racked += fitting.waits
            if fitting.offcut is not None:
                opened.add(fitting.offcut)
            at_once -= 1
    value = program.solve(ROUNDS_IN_A_DIVE)
    for column in fixed:
        program.fix(column, 0)
    return value, {program.columns[column]: times for column, times in fixed.items()}


def _by_share(
    program: RackProgram, fixed: Mapping[int, int], chance: Random | None
) -> list[tuple[float, int]]:
    """The columns that cut strips of the first level, by how often they are used beyond what is fixed, the most first;
    those that take more of it before others."""
    found = []
    for column, value in enumerate(program.values().tolist()):
        opening = program.columns[column]
        share = value - fixed.get(column, 0)
        if opening.level == 0 and opening.opened_now and share > 1e-6:
            now = sum(width * number for level, width, number in opening.strips if level == 0)
            lifted = share + (CHANCE * chance.random() if chance else 0.0)
            found.append((-lifted, -now, share, column))
    return [(share, column) for _, _, share, column in sorted(found)]


def _alone(program: RackProgram) -> list[tuple[float, int]]:
    """The columns of one width of the first level that is left: should no other cut any of it."""
    return [
        (0.0, column)
        for column, opening in enumerate(program.columns[: len(program.left)])
        if program.left[opening.strips[0][1]]
    ]


def _fitting(opening: Opening, left: Mapping[int, int], may_wait: bool) -> Opening | None:
    """The column with no more strips of the first level than are left, and without later ones where the rack is full;
    None where no strip of the first level remains."""
    now = tuple(
        (level, width, min(number, left[width]))
        for level, width, number in opening.strips
        if level == 0 and left[width]
    )
    later = tuple(strip for strip in opening.strips if strip[0] > 0) if may_wait else ()
    return Opening(opening.offcut, 0, (*now, *later)) if now else None
