"""Scenarios as they are written in cells: a row a scenario, a column an option, blank as the project has it.

Several values in a cell are separated by spaces. 'none' under a limit sets the project's aside. Several gaps under
`gap_mm`, such as '148 150', '148-152' (every millimetre) or '140-160/5', make a scenario of each.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple, get_origin

from pydantic import ValidationError

from optimiser.errors.problems import Problem, ProblemList, UnusableInput, shown
from optimiser.model.scenario import LIMITS, Scenario
from optimiser.reading.csv_folder import LARGEST_BYTES, grid_of_csv
from optimiser.reading.file_bytes import read_bytes
from optimiser.reading.json_text import parse_json

OPTIONS: tuple[str, ...] = tuple(name for name in Scenario.model_fields if name != "without")
"""The columns that there may be."""
LISTS = tuple(name for name in OPTIONS if get_origin(Scenario.model_fields[name].annotation) is tuple)
FLAGS = ("shifted", "precut")
_YES, _NO = ("yes", "true", "1", "on"), ("no", "false", "0")
_MOST_GAPS = 1000


def read_scenarios(path: Path) -> tuple[Scenario, ...]:
    """The scenarios in a .csv file, or in a .json with a list of objects; '-' reads JSON from the standard input.

    Raises UnusableInput with every fault: its row, the scenario, its option, the value and the mend.
    """
    data = read_bytes(path, LARGEST_BYTES)
    problems = ProblemList()
    if path.suffix.lower() == ".csv":
        found = _of_csv(data, problems)
    else:
        value = parse_json(data, path.name)
        rows = value.get("scenarios") if isinstance(value, dict) else value
        if not isinstance(rows, list):
            mend = 'write [{"name": "as surveyed"}, ...]'
            raise UnusableInput([Problem(path.name, message="must be a list of scenarios", mend=mend)])
        found = [one for row in rows for one in _validated(row, None, problems)]
    problems.raise_if_any()
    if not found:
        raise UnusableInput([Problem(path.name, message="has no scenario", mend="add a row a scenario")])
    return tuple(found)


def _of_csv(data: bytes, problems: ProblemList) -> list[Scenario]:
    grid = grid_of_csv(data, "scenarios", problems) or [[]]
    heads = [str(cell).strip().lower() for cell in grid[0]]
    found: list[Scenario] = []
    for number, row in enumerate(grid[1:], start=2):
        cells = {head: cell for head, cell in zip(heads, row, strict=False) if head and cell.strip()}
        if cells:
            values, faults = values_of_cells(cells)
            for fault in faults:
                problems.add(Problem("scenarios", number, message=fault.words))
            if not faults:
                found += [one for each in values for one in _validated(each, number, problems)]
    return found


def _validated(value: Any, row: int | None, problems: ProblemList) -> Iterator[Scenario]:
    scenario, faults = scenario_of(value)
    for fault in faults:
        problems.add(Problem("scenarios", row, message=fault.words))
    if scenario is not None:
        yield scenario


class ScenarioFault(NamedTuple):
    """A fault of a scenario in words, and the option that has it ('': several, or the scenario as a whole)."""

    option: str
    words: str


def scenario_of(value: Any) -> tuple[Scenario | None, tuple[ScenarioFault, ...]]:
    """A scenario of plain values; or None and what is wrong with it."""
    try:
        return Scenario.model_validate(value), ()
    except ValidationError as error:
        faults = error.errors(include_url=False)
        return None, tuple(ScenarioFault(str((*fault["loc"], "")[0]), fault["msg"]) for fault in faults)


def values_of_cells(cells: Mapping[str, str]) -> tuple[list[dict[str, Any]], list[ScenarioFault]]:
    """What a row of cells holds as plain values of scenarios, one a gap; and what cannot be read."""
    name = cells.get("name", "").strip()
    values: dict[str, Any] = {}
    without: list[str] = []
    faults: list[ScenarioFault] = []
    gaps: Sequence[int | str] = ()
    for option, cell in cells.items():
        text = cell.strip()
        if not text:
            continue
        if option in LIMITS and text.lower() == "none":
            without.append(option)
        elif option in LISTS:
            values[option] = text.replace(",", " ").split()
        elif option in FLAGS:
            if text.lower() not in (*_YES, *_NO):
                words = f"scenario {shown(name)}, {option} is {shown(text)}: give yes or no"
                faults.append(ScenarioFault(option, words))
            values[option] = text.lower() in _YES
        elif option == "gap_mm":
            gaps = _gaps(text)
            if not gaps:
                words = (
                    f"scenario {shown(name)}, gap_mm is {shown(text)}: it is no gap; give one such as 150, several"
                    " as 148 150, or a range as 140-160/5"
                )
                faults.append(ScenarioFault(option, words))
        else:
            values[option] = text
    if without:
        values["without"] = without
    if len(gaps) < 2 or not name:  # a name that is missing is told once, not once a gap
        return [values | ({"gap_mm": gaps[0]} if gaps else {})], faults
    return [{**values, "name": f"{name}, {gap} mm"[-60:], "gap_mm": gap} for gap in gaps], faults


def cells_of(scenario: Scenario) -> dict[str, str]:
    """A scenario as cells: what `values_of_cells` reads back as the same."""
    cells: dict[str, str] = {}
    for option, value in scenario.changes.items():
        if option == "without":
            cells |= dict.fromkeys(value, "none")
        elif isinstance(value, tuple):
            cells[option] = " ".join(str(part) for part in value)
        else:
            cells[option] = "yes" if value is True else f"{value}"
    return {"name": scenario.name, **cells}


def _gaps(text: str) -> Sequence[int | str]:
    """The gaps that a cell holds, none where it cannot be read: '148 150', '148-152', '140-160/5'."""
    found: list[int] = []
    for part in text.replace(",", " ").split():
        matched = re.fullmatch(r"(\d{1,5})(?:-(\d{1,5})(?:/(\d{1,4}))?)?", part, re.ASCII)
        if matched is None:
            return ()
        first, last, step = matched[1], matched[2] or matched[1], matched[3] or "1"
        if int(step) < 1 or int(last) < int(first):
            return ()
        found += range(int(first), int(last) + 1, int(step))
        if len(found) > _MOST_GAPS:
            return ()
    return list(dict.fromkeys(found))
