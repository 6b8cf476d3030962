"""What a sheet's XML tells beside its values: merged cells, formulas whose value was never computed, error values,
and how far the sheet reaches. One pass of expat, cheap enough for every workbook."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from optimiser.errors.problems import shown
from optimiser.reading.package import RefusedPackageError, parse_all, safe_parser

MOST_ROWS = 250_000
MOST_COLUMNS = 200
MOST_CELLS = (
    6_000_000  # of all tables' rectangles, empty cells too: 45 bytes each while they are read (measured)
)
MOST_TEXT = 500_000_000  # characters that shared texts may unfold to
MOST_NOTED = 5_000

_CELL = re.compile(r"([A-Z]{1,3})([0-9]{1,7})")
_ROW = re.compile(r"[0-9]{1,7}")
_RANGE = re.compile(r"([A-Z]{1,3})([0-9]{1,7})(?::([A-Z]{1,3})([0-9]{1,7}))?")


@dataclass(frozen=True)
class Merged:
    """A merged range: rows and columns from 0, both ends included, and its name ('B5:B9')."""

    name: str
    first_row: int
    first_column: int
    last_row: int
    last_column: int


@dataclass
class SheetFacts:
    """What one pass over a sheet's XML found; rows and columns count from 0."""

    rows: int = 0
    columns: int = 0
    widest_row: int = 0
    shared_texts: int = 0
    merged: list[Merged] = field(default_factory=list)
    uncomputed: list[tuple[int, int]] = field(default_factory=list)
    errors: list[tuple[int, int, str]] = field(default_factory=list)


def column_index(letters: str) -> int:
    """A -> 0, AB -> 27."""
    index = 0
    for letter in letters:
        index = index * 26 + ord(letter) - 64
    return index - 1


def longest_shared_text(data: bytes) -> int:
    """The length of the longest text in the shared strings, in characters."""
    parser = safe_parser()
    longest = length = 0

    def start(tag: str, _: dict[str, str]) -> None:
        nonlocal length
        if tag.rpartition(":")[2] == "si":
            length = 0

    def characters(found: str) -> None:
        nonlocal length, longest
        length += len(found)
        longest = max(longest, length)

    parser.StartElementHandler, parser.CharacterDataHandler = start, characters
    parse_all(parser, data)
    return longest


def _nowhere(what: str) -> RefusedPackageError:
    """No spreadsheet writes such a place, and the library that reads the values would make room up to it: a cell
    of row 99999999 takes 22 GB (measured with python-calamine 0.9.1)."""
    return RefusedPackageError(f"has {what}, and no sheet reaches there", "save it again as .xlsx")


class _SheetScan:
    """One pass of expat over a sheet. Only opening tags are followed (closing tags and text cost time), save
    inside cells with a formula or an error."""

    def __init__(self) -> None:
        self.facts = SheetFacts()
        self.parser = safe_parser()
        self.parser.StartElementHandler = self.start
        self.local: dict[str, str] = {}
        self.letters: dict[str, int] = {}
        self.row, self.column = -1, -1
        self.kind: str | None = None
        self.formula = self.followed = False
        self.has_value = False
        self.text: list[str] = []

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        name = self.local.get(tag)
        if name is None:
            name = self.local[tag] = tag.rpartition(":")[2]
        if name == "c":
            if self.followed:
                self.close_cell()
            reference = attributes.get("r")
            match = _CELL.fullmatch(reference) if reference else None
            if match is None:
                if reference:
                    raise _nowhere(f"a cell at {shown(reference)}")
                self.column += 1
            else:
                letters = match[1]
                column = self.letters.get(letters)
                if column is None:
                    column = self.letters[letters] = column_index(letters)
                self.row, self.column = int(match[2]) - 1, column
            self.kind = attributes.get("t")
            if self.kind == "s":
                self.facts.shared_texts += 1
            elif self.kind == "e":
                self.follow()
        elif name == "v" or name == "is":
            self.has_value = True
            if self.followed:
                self.parser.CharacterDataHandler = self.text.append
            facts = self.facts
            if self.row >= facts.rows:
                facts.rows = self.row + 1
            if self.column >= facts.columns:
                facts.columns, facts.widest_row = self.column + 1, self.row
        elif name == "f":
            self.formula = True
            self.follow()
        elif name == "row":
            if self.followed:
                self.close_cell()
            number = attributes.get("r")
            if number and not _ROW.fullmatch(number):
                raise _nowhere(f"a row numbered {shown(number)}")
            self.row = int(number) - 1 if number else self.row + 1
            self.column = -1
        elif name == "mergeCell":
            self.merge(attributes.get("ref", ""))

    def follow(self) -> None:
        if not self.followed:
            self.followed, self.has_value, self.text = True, False, []
            self.parser.EndElementHandler = self.end
            self.parser.CharacterDataHandler = None

    def end(self, tag: str) -> None:
        if self.local.get(tag) == "c":
            self.close_cell()

    def close_cell(self) -> None:
        value = "".join(self.text).strip()
        facts = self.facts
        if self.kind == "e":
            if len(facts.errors) < MOST_NOTED:
                facts.errors.append((self.row, self.column, value[:20] or "an error"))
        elif self.formula and not value and not (self.kind == "str" and self.has_value):
            # (a formula whose result is the empty text is kept as an empty value of kind "str")
            facts.uncomputed.append((self.row, self.column))
            del facts.uncomputed[MOST_NOTED:]
        self.followed = self.formula = False
        self.parser.EndElementHandler = self.parser.CharacterDataHandler = None

    def merge(self, reference: str) -> None:
        match = _RANGE.fullmatch(reference)
        if match and match[3] and len(self.facts.merged) < MOST_NOTED:
            self.facts.merged.append(
                Merged(
                    reference, int(match[2]) - 1, column_index(match[1]), int(match[4]) - 1, column_index(match[3])
                )
            )  # fmt: skip


def scan_sheet(data: bytes) -> SheetFacts:
    """What a sheet's XML tells beside its values. Raises RefusedPackageError for damaged XML or entities."""
    scan = _SheetScan()
    parse_all(scan.parser, data)
    if scan.followed:
        scan.close_cell()
    return scan.facts
