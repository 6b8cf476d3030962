"""How good a result is, in one word for programs and in words for people."""

from __future__ import annotations

from enum import StrEnum


class Status(StrEnum):
    """What is known about a result.

    `OPTIMAL`: everything is planned, and no plan can do with less: proved. `WITHIN_BOUND`: everything is planned,
    but not proved to be the least; the distance to the proved lower bound is known. `PARTLY_PLANNED`: some places
    cannot be built as they stand and are left out (they are listed with their reasons), whatever is proved of the
    rest. `NOT_PLANNED`: nothing at all can be built.
    """

    OPTIMAL = "proved optimal"
    WITHIN_BOUND = "feasible within bound"
    PARTLY_PLANNED = "places not planned"
    NOT_PLANNED = "nothing planned"

    @classmethod
    def of(cls, *, proved: bool, left_out: bool = False) -> Status:
        """The status of a result that has something planned."""
        if left_out:
            return cls.PARTLY_PLANNED
        return cls.OPTIMAL if proved else cls.WITHIN_BOUND


def proof_in_short(number: int, bound: int) -> str:
    """146, 146 -> 'proved'; 220, 219 -> 'at least 219'."""
    return "proved" if number == bound else f"at least {bound:,}"
