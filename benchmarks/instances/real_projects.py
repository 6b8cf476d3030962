"""What a real project adds to a facade: several board sizes, a rack of distinct offcuts, an uneven survey.

All invented and frozen: a seed names a problem for ever.
"""

from __future__ import annotations

from collections.abc import Iterator
from random import Random

from benchmarks.instances.facade import BOARD, NOMINAL_GAPS_MM, SMALLEST_GAP_MM, facade, window_of_gap
from optimiser.cutting.problem import Board, CuttingProblem, Objective, Offcut, Piece

OFFCUT_LENGTHS_MM = (450, 1200)
OFFCUT_WIDTHS_MM = (90, 700)
RACK_DELIVERIES = 12  # over which the offcuts of a rack appear

READ_EVERY_MM = 1500
EDGES_A_LEVEL = 4
EDGE_MM = (33_000, 37_000)
READING_DEVIATION_MM = 8
LENGTHS_TRIED_MM = (1200, 1050, 900, 750, 600, 450, 300)
SHORTEST_MM = 300


def facade_in_sizes(size: str, seed: int, sizes: tuple[tuple[int, int, int], ...]) -> CuttingProblem:
    """A facade whose boards come in several sizes: (length mm, width mm, cents) each; least cost."""
    boards = tuple(
        Board(code=f"{length}x{width}", length_mm=length, width_mm=width, price_cents=cents)
        for length, width, cents in sizes
    )
    return facade(size, seed).model_copy(update={"boards": boards, "objective": Objective.LEAST_COST})


def facade_with_rack(size: str, seed: int, offcuts: int, carry: int | None = None) -> CuttingProblem:
    """A facade that starts with a rack of distinct offcuts, evenly drawn in length, width and delivery.

    `carry`: how many deliveries a piece may be cut ahead of its own (None: any number).
    """
    random = Random(f"rack {size} {seed} {offcuts}")
    rack = tuple(
        Offcut(
            id=f"F{number:03d}",
            length_mm=random.randint(*OFFCUT_LENGTHS_MM),
            width_mm=random.randint(*OFFCUT_WIDTHS_MM),
            stage=random.randint(1, RACK_DELIVERIES),
        )
        for number in range(1, offcuts + 1)
    )
    return facade(size, seed).model_copy(update={"offcuts": rack, "max_carry_stages": carry})


def uneven_survey(levels: int, seed: int) -> CuttingProblem:
    """Edges whose every reading differs independently by N(0, 8 mm), cut into the longest pieces whose window is not
    empty; where none is, a tapered piece of 300 mm. A stage a level."""
    random = Random(f"uneven survey {levels} {seed}")
    pieces = [piece for level in range(1, levels + 1) for piece in _uneven_level(level, random)]
    return CuttingProblem(boards=(BOARD,), objective=Objective.FEWEST_BOARDS, pieces=tuple(pieces))


def _uneven_level(level: int, random: Random) -> Iterator[Piece]:
    for edge in range(1, EDGES_A_LEVEL + 1):
        length = random.randrange(*EDGE_MM, 50)
        nominal = random.choice(NOMINAL_GAPS_MM)
        readings = [
            max(SMALLEST_GAP_MM, round(random.gauss(nominal, READING_DEVIATION_MM)))
            for _ in range(0, length + READ_EVERY_MM, READ_EVERY_MM)
        ]
        at = number = 0
        while at < length:
            number += 1
            piece = _longest(f"L{level:02d}-{edge}-{number:03d}", level, readings, at, length)
            at += piece.length_mm
            yield piece


def _longest(name: str, level: int, readings: list[int], at: int, end: int) -> Piece:
    """The longest piece from `at` on that leaves none shorter than 300 mm, straight where that can be."""
    left = end - at
    options = [taken for taken in LENGTHS_TRIED_MM if left - taken == 0 or left - taken >= SHORTEST_MM] or [
        left
    ]
    for taken in options:
        low, high = _extremes(readings, at, at + taken)
        least, most = window_of_gap(high)[0], window_of_gap(low)[1]
        if least <= most:
            return Piece(id=name, length_mm=taken, width_min_mm=least, width_max_mm=most, stage=level)
    start, stop = (window_of_gap(-(-_gap(readings, x) // READ_EVERY_MM))[0] for x in (at, at + options[-1]))
    widest = window_of_gap(_extremes(readings, at, at + options[-1])[1])[0]
    start, stop = (widest, stop) if start >= stop else (start, widest)
    return Piece(
        id=name,
        length_mm=options[-1],
        width_min_mm=max(start, stop),
        width_max_mm=max(start, stop) * 2,
        width_start_mm=start,
        width_end_mm=stop,
        stage=level,
    )


def _gap(readings: list[int], at: int) -> int:
    """The gap at a position, times the distance of two readings: between them it runs straight."""
    number, beyond = divmod(at, READ_EVERY_MM)
    following = readings[min(number + 1, len(readings) - 1)]
    return readings[number] * (READ_EVERY_MM - beyond) + following * beyond


def _extremes(readings: list[int], start: int, stop: int) -> tuple[int, int]:
    """The least and the greatest gap from `start` to `stop`, in whole mm, rounded apart."""
    inside = range(start // READ_EVERY_MM + 1, -(-stop // READ_EVERY_MM))
    gaps = [_gap(readings, start), _gap(readings, stop), *(readings[k] * READ_EVERY_MM for k in inside)]
    return min(gaps) // READ_EVERY_MM, -(-max(gaps) // READ_EVERY_MM)
