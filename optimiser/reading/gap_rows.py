"""The rows of the `gaps` table that were read at the top and at the bottom of the slab: the wider counts."""

from __future__ import annotations

from optimiser.errors.problems import ProblemList
from optimiser.reading.as_written import THE_WIDER, ReadAs, ReadingNotes
from optimiser.reading.documents import RawTable
from optimiser.reading.read_row import ReadRow

_READ_AT = ("gap_top_mm", "gap_bottom_mm")


def widen_to_top_and_bottom(
    table: RawTable, rows: list[ReadRow], notes: ReadingNotes, problems: ProblemList
) -> None:
    """Sets each row's `gap_mm` to the wider of its readings at top and bottom; a problem where it is another."""
    for row in rows:
        read = {column: row.values[column] for column in _READ_AT if column in row.values}
        unreadable = any(column in row.raw and column not in row.values for column in _READ_AT)
        if not read or unreadable:
            continue
        wider = max(read.values())
        given = row.values.setdefault("gap_mm", wider)
        if given != wider:
            row.whole = False
            told = " and ".join(f"{column} {value}" for column, value in read.items())
            problems.add(
                table.places.problem(
                    row.number, "gap_mm", row.raw.get("gap_mm"), f"is not the wider of {told}",
                    f"write {wider}, or leave gap_mm blank",
                )
            )  # fmt: skip
        elif len(read) == 2 and "gap_mm" not in row.raw:
            written = "/".join(str(value) for value in read.values())
            notes.add(table.places, "gaps", row.number, "gap_mm", written, ReadAs(wider, (THE_WIDER,)))
