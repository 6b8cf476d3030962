"""One cell into one value: generous in form, strict in content; `numbers` and `dates` read theirs.

Every function here takes a cell that is not blank (text, whole number, Decimal, truth, date, or a JSON list)
and returns the value, or raises `CellError` with what is wrong and what to write instead.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from difflib import get_close_matches
from typing import Any

from optimiser.errors.problems import CellError, shown

Parser = Callable[[Any], Any]

TRUTHS = {"true": True, "yes": True, "y": True, "1": True, "on": True} | {
    "false": False,
    "no": False,
    "n": False,
    "0": False,
    "off": False,
}

_LONGEST_TEXT = 500


def closest(value: str, known: Any, cutoff: float = 0.75) -> str | None:
    """The known name that was probably meant, whatever its capitals, or None."""
    by_folded = {name.casefold(): name for name in known}
    found = get_close_matches(value.strip().casefold()[:80], by_folded, n=1, cutoff=cutoff)
    return by_folded[found[0]] if found else None


def text(value: Any) -> str:
    """Text; a number in a text column is taken as it is written (level 3 is '3').

    Raises CellError for lists, control characters and text too long to print.
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Decimal):
        value = format(value, "f") if value.is_finite() and abs(value.adjusted()) < 30 else str(value)
    elif isinstance(value, (int, date)):
        value = str(value) if not isinstance(value, int) or abs(value) < 10**30 else shown(value)
    if not isinstance(value, str):
        raise CellError("must be text", "write it as text")
    stripped = value.strip()
    if len(stripped) > _LONGEST_TEXT:
        raise CellError(f"is longer than {_LONGEST_TEXT} characters", "shorten it")
    if not stripped.isprintable() and any(
        ord(letter) < 32 or 0x7F <= ord(letter) < 0xA0 or _unwritable(letter) for letter in stripped
    ):
        raise CellError("has a line break or a character that cannot be printed", "type it again on one line")
    return stripped


def _unwritable(letter: str) -> bool:
    return "\ud800" <= letter <= "\udfff" or letter in "\ufffe\uffff"


def name(value: Any) -> str:
    """A code or name that other tables refer to, at most 60 characters. Raises CellError."""
    found = text(value)
    if len(found) > 60:
        raise CellError("is longer than 60 characters", "choose a shorter name")
    return found


def truth(value: Any) -> bool:
    """true, yes, y, on, 1 or false, no, n, off, 0. Raises CellError."""
    if isinstance(value, bool):
        return value
    if (isinstance(value, int) or (isinstance(value, Decimal) and value.is_finite())) and value in (0, 1):
        return bool(value)
    if isinstance(value, str) and value.strip().lower() in TRUTHS:
        return TRUTHS[value.strip().lower()]
    raise CellError("must be true or false", "write true or false")


def choice(*known: str) -> Parser:
    """A parser of one of a few words, in any capitals; a plural s is forgiven."""

    def parse(value: Any) -> str:
        if isinstance(value, str):
            if value in known:
                return value
            folded = value.strip().lower()
            for word in known:
                if folded in (word, word + "s"):
                    return word
            meant = closest(folded, known, 0.6)
            raise CellError(f"must be one of {', '.join(known)}", f"write {meant}" if meant else "choose one")
        raise CellError(f"must be one of {', '.join(known)}", "choose one")

    return parse


def several(parse: Parser, what: str) -> Parser:
    """A parser of several values in a cell, separated by spaces, commas or semicolons, or of a JSON list."""

    def parse_all(value: Any) -> tuple[Any, ...]:
        if isinstance(value, str):
            parts: list[Any] = [part for part in re.split(r"[\s,;]+", value) if part]
        elif isinstance(value, (list, tuple)):
            parts = list(value)
        else:
            parts = [value]
        found = []
        for part in parts:
            if part is None or (isinstance(part, str) and not part.strip()):
                raise CellError(f"has an empty place among its {what}", "take it out")
            try:
                found.append(parse(part))
            except CellError as slip:
                raise CellError(f"{shown(part)}: {slip.message}", slip.mend) from None
        return tuple(found)

    return parse_all


def currency(value: Any) -> str:
    """An ISO 4217 code of three letters. Raises CellError."""
    found = text(value).upper()
    if not re.fullmatch("[A-Z]{3}", found, re.ASCII):
        raise CellError("must be a currency's three-letter code (ISO 4217)", "write for example AUD")
    return found


def country(value: Any) -> str:
    """An ISO 3166 code, AU, or with its subdivision, AU-NSW. Raises CellError."""
    found = text(value).upper()
    if found == "UK":
        raise CellError("is not the country's code in ISO 3166", "write GB")
    if not re.fullmatch("[A-Z]{2}(-[A-Z0-9]{1,3})?", found, re.ASCII):
        raise CellError("must be a country's code (ISO 3166)", "write for example AU or AU-NSW")
    return found


def country_code(value: Any) -> str:
    """An ISO 3166-1 code of two letters, as it stands in an address. Raises CellError."""
    found = country(value)
    if len(found) > 2:
        raise CellError("must be a country's code of two letters (ISO 3166-1)", f"write {found[:2]}")
    return found
