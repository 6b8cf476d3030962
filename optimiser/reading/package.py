"""A workbook's package (.xlsx is a zip of XML), opened so that no bytes can hurt.

Sizes are checked in the zip's directory before anything is unpacked; macros, encryption and XML entities are
refused; one pass over each sheet's XML finds what the values alone do not tell: merged cells, formulas whose
value was never computed, error values, and how far the sheet reaches. The parts that passed are packed anew in
memory, so that the library which reads the values never sees anything else.
"""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from collections.abc import Iterable
from dataclasses import dataclass, field
from posixpath import join, normpath
from typing import Any
from xml.parsers import expat

MOST_PARTS = 2000
LARGEST_UNPACKED = 300 * 1024 * 1024
SUSPECT_SIZE = 10 * 1024 * 1024
SUSPECT_RATIO = 200  # deflate ends near 1000; sheets of real surveys stay below 50 (measured on our samples)
MOST_ROWS = 250_000
MOST_COLUMNS = 200
MOST_TEXT = 500_000_000  # characters that shared texts may unfold to
MOST_NOTED = 5_000

_CELL = re.compile(r"([A-Z]{1,3})([0-9]{1,7})")
_RANGE = re.compile(r"([A-Z]{1,3})([0-9]{1,7})(?::([A-Z]{1,3})([0-9]{1,7}))?")


class RefusedPackageError(Exception):
    """A file that is no workbook, or one that is not opened: the message and the mend."""

    def __init__(self, message: str, mend: str) -> None:
        super().__init__(message)
        self.message = message
        self.mend = mend


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


@dataclass(frozen=True)
class Package:
    """A workbook's checked parts."""

    parts: dict[str, bytes]
    sheets: dict[str, str]  # sheet's name -> its part

    def packed(self, sheets: Iterable[str]) -> io.BytesIO:
        """A package with only these sheets' XML and what is needed to read their values."""
        wanted = {self.sheets[name] for name in sheets}
        packed = io.BytesIO()
        with zipfile.ZipFile(packed, "w", zipfile.ZIP_STORED) as archive:
            for name, data in self.parts.items():
                if name not in self.sheets.values() or name in wanted:
                    archive.writestr(name, data)
        packed.seek(0)
        return packed


def open_package(data: bytes) -> Package:
    """The checked parts of a workbook. Raises RefusedPackageError for anything that is no plain .xlsx."""
    _refuse_by_magic(data)
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
        members = archive.infolist()
    except (zipfile.BadZipFile, ValueError, OSError, EOFError, NotImplementedError, OverflowError):
        raise RefusedPackageError("is damaged: it is no whole .xlsx", "save it again as .xlsx") from None
    except Exception:  # any other fault of the zip directory's bytes
        raise RefusedPackageError("is damaged: it is no whole .xlsx", "save it again as .xlsx") from None
    _refuse_by_directory(members)
    try:
        return _checked(archive, {member.filename for member in members})
    except (zipfile.BadZipFile, zlib.error, ValueError, OSError, EOFError, NotImplementedError, RuntimeError):
        raise RefusedPackageError("is damaged: it is no whole .xlsx", "save it again as .xlsx") from None
    except (KeyError, IndexError, OverflowError, MemoryError):
        raise RefusedPackageError("is no workbook inside", "save it again as .xlsx") from None


def _refuse_by_magic(data: bytes) -> None:
    if data.startswith(b"PK"):
        return
    if data.startswith(b"\xd0\xcf\x11\xe0"):
        raise RefusedPackageError(
            "is an old .xls, or a workbook locked with a password", "save it as .xlsx without a password"
        )
    if data.startswith(b"%PDF"):
        raise RefusedPackageError("is a PDF, not a workbook", "give the workbook that it was printed from")
    raise RefusedPackageError(
        "is not a workbook, whatever its name", "give a .xlsx, a folder of .csv, or a .json"
    )


def _refuse_by_directory(members: list[zipfile.ZipInfo]) -> None:
    names = [member.filename for member in members]
    if len(names) > MOST_PARTS:
        raise RefusedPackageError(f"has {len(names)} parts", "save the tables alone in a new .xlsx")
    if len({name.lower() for name in names}) != len(names):
        raise RefusedPackageError("holds two parts of the same name", "save it again as .xlsx")
    if any(member.flag_bits & 1 for member in members):
        raise RefusedPackageError("is locked with a password", "save it without a password")
    if any("vbaproject" in name.lower() or "macrosheets" in name.lower() for name in names):
        raise RefusedPackageError("holds macros", "save it as .xlsx, without macros")
    if "xl/workbook.xml" not in names:
        if any(name.lower() == "xl/workbook.bin" for name in names):
            raise RefusedPackageError("is a binary .xlsb", "save it as .xlsx")
        if "mimetype" in names or "content.xml" in names:
            raise RefusedPackageError("is an OpenDocument file", "save it as .xlsx")
        if any(name.startswith(("word/", "ppt/")) for name in names):
            raise RefusedPackageError("is a document, not a workbook", "give the workbook")
        raise RefusedPackageError("is a zip file, but no workbook", "give a .xlsx")
    total = sum(member.file_size for member in members)
    bomb = any(
        member.file_size > SUSPECT_SIZE and member.file_size > SUSPECT_RATIO * max(1, member.compress_size)
        for member in members
    )
    if bomb or total > LARGEST_UNPACKED:
        raise RefusedPackageError(
            f"would unpack to {total >> 20} MB and is not opened", "save the tables alone in a new .xlsx"
        )


def _checked(archive: zipfile.ZipFile, names: set[str]) -> Package:
    parts: dict[str, bytes] = {}
    for name in ("[Content_Types].xml", "_rels/.rels", "xl/styles.xml", "xl/sharedStrings.xml"):
        if name in names:
            parts[name] = archive.read(name)
    parts["xl/workbook.xml"] = archive.read("xl/workbook.xml")
    parts["xl/_rels/workbook.xml.rels"] = archive.read("xl/_rels/workbook.xml.rels")
    if b"macroEnabled" in parts.get("[Content_Types].xml", b""):
        raise RefusedPackageError("is a workbook with macros", "save it as .xlsx, without macros")
    targets: dict[str, str] = {}
    sheets: dict[str, str] = {}

    def relation(tag: str, attributes: dict[str, str]) -> None:
        if tag == "Relationship" and attributes.get("Type", "").endswith("/worksheet"):
            target = attributes["Target"]
            target = target.lstrip("/") if target.startswith("/") else normpath(join("xl", target))
            targets[attributes["Id"]] = target
        if tag == "Relationship" and attributes.get("Type", "").endswith("/sharedStrings"):
            shared = normpath(join("xl", attributes["Target"].lstrip("/").removeprefix("xl/")))
            if shared != "xl/sharedStrings.xml":
                raise RefusedPackageError("keeps its texts in an unusual place", "save it again as .xlsx")

    def sheet(tag: str, attributes: dict[str, str]) -> None:
        if tag == "sheet":
            identifier = next((value for key, value in attributes.items() if key.endswith(":id")), "")
            if identifier in targets:
                sheets[attributes["name"]] = targets[identifier]

    _each_start(parts["xl/_rels/workbook.xml.rels"], relation)
    _each_start(parts["xl/workbook.xml"], sheet)
    for name in ("xl/styles.xml", "xl/sharedStrings.xml", "[Content_Types].xml"):
        if name in parts and b"<!DOCTYPE" in parts[name]:
            raise RefusedPackageError(*_ENTITIES)
    if len(set(sheets.values())) != len(sheets):
        raise RefusedPackageError("shows one sheet under two names", "save it again as .xlsx")
    for part in sheets.values():
        if part in names:
            parts[part] = archive.read(part)
    return Package(parts, {name: part for name, part in sheets.items() if part in names})


_ENTITIES = ("holds XML entities and is not opened", "save it again as .xlsx")


def _parser() -> Any:
    parser = expat.ParserCreate()

    def refuse(*_: object) -> None:
        raise RefusedPackageError(*_ENTITIES)

    parser.StartDoctypeDeclHandler = refuse
    parser.EntityDeclHandler = refuse
    return parser


def _parse(parser: Any, data: bytes) -> None:
    try:
        parser.Parse(data, True)
    except expat.ExpatError as error:
        raise RefusedPackageError(
            f"has damaged XML ({expat.ErrorString(error.code)})", "save it again as .xlsx"
        ) from None


def _each_start(data: bytes, handle: Any) -> None:
    parser = _parser()
    parser.StartElementHandler = lambda tag, attributes: handle(tag.rpartition(":")[2], attributes)
    _parse(parser, data)


def column_index(letters: str) -> int:
    """A -> 0, AB -> 27."""
    index = 0
    for letter in letters:
        index = index * 26 + ord(letter) - 64
    return index - 1


def longest_shared_text(data: bytes) -> int:
    """The length of the longest text in the shared strings, in characters."""
    parser = _parser()
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
    _parse(parser, data)
    return longest


class _SheetScan:
    """One pass of expat over a sheet. Only opening tags are followed (closing tags and text cost time), save
    inside cells with a formula or an error."""

    def __init__(self) -> None:
        self.facts = SheetFacts()
        self.parser = _parser()
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
            number = attributes.get("r", "")
            self.row = int(number) - 1 if number.isdecimal() and len(number) < 9 else self.row + 1
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
    _parse(scan.parser, data)
    if scan.followed:
        scan.close_cell()
    return scan.facts
