"""Whether the clock may date an order: what is issued is never dated anew."""

from __future__ import annotations

import sqlalchemy as sa

from api import clock
from api.http.problem_details import Problem
from api.orders.chain import Issued

MOST_SECONDS = 60.0  # by which clocks may differ


def refuse_a_wrong_clock(connection: sa.Connection, last: Issued | None) -> None:
    """Raises Problem 503 when an order would be wrongly dated: the clock was set while the service ran, it differs from
    the database server's, or it is behind the last revision's date."""
    moved = clock.moved_by()
    if abs(moved) > MOST_SECONDS:
        way = "forward" if moved > 0 else "back"
        raise _wrong(
            f"This machine's clock was set {way} by {abs(moved):,.0f} s while the service ran. See that it is right,"
            " then restart the service."
        )
    differs = _ahead_of_database(connection)
    if abs(differs) > MOST_SECONDS:
        raise _wrong(
            f"This machine's clock and the database server's are {abs(differs):,.0f} s apart. Set the one that"
            " is wrong."
        )
    if last is not None and clock.seconds_since(last["issued_at"]) < -MOST_SECONDS:
        raise _wrong(
            f"This machine's clock says {clock.now()[:16]}, and the last revision was issued at"
            f" {last['issued_at'][:16]} (UTC). Set the clock right."
        )


def _ahead_of_database(connection: sa.Connection) -> float:
    """By how many seconds this clock is ahead of the database server's; SQLite has none of its own."""
    if connection.dialect.name == "sqlite":
        return 0.0
    there = float(connection.exec_driver_sql("SELECT extract(epoch FROM clock_timestamp())").scalar_one())
    return clock.seconds() - there


def _wrong(why: str) -> Problem:
    return Problem(
        503,
        "wrong-clock",
        f"{why} Until then no order is issued: it would be wrongly dated.",
        headers={"Retry-After": "60"},
    )
