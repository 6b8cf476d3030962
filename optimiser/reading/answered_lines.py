"""The lines of an order in a supplier's answer: which one is meant, how many single units, for which level.

Quantities are in the packs of the order, or in pieces.
"""

from __future__ import annotations

from collections.abc import Mapping
from hashlib import sha256

from optimiser.errors.listed import listed
from optimiser.model.purchase_order import OrderedLine, PurchaseOrder
from optimiser.model.ubl_names import unit_code
from optimiser.reading.ubl_document import Part

_PIECES = ("H87", "EA", "C62")
"""UN/ECE Recommendation 20: piece, each, one."""

LONGEST_ID = 60
MOST_LISTED = 20  # lines or codes of an order that a fault names
MOST_UNITS = 10**6
"""The most that one event of a record holds."""


def line_of(part: Part, order: PurchaseOrder, number: str) -> OrderedLine | None:
    """The line of the order that has a number; None, told, where there is none."""
    found = next((line for line in order.lines if f"{line.number}" == number), None)
    if found is None:
        known = listed([f"{line.number}" for line in order.lines], MOST_LISTED)
        mend = f"its lines are {known}" if known else "it orders nothing: give the order that is answered"
        part.fault("cbc:LineID", number or None, f"is no line of {order.document}", mend)
    return found


def units_of(part: Part, path: str, line: OrderedLine | None) -> int | None:
    """A quantity in single units; None, told, where it is none of the line's."""
    number = part.number(path)
    if number is None:
        if not part.text(path):
            part.fault(path, None, "is missing", "ask the supplier how many")
        return None
    if line is None:
        return None
    code = part.attribute(path, "unitCode")
    if code in _PIECES and unit_code(line.pack_name) != code:
        units = number
    elif code in ("", unit_code(line.pack_name)):
        units = number * line.per_pack
    else:
        ask = f"{unit_code(line.pack_name)} (packs of {line.per_pack}) or {_PIECES[0]} (pieces)"
        part.fault(f"{path}/@unitCode", code, f"is not how {line.code} is ordered", f"ask for it in {ask}")
        return None
    if units != int(units):
        part.fault(path, number, f"is no whole number of {line.code}", "ask the supplier how many")
        return None
    if units > MOST_UNITS:
        part.fault(path, number, f"is more than {MOST_UNITS:,} of {line.code}", "ask the supplier how many")
        return None
    return int(units)


def units_by_level(line: OrderedLine, units: int, served: Mapping[str, int]) -> dict[str, int]:
    """Single units of a line by the level that they are for, the first level first, less what it was `served`; what is
    above the order goes to the last one."""
    found: dict[str, int] = {}
    left = units
    for level, packs in line.packs_for.items():
        if number := min(left, max(0, packs * line.per_pack - served.get(level, 0))):
            found[level] = number
            left -= number
    if left and line.packs_for:
        last = list(line.packs_for)[-1]
        found[last] = found.get(last, 0) + left
    return found


def event_id(*parts: str) -> str:
    """An event's id from what makes it the same event; at most as long as a record's ids are."""
    whole = "/".join(parts)
    return whole if len(whole) <= LONGEST_ID else f"{whole[:27]}~{sha256(whole.encode()).hexdigest()[:32]}"
