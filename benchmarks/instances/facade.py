"""Invented curtain-wall projects: levels of bays whose gap was surveyed once a bay.

All numbers are invented; nominal gaps, pitches and the 1200 mm board are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from random import Random

from optimiser.cutting.problem import Board, CuttingProblem, Objective, Piece

BOARD = Board(length_mm=1200, width_mm=1000)
NOMINAL_GAPS_MM = (60, 100, 150, 240)
SURVEY_DEVIATION_MM = 8
SMALLEST_GAP_MM = 25
CLOSING_PIECE_MIN_MM = 300
SIZES = {"S": (3, 50), "M": (12, 75), "XL": (40, 133), "XXL": (100, 500)}  # levels, pieces a level


def facade(size: str, seed: int) -> CuttingProblem:
    """The project of one of the `SIZES`, drawn from `seed`: a stage a level, quantity 1 a piece.

    Raises KeyError for an unknown size.
    """
    levels, pieces_a_level = SIZES[size]
    random = Random(f"facade {size} {seed}")
    return CuttingProblem(
        boards=(BOARD,),
        objective=Objective.FEWEST_BOARDS,
        pieces=tuple(
            piece for level in range(1, levels + 1) for piece in facade_level(level, pieces_a_level, random)
        ),
    )


def window_of_gap(gap_mm: int) -> tuple[int, int]:
    """Smallest and largest cut width in mm for an oversize of 10 to 20 %: exact, in integers."""
    return -(-gap_mm * 110 // 100), gap_mm * 120 // 100


def facade_level(level: int, count: int, random: Random) -> Iterator[Piece]:
    """So many pieces of a level, bay by bay, drawn from `random`."""
    number = 0
    while number < count:
        in_bay = min(random.randint(5, 9), count - number)
        deviation = random.gauss(0, SURVEY_DEVIATION_MM)
        gap = max(SMALLEST_GAP_MM, round(random.choice(NOMINAL_GAPS_MM) + deviation))
        width_min, width_max = window_of_gap(gap)
        length = BOARD.length_mm if random.random() < 0.5 else random.randint(900, 1150)
        lengths = [length] * (in_bay - 1) + [random.randint(CLOSING_PIECE_MIN_MM, length)]
        for piece_length in lengths:
            number += 1
            yield Piece(
                id=f"L{level:03d}-{number:03d}",
                length_mm=piece_length,
                width_min_mm=width_min,
                width_max_mm=width_max,
                stage=level,
            )
