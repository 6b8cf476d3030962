"""A copy of the project in which mutants are written and tests run, each run in a fork that imports it anew."""

from __future__ import annotations

import json
import os
import resource
import shutil
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from tests.mutation.changes import Mutant, changed_text
from tests.mutation.covering import Noting

ROOT = Path(__file__).resolve().parents[2]
COPIED = (
    "optimiser",
    "tests",
    "benchmarks",
    "sample_orders",
    "docs",
    "pyproject.toml",
    "README.md",
    "DEVELOPERS.md",
)
MOST_TESTS = 200
OPTIONS = (
    "-q",
    "-x",
    "--no-header",
    "--tb=no",
    "-p",
    "no:cacheprovider",
    "-p",
    "no:xdist",
    "--hypothesis-seed=0",
)
OWN = ("tests", "optimiser", "benchmarks", "api")


class Outcome(NamedTuple):
    """What became of a mutant: the test that fails, or how its run ended; '' for a survivor. CPU seconds."""

    killed_by: str
    seconds: float


class Failed:
    """A plugin that writes the first test that fails into a file."""

    def __init__(self, into: Path) -> None:
        self.into = into

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self.into.write_text(report.nodeid)

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        if report.failed:
            self.into.write_text(f"the import of {report.nodeid}")


class Copy:
    """The project copied into a folder; `tests` are those that are asked, files or folders (`slow`: all of them)."""

    def __init__(self, folder: Path, tests: Sequence[str], slow: bool = False) -> None:
        self.folder, self.tests, self.slow = folder, tests, slow
        self.clock = int(time.time())
        for name in COPIED:
            if (ROOT / name).is_dir():
                left_out = shutil.ignore_patterns("__pycache__", "node_modules")
                shutil.copytree(ROOT / name, folder / name, ignore=left_out, dirs_exist_ok=True)
            else:
                shutil.copy(ROOT / name, folder / name)
        self.called: dict[str, set[str]] = {}
        self.seconds: dict[str, float] = {}

    def cover(self, folder: str, into: Path) -> None:
        """Note which test calls what of a folder, once; a map that is there already is read."""
        if not into.exists():
            noting = Noting(self.folder / "optimiser" / folder, into)
            failed = self._run([*self.tests], (noting,), 3600)
            if failed.killed_by:
                into.unlink(missing_ok=True)
                raise RuntimeError(f"{failed.killed_by} fails on the project as it is")
        found = json.loads(into.read_text())
        self.seconds = found["seconds"]
        for test, functions in found["called"].items():
            for function in functions:
                self.called.setdefault(function, set()).add(test)

    def outcome(self, mutant: Mutant) -> Outcome:
        """Its tests, the fastest first, then the whole files that they stand in."""
        tests = sorted(
            self.called.get(f"{mutant.module.split('/')[1]}:{mutant.function}", ()),
            key=lambda test: self.seconds[test],
        )
        path = self.folder / "optimiser" / mutant.module
        kept = path.read_text("utf-8")
        self._write(path, changed_text(kept, mutant))
        try:
            if not tests:
                return Outcome("", 0)
            first = self._run(tests[:MOST_TESTS], (), self._limit(tests[:MOST_TESTS]))
            if first.killed_by:
                return first
            files = sorted({test.split("::")[0] for test in tests})
            rest = self._run(files, (), self._limit([t for t in self.seconds if t.split("::")[0] in files]))
            return Outcome(rest.killed_by, first.seconds + rest.seconds)
        finally:
            self._write(path, kept)

    def _limit(self, tests: Sequence[str]) -> int:
        return int(30 + 4 * sum(self.seconds[test] for test in tests))

    def _write(self, path: Path, text: str) -> None:
        """With a time of its own, so that no compiled module of before is taken for it."""
        path.write_text(text, "utf-8")
        self.clock += 10
        os.utime(path, (self.clock, self.clock))

    def _run(self, tests: Sequence[str], plugins: Sequence[object], cpu_seconds: int) -> Outcome:
        failed = self.folder / "failed.txt"
        failed.unlink(missing_ok=True)

        def work() -> int:
            chosen = () if self.slow else ("-m", "not slow")
            return int(pytest.main([*OPTIONS, *chosen, *tests], [*plugins, Failed(failed)]))

        status, seconds = in_a_fork(work, self.folder, cpu_seconds)
        if status == 0:
            return Outcome("", seconds)
        told = failed.read_text() if failed.exists() else f"its end with {status}"
        return Outcome(told, seconds)


def in_a_fork(work: Callable[[], int], folder: Path, cpu_seconds: int) -> tuple[int, float]:
    """What `work` leaves with in a process of its own that starts in a folder and imports the project from there.

    A process over its CPU seconds is ended by a signal, which is a status below 0. Also tells the seconds that it took.
    """
    child = os.fork()
    if child == 0:
        status: Any = 70
        try:
            os.chdir(folder)
            sys.path[:] = [str(folder), *(part for part in sys.path if part not in ("", str(ROOT)))]
            for name in [name for name in sys.modules if name.split(".")[0] in OWN]:
                del sys.modules[name]
            resource.setrlimit(resource.RLIMIT_CPU, (cpu_seconds, cpu_seconds + 5))
            sink = os.open(folder / "output.txt", os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
            os.dup2(sink, 1)
            os.dup2(sink, 2)
            status = work()
        finally:
            os._exit(status)
    _, status, used = os.wait4(child, 0)
    return os.waitstatus_to_exitcode(status), round(used.ru_utime + used.ru_stime, 1)


def preload() -> None:
    """Import what every run needs and no mutant changes, once for all forks."""
    import highspy  # noqa: F401
    import hypothesis  # noqa: F401
    import numpy  # noqa: F401
    import openpyxl  # noqa: F401
    import pandas  # noqa: F401
    import pydantic  # noqa: F401
    from ortools.sat.python import cp_model  # noqa: F401
