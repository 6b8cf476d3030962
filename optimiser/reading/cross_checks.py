"""What only shows when all tables are read: duplicates, references that do not hold, places beyond their run."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from optimiser.errors.problems import ProblemList, shown
from optimiser.reading.cells import closest
from optimiser.reading.delivery_checks import check_deliveries
from optimiser.reading.documents import Document, JsonPlaces, RawTable
from optimiser.reading.names import KnownNames, as_compared
from optimiser.reading.numbers import nearest, number
from optimiser.reading.read_row import ReadRow

SMALLEST_BOARD_MM = 50  # a board of 1 is one of 1 metre
SHORTEST_ROLL_MM = 1000  # a roll of 45 is one of 45 metres
SHORT_RUN_MM = 1000  # a shorter run beyond which most of its readings lie is one in metres


class _References(KnownNames):
    """Names that other tables refer to, with a suggestion for an unknown one."""

    def __init__(self, names: Iterable[str], where: str) -> None:
        super().__init__(names)
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


class _UnknownNames:
    """Names that no table defines, gathered: a level that is missing is told once, not once for each of its runs."""

    def __init__(self, table: str, column: str) -> None:
        self.table, self.column = table, column
        self._rows: dict[str, list[ReadRow]] = {}

    def add(self, name: str, row: ReadRow) -> None:
        row.whole = False
        self._rows.setdefault(name, []).append(row)

    def tell(
        self, message: str, known: _References, tables: Mapping[str, RawTable], problems: ProblemList
    ) -> None:
        """A problem for each name, at its first row; `message` may hold {name}."""
        for name, rows in self._rows.items():
            others = len(rows) - 1
            more = f" (and in {others} more row{'s' if others > 1 else ''})" if others else ""
            found = [
                tables[self.table].places.problem(
                    row.number, self.column, row.raw.get(self.column),
                    message.format(name=shown(name)) + more, known.mend(name, problems),
                )
                for row in rows
            ]  # fmt: skip
            problems.add(replace(found[0], also=tuple(each.cell for each in found[1:] if each.cell)))


def cross_check(document: Document, read: Mapping[str, list[ReadRow]], problems: ProblemList) -> None:
    """Duplicates, references, positions and sizes over all tables; unreadable rows still count as names."""
    tables = document.tables

    def fault(name: str, row: ReadRow, column: str, message: str, mend: str) -> None:
        row.whole = False
        places = tables[name].places
        problems.add(places.problem(row.number, column, row.raw.get(column), message, mend))

    for name, key in (
        ("products", "code"), ("levels", "level"), ("runs", "run"), ("allowance", "kind"), ("parties", "party"),
    ):  # fmt: skip
        first: dict[str, int] = {}
        for row in read[name]:
            if key in row.values:
                word = as_compared(row.values[key])
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

    unknown_boards = {
        name: _UnknownNames(name, column) for name, column in (("runs", "board"), ("stock", "code"))
    }
    unknown_levels = {name: _UnknownNames(name, "level") for name in ("runs", "stock")}

    def board_of(name: str, row: ReadRow, column: str, written: str) -> str:
        code = products.spelt_here(written)
        if code in other_kinds:
            fault(
                name,
                row,
                column,
                f"{shown(code)} is a {other_kinds[code]}, not a board",
                "write a board's code",
            )
        elif code not in boards.names and products.names:
            unknown_boards[name].add(code, row)
        return code

    def level_of(name: str, row: ReadRow) -> None:
        if levels.names and "level" in row.values:
            level = row.values["level"] = levels.spelt_here(row.values["level"])
            if level not in levels.names:
                unknown_levels[name].add(level, row)

    _lengths_in_metres(read, runs, fault)
    for row in read["runs"]:
        level_of("runs", row)
        if "joins" in row.values:
            row.values["joins"] = runs.spelt_here(row.values["joins"])
        if "board" in row.values:
            written = row.values["board"]
            if isinstance(written, str):
                whole = products.spelt_here(written)
                written = (whole,) if whole in products.names else tuple(re.split(r"[\s,;]+", written))
            row.values["board"] = tuple(board_of("runs", row, "board", code) for code in written if code)
        length = row.values.get("length_mm")
        beyond = [mullion for mullion in row.values.get("mullions_mm", ()) if length and mullion > length]
        if beyond:
            more = f" and {len(beyond) - 1} more lie" if len(beyond) > 1 else " lies"
            fault(
                "runs", row, "mullions_mm", f"the mullion at {beyond[0]}{more} beyond the end at {length}",
                "measure mullions from the run's start, or correct the run's length",
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
            row.values["code"] = board_of("stock", row, "code", row.values["code"])
        level_of("stock", row)
    for name in ("runs", "stock"):
        unknown_levels[name].tell("there is no such level", levels, tables, problems)
        unknown_boards[name].tell("{name} is no product", boards, tables, problems)
    check_deliveries(read, fault)
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
        if "code" not in row.values:
            continue
        code = row.values["code"] = products.spelt_here(row.values["code"])
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
                message = f"more packs of {code} cost more per pack than fewer ({price})"
                fault("price_breaks", row, "price", message, "correct one of the two prices")
            before, price = row, row.values["price"]


def _lengths_in_metres(read: Mapping[str, list[ReadRow]], runs: _References, fault: Any) -> None:
    """A run of 60 with readings at 9000 and 40000 is one of 60 metres: its length is told, and not each reading."""
    measured: defaultdict[str, list[int]] = defaultdict(list)
    for row in read["gaps"]:
        if "run" in row.values and row.values.get("at_mm"):
            measured[runs.spelt_here(row.values["run"])].append(row.values["at_mm"])
    for row in read["runs"]:
        length = row.values.get("length_mm", SHORT_RUN_MM)
        places = [*measured[row.values.get("run", "")], *row.values.get("mullions_mm", ())]
        if length >= SHORT_RUN_MM or 2 * sum(at > length for at in places) <= len(places):
            continue
        meant = nearest(1000 * number(row.raw["length_mm"], "")[0])
        if max(places) <= meant:
            fault(
                "runs", row, "length_mm", f"it ends at {length} mm, and was measured up to {max(places)} mm",
                f"if it is in metres, write {meant}; else measure positions from the run's start",
            )  # fmt: skip
            del row.values["length_mm"]


def _check_gaps(
    table: RawTable, read: Mapping[str, list[ReadRow]], runs: _References, fault: Any, problems: ProblemList
) -> None:
    lengths = {
        row.values["run"]: row.values["length_mm"]
        for row in read["runs"]
        if "run" in row.values and "length_mm" in row.values
    }
    unknown = _UnknownNames("gaps", "run")
    seen: dict[tuple[str, int], int] = {}
    for row in read["gaps"]:
        if "run" not in row.values:
            continue
        run, at_mm = runs.spelt_here(row.values["run"]), row.values.get("at_mm")
        row.values["run"] = run
        if runs.names and run not in runs.names:
            unknown.add(run, row)
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
    unknown.tell("there is no such run", runs, {"gaps": table}, problems)


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
