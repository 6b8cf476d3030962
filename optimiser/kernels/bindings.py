"""The way into the kernels: each C function declared once, each call checked, the reference where none is compiled.

Every function says what it takes and gives; what it does is said by the function of its name in `reference/`.
Arrays must have the dtype said and lie in one piece (TypeError, ValueError); what cannot be is refused (ValueError)
and never read from beyond an array. All sizes are in mm.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from optimiser.kernels.declaring import Array, Kernel, Number, Real
from optimiser.kernels.loading import compiled_library
from optimiser.kernels.patterns import Ints, Pairs, Patterns, States, Values
from optimiser.kernels.reference import arrangement, boards, brackets, knapsacks, rearranging, strip_ways
from optimiser.kernels.reference.arrangement import CostWeights
from optimiser.kernels.reference.gap_line import GapLine, Rates
from optimiser.kernels.reference.joint_layout import Board, Rules, Run
from optimiser.kernels.reference.joint_prices import PiecePrices
from optimiser.kernels.reference.runs import lay_out_run

ROW_WIDTH = 10  # of a laid row: run, kind, from, to, gap floor and ceil, width min and max, start, end
_NO_MEMORY = -1
_ROOM_LIMIT = 100_000_000
_MOST_PIECES = 1 << 24  # counted beside a sum of widths in one word
_MOST_SIZE = 1 << 26  # mm, of which twelve may be added

PRICE_STRIPS = Kernel(
    "cutting",
    "price_strips",
    "int",
    (
        Number("n", "int", 0),
        Array("lengths", "int32_t", "n"),
        Array("width_min", "int32_t", "n"),
        Array("width_max", "int32_t", "n"),
        Array("bounds", "int32_t", "n"),
        Array("values", "int64_t", "n"),
        Number("widths", "int", 0),
        Array("width", "int32_t", "widths"),
        Number("capacity", "int", 0),
        Array("slot_values", "int64_t", "widths", optional=True),
        Array("best_value", "int64_t", "widths", written=True),
        Array("own_width", "int32_t", "n", written=True),
        Array("pattern_start", "int32_t", "widths + n", written=True),
        Array("pattern_end", "int32_t", "widths + n", written=True),
        Array("pattern_item", "int32_t", "room", written=True),
        Array("pattern_copies", "int32_t", "room", written=True),
        Number("room", "int", 0),
    ),
)
PRICE_BOARDS = Kernel(
    "cutting",
    "price_boards",
    "int",
    (
        Number("widths", "int", 0),
        Array("width", "int32_t", "widths"),
        Array("bounds", "int32_t", "widths"),
        Array("values", "int64_t", "widths"),
        Number("capacity", "int", 0),
        Array("best_value", "int64_t", "widths + 1", written=True),
        Array("pattern_start", "int32_t", "widths + 2", written=True),
        Array("pattern_width", "int32_t", "room", written=True),
        Array("pattern_copies", "int32_t", "room", written=True),
        Number("room", "int", 0),
    ),
)
PRICE_OFFCUTS = Kernel(
    "cutting",
    "price_offcuts",
    "int",
    (
        Number("n", "int", 0),
        Array("lengths", "int32_t", "n"),
        Array("width_min", "int32_t", "n"),
        Array("width_max", "int32_t", "n"),
        Array("bounds", "int32_t", "n"),
        Array("values", "int64_t", "n"),
        Number("widths", "int", 0),
        Array("width", "int32_t", "widths"),
        Array("width_bounds", "int32_t", "widths"),
        Number("kerf", "int", 0),
        Number("offcuts", "int", 0),
        Array("offcut_length", "int32_t", "offcuts"),
        Array("offcut_width", "int32_t", "offcuts"),
        Array("best_value", "int64_t", "offcuts", written=True),
        Array("pattern_offcut", "int32_t", "room", written=True),
        Array("pattern_width", "int32_t", "room", written=True),
        Array("pattern_strips", "int32_t", "room", written=True),
        Array("pattern_item", "int32_t", "room", written=True),
        Array("pattern_copies", "int32_t", "room", written=True),
        Number("room", "int", 0),
    ),
)
FORM_STRIPS = Kernel(
    "cutting",
    "form_strips",
    "int",
    (
        Number("pieces", "int", 0),
        Array("length", "int32_t", "pieces"),
        Array("width_min", "int32_t", "pieces"),
        Array("width_max", "int32_t", "pieces"),
        Number("capacity", "int", 0),
        Number("shortest", "int", 0),
        Number("tolerance", "int", 0),
        Array("strip_of", "int32_t", "pieces", written=True),
        Array("strip_width", "int32_t", "pieces", written=True),
    ),
)
FILL_BOARDS = Kernel(
    "cutting",
    "fill_boards",
    "int",
    (
        Number("widths", "int", 0),
        Array("width", "int32_t", "widths"),
        Array("demand", "int32_t", "widths", written=True),
        Number("capacity", "int", 0),
        Number("most_patterns", "int", 0),
        Array("pattern_copies", "int32_t", "most_patterns * widths", written=True),
        Array("pattern_repeat", "int32_t", "most_patterns", written=True),
    ),
)
LAY_OUT_RUNS = Kernel(
    "joints",
    "lay_out_runs",
    "int64_t",
    (
        Number("runs", "int64_t", 0),
        Array("length", "int64_t", "runs"),
        Array("knot_start", "int64_t", "runs + 1", least_part=1),
        Array("knot_at", "int64_t", "knot_start[-1]"),
        Array("knot_gap", "int64_t", "knot_start[-1]"),
        Array("mullion_start", "int64_t", "runs + 1", least_part=0),
        Array("mullion_at", "int64_t", "mullion_start[-1]"),
        Array("board_start", "int64_t", "runs + 1", least_part=1),
        Array("board_length", "int64_t", "board_start[-1]"),
        Array("board_width", "int64_t", "board_start[-1]"),
        Array("rules_given", "int64_t", "11"),
        Array("value_cost", "int64_t", "value_lengths * value_widths", optional=True),
        Number("value_lengths", "int64_t", 0),
        Number("value_widths", "int64_t", 0),
        Number("pieces_first", "int64_t", 0),
        Number("capacity", "int64_t", 0),
        Array("rows_out", "int64_t", "10 * capacity", written=True),
    ),
)
COUNT_ACCESSORIES = Kernel(
    "draws",
    "count_accessories",
    "int64_t",
    (
        Number("pieces", "int64_t", 0),
        Array("rows", "int64_t", "10 * pieces"),
        Number("runs", "int64_t", 0, passed=False),
        Array("knot_start", "int64_t", "runs + 1", least_part=1),
        Array("knot_at", "int64_t", "knot_start[-1]"),
        Array("knot_gap", "int64_t", "knot_start[-1]"),
        Array("mullion_start", "int64_t", "runs + 1", least_part=0),
        Array("mullion_at", "int64_t", "mullion_start[-1]"),
        Array("rules", "int64_t", "9"),
        Number("sizes", "int64_t", 0),
        Array("reach", "int64_t", "sizes"),
        Array("piece_size", "int64_t", "pieces", written=True),
        Array("piece_brackets", "int64_t", "pieces", written=True),
        Array("totals", "int64_t", "2", written=True),
    ),
)
COUNT_BOARDS = Kernel(
    "draws",
    "count_boards",
    "int64_t",
    (
        Number("pieces", "int64_t", 0),
        Array("piece_length", "int64_t", "pieces"),
        Array("width_min", "int64_t", "pieces"),
        Array("width_max", "int64_t", "pieces"),
        Number("length", "int64_t", 1),
        Number("width", "int64_t", 1),
        Number("kerf", "int64_t", 0),
        Number("items", "int64_t", 0),
        Array("stock_width", "int64_t", "items"),
        Array("stock_left", "int64_t", "items", written=True),
        Number("tries", "int64_t", 1),
        Array("tolerances", "int64_t", "tries"),
    ),
)
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


def price_strips(
    lengths: Ints,
    width_min: Ints,
    width_max: Ints,
    bounds: Ints,
    values: Values,
    widths: Ints,
    capacity: int,
    slot_values: Values | None,
) -> tuple[Patterns, Ints]:
    """`reference.knapsacks.price_strips`: patterns of the widths and then of the components, and each component's
    own width. Raises MemoryError when the knapsack does not fit in memory."""
    shortest = max(1, int(lengths.min(initial=1)))
    items_a_strip = min(64, max(1, capacity // shortest) + 1)
    room = max(64, (len(widths) + (4 * len(lengths) if slot_values is not None else 0)) * items_a_strip)
    while True:
        best = np.zeros(len(widths), np.int64)
        own_width = np.zeros(len(lengths), np.int32)
        start = np.zeros(len(widths) + len(lengths), np.int32)
        end = np.zeros(len(widths) + len(lengths), np.int32)
        items, copies = np.zeros(room, np.int32), np.zeros(room, np.int32)
        given = {
            "n": len(lengths),
            "lengths": lengths,
            "width_min": width_min,
            "width_max": width_max,
            "bounds": bounds,
            "values": values,
            "widths": len(widths),
            "width": widths,
            "capacity": capacity,
            "slot_values": slot_values,
            "best_value": best,
            "own_width": own_width,
            "pattern_start": start,
            "pattern_end": end,
            "pattern_item": items,
            "pattern_copies": copies,
            "room": room,
        }
        library = compiled_library("cutting")
        if library is None:
            PRICE_STRIPS.checked(given)
            found = knapsacks.price_strips(
                lengths.tolist(),
                width_min.tolist(),
                width_max.tolist(),
                bounds.tolist(),
                values.tolist(),
                widths.tolist(),
                capacity,
                None if slot_values is None else slot_values.tolist(),
            )
            return Patterns.of(found.best, found.patterns), np.array(found.own_width, dtype=np.int32)
        if PRICE_STRIPS.call(library, given) >= 0:
            return Patterns(best, start, end, items, copies), own_width
        if room > _ROOM_LIMIT:
            raise MemoryError("the strip knapsack does not fit in memory")
        room *= 8


def price_boards(widths: Ints, bounds: Ints, values: Values, capacity: int) -> Patterns:
    """`reference.knapsacks.price_boards`. Raises MemoryError when the knapsack does not fit in memory."""
    count = len(widths)
    narrowest = max(1, int(widths.min(initial=1)))
    room = (count + 1) * min(count, max(1, capacity // narrowest) + 1) + 16
    best = np.zeros(count + 1, np.int64)
    start = np.zeros(count + 2, np.int32)
    items, copies = np.zeros(room, np.int32), np.zeros(room, np.int32)
    given = {
        "widths": count,
        "width": widths,
        "bounds": bounds,
        "values": values,
        "capacity": capacity,
        "best_value": best,
        "pattern_start": start,
        "pattern_width": items,
        "pattern_copies": copies,
        "room": room,
    }
    library = compiled_library("cutting")
    if library is None:
        PRICE_BOARDS.checked(given)
        return Patterns.of(
            *knapsacks.price_boards(widths.tolist(), bounds.tolist(), values.tolist(), capacity)
        )
    if PRICE_BOARDS.call(library, given) < 0:
        raise MemoryError("the board knapsack does not fit in memory")
    return Patterns(best, start[:-1], start[1:], items, copies)


def price_offcuts(
    lengths: Ints,
    width_min: Ints,
    width_max: Ints,
    bounds: Ints,
    values: Values,
    widths: Ints,
    width_bounds: Ints,
    kerf: int,
    offcut_length: Ints,
    offcut_width: Ints,
) -> tuple[Values, Ints]:
    """`reference.knapsacks.price_offcuts`: the value of each offcut's best pattern, and the rows (offcut, width,
    strips, item, copies) of all. Raises MemoryError when the knapsacks do not fit in memory."""
    count = len(offcut_length)
    room = 64 * (count + 1)
    while True:
        best = np.zeros(count, np.int64)
        rows = [np.zeros(room, np.int32) for _ in range(5)]
        given = {
            "n": len(lengths),
            "lengths": lengths,
            "width_min": width_min,
            "width_max": width_max,
            "bounds": bounds,
            "values": values,
            "widths": len(widths),
            "width": widths,
            "width_bounds": width_bounds,
            "kerf": kerf,
            "offcuts": count,
            "offcut_length": offcut_length,
            "offcut_width": offcut_width,
            "best_value": best,
            "pattern_offcut": rows[0],
            "pattern_width": rows[1],
            "pattern_strips": rows[2],
            "pattern_item": rows[3],
            "pattern_copies": rows[4],
            "room": room,
        }
        library = compiled_library("cutting")
        if library is None:
            PRICE_OFFCUTS.checked(given)
            found = knapsacks.price_offcuts(
                lengths.tolist(),
                width_min.tolist(),
                width_max.tolist(),
                bounds.tolist(),
                values.tolist(),
                widths.tolist(),
                width_bounds.tolist(),
                kerf,
                offcut_length.tolist(),
                offcut_width.tolist(),
            )
            return np.array(found.best, dtype=np.int64), np.array(found.rows, dtype=np.int32).reshape(-1, 5)
        written = PRICE_OFFCUTS.call(library, given)
        if written >= 0:
            return best, np.stack([row[:written] for row in rows], axis=1)
        if room > _ROOM_LIMIT:
            raise MemoryError("the knapsacks of the offcuts do not fit in memory")
        room *= 8


def form_strips(
    lengths: Ints, width_min: Ints, width_max: Ints, capacity: int, shortest: int, tolerance: int
) -> tuple[Ints, Ints]:
    """`reference.boards.form_strips`: (strip of each piece, width of each strip). Raises MemoryError."""
    strip_of = np.zeros(len(lengths), np.int32)
    strip_width = np.zeros(len(lengths), np.int32)
    given = {
        "pieces": len(lengths),
        "length": lengths,
        "width_min": width_min,
        "width_max": width_max,
        "capacity": capacity,
        "shortest": shortest,
        "tolerance": tolerance,
        "strip_of": strip_of,
        "strip_width": strip_width,
    }
    library = compiled_library("cutting")
    if library is None:
        FORM_STRIPS.checked(given)
        columns = lengths.tolist(), width_min.tolist(), width_max.tolist()
        strips, widths = boards.form_strips(*columns, capacity, shortest, tolerance)
        return np.array(strips, dtype=np.int32), np.array(widths, dtype=np.int32)
    count = FORM_STRIPS.call(library, given)
    if count < 0:
        raise MemoryError("strips do not fit in memory")
    return strip_of, strip_width[:count]


def fill_boards(widths: Ints, demand: Ints, capacity: int) -> list[tuple[Pairs, int]]:
    """`reference.boards.fill_boards`: (pattern, repeat) of each kind of board; leaves `demand` as it is.

    Raises ValueError for a width below 1, MemoryError when there is no memory.
    """
    if (widths < 1).any():
        raise ValueError("fill_boards: a width is below 1")
    most = int(demand.sum()) + 1
    room = min(most, 4 * len(widths) + 64)
    while True:
        copies = np.zeros((room, max(1, len(widths))), np.int32)
        repeat = np.zeros(room, np.int32)
        given = {
            "widths": len(widths),
            "width": widths,
            "demand": demand.copy(),
            "capacity": capacity,
            "most_patterns": room,
            "pattern_copies": copies,
            "pattern_repeat": repeat,
        }
        library = compiled_library("cutting")
        if library is None:
            FILL_BOARDS.checked(given)
            return boards.fill_boards(widths.tolist(), demand.tolist(), capacity)
        made = FILL_BOARDS.call(library, given)
        if made >= 0:
            break
        if room >= most:
            raise MemoryError("board patterns do not fit in memory")
        room = min(most, room * 4)
    patterns = []
    for k in range(made):
        used = np.flatnonzero(copies[k])
        pairs = tuple(zip(used.tolist(), copies[k][used].tolist(), strict=True))
        patterns.append((pairs, int(repeat[k])))
    return patterns


class RunTables(NamedTuple):
    """Runs as arrays of int64 mm. A `*_start` array of runs + 1 entries says where each run's part of the arrays
    beside it begins; knots (measured positions) are ascending, at least one a run; mullions are ascending; a run has
    at least one board."""

    length: Values
    knot_start: Values
    knot_at: Values
    knot_gap: Values
    mullion_start: Values
    mullion_at: Values
    board_start: Values
    board_length: Values
    board_width: Values


class LayoutRules(NamedTuple):
    """Rules of the detail as whole numbers: cut width over gap from `rate_min` to `rate_max` over `rate_unit`; the rest
    as in `reference.joint_layout.Rules`. `every_millimetre` is slow and changes nothing: a check of the leaps."""

    rate_unit: int
    rate_min: int
    rate_max: int
    gap_min: int
    gap_max: int
    piece_min: int
    shortest: int
    clearance: int
    taper_step: int
    taper_max: int
    every_millimetre: bool = False


def lay_out_runs(
    runs: RunTables, rules: LayoutRules, cost: Values | None = None, pieces_first: bool = False
) -> Values:
    """`reference.runs.lay_out_run` of every run, in order of run and position: rows that tile every run.

    A row is ROW_WIDTH numbers: run, kind, from, to, gap rounded down and up, width min and max, width at start and
    end.

    `cost[length, width]`: see `reference.joint_prices`. Raises ValueError for what cannot be, MemoryError when there is
    no memory, RuntimeError for a fault of the kernel.
    """
    for name in ("length", "board_length", "board_width"):
        if (getattr(runs, name) < 1).any():
            raise ValueError(f"lay_out_runs: a number in {name} is below 1")
    least_of_all = min(rules.rate_unit, rules.piece_min, rules.shortest, rules.taper_step)
    if least_of_all < 1 or min(rules.clearance, rules.taper_max) < 0:
        raise ValueError(f"lay_out_runs: a rule is too small: {rules}")
    if cost is not None and (cost.ndim != 2 or cost.size == 0):
        raise ValueError("lay_out_runs: cost must be a table of lengths by widths")
    capacity = int(2 * (runs.length // 300).sum() + 4 * len(runs.knot_at) + 16)
    while True:
        rows = np.empty((capacity, ROW_WIDTH), dtype=np.int64)
        given = {
            "runs": len(runs.length),
            **runs._asdict(),
            "rules_given": np.array(rules, dtype=np.int64),
            "value_cost": cost,
            "value_lengths": 0 if cost is None else len(cost),
            "value_widths": 0 if cost is None else cost.shape[1],
            "pieces_first": int(pieces_first),
            "capacity": capacity,
            "rows_out": rows,
        }
        arguments = LAY_OUT_RUNS.checked(given)
        _check_positions("lay_out_runs: knot_at", runs.knot_start, runs.knot_at, 1)
        _check_positions("lay_out_runs: mullion_at", runs.mullion_start, runs.mullion_at, 0)
        library = compiled_library("joints")
        if library is None:
            return lay_out_by_reference(runs, rules, cost, pieces_first)
        found = int(LAY_OUT_RUNS.function(library)(*arguments))
        if found == _NO_MEMORY:
            raise MemoryError("no memory for the joint layout")
        if found < 0:
            raise RuntimeError("the joint layout found no way to the end of a run: a fault of this tool")
        if found <= capacity:
            return rows[:found]
        capacity = found


def lay_out_by_reference(
    runs: RunTables, rules: LayoutRules, cost: Values | None, pieces_first: bool
) -> Values:
    detail = Rules(Rates(*rules[:3]), *rules[3:10])
    prices = None if cost is None else PiecePrices(cost.tolist(), pieces_first)
    gaps = _gap_lines(runs.knot_start, runs.knot_at, runs.knot_gap)
    mullions = _parts(runs.mullion_start, runs.mullion_at)
    sizes = zip(
        _parts(runs.board_start, runs.board_length), _parts(runs.board_start, runs.board_width), strict=True
    )
    rows = [
        (number, row.kind, row.from_mm, row.to_mm, *row.span, row.width_start, row.width_end)
        for number, (length, size) in enumerate(zip(runs.length.tolist(), sizes, strict=True))
        for row in lay_out_run(
            Run.of(length, gaps[number], mullions[number], [*map(Board, *size)], detail), prices
        )
    ]
    return np.array(rows, dtype=np.int64).reshape(-1, ROW_WIDTH)


class AccessoryRules(NamedTuple):
    """Rules of the detail as whole numbers: see `reference.brackets`; insertions over `insertion_unit`."""

    clearance: int
    end_distance: int
    spacing: int
    insertion_unit: int
    insertion_low: int
    insertion_high: int
    insertion_target: int
    tape_lap: int
    tape_faces: int


def count_accessories(
    rows: Values, runs: RunTables, rules: AccessoryRules, reaches: Values
) -> tuple[Values, Values, int, int]:
    """`reference.brackets.count_accessories` of laid rows that are pieces.

    Of each the index of its bracket size and its brackets; joints; tape in mm. Raises ValueError for what cannot be,
    MemoryError when there is no memory.
    """
    size, brackets_of = np.empty(len(rows), np.int64), np.empty(len(rows), np.int64)
    totals = np.zeros(2, np.int64)
    given = {
        "pieces": len(rows),
        "rows": rows,
        "runs": len(runs.length),
        "knot_start": runs.knot_start,
        "knot_at": runs.knot_at,
        "knot_gap": runs.knot_gap,
        "mullion_start": runs.mullion_start,
        "mullion_at": runs.mullion_at,
        "rules": np.array(rules, dtype=np.int64),
        "sizes": len(reaches),
        "reach": reaches,
        "piece_size": size,
        "piece_brackets": brackets_of,
        "totals": totals,
    }
    arguments = COUNT_ACCESSORIES.checked(given)
    if ((rows[:, 0] < 0) | (rows[:, 0] >= len(runs.length))).any():
        raise ValueError("count_accessories: a row is of a run that there is not")
    if (rows[:, 3] < rows[:, 2]).any():
        raise ValueError("count_accessories: a row ends before it begins")
    if min(rules.spacing, rules.insertion_unit) < 1 or min(rules.clearance, rules.end_distance) < 0:
        raise ValueError(f"count_accessories: a rule is too small: {rules}")
    library = compiled_library("draws")
    if library is None:
        return count_by_reference(rows, runs, rules, reaches)
    if COUNT_ACCESSORIES.function(library)(*arguments) < 0:
        raise MemoryError("no memory for the brackets")
    return size, brackets_of, int(totals[0]), int(totals[1])


def count_by_reference(
    rows: Values, runs: RunTables, rules: AccessoryRules, reaches: Values
) -> tuple[Values, Values, int, int]:
    insertion = (Fraction(rate, rules.insertion_unit) for rate in rules[4:7])
    counted = brackets.count_accessories(
        [brackets.Piece(run, from_mm, to_mm) for run, _, from_mm, to_mm, *_ in rows.tolist()],
        _gap_lines(runs.knot_start, runs.knot_at, runs.knot_gap),
        _parts(runs.mullion_start, runs.mullion_at),
        brackets.Standing(*rules[:3]),
        brackets.Insertion(*insertion),
        rules.tape_lap,
        rules.tape_faces,
        reaches.tolist(),
    )
    size, brackets_of = (np.array(column, dtype=np.int64) for column in counted[:2])
    return size, brackets_of, counted.joints, counted.tape_mm


def count_boards(
    lengths: Values,
    width_min: Values,
    width_max: Values,
    board: tuple[int, int],
    kerf: int,
    stock_width: Values,
    stock_left: Values,
    tolerances: Values,
) -> int:
    """`reference.boards.count_boards`: boards (length, width) bought; `stock_left` is used up in place.

    Raises MemoryError when there is no memory: the stock is then as it was.
    """
    given = {
        "pieces": len(lengths),
        "piece_length": lengths,
        "width_min": width_min,
        "width_max": width_max,
        "length": board[0],
        "width": board[1],
        "kerf": kerf,
        "items": len(stock_width),
        "stock_width": stock_width,
        "stock_left": stock_left,
        "tries": len(tolerances),
        "tolerances": tolerances,
    }
    library = compiled_library("draws")
    if library is None:
        COUNT_BOARDS.checked(given)
        columns = lengths.tolist(), width_min.tolist(), width_max.tolist()
        stock = stock_width.tolist(), stock_left.tolist()
        count, left = boards.count_boards(*columns, board, kerf, *stock, tolerances.tolist())
        stock_left[:] = left
        return count
    count = COUNT_BOARDS.call(library, given)
    if count < 0:
        raise MemoryError("no memory for the boards")
    return count


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
    library = compiled_library("rearranging")
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
    found = rearranging.rearrange(
        [arrangement.Component(*row) for row in zip(*(c.tolist() for c in components[:7]), strict=True)],
        components.sharing.tolist(),
        _parts(components.partner_start, components.partners),
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


def _check_positions(where: str, starts: Values, positions: Values, least_step: int) -> None:
    """Raises ValueError where the positions of a part are not ascending by at least a step."""
    steps = np.diff(positions)
    begins = starts[1:-1]
    steps[begins[(begins > 0) & (begins < len(positions))] - 1] = least_step  # from one part to the next
    if (steps < least_step).any():
        raise ValueError(f"{where} is not ascending")


def _parts(starts: Values | Ints, values: Values | Ints) -> list[list[int]]:
    bounds, listed = starts.tolist(), values.tolist()
    return [listed[a:b] for a, b in pairwise(bounds)]


def _gap_lines(starts: Values, at: Values, gap: Values) -> list[GapLine]:
    return [GapLine(*line) for line in zip(_parts(starts, at), _parts(starts, gap), strict=True)]
