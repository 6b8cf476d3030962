"""Strips and boards dealt anew so that fewer pieces wait."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from optimiser.kernels import loading
from optimiser.kernels.bindings.runs import parts
from optimiser.kernels.declaring import Array, Kernel, Number, Real
from optimiser.kernels.patterns import Ints, States, Values
from optimiser.kernels.reference import arrangement, rearranging, strip_ways
from optimiser.kernels.reference.arrangement import CostWeights

_MOST_PIECES = 1 << 24  # counted beside a sum of widths in one word


_MOST_SIZE = 1 << 26  # mm, of which twelve may be added


REARRANGE = Kernel(
    "rearranging",
    "rearrange",
    "int64_t",
    (
        Number("components", "int", 0),
        *(
            Array(name, "int32_t", "components")
            for name in ("length", "width_min", "width_max", "pieces", "first", "last")
        ),
        Array("codes", "int64_t", "components"),
        Number("sharing_count", "int", 0),
        Array("sharing", "int32_t", "sharing_count"),
        Array("partner_start", "int32_t", "components + 1", least_part=0),
        Array("partners", "int32_t", "partner_start[-1]"),
        Number("boards", "int", 1),
        *(
            Array(name, "int32_t", "boards")
            for name in ("capacity", "board_length", "kerf", "earliest", "latest", "carry")
        ),
        Array("code", "int64_t", "boards"),
        Array("price", "int64_t", "boards"),
        Number("ranks", "int", 1),
        Array("number", "int32_t", "ranks"),
        Number("piece_weight", "int64_t", 0),
        Number("remainder_weight", "int64_t", 0),
        Number("inner_weight", "int64_t", 0),
        Number("overflow_weight", "int64_t", 0),
        Number("stages_of_all_pieces", "int64_t"),
        Number("share", "int", 0),
        Number("moves", "int64_t", 0),
        Real("temperature"),
        Real("cooling"),
        Array("strip_of", "int32_t", "components", written=True),
        Array("board_of", "int32_t", "components", written=True),
        Array("best_strip_of", "int32_t", "components", written=True),
        Array("best_board_of", "int32_t", "components", written=True),
        Number("best_cost", "int64_t"),
        Array("random", "uint64_t", "1", written=True),
    ),
)


class Components(NamedTuple):
    """`reference.arrangement.Component`, a column each; sharing ones, and where each one's partners begin."""

    length: Ints
    width_min: Ints
    width_max: Ints
    pieces: Ints
    first: Ints
    last: Ints
    codes: Values
    sharing: Ints
    partner_start: Ints
    partners: Ints


class BoardLimits(NamedTuple):
    """`reference.arrangement.BoardLimits`, a column each."""

    capacity: Ints
    board_length: Ints
    kerf: Ints
    earliest: Ints
    latest: Ints
    carry: Ints
    code: Values
    price: Values


class Arranged(NamedTuple):
    """The strip of each component and the board of each strip, now and in the best arrangement seen; the state of the
    random numbers, one number above 0. `rearrange` writes to all of them."""

    strip_of: Ints
    board_of: Ints
    best_strip_of: Ints
    best_board_of: Ints
    random: States


def rearrange(
    components: Components,
    boards: BoardLimits,
    numbers: Ints,
    weights: CostWeights,
    stages_of_all_pieces: int,
    share: int,
    moves: int,
    temperature: float,
    cooling: float,
    arranged: Arranged,
    best_cost: int,
) -> int:
    """`reference.rearranging.rearrange`: the cost of the best arrangement seen, or `best_cost`; changes `arranged`.

    Raises ValueError for what cannot be, MemoryError when there is no memory: nothing is changed then.
    """
    given = {
        "components": len(components.length),
        **components._asdict(),
        "sharing_count": len(components.sharing),
        "boards": len(boards.capacity),
        **boards._asdict(),
        "ranks": len(numbers),
        "number": numbers,
        **{f"{name}_weight": value for name, value in weights._asdict().items()},
        "stages_of_all_pieces": stages_of_all_pieces,
        "share": share,
        "moves": moves,
        "temperature": temperature,
        "cooling": cooling,
        **arranged._asdict(),
        "best_cost": best_cost,
    }
    arguments = REARRANGE.checked(given)
    _check_arrangement(components, boards, numbers, arranged)
    if temperature <= 0 or cooling <= 0:
        raise ValueError("rearrange: temperature and cooling must be above 0")
    library = loading.compiled_library("rearranging")
    if library is None:
        return rearrange_by_reference(
            components, boards, numbers, weights, stages_of_all_pieces, share, moves, temperature, cooling, arranged,
            best_cost,
        )  # fmt: skip
    best = int(REARRANGE.function(library)(*arguments))
    if best == -(1 << 63):
        raise MemoryError("no memory to rearrange the boards")
    return best


def _check_arrangement(
    components: Components, boards: BoardLimits, numbers: Ints, arranged: Arranged
) -> None:
    """Raises ValueError for what would be read beyond an array, or is no size."""
    count, ranks = len(components.length), len(numbers)
    within = (
        ("sharing", components.sharing, count),
        ("partners", components.partners, count),
        ("first", components.first, ranks),
        ("last", components.last, ranks),
        ("strip_of", arranged.strip_of, count),
        ("board_of", arranged.board_of, len(boards.capacity)),
    )
    for name, values, limit in within:
        if ((values < 0) | (values >= limit)).any():
            raise ValueError(f"rearrange: a number in {name} is not from 0 to {limit - 1}")
    sizes = (
        ("length", components.length, 1),
        ("width_min", components.width_min, 1),
        ("pieces", components.pieces, 1),
        ("capacity", boards.capacity, 0),
        ("kerf", boards.kerf, 0),
    )
    for name, values, least in sizes:
        most = (1 << 31) - 1 if name == "capacity" else _MOST_SIZE
        if ((values < least) | (values > most)).any():
            raise ValueError(f"rearrange: a number in {name} is not from {least} to {most}")
    if int(components.pieces.sum(dtype=np.int64)) >= _MOST_PIECES:
        raise ValueError(f"rearrange: {_MOST_PIECES} pieces or more")
    if (np.diff(numbers) <= 0).any():
        raise ValueError("rearrange: number is not ascending")
    if not arranged.random[0]:
        raise ValueError("rearrange: the state of the random numbers is 0")


def rearrange_by_reference(
    components: Components,
    boards: BoardLimits,
    numbers: Ints,
    weights: CostWeights,
    stages_of_all_pieces: int,
    share: int,
    moves: int,
    temperature: float,
    cooling: float,
    arranged: Arranged,
    best_cost: int,
    ways: Callable[
        [arrangement.Arrangement, strip_ways.StripDeal], strip_ways.Ways
    ] = strip_ways.ways_at_once,
) -> int:
    """As `rearrange`, by the reference in plain Python; `ways` finds where a strip may go."""
    found = rearranging.rearrange(
        [arrangement.Component(*row) for row in zip(*(c.tolist() for c in components[:7]), strict=True)],
        components.sharing.tolist(),
        parts(components.partner_start, components.partners),
        [arrangement.BoardLimits(*row) for row in zip(*(column.tolist() for column in boards), strict=True)],
        numbers.tolist(),
        weights,
        stages_of_all_pieces,
        share,
        moves,
        temperature,
        cooling,
        arranged.strip_of.tolist(),
        arranged.board_of.tolist(),
        best_cost,
        int(arranged.random[0]),
        ways,
    )
    arranged.strip_of[:], arranged.board_of[:], arranged.random[0] = (
        found.strip_of,
        found.board_of,
        found.random,
    )
    if found.best is not None:
        arranged.best_strip_of[:], arranged.best_board_of[:] = found.best
    return found.best_cost
