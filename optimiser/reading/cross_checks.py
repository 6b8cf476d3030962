"""What only shows when all tables are read: duplicates, references that do not hold, places beyond their run."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from optimiser.reading.cells import closest
from optimiser.reading.documents import Document, JsonPlaces, RawTable
from optimiser.reading.problems import ProblemList, shown

SMALLEST_BOARD_MM = 50  # a board of 1 is one of 1 metre
SHORTEST_ROLL_MM = 1000  # a roll of 45 is one of 45 metres


@dataclass
class ReadRow:
    """A row whose cells are read: what could be read of it, as written, and whether all could."""

    number: int
    values: dict[str, Any]
    raw: Mapping[str, object]
    whole: bool


class _References:
    """Names that other tables refer to, with a suggestion for an unknown one."""

    def __init__(self, names: Iterable[str], where: str) -> None:
        self.names = frozenset(names)
        self.where = where
        self._suggested: dict[str, str] = {}

    def mend(self, wrong: str, problems: ProblemList) -> str:
        """What to write in place of an unknown name."""
        if problems.plenty:
            return f"add it to {self.where}"
        if wrong not in self._suggested:
            meant = closest(wrong, sorted(self.names)[:2000])
            add = f"add it to {self.where}"
            self._suggested[wrong] = f"write {meant}, or {add}" if meant else add
        return self._suggested[wrong]


def cross_check(document: Document, read: Mapping[str, list[ReadRow]], problems: ProblemList) -> None:
    """Duplicates, references, positions and sizes over all tables; unreadable rows still count as names."""
    tables = document.tables

    def fault(name: str, row: ReadRow, column: str, message: str, mend: str) -> None:
        row.whole = False
        places = tables[name].places
        problems.add(places.problem(row.number, column, row.raw.get(column), message, mend))

    for name, key in (("products", "code"), ("levels", "level"), ("runs", "run"), ("allowance", "kind")):
        first: dict[str, int] = {}
        for row in read[name]:
            if key in row.values:
                word = row.values[key]
                if word in first:
                    where = _told(tables[name], first[word])
                    fault(name, row, key, f"is already in {where}", "keep one of the two")
                else:
                    first[word] = row.number

    for row in read["products"]:
        _sizes_of_product(row, fault)

    products = _References(
        (row.values["code"] for row in read["products"] if "code" in row.values), "products"
    )
    kinds: defaultdict[str, list[str]] = defaultdict(list)
    for row in read["products"]:
        if "code" in row.values:
            kinds[row.values["code"]].append(row.values.get("kind", "board"))
    other_kinds = {code: found[0] for code, found in kinds.items() if "board" not in found}
    boards = _References(products.names - other_kinds.keys(), "products")
    levels = _References((row.values["level"] for row in read["levels"] if "level" in row.values), "levels")
    runs = _References((row.values["run"] for row in read["runs"] if "run" in row.values), "runs")

    def board_exists(name: str, row: ReadRow, column: str, code: str) -> None:
        if code in boards.names or not products.names:
            return
        if code in other_kinds:
            fault(
                name,
                row,
                column,
                f"{shown(code)} is a {other_kinds[code]}, not a board",
                "write a board's code",
            )
        else:
            fault(name, row, column, f"{shown(code)} is no product", boards.mend(code, problems))

    for row in read["runs"]:
        if levels.names and "level" in row.values and row.values["level"] not in levels.names:
            fault("runs", row, "level", "there is no such level", levels.mend(row.values["level"], problems))
        if "board" in row.values:
            written = row.values["board"]
            if isinstance(written, str):
                written = (written,) if written in products.names else tuple(re.split(r"[\s,;]+", written))
                row.values["board"] = written = tuple(code for code in written if code)
            for code in written:
                board_exists("runs", row, "board", code)
        length = row.values.get("length_mm")
        for mullion in row.values.get("mullions_mm", ()):
            if length is not None and mullion > length:
                fault(
                    "runs", row, "mullions_mm", f"the mullion at {mullion} lies beyond the end at {length}",
                    "measure mullions from the run's start",
                )  # fmt: skip
    if "gaps" in tables:
        _check_gaps(tables["gaps"], read, runs, fault, problems)
    if any("run" in row.values for row in read["gaps"]):
        surveyed = {row.values["run"] for row in read["gaps"] if "run" in row.values}
        for row in read["runs"]:
            if "run" in row.values and row.values["run"] not in surveyed:
                fault("runs", row, "run", "has no gap", "measure it and add its gaps to gaps")
    for row in read["stock"]:
        if "code" in row.values:
            board_exists("stock", row, "code", row.values["code"])
        if levels.names and "level" in row.values and row.values["level"] not in levels.names:
            fault("stock", row, "level", "there is no such level", levels.mend(row.values["level"], problems))
    for row in read["deliveries"][1:]:
        column = next(iter(row.raw))
        fault("deliveries", row, column, "the limits stand in one row", "put all of them in the first row")
    _check_price_breaks(tables, read, products, fault, problems)


def _check_price_breaks(
    tables: Mapping[str, RawTable],
    read: Mapping[str, list[ReadRow]],
    products: _References,
    fault: Any,
    problems: ProblemList,
) -> None:
    """Known products, each number of packs once, and a price that falls as the number rises."""
    base = {row.values["code"]: row.values.get("price") for row in read["products"] if "code" in row.values}
    breaks: defaultdict[str, list[ReadRow]] = defaultdict(list)
    for row in read["price_breaks"]:
        code = row.values.get("code")
        if code is None:
            continue
        if products.names and code not in products.names:
            fault("price_breaks", row, "code", f"{shown(code)} is no product", products.mend(code, problems))
        elif "from_packs" in row.values and "price" in row.values:
            breaks[code].append(row)
    for code, rows in breaks.items():
        before, price = None, base.get(code)
        for row in sorted(rows, key=lambda row: int(row.values["from_packs"])):
            if before is not None and before.values["from_packs"] == row.values["from_packs"]:
                where = _told(tables["price_breaks"], before.number)
                fault("price_breaks", row, "from_packs", f"is already in {where}", "keep one of the two")
            elif price is not None and row.values["price"] > price:
                message = f"more packs of {code} cost more a pack than fewer ({price})"
                fault("price_breaks", row, "price", message, "correct one of the two prices")
            before, price = row, row.values["price"]


def _check_gaps(
    table: RawTable, read: Mapping[str, list[ReadRow]], runs: _References, fault: Any, problems: ProblemList
) -> None:
    lengths = {
        row.values["run"]: row.values["length_mm"]
        for row in read["runs"]
        if "run" in row.values and "length_mm" in row.values
    }
    unknown: defaultdict[str, list[ReadRow]] = defaultdict(list)
    seen: dict[tuple[str, int], int] = {}
    for row in read["gaps"]:
        run, at_mm = row.values.get("run"), row.values.get("at_mm")
        if run is None:
            continue
        if runs.names and run not in runs.names:
            unknown[run].append(row)
            continue
        if at_mm is None:
            continue
        if at_mm > lengths.get(run, at_mm):
            fault(
                "gaps", row, "at_mm", f"lies beyond the end of run {run} at {lengths[run]}",
                "measure positions from the run's start, or correct the run's length",
            )  # fmt: skip
        if (run, at_mm) in seen:
            where = _told(table, seen[run, at_mm])
            fault(
                "gaps", row, "at_mm", f"run {run} has a gap here already, in {where}", "keep one of the two"
            )
        seen.setdefault((run, at_mm), row.number)
    for run, rows in unknown.items():
        for row in rows:
            row.whole = False
        more = f" (and in {len(rows) - 1} more row{'s' if len(rows) > 2 else ''})" if len(rows) > 1 else ""
        fault("gaps", rows[0], "run", f"there is no such run{more}", runs.mend(run, problems))


def _sizes_of_product(row: ReadRow, fault: Any) -> None:
    kind, values = row.values.get("kind"), row.values
    wanted = {"board": ("length_mm", "width_mm"), "bracket": ("length_mm",), "tape": ("length_mm",)}
    why = {"bracket": "its reach into the gap", "tape": "the length of a roll", "board": "its size"}
    for column in wanted.get(kind or "", ()):
        if column not in row.raw:
            fault("products", row, column, f"is missing for this {kind}", f"write {why[kind or '']} in mm")
        elif column in values:
            least = {"board": SMALLEST_BOARD_MM, "tape": SHORTEST_ROLL_MM}.get(kind or "", 1)
            if values[column] < least:
                fault(
                    "products", row, column, f"is absurdly small for a {kind} in mm",
                    f"if it is in metres, write {values[column] * 1000}",
                )  # fmt: skip


def _told(table: RawTable, number: int) -> str:
    """Where a row stands, inside a message about another row."""
    if isinstance(table.places, JsonPlaces):
        return table.places.problem(number, None, None, "", "").place
    return f"row {number}"
