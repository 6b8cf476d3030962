"""A cell that holds a number, with or without its unit, into an exact value: lengths, counts, rates, money, weights.

As in `cells`: each takes a cell that is not blank, and raises `CellError` with what is wrong and what to write instead.
"""

from __future__ import annotations

import re
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from math import ceil, floor
from typing import Any, Literal

from optimiser.errors.problems import CellError
from optimiser.reading.cells import Parser
from optimiser.reading.names import with_plain_spaces_and_dashes
from optimiser.reading.units import INCH, MILLIMETRES_IN, millimetres_of_inches

Size = Literal["length", "gap", "small"]
Rounding = Literal["nearest", "up", "down"]
_NUMBER = re.compile(r"([+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,2})?)\s*([^\d\s.,+-]*)\.?", re.ASCII)
_GROUPED = re.compile(r"[+-]?\d{1,3}(?:[ ,'’]\d{3})+(?:\.\d+)?", re.ASCII)
_DECIMAL_COMMA = re.compile(r"([+-]?\d+),(\d+)(?!\d*[.,\d])", re.ASCII)
_CURRENCY = re.compile(r"^\s*([A-Z]{3}|[$€£¥₩₹])\s*(?=[\d.,])")
_FINEST_RATE = Decimal("1e-9")  # cut widths are computed exactly from rates that have nine decimals at most


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


def millimetres(lowest: int, highest: int, size: Size = "length", rounding: Rounding | None = None) -> Parser:
    """A parser of whole millimetres between `lowest` and `highest`.

    `size` tells which unit a fraction most likely is in: a length of 1.5 is in metres, a gap of 0.15
    in metres and of 15.5 in centimetres or inches, a small thing (a lap, a tolerance) of 2.5 has half a millimetre.
    `rounding` tells to which side a mend goes that does not come out whole (None: of a gap up, as its decimals are
    read, else to the nearest): the most that a detail allows and what a board measures go down, the least up.
    """
    side = rounding or ("up" if size == "gap" else "nearest")
    wanted = "a length must be a whole number of millimetres"

    def parse(value: Any) -> int:
        if type(value) is int and lowest <= value <= highest:
            return value
        if (inches := millimetres_of_inches(value)) is not None:
            raise CellError(wanted, f"write {_whole(inches, side)}")
        found, unit = number(value, wanted)
        if unit:
            if unit not in MILLIMETRES_IN:
                raise CellError(wanted, "write the number of millimetres alone")
            factor = MILLIMETRES_IN[unit]
            if factor != 1:
                raise CellError(wanted, f"write {_whole(found * factor, side)}")
        if found < 0:
            raise CellError("a length cannot be negative", "write it without the minus, or correct it")
        if found > 10**12:
            raise CellError("is absurdly large for millimetres", "write the length in millimetres")
        if found != found.to_integral_value():
            raise CellError(wanted, _mend_of_fraction(found, size, side))
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


def _mend_of_fraction(found: Decimal, size: Size, side: Rounding) -> str:
    if found < (100 if size == "length" else 1):
        return f"if it is in metres, write {nearest(found * 1000)}"
    if size == "gap" and found < 45:
        inches = _whole(found * INCH, side)
        return f"if it is in centimetres, write {nearest(found * 10)}; if it is in inches, write {inches}"
    return f"round it to a whole millimetre: write {_whole(found, side)}"


def _whole(found: Decimal, side: Rounding) -> int:
    """Whole millimetres to a side; the nearest of what is absurdly large."""
    if side == "nearest" or abs(found) >= 10**15:
        return nearest(found)
    return ceil(found) if side == "up" else floor(found)


def nearest(found: Decimal) -> int:
    """The nearest whole number, halves up."""
    return int(found.quantize(Decimal(1), ROUND_HALF_UP)) if abs(found) < 10**15 else int(found)


def count(lowest: int, highest: int, what: str = "a whole number") -> Parser:
    """A parser of whole numbers between `lowest` and `highest`; `what` may say of what: 'a whole number of days'."""
    wanted = f"must be {what}"
    of = what.partition(" of ")[2]
    own_units = (of, of.removesuffix("s"), "kg" if of.startswith("kilograms") else of)

    def parse(value: Any) -> int:
        if type(value) is int and lowest <= value <= highest:
            return value
        found, unit = number(value, wanted)
        if unit and of and unit not in own_units:  # 3 weeks are not 3 days, nor 9 t 9 kg
            raise CellError(wanted, f"write how many {of}, the number alone")
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


def minutes(value: Any) -> Decimal:
    """Minutes of work from 0 to 1000, such as 2 or 1.5, with at most nine decimals. Raises CellError."""
    wanted = "must be a number of minutes such as 1.5"
    found, unit = number(value, wanted)
    if unit not in ("", "min", "minutes"):
        raise CellError(wanted, "write the minutes alone")
    if not 0 <= found <= 1000:
        raise CellError(f"{wanted}, from 0 to 1000", "write the minutes that it takes once")
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


def kilograms(of: str, mend: str) -> Parser:
    """A parser of kilograms above 0 with at most three decimal places; `of` says of what, `mend` what to write."""
    wanted = f"{of} must be a number of kilograms such as 14.4"

    def parse(value: Any) -> Decimal:
        found, unit = number(value, wanted)
        if unit not in ("", "kg"):
            grams = unit in ("g", "gram", "grams")
            raise CellError(wanted, f"write {tidy(found / 1000)}" if grams else "write it in kilograms")
        if found <= 0:
            raise CellError(f"{of} must be above 0", mend)
        if found > 10**5:
            raise CellError("is absurdly heavy for one piece", mend)
        if found != (rounded := found.quantize(Decimal("0.001"))):
            raise CellError(f"{wanted}, to the gram", f"write {max(rounded, Decimal('0.001'))}")
        return found

    return parse
