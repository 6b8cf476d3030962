"""One cell's text or number into one value: generous in form, strict in content.

Every function here takes a cell that is not blank (text, whole number, Decimal, truth, date, or a JSON list)
and returns the value, or raises `CellError` with what is wrong and what to write instead.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from difflib import get_close_matches
from math import ceil
from typing import Any, Literal

from optimiser.errors.problems import CellError, shown
from optimiser.reading.names import with_plain_spaces_and_dashes
from optimiser.reading.units import MILLIMETRES_IN, millimetres_of_inches

Parser = Callable[[Any], Any]
Size = Literal["length", "gap", "small"]

TRUTHS = {"true": True, "yes": True, "y": True, "1": True, "on": True} | {
    "false": False,
    "no": False,
    "n": False,
    "0": False,
    "off": False,
}

_NUMBER = re.compile(r"([+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,2})?)\s*([^\d\s.,+-]*)\.?", re.ASCII)
_GROUPED = re.compile(r"[+-]?\d{1,3}(?:[ ,'’]\d{3})+(?:\.\d+)?", re.ASCII)
_DECIMAL_COMMA = re.compile(r"([+-]?\d+),(\d+)(?!\d*[.,\d])", re.ASCII)
_CURRENCY = re.compile(r"^\s*([A-Z]{3}|[$€£¥₩₹])\s*(?=[\d.,])")
_LONGEST_TEXT = 500
_FINEST_RATE = Decimal("1e-9")  # cut widths are computed exactly from rates that have nine decimals at most


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


def number(value: Any, wanted: str) -> tuple[Decimal, str]:
    """A number and the unit written behind it ('' when none). `wanted` says what it should be.

    Raises CellError for anything that is not a finite number.
    """
    if isinstance(value, bool):
        raise CellError(f"{wanted}, not true or false", "write the number")
    if isinstance(value, int):
        return Decimal(value), ""
    if isinstance(value, float):
        value = Decimal(repr(value))
    if isinstance(value, Decimal):
        if not value.is_finite():
            raise CellError(f"{wanted}; this is no number", "write the number")
        return value, ""
    if isinstance(value, date):
        raise CellError(f"{wanted}, not a date", "format the cell as a number and type it again")
    if not isinstance(value, str):
        raise CellError(wanted, "write the number")
    written = _with_decimal_point(with_plain_spaces_and_dashes(value).strip())
    if len(written) <= 60:
        if match := _NUMBER.fullmatch(written):
            return Decimal(match[1]), match[2].lower()
        if _GROUPED.fullmatch(written):
            raise CellError(
                f"{wanted}, without separators for thousands", f"write {re.sub(r'[^0-9.+-]', '', written)}"
            )
    raise CellError(f"{wanted}, not text", "write the number, or take the row out until it is known")


def _with_decimal_point(written: str) -> str:
    """'159,5' as '159.5'; '41,850' stays, for it may be forty-one thousand."""
    match = _DECIMAL_COMMA.match(written)
    if match is None or (
        len(match[2]) == 3 and match[1].lstrip("+-") != "0" and len(match[1].lstrip("+-")) <= 3
    ):
        return written
    return f"{match[1]}.{match[2]}{written[match.end() :]}"


def millimetres(lowest: int, highest: int, size: Size = "length") -> Parser:
    """A parser of whole millimetres between `lowest` and `highest`.

    `size` tells which unit a fraction most likely is in: a length of 1.5 is in metres, a gap of 0.15
    in metres and of 15.5 in centimetres, a small thing (a lap, a tolerance) of 2.5 has half a millimetre.
    """
    wanted = "a length must be a whole number of millimetres"

    def parse(value: Any) -> int:
        if type(value) is int and lowest <= value <= highest:
            return value
        if (inches := millimetres_of_inches(value)) is not None:
            raise CellError(wanted, f"write {_whole(inches, size)}")
        found, unit = number(value, wanted)
        if unit:
            if unit not in MILLIMETRES_IN:
                raise CellError(wanted, "write the number of millimetres alone")
            factor = MILLIMETRES_IN[unit]
            if factor != 1:
                raise CellError(wanted, f"write {_whole(found * factor, size)}")
        if found < 0:
            raise CellError("a length cannot be negative", "write it without the minus, or correct it")
        if found > 10**12:
            raise CellError("is absurdly large for millimetres", "write the length in millimetres")
        if found != found.to_integral_value():
            raise CellError(wanted, _mend_of_fraction(found, size))
        whole = int(found)
        if whole < lowest:
            if whole == 0:
                raise CellError("a length must be above 0", "write the length in millimetres")
            raise CellError(
                f"is absurdly small ({lowest} mm is the least)", f"if it is in metres, write {whole * 1000}"
            )
        if whole > highest:
            raise CellError(
                f"is absurdly large ({highest} mm is the most)", "check its digits; write millimetres"
            )
        return whole

    return parse


def _mend_of_fraction(found: Decimal, size: Size) -> str:
    if found < (100 if size == "length" else 1):
        return f"if it is in metres, write {nearest(found * 1000)}"
    if size == "gap" and found < 45:
        return f"if it is in centimetres, write {nearest(found * 10)}"
    return f"round it to a whole millimetre: write {nearest(found)}"


def _whole(found: Decimal, size: Size) -> int:
    """Whole millimetres: of a gap the next ones up, as its decimals are read; otherwise the nearest."""
    return ceil(found) if size == "gap" else nearest(found)


def nearest(found: Decimal) -> int:
    """The nearest whole number, halves up."""
    return int(found.quantize(Decimal(1), ROUND_HALF_UP)) if abs(found) < 10**15 else int(found)


def count(lowest: int, highest: int, what: str = "a whole number") -> Parser:
    """A parser of whole numbers between `lowest` and `highest`."""
    wanted = f"must be {what}"

    def parse(value: Any) -> int:
        if type(value) is int and lowest <= value <= highest:
            return value
        found, unit = number(value, wanted)
        if unit:
            raise CellError(wanted, f"write {nearest(found)} alone")
        if found != found.to_integral_value():
            raise CellError(wanted, f"write {nearest(found)}")
        if not lowest <= found <= highest:
            raise CellError(
                f"{wanted} from {lowest} to {highest}",
                "correct it" if found >= 0 else "write it without minus",
            )
        return int(found)

    return parse


def rate(above_zero: bool = False, such_as: str = "0.10") -> Parser:
    """A parser of exact rates from 0 to 1: 0.10, '0.10' and '10 %' are one tenth; 10 is a slip for 0.10."""
    wanted = f"must be a rate such as {such_as}"

    def parse(value: Any) -> Decimal:
        found, unit = number(value, wanted)
        if abs(found) > 10**9 or (found and abs(found) < Decimal("1e-9")):
            raise CellError(wanted, "write a rate between 0 and 1")
        if unit in ("%", "percent", "pct"):
            found /= 100
        elif unit:
            raise CellError(wanted, "write the rate alone, or with %")
        if found < 0:
            raise CellError(f"{wanted}, not negative", f"write {tidy(-found)}")
        if found > 1:
            if found < 2:
                raise CellError(f"{wanted}, the part above 1", f"write {tidy(found - 1)}")
            if found <= 100:
                raise CellError(f"{wanted}, not per cent", f"write {tidy(found / 100)}")
            raise CellError(f"{wanted}, at most 1", "write a rate between 0 and 1")
        if above_zero and found == 0:
            mend = "write the detail's rate" if such_as == "0.10" else f"write {such_as}"
            raise CellError(f"{wanted}, above 0", mend)
        if found != (rounded := found.quantize(_FINEST_RATE)):
            raise CellError(f"{wanted}, with at most nine decimals", f"write {tidy(rounded)}")
        return found

    return parse


def multiple(value: Any) -> Decimal:
    """A multiple above 0, such as 4 or 3.5, with at most nine decimals. Raises CellError."""
    wanted = "must be a multiple such as 4"
    found, unit = number(value, wanted)
    if unit or not 0 < found <= 1000:
        raise CellError(f"{wanted}, above 0 and at most 1000", "write the multiple alone")
    if found != (rounded := found.quantize(_FINEST_RATE)):
        raise CellError(f"{wanted}, with at most nine decimals", f"write {tidy(rounded)}")
    return found


def tidy(found: Decimal) -> str:
    """A decimal without trailing zeros, but with two places: 0.1 -> 0.10."""
    plain = format(found.normalize(), "f")
    whole, _, places = plain.partition(".")
    return f"{whole}.{places:0<2}"


def fraction_or_simulated(value: Any) -> Decimal | str:
    """An allowance: a rate, or the word 'simulated'. Raises CellError."""
    if isinstance(value, str) and value.strip().lower() == "simulated":
        return "simulated"
    found: Decimal = rate()(value)
    return found


def money(value: Any) -> Decimal:
    """A price with at most two decimal places, in the project's currency. Raises CellError."""
    wanted = "must be an amount such as 212.00"
    bare = _CURRENCY.sub("", value) if isinstance(value, str) else value
    found, unit = number(bare, wanted)
    if unit or bare != value:
        raise CellError(f"{wanted}; the currency stands in the project table", f"write {tidy(found)}")
    if found < 0:
        raise CellError("a price cannot be negative", f"write {tidy(-found)}")
    if found > 10**10:
        raise CellError("is absurdly large for a price", "write the price of one pack")
    if found * 100 != (found * 100).to_integral_value():
        raise CellError(
            f"{wanted}, without parts of a cent", f"write {found.quantize(Decimal('0.01'), ROUND_HALF_UP)}"
        )
    return found


def kilograms(value: Any) -> Decimal:
    """A weight above 0 in kilograms, with at most three decimal places. Raises CellError."""
    wanted = "a weight must be a number of kilograms such as 14.4"
    found, unit = number(value, wanted)
    if unit not in ("", "kg"):
        grams = unit in ("g", "gram", "grams")
        raise CellError(wanted, f"write {tidy(found / 1000)}" if grams else "write it in kilograms")
    if found <= 0:
        raise CellError("a weight must be above 0", "write the weight of one piece in kilograms")
    if found > 10**5:
        raise CellError("is absurdly heavy for one piece", "write the weight of one piece in kilograms")
    if found != (rounded := found.quantize(Decimal("0.001"))):
        raise CellError(f"{wanted}, to the gram", f"write {max(rounded, Decimal('0.001'))}")
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
