"""A workbook's package (.xlsx is a zip of XML), opened so that no bytes can hurt.

Sizes are checked in the zip's directory before anything is unpacked; macros, encryption and XML entities are
refused. The parts that passed are repacked in memory, so that the library which reads the values never sees
anything else.
"""

from __future__ import annotations

import io
import zipfile
import zlib
from collections.abc import Iterable
from dataclasses import dataclass
from posixpath import join, normpath
from typing import Any
from xml.parsers import expat

MOST_PARTS = 2000
LARGEST_UNPACKED = 300 * 1024 * 1024
SUSPECT_SIZE = 10 * 1024 * 1024
SUSPECT_RATIO = 200  # deflate ends near 1000; sheets of real surveys stay below 50 (measured on our samples)


class RefusedPackageError(Exception):
    """A file that is no workbook, or one that is not opened: the message and the mend."""

    def __init__(self, message: str, mend: str) -> None:
        super().__init__(message)
        self.message = message
        self.mend = mend


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
    except Exception:  # whatever the bytes of a zip's directory make the library say
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


def safe_parser() -> Any:
    """An expat parser that refuses documents with a DOCTYPE or entities."""
    parser = expat.ParserCreate()

    def refuse(*_: object) -> None:
        raise RefusedPackageError(*_ENTITIES)

    parser.StartDoctypeDeclHandler = refuse
    parser.EntityDeclHandler = refuse
    return parser


def parse_all(parser: Any, data: bytes) -> None:
    """Run a parser over a whole part. Raises RefusedPackageError for damaged XML."""
    try:
        parser.Parse(data, True)
    except expat.ExpatError as error:
        raise RefusedPackageError(
            f"has damaged XML ({expat.ErrorString(error.code)})", "save it again as .xlsx"
        ) from None
    except (LookupError, ValueError):  # an encoding that nobody knows, an attribute that is missing
        raise RefusedPackageError("has damaged XML", "save it again as .xlsx") from None


def _each_start(data: bytes, handle: Any) -> None:
    parser = safe_parser()
    parser.StartElementHandler = lambda tag, attributes: handle(tag.rpartition(":")[2], attributes)
    parse_all(parser, data)
