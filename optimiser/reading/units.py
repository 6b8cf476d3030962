"""Lengths that are written in another unit than millimetres, so that the mend can say how many millimetres they are."""

from __future__ import annotations

import re
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
_WRITTEN = re.compile(
    rf"{_FEET}(?:{_INCHES}\s*(?P<mark>inches|inch|in\.?|\"|'')?)?", re.IGNORECASE | re.ASCII
)


def millimetres_of_inches(value: object) -> Decimal | None:
    """The millimetres of a length in feet and inches, with or without a fraction: 5 7/8", 6'-3", 4 ft 2 1/2 in.

    None for anything else: also for a bare number, and for a bare '160/166', which are millimetres.
    """
    if not isinstance(value, str) or len(value) > 40:
        return None
    match = _WRITTEN.fullmatch(with_plain_spaces_and_dashes(value).strip().translate(_QUOTES))
    if match is None or not (match["feet"] or match["mark"] or (match["whole"] and match["over"])):
        return None
    over, under = match["over"] or match["only_over"], match["under"] or match["only_under"]
    if under is not None and int(under) == 0:
        return None
    inches = Decimal(match["whole"] or 0) + (Decimal(over) / Decimal(under) if over and under else 0)
    return Decimal(match["feet"] or 0) * FOOT + inches * INCH
