"""The binding: declared as the C is written, and what does not fit is refused by name before the call."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from optimiser.kernels import bindings, least_priced
from optimiser.kernels.bindings import AccessoryRules, LayoutRules, RunTables
from optimiser.kernels.declaring import Array, Kernel
from optimiser.kernels.loading import FOLDER, LIBRARIES
from tests.kernels.drawn import ints, longs
from tests.kernels.rearranged import of_the_trades_sizes

KERNELS = [
    value
    for module in (bindings, least_priced)
    for value in vars(module).values()
    if isinstance(value, Kernel)
]


def prototypes(library: str) -> dict[str, tuple[str, list[tuple[str, str]]]]:
    """What a library offers, read from its source: (result, [(type, name)]) by the function's name."""
    found = {}
    source = (FOLDER / f"{library}.c").read_text()
    for result, name, arguments in re.findall(
        r"^(int|int64_t) (\w+)\(([^)]*)\) \{", source, flags=re.MULTILINE
    ):
        pairs = [re.fullmatch(r"(.*?[ *])(\w+)", part.strip()) for part in arguments.split(",")]
        found[name] = (result, [(pair[1].strip(), pair[2]) for pair in pairs if pair])
    return found


@pytest.mark.parametrize("kernel", KERNELS, ids=lambda kernel: kernel.name)
def test_a_kernel_is_declared_as_it_is_written(kernel: Kernel) -> None:
    """Names, types and order, and which arrays are written to: those that are not const."""
    declared = []
    for argument in kernel.passed:
        if isinstance(argument, Array):
            declared.append((f"{'' if argument.written else 'const '}{argument.type} *", argument.name))
        else:
            declared.append((argument.type, argument.name))
    assert prototypes(kernel.library)[kernel.name] == (kernel.result, declared)


def test_every_function_of_the_libraries_is_declared() -> None:
    written = {name for library in LIBRARIES for name in prototypes(library)}
    assert {kernel.name for kernel in KERNELS} == written


RUNS = RunTables(
    length=longs([2400, 1200]),
    knot_start=longs([0, 1, 3]),
    knot_at=longs([0, 0, 1200]),
    knot_gap=longs([150, 150, 152]),
    mullion_start=longs([0, 1, 2]),
    mullion_at=longs([700, 300]),
    board_start=longs([0, 1, 2]),
    board_length=longs([1200, 1200]),
    board_width=longs([1000, 1000]),
)
RULES = LayoutRules(100, 110, 115, 25, 400, 300, 30, 100, 1, 30)
ACCESSORIES = AccessoryRules(75, 300, 600, 100, 70, 85, 75, 50, 1)
WIDTHS = ints([165, 240])


def price_boards(**changed: Any) -> object:
    given = {"widths": WIDTHS, "bounds": ints([3, 3]), "values": longs([5, 8]), "capacity": 1000} | changed
    return bindings.price_boards(**given)


def lay_out(**changed: Any) -> object:
    return bindings.lay_out_runs(RUNS._replace(**changed), RULES)


def count_accessories(rows: list[list[int]]) -> object:
    table = np.array([row + [0] * 6 for row in rows], dtype=np.int64).reshape(-1, bindings.ROW_WIDTH)
    return bindings.count_accessories(table, RUNS, ACCESSORIES, longs([110]))


def rearrange(**changed: Any) -> object:
    """Arrays of components, of boards and of the arrangement by their names, numbers by those of `rearrange`."""
    drawn = of_the_trades_sizes(0, moves=1, pieces=9)
    parts = [drawn.components, drawn.boards, drawn.before]
    for k, part in enumerate(parts):
        here = {name: value for name, value in changed.items() if name in part._fields}
        parts[k] = part._replace(**here)  # type: ignore[arg-type]
    given = {"numbers": drawn.numbers, "temperature": 1.0, "cooling": 1.0, "moves": 1, "best_cost": 0} | {
        name: value for name, value in changed.items() if not any(name in part._fields for part in parts)
    }
    return bindings.rearrange(
        parts[0],  # type: ignore[arg-type]
        parts[1],  # type: ignore[arg-type]
        weights=drawn.weights,
        stages_of_all_pieces=0,
        share=10,
        arranged=parts[2],  # type: ignore[arg-type]
        **given,
    )


def test_what_the_refused_calls_below_change_is_right_as_it_stands() -> None:
    price_boards()
    lay_out()
    rearrange()
    count_accessories([[0, 0, 0, 1200], [1, 0, 0, 1200]])


@pytest.mark.parametrize(
    ("call", "error", "says"),
    [
        (
            lambda: price_boards(values=ints([5, 8])),
            TypeError,
            "price_boards: values must hold int64, not int32",
        ),
        (lambda: price_boards(widths=longs([165, 240])), TypeError, "width must hold int32, not int64"),
        (lambda: price_boards(values=np.array([5.0, 8.0])), TypeError, "values must hold int64, not float64"),
        (lambda: price_boards(bounds=[3, 3]), TypeError, "bounds must be an array of int32, not list"),
        (lambda: price_boards(bounds=ints([3])), ValueError, "bounds does not fit together: 1 entries where"),
        (lambda: price_boards(bounds=ints([3, 3, 3])), ValueError, "bounds does not fit together: 3 entries"),
        (lambda: price_boards(bounds=ints([3, 9, 3, 9])[::2]), ValueError, "bounds must lie in one piece"),
        (lambda: price_boards(capacity=-1), ValueError, "capacity is -1: it may be from 0 to 2147483647"),
        (lambda: price_boards(capacity=2**31), ValueError, "capacity is 2147483648"),
        (lambda: price_boards(capacity=1000.0), TypeError, "capacity must be a whole number, not float"),
        (lambda: bindings.fill_boards(ints([0]), ints([1]), 9), ValueError, "a width is below 1"),
        (
            lambda: lay_out(knot_start=longs([0, 1, 2])),
            ValueError,
            "knot_at does not fit together: 3 entries",
        ),
        (lambda: lay_out(knot_start=longs([0, 0, 3])), ValueError, "parts of at least 1"),
        (lambda: lay_out(knot_start=longs([1, 2, 3])), ValueError, "from 0"),
        (lambda: lay_out(mullion_start=longs([0, 2, 1])), ValueError, "mullion_start does not fit together"),
        (lambda: lay_out(knot_at=longs([0, 1200, 1200])), ValueError, "knot_at is not ascending"),
        (lambda: lay_out(board_length=longs([1200, 0])), ValueError, "board_length is below 1"),
        (lambda: lay_out(knot_gap=np.array([150, 150, 152.0])), TypeError, "knot_gap must hold int64"),
        (
            lambda: bindings.lay_out_runs(RUNS, RULES._replace(taper_step=0)),
            ValueError,
            "a rule is too small",
        ),
        (lambda: bindings.lay_out_runs(RUNS, RULES, longs([1, 2])), ValueError, "cost must be a table"),
        (lambda: rearrange(length=longs([600] * 9)), TypeError, "rearrange: length must hold int32"),
        (lambda: rearrange(codes=ints([1] * 9)), TypeError, "rearrange: codes must hold int64, not int32"),
        (lambda: rearrange(random=longs([5])), TypeError, "random must hold uint64, not int64"),
        (lambda: rearrange(random=np.zeros(1, np.uint64)), ValueError, "the random numbers is 0"),
        (lambda: rearrange(first=ints([0] * 18)[::2]), ValueError, "first must lie in one piece"),
        (lambda: rearrange(first=ints([4] * 9)), ValueError, "a number in first is not from 0 to 3"),
        (lambda: rearrange(last=ints([-1] * 9)), ValueError, "a number in last is not from 0 to 3"),
        (lambda: rearrange(strip_of=ints([9] * 9)), ValueError, "a number in strip_of is not from 0 to 8"),
        (lambda: rearrange(board_of=ints([99] * 9)), ValueError, "a number in board_of is not from 0 to"),
        (lambda: rearrange(board_of=ints([0] * 8)), ValueError, "board_of does not fit together: 8 entries"),
        (lambda: rearrange(sharing=ints([9])), ValueError, "a number in sharing is not from 0 to 8"),
        (lambda: rearrange(pieces=ints([0] * 9)), ValueError, "a number in pieces is not from 1 to"),
        (lambda: rearrange(pieces=ints([1 << 21] * 9)), ValueError, "16777216 pieces or more"),
        (lambda: rearrange(width_min=ints([0] * 9)), ValueError, "a number in width_min is not from 1 to"),
        (lambda: rearrange(numbers=ints([1, 2, 2, 3])), ValueError, "number is not ascending"),
        (lambda: rearrange(temperature=0.0), ValueError, "temperature and cooling must be above 0"),
        (lambda: rearrange(cooling=float("nan")), ValueError, "cooling is nan: it must be finite"),
        (lambda: rearrange(temperature="hot"), TypeError, "temperature must be a number, not str"),
        (lambda: rearrange(moves=-1), ValueError, "moves is -1: it may be from 0"),
        (lambda: count_accessories([[2, 0, 0, 1200]]), ValueError, "a row is of a run that there is not"),
        (lambda: count_accessories([[-1, 0, 0, 1200]]), ValueError, "a row is of a run that there is not"),
        (lambda: count_accessories([[0, 0, 900, 100]]), ValueError, "a row ends before it begins"),
    ],
)
def test_what_does_not_fit_is_refused_by_name(
    call: Callable[[], object], error: type[Exception], says: str
) -> None:
    with pytest.raises(error, match=re.escape(says)):
        call()


def test_an_array_that_is_written_to_must_be_writeable() -> None:
    left = longs([2])
    left.flags.writeable = False
    columns = longs([900]), longs([165]), longs([172])
    with pytest.raises(ValueError, match="stock_left is written to, but is read-only"):
        bindings.count_boards(*columns, (1200, 1000), 0, longs([400]), left, longs([1000]))


def test_an_argument_forgotten_is_named() -> None:
    with pytest.raises(TypeError, match="form_strips: these arguments do not match: capacity"):
        bindings.FORM_STRIPS.checked(
            {a.name: 0 for a in bindings.FORM_STRIPS.arguments if a.name != "capacity"}
        )
