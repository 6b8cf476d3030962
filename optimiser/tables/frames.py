"""Tables as pandas frames. pandas is imported when a frame is asked for, not before."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from optimiser.tables.columns import Column, units_of

if TYPE_CHECKING:
    import pandas


def frame_of(columns: Sequence[Column], rows: Iterable[Any]) -> pandas.DataFrame:
    """A table as a frame: a row a row, in their order; a column a column, under its name.

    Parameters
    ----------
    columns, rows
        The table's columns, and the objects that they are read from.

    Returns
    -------
    pandas.DataFrame
        Shape (rows, columns). Counts and millimetres are int64, or Int64 where a value is missing; shares, metres
        and square metres float64; dates datetime64; flags bool; text str. Money is exact: `decimal.Decimal` in an
        object column (`.astype(float)` for a chart). A cell of several values holds a tuple. `attrs['units']` has the
        unit of each column that has one, `attrs['meanings']` what it says.
    """
    import pandas as pd

    items = list(rows)
    frame = pd.DataFrame(
        {column.name: _series(column, [column.of(item) for item in items]) for column in columns},
        index=pd.RangeIndex(len(items)),
    )
    frame.attrs["units"] = units_of(columns)
    frame.attrs["meanings"] = {column.name: column.what for column in columns if column.what}
    return frame


def _series(column: Column, values: list[Any]) -> pandas.Series[Any]:
    import pandas as pd

    match column.kind:
        case "count" | "mm":
            return pd.Series(values, dtype="Int64" if None in values else "int64")
        case "share" | "number" | "metres" | "area":
            return pd.Series([None if value is None else float(value) for value in values], dtype="float64")
        case "date":
            return pd.Series(pd.to_datetime(pd.Series(values, dtype="object")), dtype="datetime64[s]")
        case "flag":
            return pd.Series(values, dtype="boolean" if None in values else "bool")
        case "money" | "texts" | "numbers":
            return pd.Series(values, dtype="object")
    return pd.Series(values, dtype="str")
