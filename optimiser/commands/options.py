"""Options that several commands share, each with its check."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from decimal import Decimal
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from optimiser.errors.problems import UnusableInput
    from optimiser.model.project import Project

LEVEL_OPTIONS = ("--levels", "--cut-levels", "--fitted-levels")


def _positive(seconds: float | None) -> float | None:
    if seconds is not None and not (isfinite(seconds) and seconds > 0):
        raise typer.BadParameter("give a number of seconds above 0, such as 10 or 0.5")
    return seconds


def amount_given(text: str | Decimal) -> Decimal:
    """The amount of money in an option's value, its default too. Raises BadParameter for what is none, or negative."""
    from optimiser.model.money import MOST, exact_amount

    try:
        found = exact_amount(f"{text}".strip())
    except ValueError:
        raise typer.BadParameter("give an amount of money with at most two places, such as 2.50") from None
    if not 0 <= found <= MOST:
        raise typer.BadParameter(f"give an amount of money from 0 to {MOST:,}, such as 2.50")
    return found


ProjectFile = Annotated[
    Path,
    typer.Argument(
        metavar="PROJECT", help="A workbook (.xlsx), a folder of .csv, or a .json; '-' reads stdin."
    ),
]
Seconds = Annotated[
    float | None,
    typer.Option(
        "--time-limit", metavar="S", callback=_positive, help="Stop improving the cutting after S seconds."
    ),
]
SecondsOrUsual = Annotated[
    float | None,
    typer.Option(
        "--time-limit",
        metavar="S",
        callback=_positive,
        help="Stop improving the cutting after S seconds. Without it the search ends when it is done, or after 900 s,"
        " which an ordinary building does not take; a warning says where it was stopped.",
    ),
]
CarryCost = Annotated[
    Decimal | None,
    typer.Option(
        metavar="MONEY",
        parser=amount_given,
        help="What keeping one remainder from one delivery to the next costs: boards and waiting become one sum of"
        " money with one bound; the project's carry_cost when not given.",
    ),
]
Seed = Annotated[
    int,
    typer.Option(metavar="N", min=0, max=2**31 - 1, help="Equal seeds give equal plans."),
]


Replaces = Annotated[
    Path | None,
    typer.Option(
        "--replaces",
        metavar="ORDER",
        help="The purchase-order.json of the order that was sent: this one becomes its next revision, which replaces"
        " it whole, its lines under the same numbers.",
    ),
]
SoldBy = Annotated[
    str | None,
    typer.Option(
        "--supplier",
        metavar="NAME",
        help="Write the order to this supplier alone: the products that name it, or, for the project's supplier, that"
        " name nobody. Without it one order has all products.",
    ),
]
Marked = Annotated[
    Path | None,
    typer.Option(
        "--marked",
        metavar="FILE.xlsx",
        help="Where the input is faulty: write it back as a workbook, every faulty cell coloured and commented.",
    ),
]


def read_or_mark(path: Path, marked: Path | None) -> Project:
    """The project at `path`; where it is faulty and `marked` is given, the workbook is written there with its faulty
    cells marked, and UnusableInput is raised all the same, with a note that says where."""
    from optimiser.reading import UnusableInput, read_project

    if marked is not None and marked.suffix.lower() != ".xlsx":
        raise typer.BadParameter(
            f"{marked} is not the name of a workbook: end it in .xlsx", param_hint="--marked"
        )
    if marked is not None and marked.resolve() == path.resolve():
        raise typer.BadParameter("choose another file than the project itself", param_hint="--marked")
    try:
        return read_project(path)
    except UnusableInput as unusable:
        if marked is not None:
            unusable.add_note(_marked_copy(path, marked, unusable))
        raise


def _marked_copy(path: Path, marked: Path, unusable: UnusableInput) -> str:
    """Writes the workbook back with its faults marked; says where it is, or why there is none."""
    from optimiser.errors.problems import UnusableInput
    from optimiser.reading.package import RefusedPackageError
    from optimiser.writing.office.marked_workbook import has_cells, marked_workbook
    from optimiser.writing.whole_file import write_whole

    if not has_cells(path):
        return f"{marked}: not written; only a workbook or a folder of .csv has cells to mark"
    try:
        content = marked_workbook(path, unusable.kept)
    except (UnusableInput, RefusedPackageError):
        return f"{marked}: not written; the file cannot be opened to be marked"
    write_whole(marked, content)
    return f"{marked}: the input with every faulty cell coloured and commented"


def day_given(written: str | None, option: str) -> date | None:
    """The day in an option's value; None where it is not given. Raises BadParameter for what is none."""
    if written is None:
        return None
    try:
        return date.fromisoformat(written)
    except ValueError:
        raise typer.BadParameter(f"{written} is no day; write it as 2027-03-01", param_hint=option) from None


def names_given(given: Iterable[str], known: Iterable[str]) -> list[str]:
    """The names in options' values: 'L01,L02', 'L01 L02' and repeated options alike, each once.

    A known name that itself holds a comma or a space is taken whole. Unknown names are kept, to be told.
    """
    names = set(known)
    found: list[str] = []
    for text in given:
        if text.strip() in names:
            found.append(text.strip())
            continue
        for part in filter(None, (part.strip() for part in re.split("[,;]", text))):
            words = part.split()
            found += [part] if part in names or names.isdisjoint(words) else words
    return list(dict.fromkeys(found))


def each_level_with_its_option(arguments: Sequence[str]) -> list[str]:
    """'--levels L01 L02' as '--levels L01 --levels L02': a shell gives several names as several words.

    A word that looks like a file, or is one, is not taken for a level.
    """
    return list(_each_with_its_option(arguments))


def _each_with_its_option(arguments: Sequence[str]) -> Iterator[str]:
    option, values = "", 0
    for word in arguments:
        if word.startswith("-"):
            option, values = (word if word in LEVEL_OPTIONS else ""), 0
        elif option:
            values += 1
            if values > 1 and _looks_like_a_file(word):
                option = ""
            elif values > 1:
                yield option
        yield word


def _looks_like_a_file(word: str) -> bool:
    path = Path(word)
    try:
        return "/" in word or path.suffix.lower() in (".json", ".xlsx") or path.exists()
    except (OSError, ValueError):
        return False
