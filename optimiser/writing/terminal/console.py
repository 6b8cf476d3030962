"""The terminal that people read: where it is a file or a pipe, lines have a fixed width and no colours."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import zip_longest
from typing import Any

from optimiser.tables.columns import Column
from optimiser.tables.text import cell_text
from optimiser.writing.drawing.shapes import without_control_characters

_LONGEST_WORD = 20
DECIDES = "The tested detail, local code and a licensed practitioner decide what may be built."


def terminal(width_elsewhere: int = 100) -> Any:
    """A console on stdout; `width_elsewhere` is its width in characters where stdout is no terminal."""
    from rich.console import Console

    console = Console(markup=False, highlight=False, emoji=False)
    if not console.is_terminal:
        console = Console(markup=False, highlight=False, emoji=False, width=width_elsewhere)
    return console


def plain_table(title: str, close: bool = False) -> Any:
    """A table with a rule under its headings and nothing else; `close`: of many columns, which stand closer."""
    from rich.box import SIMPLE_HEAD
    from rich.table import Table

    return Table(
        title=title,
        title_justify="left",
        title_style="bold",
        pad_edge=False,
        box=SIMPLE_HEAD,
        collapse_padding=close,
    )


def filled_table(
    title: str,
    columns: Sequence[Column],
    rows: Iterable[Any],
    currency: str = "",
    no_wrap: bool = False,
    close: bool = False,
) -> Any:
    """A table of these rows under the columns' own headings, numbers set to the right; `close`: of many columns."""
    from rich.text import Text

    table = plain_table(title, close)
    cells = [[without_control_characters(cell_text(c, row, currency)) for c in columns] for row in rows]
    add_columns(table, columns, no_wrap, [_longest_word(column) for column in zip(*cells, strict=True)])
    for row in cells:
        table.add_row(*map(Text, row))
    return table


def _longest_word(cells: Iterable[str]) -> int:
    """The letters of the longest word in a column; a longer one than some twenty goes on in the next line."""
    return min(_LONGEST_WORD, max(len(word) for cell in cells for word in (cell.split() or [""])))


def add_columns(
    table: Any, columns: Iterable[Column], no_wrap: bool = False, words: Sequence[int] = ()
) -> None:
    """The columns' headings, short ones where there are, numbers set to the right. `words` are the letters of each
    column's longest word, which stays whole where there is room; nothing is ever cut off."""
    for column, word in zip_longest(columns, words):
        side = "right" if column.to_the_right else "left"
        whole = no_wrap or column.kind in ("date", "money")  # half a date or an amount tells nothing
        table.add_column(column.narrow_heading, justify=side, no_wrap=whole, overflow="fold", min_width=word)


def print_list(console: Any, title: str, lines: Iterable[str], style: str = "bold") -> None:
    """Prints lines under a title, after an empty line; nothing when there are none.

    A name in a survey must not move the cursor: control characters are taken out.
    """
    from rich.padding import Padding
    from rich.text import Text

    found = list(lines)
    if found:
        console.print()
        console.print(title, style=style)
        for line in found:
            words = Text("- " + without_control_characters(line), overflow="fold")
            console.print(Padding(words, (0, 0, 0, 2), expand=False))
