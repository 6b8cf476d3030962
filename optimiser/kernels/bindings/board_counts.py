"""The boards that the pieces of one draw take."""

from __future__ import annotations

from optimiser.kernels import loading
from optimiser.kernels.declaring import Array, Kernel, Number
from optimiser.kernels.patterns import Values
from optimiser.kernels.reference import boards

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
    library = loading.compiled_library("draws")
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
