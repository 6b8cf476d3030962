"""A file's bytes, at most so many: a file that is missing, empty or too large is told by its name."""

from __future__ import annotations

import sys
from pathlib import Path

from optimiser.errors.problems import Problem, UnusableInput


def read_bytes(path: Path, largest: int, may_be_empty: bool = False) -> bytes:
    """A file's bytes ('-' is the standard input), at most `largest`.

    Raises UnusableInput naming the file and what is the matter.
    """
    try:
        if str(path) == "-":
            return _bounded(sys.stdin.buffer.read(largest + 1), "the standard input", largest, may_be_empty)
        if not path.exists():
            raise UnusableInput([Problem(str(path), message="there is no such file", mend="check its name")])
        if not path.is_file():
            raise UnusableInput([Problem(str(path), message="is not a file", mend="give the file itself")])
        with path.open("rb") as file:
            data = file.read(largest + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "its name cannot be used"
        raise UnusableInput(
            [Problem(str(path), message=f"cannot be read: {reason}", mend="check the file")]
        ) from None
    return _bounded(data, path.name, largest, may_be_empty)


def _bounded(data: bytes, name: str, largest: int, may_be_empty: bool) -> bytes:
    if len(data) > largest:
        raise UnusableInput([Problem(name, message=f"is larger than {largest >> 20} MB", mend="divide it")])
    if not may_be_empty and not data.strip():
        raise UnusableInput([Problem(name, message="is empty", mend="give a file that was saved whole")])
    return data
