"""What a newer survey changes of an earlier one: every cell that differs, and every row that came or went."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from optimiser.model.project import Project
from optimiser.writing.office.survey_sheets import Sheet, survey_sheets, text_of

What = Literal["changed", "added", "removed"]

KEYS: Mapping[str, tuple[str, ...]] = {
    "products": ("code",),
    "levels": ("level",),
    "runs": ("run",),
    "gaps": ("run", "at_mm"),
    "stock": ("code", "length_mm", "width_mm", "level"),
    "allowance": ("kind",),
    "deliveries": (),
    "price_breaks": ("code", "from_packs"),
    "parties": ("party",),
}
"""The columns by which a row is known again; of `deliveries` there is one row. Elsewhere it is the first column."""


@dataclass(frozen=True)
class SurveyChange:
    """A cell that differs, or a row that came or went (then `column` is '').

    `row` names the row by its keys, such as 'L01-N 1500'; `before` and `after` are the cells as text, '' for a blank,
    and of a whole row its cells that are not its keys.
    """

    table: str
    row: str
    column: str
    what: What
    before: str
    after: str


def survey_changes(before: Project, after: Project) -> tuple[SurveyChange, ...]:
    """Every difference of two surveys of a building, by table and row; of the order of rows nothing is said."""
    earlier, later = survey_sheets(before), survey_sheets(after)
    found: list[SurveyChange] = []
    for table in {**earlier, **later}:
        found += _of_table(table, earlier.get(table, ()), later.get(table, ()))
    return tuple(found)


def counts_by_table(changes: Sequence[SurveyChange]) -> dict[str, str]:
    """For each table that differs how many cells changed and how many rows came or went: '3 changed, 1 added'."""
    counts: dict[str, Counter[str]] = {}
    for change in changes:
        counts.setdefault(change.table, Counter())[change.what] += 1
    kinds: tuple[What, ...] = ("changed", "added", "removed")
    return {
        table: ", ".join(f"{found[what]} {what}" for what in kinds if found[what])
        for table, found in counts.items()
    }


def _of_table(table: str, before: Sheet, after: Sheet) -> list[SurveyChange]:
    earlier, later = _rows(table, before), _rows(table, after)
    found = []
    for name, row in earlier.items():
        if name not in later:
            found.append(SurveyChange(table, name[0], "", "removed", _whole(table, row), ""))
    for name, row in later.items():
        if name not in earlier:
            found.append(SurveyChange(table, name[0], "", "added", "", _whole(table, row)))
            continue
        old = earlier[name]
        for column in {**old, **row}:
            one, other = old.get(column, ""), row.get(column, "")
            if one != other:
                found.append(SurveyChange(table, name[0], column, "changed", one, other))
    return found


def _rows(table: str, sheet: Sheet) -> dict[tuple[str, int], dict[str, str]]:
    """Rows by their name and, of equal names, their number; each as text by column, blanks left out."""
    if not sheet:
        return {}
    heads = [str(cell) for cell in sheet[0]]
    keys = KEYS.get(table, (heads[0],))
    found: dict[tuple[str, int], dict[str, str]] = {}
    seen: Counter[str] = Counter()
    for cells in sheet[1:]:
        row = {head: text for head, cell in zip(heads, cells, strict=True) if (text := text_of(cell))}
        name = " ".join(row[key] for key in keys if key in row)
        found[name, seen[name]] = row
        seen[name] += 1
    return found


def _whole(table: str, row: Mapping[str, str]) -> str:
    return ", ".join(f"{column} {text}" for column, text in row.items() if column not in KEYS.get(table, ()))
