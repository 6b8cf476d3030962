"""Work in a process of its own: its answer, its errors, and its ends."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from api.limited_process import LimitReached, Stopped, run_limited
from api.sandbox import available
from tests.service.running import ROOT, wait_for

Limits = dict[str, Any]
LIMITS: Limits = {"seconds": 60, "megabytes": 256}


def add(one: int, other: int) -> int:
    return one + other


def fail(words: str) -> None:
    raise ValueError(words)


def count_to(number: int, *, progress: Callable[[dict[str, Any]], None]) -> str:
    for one in range(number):
        progress({"one": one})
    return "counted"


def eat_memory(megabytes: int) -> int:
    return len(bytearray(megabytes * 2**20))


def crash() -> None:
    os.abort()


def sleep(seconds: float) -> None:
    time.sleep(seconds)


def threads_of_parent() -> int:
    return len(os.listdir(f"/proc/{os.getppid()}/task"))


def sleep_beside(file: str) -> None:
    Path(file).write_text(str(os.getpid()))
    time.sleep(600)


def test_it_answers_reports_and_raises() -> None:
    assert run_limited(add, 2, 3, **LIMITS) == 5
    seen: list[dict[str, Any]] = []
    assert run_limited(count_to, 3, on_progress=seen.append, **LIMITS) == "counted"
    assert seen == [{"one": 0}, {"one": 1}, {"one": 2}]
    with pytest.raises(ValueError, match="in words") as raised:
        run_limited(fail, "in words", **LIMITS)
    assert "in fail" in raised.value.__notes__[0]  # where it happened there


@pytest.mark.parametrize(
    ("work", "argument", "limits", "limit"),
    [
        (eat_memory, (2000,), LIMITS, "memory"),
        (crash, (), LIMITS, "memory"),
        (sleep, (60,), {**LIMITS, "seconds": 0.3}, "time"),
    ],
)
def test_beyond_its_limit_it_ends(work: Any, argument: tuple[Any, ...], limits: Limits, limit: str) -> None:
    with pytest.raises(LimitReached) as reached:
        run_limited(work, *argument, **limits)
    assert reached.value.limit == limit
    assert run_limited(eat_memory, 100, **LIMITS) == 100 * 2**20


def test_it_ends_when_it_is_no_longer_wanted() -> None:
    with pytest.raises(Stopped):
        run_limited(sleep, 600, unwanted=lambda: True, **LIMITS)


def test_it_is_forked_from_a_process_with_one_thread() -> None:
    assert run_limited(threads_of_parent, confined=False, **LIMITS) == 1


def test_it_ends_with_the_process_that_wanted_it(tmp_path: Path) -> None:
    file = tmp_path / "process"
    program = (
        "from api.limited_process import run_limited\n"
        "from tests.service.test_limited_process import sleep_beside\n"
        f"run_limited(sleep_beside, {str(file)!r}, seconds=600, megabytes=256, confined=False)"
    )
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    parent = subprocess.Popen([sys.executable, "-c", program], env=env)
    process = int(wait_for(lambda: (file.exists() and file.read_text()) or None, 120, "the process"))
    parent.kill()
    parent.wait()
    wait_for(lambda: _gone(process) or None, 120, "its end")


def read_file(path: str) -> str:
    return Path(path).read_text()


def write_file(path: str) -> int:
    return Path(path).write_text("written")


def list_folder(path: str) -> list[str]:
    return os.listdir(path)


def connect(port: int) -> None:
    socket.create_connection(("127.0.0.1", port), 5).close()


def open_socket_file(path: str) -> None:
    with socket.socket(socket.AF_UNIX) as one:
        one.connect(path)


def run_program() -> int:
    return subprocess.run(["/bin/true"]).returncode


def signal_parent() -> None:
    os.kill(os.getppid(), 0)


def trace_parent() -> str:
    return Path(f"/proc/{os.getppid()}/environ").read_text()


def write_in_own_folder() -> tuple[str, bytes]:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "survey.csv"
        path.write_bytes(b"run,gap")
        os.replace(path, path.with_suffix(".txt"))
        return folder, path.with_suffix(".txt").read_bytes()


def leave_a_folder_and_crash(also: bool) -> str:
    found = tempfile.mkdtemp()
    (Path(found) / "half").write_bytes(b"x" * 1000)
    if also:
        os.abort()
    return found


def import_late() -> str:
    from zoneinfo import ZoneInfo

    import optimiser.writing.office.workbook  # noqa: F401

    return str(ZoneInfo("Europe/Berlin"))


def test_both_fences_are_there_on_this_machine() -> None:
    assert available() == ("files", "calls"), "Landlock and seccomp: the tests below say what they keep out"


def test_it_reads_and_writes_no_file_but_its_own(tmp_path: Path) -> None:
    (tmp_path / "secret").write_text("secret")
    for work, argument in (
        (read_file, tmp_path / "secret"),
        (read_file, "/etc/passwd"),
        (write_file, tmp_path / "new"),
        (list_folder, tmp_path),
        (list_folder, "/home"),
    ):
        with pytest.raises(PermissionError):
            run_limited(work, str(argument), **LIMITS)
    with pytest.raises(PermissionError):
        run_limited(trace_parent, **LIMITS)
    folder, content = run_limited(write_in_own_folder, **LIMITS)
    assert content == b"run,gap"
    assert "barrier-orders-" in folder


def test_it_has_no_network_and_reaches_no_other_process(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as listening, pytest.raises(PermissionError):
        run_limited(connect, listening.getsockname()[1], **LIMITS)
    with pytest.raises(PermissionError):
        run_limited(open_socket_file, str(tmp_path / "socket"), **LIMITS)
    for work in (run_program, signal_parent):
        with pytest.raises(PermissionError):
            run_limited(work, **LIMITS)


def test_it_still_finds_what_programs_are_made_of() -> None:
    assert run_limited(import_late, **LIMITS) == "Europe/Berlin"


def test_its_folder_is_removed_whatever_becomes_of_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    left = run_limited(leave_a_folder_and_crash, False, **LIMITS)
    assert Path(left).is_relative_to(tmp_path)
    with pytest.raises(LimitReached):
        run_limited(leave_a_folder_and_crash, True, **LIMITS)
    with pytest.raises(LimitReached):
        run_limited(sleep, 60, **{**LIMITS, "seconds": 0.3})
    assert list(tmp_path.glob("barrier-orders-*")) == []


def _gone(process: int) -> bool:
    try:
        return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0] == "Z"
    except FileNotFoundError:
        return True
