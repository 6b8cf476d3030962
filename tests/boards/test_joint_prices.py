"""What pieces cost a board and what a board holds of them, against trying every strip."""

from __future__ import annotations

import random
from itertools import product

import numpy as np
import pytest

from optimiser.boards.joint_prices import Filling, LengthFunctions, Pattern, Sheet, SheetGroup, Strips
from optimiser.joints.arrays import Integers

LENGTH, NEVER = 12, 10**9


class Case:
    """A group of one board and an offcut, and steps drawn from a seed, up to `highest`: widths of 3 to 7 mm, a kerf of
    0 to 2."""

    def __init__(self, seed: int, tapers: bool, highest: int = 20) -> None:
        draw = random.Random(seed)
        kerf = draw.randint(0, 2)
        self.functions = LengthFunctions.of(LENGTH, kerf, (4,))
        self.widths = list(range(3, 8))
        self.board = Sheet("B", draw.randint(12, 22), self.functions.held_by(LENGTH), 5, None)
        self.offcut = Sheet("F", draw.randint(5, 12), self.functions.held_by(8), 0, 2)
        self.group = SheetGroup(
            ("B",), self.functions, np.array(self.widths), (self.board, self.offcut), tapers
        )
        self.steps: Integers = np.sort(
            [[draw.randint(0, highest) for _ in self.widths] for _ in self.functions.worth], axis=1
        )
        self.strips: Strips = self.group.strips(self.steps)

    def fits(self, width: int, strip: int) -> int:
        """The index of the widest piece that a strip holds; -1 where none."""
        return max((i for i, piece in enumerate(self.widths) if piece <= min(strip, width)), default=-1)

    def strip_worth(self, sheet: Sheet, strip: int) -> int:
        """What a strip of a width holds at the most: by every function its widest piece, or two tapered ones head to
        tail with a kerf between."""
        worth = 0
        for k, held in enumerate(sheet.held.tolist()):
            choices = [self.steps[k, i] for i, width in enumerate(self.widths) if width <= strip]
            if self.group.tapers:
                choices += [
                    self.steps[k, i] + self.steps[k, j]
                    for (i, a), (j, b) in product(enumerate(self.widths), repeat=2)
                    if a + b + self.functions.kerf <= strip
                ]
            worth += held * int(max(choices, default=0))
        return worth

    def sheet_worth(self, sheet: Sheet) -> int:
        """What a sheet holds at the most, strip beside strip with a kerf between, by trying every width."""
        most = [0] * (sheet.width + 1)
        for room in range(1, sheet.width + 1):
            for strip in range(1, room + 1):
                beside = room - strip - self.functions.kerf
                most[room] = max(
                    most[room], self.strip_worth(sheet, strip) + (most[beside] if beside > 0 else 0)
                )
        return most[sheet.width]

    def pattern_worth(self, sheet: Sheet, pattern: Pattern) -> int:
        return sum(
            copies * int(held) * sum(int(self.steps[k, width]) for width in strip[k])
            for strip, copies in pattern
            for k, held in enumerate(sheet.held)
        )

    def fit(self, sheet: Sheet, pattern: Pattern) -> bool:
        """Whether the pieces lie beside one another with a kerf between, by whichever function the strips are read."""
        kerf = self.functions.kerf
        return all(
            sum(copies * sum(self.widths[width] + kerf for width in strip[k]) for strip, copies in pattern)
            <= sheet.width + kerf
            for k in range(len(self.steps))
        )


@pytest.mark.parametrize("tapers", [False, True])
@pytest.mark.parametrize("seed", range(12))
def test_a_sheet_holds_as_much_as_trying_every_strip_finds(seed: int, tapers: bool) -> None:
    case = Case(seed, tapers)
    for sheet in (case.board, case.offcut):
        assert case.strips.fill(sheet).worth == case.sheet_worth(sheet)


def test_it_does_so_where_a_function_has_but_one_step() -> None:
    """Then each function may find its pairs elsewhere."""
    for seed in range(40):
        case = Case(seed, tapers=True, highest=1)
        for sheet in (case.board, case.offcut):
            assert case.strips.fill(sheet).worth == case.sheet_worth(sheet), seed


@pytest.mark.parametrize("tapers", [False, True])
@pytest.mark.parametrize("seed", range(12))
def test_patterns_are_worth_more_than_asked_for_and_the_best_comes_first(seed: int, tapers: bool) -> None:
    case = Case(seed, tapers)
    best = case.strips.fill(case.board).worth
    assert case.strips.fill(case.board) == Filling(best, ())
    assert case.strips.fill(case.board, above=best).patterns == ()
    found = case.strips.fill(case.board, above=best // 2).patterns
    worths = [case.pattern_worth(case.board, pattern) for pattern in found]
    assert worths[0] == best
    assert min(worths) > best // 2
    assert all(case.fit(case.board, pattern) for pattern in found)
    assert case.strips.fill(case.board, above=best // 2, most=1).patterns == found[:1]


@pytest.mark.parametrize("seed", range(12))
def test_a_sheet_is_ripped_into_as_many_strips_of_a_width_as_it_has_room_for(seed: int) -> None:
    case = Case(seed, False)
    kerf = case.functions.kerf
    found = case.strips.alike(case.offcut)
    assert len(found) == sum(width <= case.offcut.width for width in case.widths)
    for width, ((strip, copies),) in zip(case.widths, found, strict=False):
        assert strip == ((case.widths.index(width),),) * len(case.steps)
        assert copies * width + (copies - 1) * kerf <= case.offcut.width
        assert (copies + 1) * width + copies * kerf > case.offcut.width


@pytest.mark.parametrize("seed", range(6))
def test_a_piece_costs_its_width_s_step_times_what_its_length_is_worth(seed: int) -> None:
    """Below the least width nothing, beyond the greatest as much as that; what no board takes is never cut."""
    case = Case(seed, False)
    price = case.group.price(case.steps, 25, 15, NEVER)
    assert price.shape == (26, 16)
    for width, length in product(range(26), range(16)):
        if width > case.board.width or length > LENGTH:
            assert price[width, length] == NEVER
            continue
        at = case.fits(width, width)
        worth = case.functions.worth[:, length]
        assert price[width, length] == (0 if at < 0 else int((case.steps[:, at] * worth).sum()))


@pytest.mark.parametrize("kerf", [0, 1, 3])
def test_along_a_strip_pieces_hold_no_more_and_no_less_than_trying_all_finds(kerf: int) -> None:
    functions = LengthFunctions.of(LENGTH, kerf, (3, 5))
    for k, worth in enumerate(functions.worth.tolist()):
        most = [0] * (LENGTH + 1)
        for room in range(1, LENGTH + 1):
            for piece in range(1, room + 1):
                rest = room - piece - kerf
                most[room] = max(most[room], worth[piece] + (most[rest] if rest > 0 else 0))
        assert [int(functions.held_by(length)[k]) for length in range(1, LENGTH + 1)] == most[1:]
        assert most[-1] == functions.unit
