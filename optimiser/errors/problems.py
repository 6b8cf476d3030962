"""What is wrong with an input: every fault with its place and its fix, all of them at once."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import TypeVar

MOST_REPORTED = 200  # more than anybody fixes in one go; the rest is counted
MOST_KEPT = 5_000  # a million faulty rows must not fill the memory
LONGEST_LINE = 1000
_MOST_PARTS = 12  # of a list that are shown

Item = TypeVar("Item")


def shown(value: object) -> str:
    """A value as it appears in a message: text in quotes and cut short, numbers and dates bare.

    A number written as text is bare too: a csv file has nothing else.
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, Decimal, date)) and len(text := str(value)) <= 60:
        return text
    if isinstance(value, (list, tuple)) and all(isinstance(part, (str, int)) for part in value[:_MOST_PARTS]):
        return _list_shown(value)
    text = str(value) if isinstance(value, str) else _plain(value)
    if len(text) <= 20 and re.fullmatch(r"-?\d+(\.\d+)?", text, re.ASCII):
        return text
    printable = _printable(text[:61])
    return f"'{printable[:57]}...'" if len(printable) > 60 else f"'{printable}'"


def _list_shown(values: Sequence[object]) -> str:
    """'["B-120", "B-90"]', '[600, 9000]': a list of names or numbers as a JSON file has it, cut short."""
    parts = ", ".join(
        f'"{_printable(part[:61])}"' if isinstance(part, str) else _plain(part)
        for part in values[:_MOST_PARTS]
    )
    return f"[{parts}]" if len(parts) <= 60 and len(values) <= _MOST_PARTS else f"[{parts[:57]}...]"


def _cut_short(line: str) -> str:
    """A line that a name of thousands of letters would drown: its beginning (the place) and its end (the fix)."""
    if len(line) <= LONGEST_LINE:
        return line
    half = LONGEST_LINE // 2
    return f"{line[:half]} ... {line[5 - half :]}"


def _printable(text: str) -> str:
    """Text that any terminal and page can show."""
    if text.isprintable():
        return text
    return "".join(letter if letter.isprintable() else "\N{REPLACEMENT CHARACTER}" for letter in text)


def _plain(value: object) -> str:
    if value is None:
        return "null"
    if isinstance(value, dict):
        return "an object"
    if isinstance(value, (list, tuple)):
        return "a list"
    try:
        return str(value)
    except ValueError:  # a whole number of thousands of digits
        return "a huge number"


@dataclass(frozen=True)
class Problem:
    """One fault of an input and what fixes it.

    `place` is the sheet (or csv table) or the JSON path, `row` the row as the user sees it in the
    spreadsheet, `column` the column's name, `value` what stands there, `cell` its name there ('C14'); `also` names
    further cells of the same sheet that have the same fault and are not told one by one.
    """

    place: str
    row: int | None = None
    column: str | None = None
    value: object = None
    message: str = ""
    mend: str = ""
    cell: str | None = None
    also: tuple[str, ...] = ()

    def __str__(self) -> str:
        """One line: gaps, row 14, gap_mm = '15 cm': a length must be ... millimetres; write 150."""
        where = [self.place] if self.place else []
        if self.row is not None:
            where.append(f"row {self.row}")
        if self.column is not None:
            where.append(self.column)
        line = ", ".join(where)
        if self.value is not None:
            line += f" = {shown(self.value)}"
        line = f"{line}: {self.message}" if line else self.message
        return _printable(_cut_short(" ".join(f"{line}; {self.mend}".split() if self.mend else line.split())))


class CellError(Exception):
    """A cell that cannot be read: what is wrong, and the mend."""

    def __init__(self, message: str, mend: str) -> None:
        super().__init__(message)
        self.message = message
        self.mend = mend


class UnusableInput(Exception):  # noqa: N818 (said as the user would)
    """An input that cannot be used. `problems` holds every fault (at most 200), `more` how many others; `kept` has
    also those (at most 5,000) that are not told one by one."""

    def __init__(self, problems: Iterable[Problem], more: int = 0, kept: Sequence[Problem] = ()) -> None:
        self.problems: tuple[Problem, ...] = tuple(problems)
        self.more = more
        self.kept: tuple[Problem, ...] = tuple(kept) or self.problems
        super().__init__("\n".join(self.lines()))

    @property
    def heading(self) -> str:
        """How many faults there are: what is told first."""
        number = len(self.problems) + self.more
        return f"{number:,} fault{'' if number == 1 else 's'} to fix in the input:"

    def lines(self) -> tuple[str, ...]:
        """What to print below it: a line a problem, and a last one when there are more."""
        lines = [str(problem) for problem in self.problems]
        if self.more:
            lines.append(f"and {self.more:,} more fault{'s' if self.more > 1 else ''}; mend these first")
        return tuple(lines)


class CannotBeDone(Exception):  # noqa: N818 (said as the user would)
    """A well-formed job that no plan can do; `reasons` say why in plain words, one line each."""

    def __init__(self, reasons: Sequence[str]) -> None:
        self.reasons: tuple[str, ...] = tuple(reasons)
        super().__init__("\n".join(self.reasons))


@dataclass
class ProblemList:
    """Collects problems while an input is read, so that all of them are reported at once."""

    found: list[Problem] = field(default_factory=list)
    uncounted: int = 0

    def add(self, problem: Problem) -> None:
        """Keep a problem, or only count it when there are thousands already."""
        if len(self.found) < MOST_KEPT:
            self.found.append(problem)
        else:
            self.uncounted += 1

    @property
    def plenty(self) -> bool:
        """Whether more have been found than will be shown: costly suggestions are no longer worth it."""
        return len(self.found) > 2 * MOST_REPORTED

    def __bool__(self) -> bool:
        return bool(self.found)

    def raise_if_any(self, order: Sequence[str] = ()) -> None:
        """Raises UnusableInput when problems were found, by table (in `order`) and row."""
        if not self.found:
            return
        rank = {name: number for number, name in enumerate(order)}

        def key(problem: Problem) -> tuple[int, int]:
            table = problem.place.split("[")[0].split(".")[0].strip().lower()
            return (rank.get(table, -1), problem.row or 0)

        ordered = sorted(self.found, key=key)
        raise UnusableInput(
            ordered[:MOST_REPORTED], max(0, len(ordered) - MOST_REPORTED) + self.uncounted, ordered
        ) from None
