"""The anchor: a file outside the database that knows every order that was issued, each line signed.

A line is a JSON object on the line before it by its hash, and signed with HMAC-SHA256 (RFC 2104) under a key that
stands in a file of its own: a keyed hash, so whoever holds the key can check it and could also forge it. Keep the
key where the database's users cannot read it. Lines are only ever added:

- `begun`: the anchor's id, and which earlier file it goes on from
- `adopted`: a revision as it was found when the anchor was begun, or when its finding was acknowledged
- `intended`: a revision is about to be issued; `issued`: it was. An intention that nothing follows was never issued
- `doubtful`: a number that a line of an altered file named
- `erased`: the name of who issued a revision was erased; `ended`: a revision was deleted at the end of its retention
- `acknowledged`: who looked at which findings; `restored`: a backup was put in place

A crash may leave half a line at the end: nothing was issued by it, and it is dropped.
"""

from __future__ import annotations

import fcntl
import hashlib
import hmac
import json
import os
import secrets
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from api import clock
from api.settings import Settings
from api.storage.trouble import UnusableDatabase

Line = dict[str, Any]
_NONE = "0" * 64


@dataclass(frozen=True)
class Anchored:
    """A revision as the anchor knows it. `log_number` is that of its line in the database's log of changes (0: not
    known), `plan_hash` that of its plan where the revision itself does not hold it."""

    hash: str
    at: str
    log_number: int = 0
    plan_hash: str = ""


@dataclass
class Knowledge:
    """What the lines of an anchor say together. `faults` are lines that were altered, removed or not signed by the key,
    in plain words; the numbers that they name are `doubtful`: nothing is said of their orders, and none is given
    again. `erased` and `ended` hold when the issuer's name, or the revision itself, was rightly taken away."""

    anchor_id: str = ""
    lines: list[Line] = field(default_factory=list)
    issued: dict[tuple[str, int], Anchored] = field(default_factory=dict)
    intended: dict[tuple[str, int], Anchored] = field(default_factory=dict)
    doubtful: set[tuple[str, int]] = field(default_factory=set)
    erased: dict[tuple[str, int], str] = field(default_factory=dict)
    ended: dict[tuple[str, int], str] = field(default_factory=dict)
    acknowledged: dict[str, str] = field(default_factory=dict)
    faults: list[str] = field(default_factory=list)

    def highest(self, project_id: str) -> int:
        """The highest revision number that a project was given; 0: none."""
        given = {*self.issued, *self.doubtful}
        return max((number for project, number in given if project == project_id), default=0)


class Anchor:
    """An anchor's file and its key's."""

    def __init__(self, path: Path, key_path: Path) -> None:
        self.path, self.key_path = path, key_path

    @property
    def exists(self) -> bool:
        """Whether there is such a file."""
        return self.path.exists()

    @property
    def has_key(self) -> bool:
        """Whether the key's file is there."""
        return self.key_path.exists()

    @contextmanager
    def locked(self) -> Iterator[HeldAnchor]:
        """The anchor to itself, among threads and processes of this machine, until the block ends."""
        lock = self.path.with_name(self.path.name + ".lock")
        try:
            lock.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            descriptor = os.open(lock, os.O_CREAT | os.O_RDWR, 0o600)
        except OSError as error:
            raise UnusableDatabase(
                f"The anchor of the issued orders cannot be kept at {self.path}: {error.strerror}; let this user"
                " write to its folder, or name another file with BARRIER_ORDERS_ANCHOR_FILE."
            ) from error
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX)
            yield HeldAnchor(self)
        finally:
            os.close(descriptor)

    def key(self) -> bytes:
        """The signing key; b'' where its file is not there."""
        try:
            return self.key_path.read_bytes().strip()
        except FileNotFoundError:
            return b""

    def make_key(self) -> bytes:
        """The signing key, made where there is none: 256 random bits in a file that its owner alone reads."""
        if not self.has_key:
            _write_private(self.key_path, secrets.token_hex(32).encode() + b"\n")
        return self.key()

    def read(self) -> Knowledge:
        """What the file says, judged line by line under the key."""
        text = self.path.read_bytes() if self.exists else b""
        return knowledge_of(text, self.key())


@dataclass(frozen=True)
class HeldAnchor:
    """An anchor that nobody else writes meanwhile."""

    anchor: Anchor

    def read(self) -> Knowledge:
        """What the file says."""
        return self.anchor.read()

    def begin(self, software: str, goes_on_from: dict[str, Any] | None = None) -> str:
        """A new file under a new id; what stood there is kept beside it under another name. The new id."""
        anchor_id = uuid.uuid4().hex
        if self.anchor.exists:
            aside = self.anchor.path.with_name(f"{self.anchor.path.name}.{clock.now().replace(':', '')}")
            self.anchor.path.rename(aside)
            goes_on_from = {**(goes_on_from or {}), "file": aside.name}
        _write_private(self.anchor.path, b"")
        self.add("begun", anchor_id=anchor_id, software=software, goes_on_from=goes_on_from)
        return anchor_id

    def put(self, text: bytes) -> None:
        """A file that was kept in a backup, where there is none."""
        _write_private(self.anchor.path, text)

    def add(self, kind: str, **facts: Any) -> None:
        """Adds a line: written and flushed to the disk before this returns. Raises UnusableDatabase."""
        key = self.anchor.make_key()
        text = self.anchor.path.read_bytes()
        whole = text[: text.rfind(b"\n") + 1]
        line = {
            "kind": kind,
            "line": whole.count(b"\n") + 1,
            "at": clock.now(),
            "previous": _hash_of_last_line(whole),
            **facts,
        }
        line["signature"] = signature_of(line, key)
        try:
            with self.anchor.path.open("r+b") as file:
                file.seek(len(whole))
                file.truncate()
                file.write(_canonical(line) + b"\n")
                file.flush()
                os.fsync(file.fileno())
        except OSError as error:
            raise UnusableDatabase(
                f"The anchor {self.anchor.path} cannot be written: {error.strerror}; see to its disk and its"
                " permissions."
            ) from error


def anchor_of(settings: Settings) -> Anchor:
    """The anchor of the database that the settings name."""
    return Anchor(settings.anchor_path, settings.signing_key_path)


def signature_of(line: Line, key: bytes) -> str:
    """The keyed hash of a line without its signature: HMAC-SHA256 over its canonical JSON."""
    unsigned = {name: value for name, value in line.items() if name != "signature"}
    return hmac.new(key, _canonical(unsigned), hashlib.sha256).hexdigest()


def knowledge_of(text: bytes, key: bytes) -> Knowledge:
    """What an anchor's file says. Without a key its signatures are not checked."""
    found, previous = Knowledge(), _NONE
    for number, raw in enumerate(text.split(b"\n")[:-1], start=1):
        try:
            line: Line = json.loads(raw)
            kind = line["kind"]
            signed = not key or hmac.compare_digest(str(line.get("signature")), signature_of(line, key))
        except (ValueError, KeyError, TypeError):
            found.faults.append(f"line {number} cannot be read")
            continue
        if not signed:
            found.faults.append(f"line {number} is not signed by this key")
        elif line.get("previous") != previous or line.get("line") != number:
            found.faults.append(f"line {number} does not follow the one before it")
        previous = hashlib.sha256(raw).hexdigest()
        found.lines.append(line)
        try:
            _take_in(found, kind if signed or kind == "begun" else "doubtful", line)
        except (ValueError, TypeError):
            found.faults.append(f"line {number} says what no line of its kind says")
    return found


def _take_in(found: Knowledge, kind: str, line: Line) -> None:
    """Adds what a line says. Raises ValueError or TypeError where it was altered to something else than a number or a
    list."""
    if kind == "begun":
        found.anchor_id = str(line.get("anchor_id"))
    elif kind in ("adopted", "intended", "issued"):
        place = (str(line.get("project_id")), int(line.get("revision") or 0))
        known = Anchored(
            str(line.get("hash")),
            str(line.get("at")),
            int(line.get("log_number") or 0),
            str(line.get("plan_hash") or ""),
        )
        (found.intended if kind == "intended" else found.issued)[place] = known
    elif kind in ("erased", "ended"):
        place = (str(line.get("project_id")), int(line.get("revision") or 0))
        (found.erased if kind == "erased" else found.ended)[place] = str(line.get("at"))
    elif kind == "doubtful":
        if line.get("revision"):
            found.doubtful.add((str(line.get("project_id")), int(line["revision"])))
    elif kind == "acknowledged":
        who = f"{line.get('who')} on {str(line.get('at'))[:10]}"
        found.acknowledged.update({str(one): who for one in line.get("findings", ())})


def _hash_of_last_line(whole: bytes) -> str:
    lines = whole.splitlines()
    return hashlib.sha256(lines[-1]).hexdigest() if lines else _NONE


def _canonical(line: Line) -> bytes:
    return json.dumps(line, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()


def _write_private(path: Path, content: bytes) -> None:
    """A new file that its owner alone reads and writes. Raises UnusableDatabase where it cannot be made."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        descriptor = os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
    except OSError as error:
        raise UnusableDatabase(
            f"{path} cannot be written: {error.strerror}; choose another place for it."
        ) from error
    with os.fdopen(descriptor, "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
