"""A column of a table: what it is called, what its values are, and how one is read from a row."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from operator import attrgetter
from typing import Any, Literal

Kind = Literal[
    "text",
    "long text",
    "texts",
    "numbers",
    "date",
    "count",
    "mm",
    "metres",
    "area",
    "share",
    "number",
    "money",
    "flag",
]
"""What a column's values are: text (`long text` wraps where it is printed), tuples of texts or of whole
millimetres, dates, whole numbers, whole millimetres, metres, square metres, shares of 1, other numbers, amounts of
money, and yes or no."""

OF_TEXT: tuple[Kind, ...] = ("text", "long text", "texts", "numbers", "date", "flag")
"""Kinds whose cells are set to the left; all others are numbers and are set to the right."""


@dataclass(frozen=True)
class Column:
    """A column.

    `name` is its name in JSON, csv and frames, and the attribute of the row that holds its value unless `value` says
    how to find it. `heading` is for people, without the `unit`; `short` stands where little room is. `width` is in
    characters, `decimals` the places of a number in csv (None: as many as it has), `joined` what stands between the
    parts of a tuple when it is written as text. `what` says what the values mean.
    """

    name: str
    heading: str
    kind: Kind = "text"
    width: float = 12
    unit: str = ""
    short: str = ""
    what: str = ""
    decimals: int | None = None
    joined: str = ", "
    value: Callable[[Any], Any] | None = None

    def of(self, row: Any) -> Any:
        """The column's value in a row: text, a whole number, a tuple ...; None where there is none.

        Raises AttributeError where the row has no such attribute.
        """
        return attrgetter(self.name)(row) if self.value is None else self.value(row)

    @property
    def heading_with_unit(self) -> str:
        """'From mm'."""
        return f"{self.heading} {self.unit}".rstrip()

    @property
    def narrow_heading(self) -> str:
        """The heading where there is little room."""
        return self.short or self.heading_with_unit

    @property
    def within_a_line(self) -> str:
        """The heading as it stands in small letters, 'price per pack'."""
        return self.heading[:1].lower() + self.heading[1:]

    @property
    def to_the_right(self) -> bool:
        """Whether its cells are set to the right, as numbers are."""
        return self.kind not in OF_TEXT


Columns = tuple[Column, ...]


def only(columns: Sequence[Column], *names: str) -> Columns:
    """The columns of these names, in the order of the names. Raises KeyError for a name that there is not."""
    by_name = {column.name: column for column in columns}
    return tuple(by_name[name] for name in names)


def constant(column: Column, value: Any) -> Column:
    """A column that has the same value in every row."""
    return replace(column, value=lambda row: value)


def units_of(columns: Sequence[Column]) -> dict[str, str]:
    """The unit of each column that has one, by name."""
    return {column.name: column.unit for column in columns if column.unit}


CURRENCY = Column("currency", "Currency", width=9, what="of all amounts, ISO 4217")
