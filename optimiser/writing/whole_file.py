"""One file, whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path


def write_whole(path: Path | str, content: bytes) -> None:
    """Writes a file in one step: it is there whole, or what was there before stays. Raises OSError naming the file
    where it cannot be written."""
    target = Path(path)
    try:
        handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}-")
    except OSError as failure:  # it would name the temporary file, which nobody knows
        raise type(failure)(failure.errno, failure.strerror, str(target)) from failure
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        Path(name).chmod(0o644)
        os.replace(name, target)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
