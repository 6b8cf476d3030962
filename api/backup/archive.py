"""The file of a backup: a zip archive (APPNOTE 6.3) with a member a table, the anchor, and a manifest of their hashes.

`manifest.json` says what the backup is of and holds the SHA-256 and the size of every other member. A table's member
holds a JSON list a row, its first line the names of the columns; binary values stand in base64 (RFC 4648). It is the
same for SQLite and PostgreSQL, so a backup of one may be restored into the other.
"""

from __future__ import annotations

import base64
import contextlib
import hashlib
import json
import os
import zipfile
import zlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import IO, Any

FORMAT = "barrier-orders backup 1"
MANIFEST, ANCHOR = "manifest.json", "anchor"


class UnusableBackup(Exception):  # noqa: N818 (the file's fault, not the program's)
    """A file is no backup, or is damaged; the message is one sentence."""


@dataclass(frozen=True)
class Manifest:
    """What a backup holds. `schema` is the migration of its tables; `members` by name the SHA-256 and bytes of each."""

    format: str
    made_at: str
    software: str
    schema: str
    database: str
    rows: dict[str, int]
    members: dict[str, tuple[str, int]]


class Writing:
    """An archive that is written: member by member, then its manifest."""

    def __init__(self, file: IO[bytes]) -> None:
        self._zip = zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, compresslevel=1)
        self.members: dict[str, tuple[str, int]] = {}
        self.rows: dict[str, int] = {}

    def add_bytes(self, name: str, content: bytes) -> None:
        """A member that is at hand."""
        self._zip.writestr(name, content)
        self.members[name] = (hashlib.sha256(content).hexdigest(), len(content))

    def add_table(self, table: str, columns: Sequence[str], rows: Iterable[Sequence[Any]]) -> None:
        """A table, row by row."""
        digest, size, count = hashlib.sha256(), 0, 0
        with self._zip.open(member_of(table), "w", force_zip64=True) as member:
            for line in lines_of(columns, rows):
                member.write(line)
                digest.update(line)
                size += len(line)
                count += 1
        self.members[member_of(table)] = (digest.hexdigest(), size)
        self.rows[table] = count - 1

    def finish(self, **facts: str) -> Manifest:
        """Writes the manifest and ends the archive."""
        manifest = Manifest(format=FORMAT, rows=self.rows, members=self.members, **facts)
        self._zip.writestr(MANIFEST, json.dumps(asdict(manifest), indent=1))
        self._zip.close()
        return manifest


class Archive:
    """An archive that is read. Raises UnusableBackup, also when a member's hash is not the manifest's."""

    def __init__(self, path: Path) -> None:
        self.path = path
        try:
            self._zip = zipfile.ZipFile(path)
            found = json.loads(self._zip.read(MANIFEST))
            members = {name: (str(one[0]), int(one[1])) for name, one in found["members"].items()}
            self.manifest = Manifest(**{**found, "members": members})
        except (OSError, zipfile.BadZipFile, KeyError, ValueError, TypeError, zlib.error, EOFError) as error:
            raise _damaged(path, error) from error
        if self.manifest.format != FORMAT:
            raise UnusableBackup(
                f"{path} is a backup of a form that this version does not read ({self.manifest.format!r})."
            )

    def verify(self) -> None:
        """Compares every member with its hash."""
        for name, (demanded, _) in self.manifest.members.items():
            digest = hashlib.sha256()
            try:
                with self._zip.open(name) as member:
                    while block := member.read(1 << 20):
                        digest.update(block)
            except (KeyError, zipfile.BadZipFile, zlib.error, EOFError, OSError) as error:
                raise _damaged(self.path, error) from error
            if digest.hexdigest() != demanded:
                raise UnusableBackup(f"{self.path} is damaged: {name} is not what was backed up.")

    def rows_of(self, table: str) -> Iterator[dict[str, Any]]:
        """A table's rows."""
        with self._zip.open(member_of(table)) as member:
            columns: list[str] = json.loads(member.readline())
            for line in member:
                yield dict(zip(columns, map(_value, json.loads(line)), strict=True))

    def bytes_of(self, name: str) -> bytes:
        """A member as it is; b'' where there is none."""
        return self._zip.read(name) if name in self.manifest.members else b""

    def sha256(self) -> str:
        """The hash of the whole file."""
        with self.path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()


def member_of(table: str) -> str:
    """The name of a table's member."""
    return f"tables/{table}.jsonl"


def lines_of(columns: Sequence[str], rows: Iterable[Sequence[Any]]) -> Iterator[bytes]:
    """The lines of a table's member."""
    yield json.dumps(list(columns)).encode() + b"\n"
    for row in rows:
        yield json.dumps([_written(value) for value in row], ensure_ascii=False).encode() + b"\n"


@contextlib.contextmanager
def whole_private_file(path: Path) -> Iterator[IO[bytes]]:
    """A file that its owner alone reads, and that stands under its name only when it is whole. Raises
    FileExistsError where there is one already."""
    if path.exists():
        raise FileExistsError(str(path))
    half = path.with_name(f".{path.name}.{os.getpid()}.part")
    descriptor = os.open(half, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600)
    try:
        with os.fdopen(descriptor, "w+b") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        os.link(half, path)  # unlike a rename it never replaces a file that came meanwhile
    finally:
        half.unlink(missing_ok=True)


def _written(value: Any) -> Any:
    if isinstance(value, bytes | memoryview | bytearray):
        return {"base64": base64.b64encode(bytes(value)).decode()}
    return value


def _value(value: Any) -> Any:
    return base64.b64decode(value["base64"]) if isinstance(value, dict) else value


def _damaged(path: Path, error: Exception) -> UnusableBackup:
    if isinstance(error, FileNotFoundError):
        return UnusableBackup(f"There is no file {path}.")
    if isinstance(error, OSError) and error.strerror:
        return UnusableBackup(f"{path} cannot be read: {error.strerror}.")
    return UnusableBackup(f"{path} is no backup of this software, or is truncated or damaged.")
