"""Options that several commands share, each with its check."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from math import isfinite
from pathlib import Path
from typing import Annotated

import typer

LEVEL_OPTIONS = ("--levels", "--cut-levels", "--fitted-levels")


def _positive(seconds: float | None) -> float | None:
    if seconds is not None and not (isfinite(seconds) and seconds > 0):
        raise typer.BadParameter("give a number of seconds above 0, such as 10 or 0.5")
    return seconds


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
Seed = Annotated[
    int,
    typer.Option(metavar="N", min=0, max=2**31 - 1, help="Equal seeds give equal plans."),
]


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
