"""Lengths that are written in another unit than millimetres, so that the mend can say how many millimetres they are."""

from __future__ import annotations

import re
import unicodedata
from decimal import Decimal

from optimiser.reading.names import with_plain_spaces_and_dashes

INCH, FOOT = Decimal("25.4"), Decimal("304.8")  # exact: the international yard and pound agreement of 1959
MILLIMETRES_IN = {
    "mm": Decimal(1),
    "millimetres": Decimal(1),
    "millimeters": Decimal(1),
    "cm": Decimal(10),
    "m": Decimal(1000),
    "metres": Decimal(1000),
    "meters": Decimal(1000),
}

_QUOTES = str.maketrans({"″": '"', "”": '"', "“": '"', "′": "'", "’": "'", "‘": "'"})
_FEET = r"(?:(?P<feet>\d{1,5}(?:\.\d+)?)\s*(?:feet|foot|ft\.?|')\s*-?\s*)?"
_WHOLE = r"(?P<whole>\d{1,5}(?:\.\d+)?)"
_FRACTION = r"(?P<over>\d{1,3})\s*/\s*(?P<under>\d{1,3})"
_INCHES = rf"(?:{_WHOLE}(?:[\s-]+{_FRACTION})?|{_FRACTION.replace('over', 'only_over').replace('under', 'only_under')})"
_MARK = r"(?P<mark>inches|inch|in\.?|\"|'')"
_WRITTEN = re.compile(rf"{_FEET}(?:{_INCHES}\s*{_MARK}?)?", re.IGNORECASE | re.ASCII)
_MARKED = re.compile(rf"{_FEET}(?:{_INCHES}\s*{_MARK})?", re.IGNORECASE | re.ASCII)  # its end is plain to see
_BETWEEN = re.compile(r"[\s,;]*")
_ONE_SIGN = re.compile(r"(\d?)\s*([¼-¾⅐-⅞])")


def millimetres_of_inches(value: object) -> Decimal | None:
    """The millimetres of a length in feet and inches, with or without a fraction: 5 7/8", 6'-3", 4 ft 2 1/2 in.

    None for anything else: also for a bare number, and for a bare '160/166', which are millimetres.
    """
    if not isinstance(value, str) or len(value) > 40:
        return None
    match = _WRITTEN.fullmatch(_plain(value))
    return None if match is None else _millimetres(match)


def several_in_inches(value: object) -> tuple[Decimal, ...] | None:
    """The millimetres of several lengths in feet and inches in one cell, each with its marks: 2'6" 7'6".

    None for anything else: also for a single one, and where any of them is a bare number.
    """
    if not isinstance(value, str) or len(value) > 10_000:
        return None
    written, at, found = _plain(value), 0, []
    while at < len(written):
        match = _MARKED.match(written, at)
        if match is None or match.end() == at or (one := _millimetres(match)) is None:
            return None
        found.append(one)
        between = _BETWEEN.match(written, match.end())
        at = between.end() if between else match.end()
    return tuple(found) if len(found) > 1 else None


def top_and_bottom_in_inches(value: str) -> tuple[Decimal, Decimal] | None:
    """The millimetres of two readings in inches with a stroke between them: 6" / 6 1/8". None for anything else."""
    for stroke in re.finditer("/", value):
        top, bottom = (
            millimetres_of_inches(part) for part in (value[: stroke.start()], value[stroke.end() :])
        )
        if top is not None and bottom is not None:
            return top, bottom
    return None


def _plain(value: str) -> str:
    """With plain spaces, dashes, quotes and fractions: ½ as 1/2."""
    with_fractions = _ONE_SIGN.sub(
        lambda sign: f"{sign[1]} {unicodedata.normalize('NFKC', sign[2])}".replace("⁄", "/"), value
    )
    return with_plain_spaces_and_dashes(with_fractions).strip().translate(_QUOTES)


def _millimetres(match: re.Match[str]) -> Decimal | None:
    if not (match["feet"] or match["mark"] or (match["whole"] and match["over"])):
        return None
    over, under = match["over"] or match["only_over"], match["under"] or match["only_under"]
    if under is not None and int(under) == 0:
        return None
    inches = Decimal(match["whole"] or 0) + (Decimal(over) / Decimal(under) if over and under else 0)
    return Decimal(match["feet"] or 0) * FOOT + inches * INCH
