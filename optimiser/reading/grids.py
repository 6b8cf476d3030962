"""A grid of cells, of a sheet or a csv file, into a table: headings found, columns matched, rows numbered."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from optimiser.errors.problems import Problem, ProblemList
from optimiser.reading.cells import Parser
from optimiser.reading.columns import TableSpec, column_meant, folded, probably_meant, wrong_unit
from optimiser.reading.documents import (
    REPORTED,
    RawField,
    RawTable,
    Row,
    SheetPlaces,
    column_letters,
)

EXAMPLE = "example:"
"""A row whose first filled cell begins so is an example of the template and is skipped."""

FIRST_ROWS = 20  # a title or notes may stand above the headings, within this many rows

Grid = Sequence[Sequence[Any]]


def blank(cell: object) -> bool:
    """Whether nothing is written in a cell."""
    return cell is None or (isinstance(cell, str) and not cell.strip())


def _is_example(row: Sequence[Any]) -> bool:
    for cell in row:
        if isinstance(cell, str) and cell.strip():
            return cell.strip().lower().startswith(EXAMPLE)
        if not blank(cell):
            return False
    return False


def heading_row(grid: Grid, spec: TableSpec) -> int | None:
    """The index of the row with the headings: the first with all required columns, else with the most known
    ones; None when no row has any."""
    best, most = None, 0
    required = {column.name for column in spec.columns if column.required}
    for index, row in enumerate(grid[:FIRST_ROWS]):
        known = {
            column.name
            for cell in row
            if isinstance(cell, str) and len(cell) < 80 and (column := column_meant(spec, cell))
        }
        if known and required <= known:
            return index
        if len(known) > most:
            best, most = index, len(known)
    return best


def table_of_grid(
    grid: Grid, spec: TableSpec, sheet: str, problems: ProblemList
) -> tuple[RawTable, dict[str, int]]:
    """The table in a grid, and at which index each of its columns stands.

    Adds problems for missing, doubled, misspelt headings and headings in another unit. A column whose heading
    is not known and not near a known one is the user's own and is left alone.
    """
    if all(blank(cell) for row in grid for cell in row):
        if spec.required:
            problems.add(
                Problem(sheet, message="the sheet is empty", mend=f"head its columns {', '.join(spec.names)}")
            )
        return RawTable(SheetPlaces(sheet), frozenset(spec.names), ()), {}
    top = heading_row(grid, spec)
    if top is None:
        problems.add(
            Problem(sheet, message="no heading is known", mend=f"head its columns {', '.join(spec.names)}")
        )
        return RawTable(SheetPlaces(sheet), frozenset(), ()), {}
    at: dict[str, int] = {}
    strangers: list[tuple[int, str]] = []
    for index, cell in enumerate(grid[top]):
        if blank(cell) or cell is REPORTED:
            continue
        heading = cell if isinstance(cell, str) else str(cell)
        column = column_meant(spec, heading)
        if column is None:
            strangers.append((index, heading.strip()))
        elif column.name in at:
            where = f"columns {column_letters(at[column.name])} and {column_letters(index)}"
            problems.add(
                Problem(
                    sheet, top + 1, "heading", heading, f"stands twice, in {where}",
                    "keep one of the two", f"{column_letters(index)}{top + 1}",
                )
            )  # fmt: skip
        else:
            at[column.name] = index
    explained = set()
    for index, heading in strangers:
        cell_name = f"{column_letters(index)}{top + 1}"
        other = wrong_unit(spec, heading)
        if other is not None and other.name not in at:
            explained.add(other.name)
            problems.add(
                Problem(
                    sheet, top + 1, "heading", heading, "lengths are read in millimetres only",
                    f"write them in mm and head the column {other.name}", cell_name,
                )
            )  # fmt: skip
            continue
        meant = probably_meant(heading, [name for name in spec.names if name not in at])
        if meant is not None and meant not in explained:
            explained.add(meant)
            mend = f"write {meant}, or another word if the column is your own"
            problems.add(Problem(sheet, top + 1, "heading", heading, "is not known", mend, cell_name))
    for column in spec.columns:
        given = column.name in at or any(other in at for other in column.instead)
        if column.required and not given and column.name not in explained:
            problems.add(
                Problem(
                    sheet, top + 1, None, None, f"there is no column {column.name}",
                    f"add it: {column.mend}" if column.mend else "add it",
                )
            )  # fmt: skip
    places = SheetPlaces(sheet, at)
    columns = list(at.items())
    rows = []
    for number, cells in enumerate(grid[top + 1 :], top + 2):
        found = {
            name: cell for name, index in columns if index < len(cells) and not blank(cell := cells[index])
        }
        if found and not _is_example(cells):
            rows.append(Row(number, found))
    return RawTable(places, frozenset(at), tuple(rows)), at


def fields_of_grid(
    grid: Grid, table: str, known: Mapping[str, Parser], sheet: str, problems: ProblemList
) -> tuple[RawField, ...]:
    """The keys and values of `project` or `detail`: one heading row over one row of values, or a row a key
    with columns such as rule, value, unit, note (in any order)."""
    filled = [(number, row) for number, row in enumerate(grid, 1) if not all(blank(cell) for cell in row)]
    filled = [(number, row) for number, row in filled if not _is_example(row)]
    if not filled:
        return ()
    across, top = max(((_known_in(row, known), -place) for place, (_, row) in enumerate(filled[:FIRST_ROWS])))
    top = -top
    down = sum(_known_in(row[:1], known) for _, row in filled)
    key_at, value_at, unit_at, start = 0, 1, None, 0
    for place, (_, row) in enumerate(filled[:FIRST_ROWS]):
        heads = [folded(cell) if isinstance(cell, str) else "" for cell in row]
        keys = [word for word in ("rule", "field", "key", "item") if word in heads]
        named_only = table == "detail" and keys and bool(_detail_columns(row, known))
        if keys and ("value" in heads or named_only):
            key_at, start = heads.index(keys[0]), place + 1
            value_at = heads.index("value") if "value" in heads else len(row)
            unit_at = heads.index("unit") if "unit" in heads else None
            down = len(filled) + 1
            break
    if across > down or (across == down == 1 and len(filled) > 1 and blank_after_first(filled[top][1])):
        return _across(filled[top:], sheet, problems)
    places = SheetPlaces(sheet, {"value": value_at})
    found = []
    for number, row in filled[start:]:
        key = row[key_at] if key_at < len(row) else None
        value = row[value_at] if value_at < len(row) else None
        unit = row[unit_at] if unit_at is not None and unit_at < len(row) else None
        if blank(key) and blank(value):
            continue
        if blank(key):
            problems.add(
                places.problem(number, "value", value, "has no rule's name beside it", "write the name")
            )
        elif key is not REPORTED:
            cell = None if blank(value) else value
            found.append(RawField(str(key).strip(), cell, number, "value", places, unit))
    return tuple(found)


NOT_DETAILS = frozenset(
    ("rule", "field", "key", "item", "value", "unit", "units", "note", "notes", "remark", "remarks", "comment")
)  # fmt: skip


def _detail_columns(heads: Sequence[Any], known: Mapping[str, Parser]) -> dict[str, int]:
    """The columns beside `value` in the headings of the detail's sheet that may each be a named detail."""
    found: dict[str, int] = {}
    for index, cell in enumerate(heads):
        if not blank(cell) and cell is not REPORTED and (text := str(cell).strip()):
            plain = folded(text)
            if plain not in NOT_DETAILS and plain not in known and len(text) <= 60:
                found.setdefault(text, index)
    return found


def details_of_grid(grid: Grid, known: Mapping[str, Parser], sheet: str) -> dict[str, tuple[RawField, ...]]:
    """What may be named details: the columns of the detail's sheet beside `value`, by their heading, a rule a row."""
    for place, row in enumerate(grid[:FIRST_ROWS]):
        heads = [folded(cell) if isinstance(cell, str) else "" for cell in row]
        keys = [word for word in ("rule", "field", "key", "item") if word in heads]
        if not keys:
            continue
        key_at, unit_at = heads.index(keys[0]), heads.index("unit") if "unit" in heads else None
        found = {}
        for name, index in _detail_columns(row, known).items():
            places = SheetPlaces(sheet, {"value": index})
            found[name] = tuple(
                RawField(
                    str(cells[key_at]).strip(),
                    cells[index],
                    number,
                    "value",
                    places,
                    cells[unit_at] if unit_at is not None and unit_at < len(cells) else None,
                )
                for number, cells in enumerate(grid[place + 1 :], place + 2)
                if key_at < len(cells)
                and index < len(cells)
                and not blank(cells[key_at])
                and not blank(cells[index])
                and cells[key_at] is not REPORTED
                and not _is_example(cells)
            )
        return found
    return {}


def blank_after_first(row: Sequence[Any]) -> bool:
    """Whether only the first cell of a row is filled."""
    return all(blank(cell) for cell in row[1:])


def _known_in(row: Sequence[Any], known: Mapping[str, Parser]) -> int:
    words = {folded(cell) for cell in row if isinstance(cell, str)}
    return sum(name in words or name.removesuffix("_mm") in words for name in known)


def _across(
    filled: Sequence[tuple[int, Sequence[Any]]], sheet: str, problems: ProblemList
) -> tuple[RawField, ...]:
    (_, headings), values = filled[0], filled[1:]
    if not values:
        return ()
    number, row = values[0]
    for extra, _ in values[1:]:
        problems.add(
            Problem(sheet, extra, None, None, "only one row of values is read here", "take this row out")
        )
    named = [(str(heading).strip(), index) for index, heading in enumerate(headings) if not blank(heading)]
    return tuple(
        RawField(heading, row[index], number, heading, SheetPlaces(sheet, {heading: index}))
        for heading, index in named
        if index < len(row) and not blank(row[index])
    )
