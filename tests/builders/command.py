"""The command line as its user runs it: quickly in this process, or in one of its own where that is the point."""

from __future__ import annotations

import contextlib
import io
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from unittest import mock

import pytest

from optimiser.commands import main

COMMAND = [sys.executable, "-c", "from optimiser.commands.main import main; main()"]


def run(*arguments: object, stdin: str = "", cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    """A command run in this process: its exit code and what it wrote, as a process of its own would have."""
    words = [str(argument) for argument in arguments]
    out, err = _stream(), _stream()
    with _as_started(cwd, stdin), contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main.run(words)
    found = subprocess.CompletedProcess(words, code, _text(out), _text(err))
    assert "Traceback" not in found.stderr
    return found


def run_alone(
    *arguments: object, stdin: str = "", cwd: Path | None = None
) -> subprocess.CompletedProcess[str]:
    """A command run in a process of its own."""
    found = subprocess.run(
        [*COMMAND, *map(str, arguments)], input=stdin, capture_output=True, text=True, cwd=cwd, timeout=120
    )
    assert "Traceback" not in found.stderr
    return found


@contextlib.contextmanager
def _as_started(cwd: Path | None, stdin: str) -> Iterator[None]:
    """What a process starts with: its folder, its input, no terminal; and nothing of it left afterwards."""
    told = signal.getsignal(signal.SIGTERM)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("COLUMNS", "80")
        patch.chdir(cwd or Path.cwd())
        with mock.patch("sys.stdin", io.TextIOWrapper(io.BytesIO(stdin.encode()), encoding="utf-8")):
            yield
    signal.signal(signal.SIGTERM, told)


def _stream() -> io.TextIOWrapper:
    return io.TextIOWrapper(io.BytesIO(), encoding="utf-8", newline="")


def _text(stream: io.TextIOWrapper) -> str:
    stream.flush()
    written = stream.buffer
    assert isinstance(written, io.BytesIO)
    return written.getvalue().decode()
