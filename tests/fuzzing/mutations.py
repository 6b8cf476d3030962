"""Mutations that keep most of an input whole, so that the fuzzer gets past the parsers.

A JSON value, a workbook's parts and a folder's csv files are each changed in a place or two; one time in eight the
bytes are changed blindly instead. Every choice comes from the seed that the fuzzer gives.
"""

from __future__ import annotations

import io
import json
import random
import re
import zipfile
from collections.abc import Callable
from typing import Any

BlindChange = Callable[[bytes], bytes]

TEXTS = (
    "", " ", "0", "-1", "150", "150 mm", "15 cm", "1.5e3", "1e400", "NaN", "inf", "1/3", "١٥٠", "1,5", "1.000,5",
    "TRUE", "yes", "2027-02-30", "30.02.2027", "31/12/9999", "0001-01-01", "600 1800", "B-120 B-120", "board",
    "measured", "nominal", "simulated", "\u202e", "\ud83d\ude00", "\x00", "=1+1", "#REF!", "a" * 5000, "AUD", "ZZ",
    "L01", "L1-N", "10%", "0.1", "9" * 400, "-0", "0x10", "1_000", "½", "²",
)  # fmt: skip
VALUES: tuple[Any, ...] = (
    None, True, False, 0, -1, 1, 2, 149, 1200, 2**31, 2**63, 10**30, 10**400, 0.1, -0.0, 1e-320, 1e308, 1.5,
    float("nan"), float("inf"), [], {}, [[]], [None], {"": None}, {"rule": "trim"},
)  # fmt: skip


def changed_json(data: bytes, seed: int, blindly: BlindChange) -> bytes:
    """JSON text with one to four of its values replaced, moved, dropped, repeated or renamed."""
    dice = random.Random(seed)
    if dice.random() < 0.125:
        return blindly(data)
    try:
        value = json.loads(data)
    except (ValueError, RecursionError):
        return blindly(data)
    holder = [value]
    for _ in range(dice.choice((1, 1, 1, 2, 4))):
        _change_somewhere(holder, dice)
    try:
        return json.dumps(holder[0], ensure_ascii=dice.random() < 0.5).encode("utf-8", "surrogatepass")
    except (ValueError, RecursionError):
        return data


def _change_somewhere(holder: list[Any], dice: random.Random) -> None:
    """Walk down a random way and change what is found at its end."""
    inside: Any = holder
    key: Any = 0
    while isinstance(inside[key], (dict, list)) and inside[key] and dice.random() < 0.88:
        inside = inside[key]
        key = dice.choice(list(inside)) if isinstance(inside, dict) else dice.randrange(len(inside))
    old = inside[key]
    what = dice.randrange(9)
    if what == 0:
        inside[key] = dice.choice(VALUES)
    elif what == 1:
        inside[key] = dice.choice(TEXTS)
    elif what == 2 and inside is not holder:
        del inside[key]
    elif what == 3 and isinstance(inside, list):
        inside.extend([old] * dice.choice((1, 1, 2, 30)) if inside is not holder else [])
    elif what == 4 and isinstance(inside, dict):
        inside[dice.choice((str(key)[:-1], str(key) + "s", str(key).upper(), dice.choice(TEXTS)))] = (
            inside.pop(key)
        )
    elif what == 5:
        inside[key] = [old]
    elif what == 6 and type(old) in (int, float):
        inside[key] = dice.choice(
            (old + 1, old - 1, -old, old * 10, old / 3 if abs(old) < 1e300 else 0, str(old))
        )
    elif what == 7 and isinstance(old, str):
        at = dice.randrange(len(old) + 1)
        inside[key] = old[:at] + dice.choice(TEXTS) + old[at + dice.choice((0, 1)) :]
    else:
        inside[key] = {"value": old} if dice.random() < 0.3 else dice.choice(VALUES)


def changed_workbook(data: bytes, seed: int, blindly: BlindChange) -> bytes:
    """A zip with one of its parts changed: a text, an attribute or an element, or some of its bytes."""
    dice = random.Random(seed)
    if dice.random() < 0.125:
        return blindly(data)
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            parts = [(member.filename, archive.read(member)) for member in archive.infolist()]
    except Exception:
        return blindly(data)
    sheets = [index for index, (name, _) in enumerate(parts) if "sheet" in name.lower() or "Strings" in name]
    if not parts:
        return blindly(data)
    index = dice.choice(sheets) if sheets and dice.random() < 0.8 else dice.randrange(len(parts))
    name, content = parts[index]
    what = dice.random()
    if what < 0.04:
        parts.pop(index)
    elif what < 0.08:
        parts.append((name.swapcase() if dice.random() < 0.5 else "xl/worksheets/sheet99.xml", content))
    elif what < 0.2:
        parts[index] = (name, blindly(content))
    else:
        for _ in range(dice.choice((1, 1, 2, 4))):
            content = _changed_xml(content, dice)
        parts[index] = (name, content)
    packed = io.BytesIO()
    method = zipfile.ZIP_DEFLATED if dice.random() < 0.5 else zipfile.ZIP_STORED
    try:
        with zipfile.ZipFile(packed, "w", method) as archive:
            for name, content in parts:
                archive.writestr(zipfile.ZipInfo(name), content, compress_type=method)
    except Exception:
        return data
    return packed.getvalue()


_PLACES = (
    re.compile(rb">([^<]+)<"),
    re.compile(rb'="([^"]*)"'),
    re.compile(rb"(<c [^>]*/>|<c .*?</c>)", re.DOTALL),
    re.compile(rb"(<row .*?</row>)", re.DOTALL),
    re.compile(rb"(</?[A-Za-z:]+)"),
)
_XML = (
    b"", b"A1", b"XFD1048576", b"A0", b"ZZZZ9", b"s", b"b", b"e", b"d", b"str", b"inlineStr", b"0", b"-1", b"9999999",
    b"1e999", b"NaN", b"#N/A", b"&#0;", b"&lt;", b"<f>1+1</f>", b"<mergeCell ref=\"A1:XFD1048576\"/>", b"<v>1</v>",
    b"44927", b"2958466", b"-5", b"0.30000000000000004", b"rId1", b"../../x", b"<!-- -->", b"<![CDATA[x]]>",
    b"\xff\xfe",
)  # fmt: skip


def _changed_xml(content: bytes, dice: random.Random) -> bytes:
    matches = list(dice.choice(_PLACES).finditer(content))
    if not matches:
        return content
    start, end = dice.choice(matches).span(1)
    old = content[start:end]
    new = dice.choice(
        (dice.choice(_XML), dice.choice(TEXTS).encode("utf-8", "replace"), old * dice.choice((2, 2, 40)), b"")
    )
    return content[:start] + new + content[end:]


FILE_MARK = b"\n=== "  # then a csv file's name, a line's end, and its bytes


def folder_as_bytes(files: dict[str, bytes]) -> bytes:
    """A folder of csv as one input."""
    return b"".join(FILE_MARK + name.encode() + b"\n" + content for name, content in files.items())


def bytes_as_folder(data: bytes) -> dict[str, bytes]:
    """The files of one input, named as a file system allows."""
    files = {}
    for part in data.split(FILE_MARK)[1:21]:
        name, _, content = part.partition(b"\n")
        stem = "".join(
            letter for letter in name.decode("utf-8", "replace") if letter.isprintable() and letter != "/"
        )
        files[stem[:60] or "x"] = content
    return files


def changed_csv(data: bytes, seed: int, blindly: BlindChange) -> bytes:
    """One csv file with a cell, a line, its delimiter or its encoding changed."""
    dice = random.Random(seed)
    return blindly(data) if dice.random() < 0.06 else _changed_table(data, dice, blindly)


def changed_folder(data: bytes, seed: int, blindly: BlindChange) -> bytes:
    """A folder with one of its files changed, or that file's name."""
    dice = random.Random(seed)
    files = bytes_as_folder(data)
    if not files or dice.random() < 0.06:
        return blindly(data)
    name = dice.choice(list(files))
    if dice.random() < 0.92:
        files[name] = _changed_table(files[name], dice, blindly)
    else:
        other = dice.choice(
            (name.upper(), name[:-5] + ".csv", "gaps.CSV", name + "x", dice.choice(list(files)))
        )
        files[other[:60] or "x"] = files.pop(name)
    return folder_as_bytes(files)


def changed_document(data: bytes, seed: int, blindly: BlindChange) -> bytes:
    """An XML document with one to four of its texts, attributes or tags changed."""
    dice = random.Random(seed)
    if dice.random() < 0.125:
        return blindly(data)
    for _ in range(dice.choice((1, 1, 2, 4))):
        data = _changed_xml(data, dice)
    return data


def _changed_table(content: bytes, dice: random.Random, blindly: BlindChange) -> bytes:
    lines = content.split(b"\n")
    at = dice.randrange(len(lines))
    what = dice.random()
    if what < 0.55:
        delimiter = max((b",", b";", b"\t"), key=lines[at].count)
        cells = lines[at].split(delimiter)
        place = dice.randrange(len(cells))
        text = dice.choice(TEXTS).encode("utf-8", "replace")
        cells[place] = dice.choice((text, blindly(cells[place]), b'"', cells[place] * 2, b"-1"))
        lines[at] = delimiter.join(cells)
        return b"\n".join(lines)
    if what < 0.66:
        lines[at : at + 1] = dice.choice(([], [lines[at]] * 2, [lines[at]] * 40, [b"", lines[at]]))
        return b"\n".join(lines)
    if what < 0.73:
        return content.replace(b",", dice.choice((b";", b"\t", b",,", b'","')))
    if what < 0.8:
        plain = content.decode("utf-8", "replace")
        return plain.encode(dice.choice(("utf-16", "utf-8-sig", "cp1252", "utf-16-be")), "replace")
    return blindly(content)
