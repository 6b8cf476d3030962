"""What the program of waiting is made from: the stock of all codes as one pool, the kinds of pieces, what counts."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np

from optimiser.cutting.kernels import Values
from optimiser.cutting.parts import WIDEST
from optimiser.cutting.problem import CuttingProblem

MOST_PAIRS = 4_000  # tapered pairs; where there would be more, tapered pieces are left aside, which relaxes


@dataclass(frozen=True)
class Stock:
    """Boards of one code or an offcut (`limit` None: any number). `width` carries the kerf."""

    width: int
    price: int
    limit: int | None
    earliest: int  # rank of the first stage at which it may be opened
    bought: bool


@dataclass(frozen=True)
class Aim:
    """What a plan may cost and what counts.

    `most_cost`: least waiting within that cost; None: cost and waiting are one sum, a stage of a remainder's waiting
    having the price `carry_cost`. `cost_until`: the boards opened until each stage cost at least so much, proved.
    `most_boards`: at most so many of a code.
    """

    most_cost: int | None
    cost_until: tuple[int, ...] = ()
    carry_cost: Fraction = Fraction(0)
    most_boards: dict[str, int] = field(default_factory=dict)


@dataclass(frozen=True)
class Kind:
    """Equal pieces of a stage, lengths with kerf. `solo`: nothing fits beside them in a strip."""

    length: int
    width_min: int
    width_max: int
    rank: int
    ends: tuple[int, int] | None
    solo: bool


def stock_of(problem: CuttingProblem, aim: Aim, numbers: Values) -> list[Stock]:
    """Every code of boards, and the offcuts by width and first stage; `numbers` are the stages by rank."""
    stock = [
        Stock(
            board.width_mm + board.kerf_mm,
            price,
            aim.most_boards.get(board.code),
            0,
            True,
        )
        for board, price in zip(problem.boards, problem.solver_prices, strict=True)
    ]
    at_hand: Counter[tuple[int, int]] = Counter()
    for offcut in problem.offcuts:
        earliest = int(np.searchsorted(numbers, offcut.stage))
        at_hand[offcut.width_mm + problem.boards[0].kerf_mm, earliest] += offcut.quantity
    return stock + [Stock(width, 0, count, earliest, False) for (width, earliest), count in at_hand.items()]


def kinds_of(problem: CuttingProblem, numbers: Values, kerf: int, length: int) -> tuple[list[Kind], Values]:
    """The kinds of pieces and how many of each; tapered pieces are left aside where they make too many pairs."""
    shortest = min(piece.length_mm for piece in problem.pieces) + kerf
    counted: Counter[Kind] = Counter()
    for piece in problem.pieces:
        rank = int(np.searchsorted(numbers, piece.stage))
        taken = piece.length_mm + kerf
        ends = None
        if piece.tapered:
            ends = (piece.width_start_mm or 0, piece.width_end_mm or 0)
        solo = ends is None and taken + shortest > length
        widest = WIDEST if problem.trim or piece.tapered or solo else piece.width_max_mm
        kind = Kind(length if solo else taken, piece.width_min_mm, widest, rank, ends, solo)
        counted[kind] += piece.quantity
    tapered = Counter(kind.length for kind in counted if kind.ends)
    if sum(count * count for count in tapered.values()) > 2 * MOST_PAIRS:
        counted = Counter({kind: count for kind, count in counted.items() if not kind.ends})
    kinds = sorted(counted, key=lambda k: (k.rank, -k.length, -k.width_min, k.width_max, k.ends or (0, 0)))
    return kinds, np.array([counted[kind] for kind in kinds], dtype=np.int64)
