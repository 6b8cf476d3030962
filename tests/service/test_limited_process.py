"""Work in a process of its own: its answer, its errors, and its ends."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from api.limited_process import LimitReached, Stopped, run_limited
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
    assert run_limited(threads_of_parent, **LIMITS) == 1


def test_it_ends_with_the_process_that_wanted_it(tmp_path: Path) -> None:
    file = tmp_path / "process"
    program = (
        "from api.limited_process import run_limited\n"
        "from tests.service.test_limited_process import sleep_beside\n"
        f"run_limited(sleep_beside, {str(file)!r}, seconds=600, megabytes=256)"
    )
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    parent = subprocess.Popen([sys.executable, "-c", program], env=env)
    process = int(wait_for(lambda: (file.exists() and file.read_text()) or None, 120, "the process"))
    parent.kill()
    parent.wait()
    wait_for(lambda: _gone(process) or None, 120, "its end")


def _gone(process: int) -> bool:
    try:
        return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0] == "Z"
    except FileNotFoundError:
        return True
